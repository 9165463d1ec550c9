"""A gate driver with its two rails, gate resistor and the transistor that it drives."""

from webapp.present.drawings.parts import Arrow, Flag, Layout, Symbol

TOP, RAIL, BOTTOM, LOWER = 96, 187, 282, 364
DRIVER, GATE, SUPPLY = 64, 400, 524


def gate(side):
    """Return the layout of driver, gate resistor and gate, with a negative rail where there is one."""
    negative = side.VEE < 0.0
    middle = (TOP + BOTTOM) // 2
    symbols = (
        Symbol("gatedriver", "U1", DRIVER, RAIL, label=(88, RAIL + 66, "start")),
        Symbol("resistor", "RL", 212, RAIL, label=(212, RAIL + 30, "middle")),
        Symbol("resistor", "RGE", 300, 236, 90, label=(320, 240, "start")),
        Symbol("igbt", "Q3", GATE, RAIL, label=(GATE + 36, 236, "start")),
        Symbol("source", "VCC", SUPPLY, middle, label=(SUPPLY - 30, middle - 4, "end")),
        Symbol("reference", "", SUPPLY, BOTTOM, label=(SUPPLY, BOTTOM + 28, "middle")),
    )
    wires = (
        ((DRIVER, RAIL - 46), (DRIVER, TOP), (SUPPLY, TOP), (SUPPLY, middle - 22)),
        ((DRIVER + 40, RAIL), (176, RAIL)),
        ((248, RAIL), (GATE - 24, RAIL)),
        ((300, RAIL), (300, 200)),
        ((300, 272), (300, BOTTOM), (SUPPLY, BOTTOM), (SUPPLY, middle + 22)),
        ((GATE + 18, RAIL + 46), (GATE + 18, BOTTOM)),
    )
    dots = [(300, RAIL), (GATE + 18, BOTTOM)]
    flags = [
        Flag("VCC", 466, 34, (466, TOP)),
        Flag("OUT", 180, 128, (150, RAIL)),
        Flag("G2", 304, 128, (304, RAIL)),
    ]
    if negative:
        symbols += (Symbol("source", "VEE", 440, 324, label=(410, 320, "end")),)
        wires += (
            ((DRIVER, RAIL + 46), (DRIVER, LOWER), (440, LOWER), (440, 346)),
            ((440, 302), (440, BOTTOM)),
        )
        dots.append((440, BOTTOM))
        flags.append(Flag("VEE", 250, 312, (250, LOWER)))
    else:
        wires += (((DRIVER, RAIL + 46), (DRIVER, BOTTOM), (300, BOTTOM)),)
        dots.append((300, BOTTOM))
    arrows = (
        Arrow("IC", "U1", 180, TOP, 180, (192, TOP - 24, "middle")),
        Arrow("IL", "RL", 276, RAIL, 0, (212, RAIL + 50, "middle")),
    )
    height = 400 if negative else 330
    return Layout(symbols, wires, tuple(dots), tuple(flags), arrows, 580, 114, height)
