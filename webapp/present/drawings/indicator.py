"""Indicator LED in series with the detector on the output side."""

from webapp.present.drawings.parts import Arrow, Flag, Layout, Symbol

TOP, MIDDLE, BOTTOM = 112, 187, 262
DETECTOR, SUPPLY = 60, 404
COLLECTOR = DETECTOR + 18


def indicator(side):
    """Return the layout of supply, resistor, indicator and detector in series."""
    symbols = (
        Symbol("detector", "U1", DETECTOR, MIDDLE, label=(118, MIDDLE + 46, "start")),
        Symbol("led", "D1", 186, TOP, 180, label=(180, TOP + 50, "middle")),
        Symbol("resistor", "RL", 306, TOP, label=(306, TOP + 30, "middle")),
        Symbol("source", "VCC", SUPPLY, MIDDLE, label=(SUPPLY - 30, MIDDLE - 4, "end")),
        Symbol("reference", "", SUPPLY, BOTTOM, label=(SUPPLY, BOTTOM + 28, "middle")),
    )
    wires = (
        ((COLLECTOR, MIDDLE - 46), (COLLECTOR, TOP), (156, TOP)),
        ((216, TOP), (270, TOP)),
        ((342, TOP), (SUPPLY, TOP), (SUPPLY, MIDDLE - 22)),
        ((COLLECTOR, MIDDLE + 46), (COLLECTOR, BOTTOM), (SUPPLY, BOTTOM), (SUPPLY, MIDDLE + 22)),
    )
    flags = (
        Flag("C", 100, 40, (112, TOP)),
        Flag("D", 244, 40, (244, TOP)),
        Flag("VCC", 384, 40, (384, TOP)),
    )
    arrows = (Arrow("IC", "U1", 200, BOTTOM, 0, (196, BOTTOM + 18, "middle")),)
    return Layout(symbols, wires, (), flags, arrows)
