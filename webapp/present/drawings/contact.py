"""Contact on the input side, to return or to supply; the LED stands at the barrier, on the right."""

from webapp.present.drawings.parts import Arrow, Flag, Layout, Symbol

TOP, MIDDLE, BOTTOM = 112, 187, 262
LEFT, LED = 56, 400


def _ends():
    """Return what every contact stage has: supply, LED, reference."""
    return (
        Symbol("source", "VS", LEFT, MIDDLE, label=(LEFT + 30, MIDDLE - 4, "start")),
        Symbol("led", "LED", LED, MIDDLE, 90, label=(LED - 24, BOTTOM - 8, "end")),
        Symbol("reference", "", LEFT, BOTTOM, label=(LEFT, BOTTOM + 28, "middle")),
    )


def contact_low(side):
    """Return the layout of a contact between LED and return."""
    line = side.R_line > 0
    symbols = [
        *_ends(),
        Symbol("resistor", "R1", 206, TOP, label=(206, TOP + 30, "middle")),
        Symbol("switch", "S1", 158 if line else 206, BOTTOM, label=(158 if line else 206, BOTTOM + 28, "middle")),
    ]
    switch = symbols[-1].x
    wires = [
        ((LEFT, MIDDLE - 22), (LEFT, TOP), (170, TOP)),
        ((242, TOP), (LED, TOP), (LED, MIDDLE - 30)),
        ((LEFT, MIDDLE + 22), (LEFT, BOTTOM), (switch - 36, BOTTOM)),
    ]
    flags = [Flag("VS", 100, 40, (100, TOP)), Flag("A", 350, 40, (350, TOP))]
    if line:
        symbols.append(Symbol("resistor", "RW", 292, BOTTOM, label=(292, BOTTOM + 28, "middle")))
        wires += [((194, BOTTOM), (256, BOTTOM)), ((328, BOTTOM), (LED, BOTTOM), (LED, MIDDLE + 30))]
        flags += [Flag("S", 188, 186, (224, BOTTOM)), Flag("K", 310, 186, (346, BOTTOM))]
    else:
        wires.append(((242, BOTTOM), (LED, BOTTOM), (LED, MIDDLE + 30)))
        flags.append(Flag("K", 300, 186, (300, BOTTOM)))
    arrows = (Arrow("IF", "LED", 288, TOP, 0, (252, TOP + 30, "start")),)
    return Layout(tuple(symbols), tuple(wires), (), tuple(flags), arrows)


def contact_high(side):
    """Return the layout of a contact between supply and LED."""
    symbols = [
        *_ends(),
        Symbol("switch", "S1", 134, TOP, label=(134, TOP + 30, "middle")),
        Symbol("resistor", "R1", 296, TOP, label=(296, TOP + 30, "middle")),
    ]
    wires = [
        ((LEFT, MIDDLE - 22), (LEFT, TOP), (98, TOP)),
        ((332, TOP), (LED, TOP), (LED, MIDDLE - 30)),
    ]
    flags = [Flag("VS", 62, 40, (76, TOP)), Flag("A", 366, 40, (366, TOP))]
    if side.R_line > 0:
        # The line goes down and back under the contact, so that both fit beside each other.
        symbols[-1] = Symbol("resistor", "R1", 310, TOP, label=(310, TOP + 30, "middle"))
        symbols.append(Symbol("resistor", "RW", 216, MIDDLE, 90, label=(206, MIDDLE + 16, "end")))
        wires = [
            wires[0],
            ((170, TOP), (186, TOP), (186, MIDDLE - 52), (216, MIDDLE - 52), (216, MIDDLE - 36)),
            ((216, MIDDLE + 36), (216, MIDDLE + 48), (256, MIDDLE + 48), (256, TOP), (274, TOP)),
            ((346, TOP), (LED, TOP), (LED, MIDDLE - 30)),
        ]
        flags += [Flag("S", 164, 40, (186, TOP)), Flag("W", 266, 40, (262, TOP))]
    else:
        wires.append(((170, TOP), (260, TOP)))
        flags.append(Flag("S", 206, 40, (206, TOP)))
    wires += [((LED, MIDDLE + 30), (LED, BOTTOM), (LEFT, BOTTOM), (LEFT, MIDDLE + 22))]
    arrows = (Arrow("IF", "LED", 300, BOTTOM, 180, (304, BOTTOM + 18, "middle")),)
    return Layout(tuple(symbols), tuple(wires), (), tuple(flags), arrows)
