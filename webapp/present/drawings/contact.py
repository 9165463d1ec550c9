"""Contact on the input side, to return or to supply; the LED stands at the barrier, on the right."""

from webapp.present.drawings.parts import Arrow, Flag, Layout, Symbol

TOP, MIDDLE, BOTTOM = 112, 187, 262
LEFT, LED = 56, 400


def _ends(supply_label):
    """Return what every contact stage has: supply, LED, reference."""
    return (
        Symbol("source", "VS", LEFT, MIDDLE, label=(*supply_label, "start")),
        Symbol("led", "LED", LED, MIDDLE, 90, label=(LED - 24, BOTTOM - 8, "end")),
        Symbol("reference", "", LEFT, BOTTOM, label=(LEFT, BOTTOM + 28, "middle")),
    )


def contact_low(side):
    """Return the layout of a contact between LED and return."""
    line = side.R_line > 0
    symbols = [
        *_ends((LEFT + 12, MIDDLE - 43)),
        Symbol("resistor", "R1", 192, TOP, label=(192, TOP + 30, "middle")),
        Symbol("switch", "S1", 158 if line else 206, BOTTOM, label=(158 if line else 206, BOTTOM + 28, "middle")),
    ]
    switch = symbols[-1].x
    wires = [
        ((LEFT, MIDDLE - 22), (LEFT, TOP), (156, TOP)),
        ((228, TOP), (LED, TOP), (LED, MIDDLE - 30)),
        ((LEFT, MIDDLE + 22), (LEFT, BOTTOM), (switch - 36, BOTTOM)),
    ]
    flags = [Flag("VS", 100, 40, (100, TOP)), Flag("A", 350, 40, (350, TOP))]
    if line:
        symbols.append(Symbol("resistor", "RW", 292, BOTTOM, label=(292, BOTTOM + 28, "middle")))
        wires += [((194, BOTTOM), (256, BOTTOM)), ((328, BOTTOM), (LED, BOTTOM), (LED, MIDDLE + 30))]
        flags += [Flag("S", 184, 186, (224, BOTTOM)), Flag("K", 306, 186, (346, BOTTOM))]
    else:
        wires.append(((242, BOTTOM), (LED, BOTTOM), (LED, MIDDLE + 30)))
        flags.append(Flag("K", 300, 186, (300, BOTTOM)))
    arrows = (Arrow("IF", "LED", 282, TOP, 0, (248, TOP + 30, "start")),)
    return Layout(tuple(symbols), tuple(wires), (), tuple(flags), arrows)


def contact_high(side):
    """Return the layout of a contact between supply and LED."""
    symbols = [
        *_ends((LEFT + 30, MIDDLE - 4)),
        Symbol("switch", "S1", 134, TOP, label=(134, TOP + 30, "middle")),
        Symbol("resistor", "R1", 296, TOP, label=(296, TOP + 30, "middle")),
    ]
    wires = [
        ((LEFT, MIDDLE - 22), (LEFT, TOP), (98, TOP)),
        ((332, TOP), (LED, TOP), (LED, MIDDLE - 30)),
    ]
    flags = [Flag("VS", 64, 40, (76, TOP))]
    if side.R_line > 0:
        # The line goes down and back beside the contact, and the anode's flag hangs, so that all fit beside each other.
        symbols[-1] = Symbol("resistor", "R1", 312, TOP, label=(312, TOP - 17, "middle"))
        symbols.append(Symbol("resistor", "RW", 204, MIDDLE, 90, label=(190, MIDDLE + 30, "end")))
        wires = [
            wires[0],
            ((170, TOP), (204, TOP), (204, MIDDLE - 36)),
            ((204, MIDDLE + 36), (204, MIDDLE + 48), (236, MIDDLE + 48), (236, TOP), (276, TOP)),
            ((348, TOP), (LED, TOP), (LED, MIDDLE - 30)),
        ]
        flags += [Flag("S", 187, 40, (187, TOP)), Flag("W", 310, 40, (258, TOP)), Flag("A", 306, 150, (356, TOP))]
    else:
        wires.append(((170, TOP), (260, TOP)))
        flags += [Flag("S", 206, 40, (206, TOP)), Flag("A", 366, 40, (366, TOP))]
    wires += [((LED, MIDDLE + 30), (LED, BOTTOM), (LEFT, BOTTOM), (LEFT, MIDDLE + 22))]
    arrows = (Arrow("IF", "LED", 300, BOTTOM, 180, (304, BOTTOM + 18, "middle")),)
    return Layout(tuple(symbols), tuple(wires), (), tuple(flags), arrows)
