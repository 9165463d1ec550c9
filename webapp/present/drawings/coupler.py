"""The coupler's halves on a side's drawing: the symbols of its family, and the lead of its base where it is used."""

from dataclasses import replace

from webapp.present.drawings.parts import Flag, Layout, Symbol

_LOWER = 66  # by which a side grows for the base's resistor
_DETECTORS = {
    "phototransistor": "detector",
    "photodarlington": "darlington",
    "logic-gate": "opengate",
    "mosfet-relay": "photorelay",
}
"""Family to the symbol of a detector with two terminals."""


def fitted(layout, side, coupling):
    """Return a layout with the symbols of the coupler at hand.

    Parameters
    ----------
    layout : Layout
        The side, with the usual LED or detector.
    side : str
        "input" or "output".
    coupling : Coupling
        The coupler.

    Returns
    -------
    Layout
        The same side.
    """
    card = coupling.data
    if side == "input":
        return _with_kinds(layout, {"led": "ledpair"}) if card.input == "pair" else layout
    if coupling.RBE != "none":
        return _with_base(layout)
    return _with_kinds(layout, {"detector": _DETECTORS.get(card.family, "detector")})


def _with_kinds(layout, kinds):
    """Return a layout with kinds of symbols exchanged for others with the same terminals."""
    return replace(layout, symbols=tuple(replace(s, kind=kinds.get(s.kind, s.kind)) for s in layout.symbols))


def _with_base(layout):
    """Return a layout with the base brought out, and a resistor from it to the emitter."""
    detector = next(s for s in layout.symbols if s.kind == "detector")
    others = tuple(s for s in layout.symbols if s is not detector)
    emitter = detector.terminals[1]
    level = emitter[1] if any(_turns(wire, emitter) for wire in layout.wires) else _below(layout, emitter)
    x, y = detector.x, layout.height + 4
    label = detector.label if detector.label[0] > 110 else (x + 82, y - 2, "start")
    based = replace(detector, kind="based", label=label)
    resistor = Symbol("resistor", "RBE", x + 24, y, label=(x + 24, y - 16, "middle"))
    lead = based.terminals[2]
    wires = (
        *layout.wires,
        (lead, (lead[0], y), (x - 12, y)),
        ((x + 60, y), (x + 70, y), (x + 70, level)),
    )
    flag = Flag("B", 70, y + 18, (lead[0], y))
    return Layout(
        (based, *others, resistor), wires, (*layout.dots, (x + 70, level)), (*layout.flags, flag), layout.arrows,
        layout.width, layout.outline, layout.height + _LOWER,
    )  # fmt: skip


def _turns(wire, terminal):
    """Return whether a wire leaves a terminal sideways."""
    ends = (wire[0], wire[1]), (wire[-1], wire[-2])
    return any(start == terminal and start[1] == after[1] for start, after in ends)


def _below(layout, terminal):
    """Return how far down the wire at a terminal runs before it turns."""
    for wire in layout.wires:
        for start, after in ((wire[0], wire[1]), (wire[-1], wire[-2])):
            if start == terminal:
                return after[1]
    return terminal[1]
