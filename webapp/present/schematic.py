"""The schematic of a solved stage: the drawing of each side, with the numbers of one switch state on it."""

from dataclasses import dataclass

from engine import AMPERE, FARAD, HERTZ, OHM, RATIO, VOLT, reading
from webapp.present.drawings import DRAWINGS
from webapp.present.drawings.bridged import Bridge, bridge, room_for
from webapp.present.drawings.coupler import fitted
from webapp.present.drawings.parts import SHEETS
from webapp.present.figures import Figure, figure
from webapp.present.output_labels import output_labels, short

FLAG_WIDTH, FLAG_HEIGHT = 118, 36
"""Size of a flag, in the units of the drawing."""

_HEAD = 13
"""Length of the head of an arrow."""

_WAYS = {0: (1, 0), 90: (0, 1), 180: (-1, 0), 270: (0, -1)}
"""Direction in degrees to a step that way."""

_REACH = {
    "switch": (50, 28, 34), "port": (38, 48, 48), "sensor": (38, 48, 48), "loopsensor": (44, 24, 24),
    "driver": (26, 28, 28),
    "npn": (30, 34, 34), "nmos": (30, 34, 34),
}  # fmt: skip
"""Kind of what switches to how far a press counts: to each side, upwards, downwards."""


_INPUT_VALUES = (
    ("RB", "RB", "R_bypass", OHM),
    ("RH", "RH", "R_lamp", OHM),
    ("RI", "RI", "R_inside", OHM),
    ("RW", "Line", "R_line", OHM),
    ("Z1", "Z1", "VZ", VOLT),
    ("CF", "CF", "C_filter", FARAD),
    ("VD", "VD", "VD", VOLT),
    ("R2", "R2", "R_base", OHM),
)
"""Part, what its label calls it, field of its value, unit."""


@dataclass(frozen=True, slots=True)
class SymbolView:
    """A part as printed.

    Attributes
    ----------
    sheet : str
        File of macros that holds it.
    kind : str
        Macro that draws it.
    part : str
        Name of the part; empty for a reference.
    x : int
        Middle.
    y : int
        Middle.
    turn : int
        Degrees clockwise.
    state : str
        "closed" or "open" for what switches, otherwise empty.
    target : tuple of (int, int, int, int)
        Left, top, width and height of where a press counts, for what switches.
    title : str
        Name and value in words.
    label : tuple of str
        Lines of the label.
    label_x : int
        Where the label stands.
    label_y : int
        Base line of its first line.
    anchor : str
        "start", "middle" or "end".
    """

    sheet: str
    kind: str
    part: str
    x: int
    y: int
    turn: int
    state: str
    target: tuple
    title: str
    label: tuple
    label_x: int
    label_y: int
    anchor: str


@dataclass(frozen=True, slots=True)
class FlagView:
    """A node voltage as printed.

    Attributes
    ----------
    node : str
        Name of the node.
    x : int
        Left edge.
    y : int
        Top edge.
    width : int
        Width.
    middle : int
        Middle of the text.
    pole : str
        Points of the line to the wire.
    at : tuple of (int, int)
        Where that meets the wire.
    figure : Figure
        The voltage.
    """

    node: str
    x: int
    y: int
    width: int
    middle: int
    pole: str
    at: tuple
    figure: Figure


@dataclass(frozen=True, slots=True)
class ArrowView:
    """A branch current as printed.

    Attributes
    ----------
    symbol : str
        What it is called.
    part : str
        Part whose current it is.
    x : int
        Tip of the arrow.
    y : int
        Tip of the arrow.
    turn : int
        Direction of the actual current in degrees.
    label_x : int
        Where the text stands.
    label_y : int
        Base line of the text.
    anchor : str
        "start", "middle" or "end".
    figure : Figure
        The current, not negative.
    flows : bool
        Whether there is any current to point at.
    """

    symbol: str
    part: str
    x: int
    y: int
    turn: int
    label_x: int
    label_y: int
    anchor: str
    figure: Figure
    flows: bool


@dataclass(frozen=True, slots=True)
class SideView:
    """One side as printed.

    Attributes
    ----------
    side : str
        "input" or "output".
    title : str
        Name of the side for people.
    description : str
        The side in a sentence, for those who do not see it.
    width : int
        Width of the view box.
    height : int
        Height of the view box.
    outline : str
        Path of the coupler's half on this side.
    wires : tuple of str
        Points of each polyline.
    dots : tuple of (int, int)
        Where three wires meet.
    symbols : tuple of SymbolView
        Parts.
    flags : tuple of FlagView
        Node voltages.
    arrows : tuple of ArrowView
        Branch currents.
    bridge : Bridge or None
        The conductor that joins the returns, where there is one.
    """

    side: str
    title: str
    description: str
    width: int
    height: int
    outline: str
    wires: tuple
    dots: tuple
    symbols: tuple
    flags: tuple
    arrows: tuple
    bridge: Bridge | None


_HIDDEN = "?"
"""What stands in place of a figure that is to be found."""


def schematic(point, state_name, *, solved=True):
    """Return both sides of a solved stage in one switch state, with its figures or with blanks in their place."""
    scenario = point.scenario
    sides = ("input", scenario.input), ("output", scenario.output)
    layouts = tuple(fitted(DRAWINGS[side.kind](side), name, scenario.coupling) for name, side in sides)
    if scenario.conditions.joined != "none":
        layouts = room_for(layouts)
    sheet = (point if solved else None), _labels(point, state_name, solved)
    return tuple(
        _side(sheet, point.scenario, state_name, *one) for one in zip(("input", "output"), layouts, strict=True)
    )


def _side(sheet, scenario, state_name, name, layout):
    """Return one side; `sheet` holds the solved stage, or None for blanks in place of its figures, and the labels."""
    side, joined = getattr(scenario, name), scenario.conditions.joined != "none"
    point, labels = sheet
    nodes, currents = _figures(point, state_name, layout)
    return SideView(
        side=name,
        title=f"{name.capitalize()} side" + (", at the crest" if name == "output" and side.on_line else ""),
        description=_description(layout, labels, nodes) + (" A conductor joins the two returns." if joined else ""),
        width=layout.width,
        height=layout.height,
        outline=_outline(name, layout),
        wires=tuple(" ".join(f"{x},{y}" for x, y in wire) for wire in layout.wires),
        dots=layout.dots,
        symbols=tuple(_symbol(symbol, labels, side, state_name) for symbol in layout.symbols),
        flags=tuple(_flag(flag, nodes[flag.node]) for flag in layout.flags),
        arrows=tuple(_arrow(arrow, currents[arrow.part]) for arrow in layout.arrows),
        bridge=bridge(layout, name) if joined else None,
    )


def _figures(point, state_name, layout):
    """Return node to its voltage and part to its current, as far as they are drawn; blanks without a solved stage."""
    nodes, parts = [flag.node for flag in layout.flags], [arrow.part for arrow in layout.arrows]
    if point is None:
        blank = Figure("", "", "")
        return dict.fromkeys(nodes, blank), dict.fromkeys(parts, blank)
    state = point.states[state_name]
    return {node: figure(state.nodes[node]) for node in nodes}, {part: figure(state.currents[part]) for part in parts}


def _outline(name, layout):
    """Return the path around the coupler's half, which is open towards the barrier."""
    if name == "input":
        start = layout.width - 92 if layout.outline is None else layout.outline
        return f"M{layout.width} 137H{start}V237H{layout.width}"
    return f"M0 137H{104 if layout.outline is None else layout.outline}V237H0"


def labels_of(point, state_name):
    """Return part to the lines of its label, in one switch state."""
    return _labels(point, state_name, True)


def _labels(point, state_name, solved):
    """Return part to the lines of its label; without what is solved, what was sized and what is read stay open."""
    scenario = point.scenario
    sized = {name: short(one.chosen, _SIZED[name]) if solved or not one.automatic else _HIDDEN
             for name, one in point.sized.items()}  # fmt: skip
    R1, RL = sized["R1"], sized["RL"]
    coupling = scenario.coupling
    ratio = (f"CTR {' '.join(reading(coupling.ratios()[0], RATIO))}",) if coupling.has_ratio else ()
    level = point.states[state_name].verdict.level if solved else _HIDDEN
    return {
        "R1": (f"R1 {R1}",),
        "LED": ("U1",),
        "VCC": ("VCC", short(scenario.output.VCC, VOLT)),
        "RL": (f"RL {RL}",),
        "U1": ("U1", *ratio),
        "RBE": (f"RBE {short(coupling.RBE, OHM)}" if coupling.RBE != "none" else "",),
        "RX": ("reads", level if level != "undefined" else "neither"),
        **(
            _line_labels(scenario.input, point.sized, sized, state_name)
            if scenario.input.kind == "ac"
            else _input_labels(scenario.input, state_name)
        ),
        **output_labels(scenario.output, level),
    }


_SIZED = {"R1": OHM, "RL": OHM, "CD": FARAD}
"""Part that may be sized to the unit of its value."""


def _line_labels(side, sized, shown, state_name):
    """Return part to the lines of its label, for an input on alternating voltage."""
    labels = {"VS": (short(side.V_line, VOLT), short(side.f, HERTZ)), "S1": (f"S1 {state_name}",), "D3": ("D3",)}
    if side.split > 1:
        one = shown["R1"] if shown["R1"] == _HIDDEN else short(sized["R1"].chosen / side.split, OHM)
        labels["R1"] = (f"R1 {side.split:.0f} × {one}",)
    if side.capacitive:
        labels["CD"] = (f"CD {shown['CD']}",)
    values = (("RBD", side.R_bleeder, OHM), ("RF", side.RF, OHM), ("CS", side.CS, FARAD))
    labels |= {part: (f"{part} {short(value, unit)}",) for part, value, unit in values if isinstance(value, float)}
    if "CS" in side.shunts:
        labels["CS"] = ("CS", short(side.CS, FARAD))
    return labels | {part: (f"{part} of bridge",) for part in ("D4", "D5")}


def _input_labels(side, state_name):
    """Return part to the lines of its label, for what only some input sides have."""
    on = "on" if state_name == "closed" else "off"
    labels = {
        "VS": ("VS", short(side.VS, VOLT)) if side.kind != "measured" else ("VS", on),
        "S1": (f"S1 {state_name}",),
        "P1": (f"P1 {on}",),
        "B1": (f"B1 {on}",),
        "B2": (f"B2 {short(side.IF, AMPERE)}",),
        "Q1": ("Q1", side.states[state_name].removeprefix("transistor ")),
        "D2": (f"{side.diodes:.0f} diodes" if side.diodes > 1 else "D2",),
        "D3": ("D3",),
        "H1": (f"H1 {side.lamp}",) if side.lamp_at == "series" else ("H1", side.lamp),
    }
    for part, key, attribute, unit in _INPUT_VALUES:
        value = getattr(side, attribute, None)
        if isinstance(value, float):
            text = short(value, unit)
            labels[part] = (part, text) if part in side.shunts and _stands(part, side) else (f"{key} {text}",)
    return labels


def _stands(part, side):
    """Return whether a part stands between the rails, its label in two lines beside it."""
    return part != "RB" or side.bypass_at != "switch"


def _description(layout, labels, nodes):
    """Return a side in a sentence."""
    parts = ", ".join(" ".join(labels[symbol.part]) for symbol in layout.symbols if symbol.part)
    if not any(nodes[flag.node].number for flag in layout.flags):
        return f"Parts: {parts}. Room for the voltages of {', '.join(flag.node for flag in layout.flags)}."
    voltages = ", ".join(f"{flag.node} {nodes[flag.node].text}" for flag in layout.flags)
    return f"Parts: {parts}. Voltages: {voltages}. The table of nodes and branches holds every figure."


def _symbol(symbol, labels, side, state_name):
    """Return a part with its label."""
    lines = labels[symbol.part] if symbol.part else (side.reference,)
    x, y, anchor = symbol.label
    reach = _REACH[symbol.kind] if symbol.part == getattr(side, "switch_part", None) else None
    target = (symbol.x - reach[0], symbol.y - reach[1], 2 * reach[0], reach[1] + reach[2]) if reach else ()
    state = state_name if reach else ""
    title = " ".join(lines)
    return SymbolView(
        SHEETS[symbol.kind],
        symbol.kind,
        symbol.part,
        symbol.x,
        symbol.y,
        symbol.turn,
        state,
        target,
        title,
        lines,
        x,
        y,
        anchor,
    )


def _flag(flag, found):
    """Return a node voltage on its pole, above its wire or hanging from it."""
    left = flag.x - FLAG_WIDTH // 2
    x, y = flag.at
    edge = flag.y if y < flag.y else flag.y + FLAG_HEIGHT
    pole = f"{min(max(x, left + 6), left + FLAG_WIDTH - 6)},{edge} {x},{y}"
    return FlagView(flag.node, left, flag.y, FLAG_WIDTH, flag.x, pole, flag.at, found)


def _arrow(arrow, found):
    """Return a branch current, the arrow turned about its middle to where it really flows."""
    x, y, anchor = arrow.label
    backwards = found.number.startswith("-")
    shown = Figure(found.number.removeprefix("-"), found.unit, found.range)
    turn = (arrow.turn + 180) % 360 if backwards else arrow.turn
    dx, dy = _WAYS[arrow.turn]
    tip = (arrow.x - dx * _HEAD, arrow.y - dy * _HEAD) if backwards else (arrow.x, arrow.y)
    return ArrowView(arrow.symbol, arrow.part, *tip, turn, x, y, anchor, shown, found.number != "0")
