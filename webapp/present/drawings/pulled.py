"""Load resistor and receiver on the output side; the detector stands at the barrier, on the left."""

from webapp.present.drawings.parts import Arrow, Flag, Layout, Symbol

TOP, MIDDLE, BOTTOM = 112, 187, 262
DETECTOR, SUPPLY = 60, 404
COLLECTOR = DETECTOR + 18


def pull_up(side):
    """Return the layout of a detector to common with its load to the supply."""
    symbols = (
        Symbol("detector", "U1", DETECTOR, MIDDLE, label=(118, MIDDLE + 46, "start")),
        Symbol("resistor", "RL", 284, TOP, label=(284, TOP + 30, "middle")),
        Symbol("source", "VCC", SUPPLY, MIDDLE, label=(SUPPLY - 30, MIDDLE - 4, "end")),
        Symbol("receiver", "RX", 186, MIDDLE - 12, label=(186, MIDDLE - 15, "middle")),
        Symbol("reference", "", SUPPLY, BOTTOM, label=(SUPPLY, BOTTOM + 28, "middle")),
    )
    wires = (
        ((COLLECTOR, MIDDLE - 46), (COLLECTOR, TOP), (248, TOP)),
        ((320, TOP), (SUPPLY, TOP), (SUPPLY, MIDDLE - 22)),
        ((186, TOP), (186, MIDDLE - 30)),
        ((COLLECTOR, MIDDLE + 46), (COLLECTOR, BOTTOM), (SUPPLY, BOTTOM), (SUPPLY, MIDDLE + 22)),
    )
    flags = (Flag("OUT", 128, 40, (128, TOP)), Flag("VCC", 376, 40, (376, TOP)))
    arrows = (
        Arrow("IC", "U1", 200, BOTTOM, 0, (196, BOTTOM + 18, "middle")),
        Arrow("IL", "RL", 332, TOP, 180, (284, TOP + 50, "middle")),
    )
    return Layout(symbols, wires, ((186, TOP),), flags, arrows)


def pull_down(side):
    """Return the layout of a detector to the supply with its load to common."""
    rail = MIDDLE + 46
    symbols = (
        Symbol("detector", "U1", DETECTOR, MIDDLE, label=(100, BOTTOM + 6, "start")),
        Symbol("resistor", "RL", 306, rail, label=(306, rail - 18, "middle")),
        Symbol("source", "VCC", SUPPLY, MIDDLE, label=(SUPPLY - 30, MIDDLE - 4, "end")),
        Symbol("receiver", "RX", 220, rail + 34, label=(220, rail + 30, "middle")),
        Symbol("reference", "", SUPPLY, BOTTOM, label=(SUPPLY, BOTTOM + 28, "middle")),
    )
    wires = (
        ((COLLECTOR, MIDDLE - 46), (COLLECTOR, TOP), (SUPPLY, TOP), (SUPPLY, MIDDLE - 22)),
        ((COLLECTOR, rail), (270, rail)),
        ((220, rail), (220, rail + 16)),
        ((342, rail), (372, rail), (372, BOTTOM), (SUPPLY, BOTTOM), (SUPPLY, MIDDLE + 22)),
    )
    flags = (Flag("OUT", 180, 170, (180, rail)), Flag("VCC", 376, 40, (376, TOP)))
    arrows = (
        Arrow("IC", "U1", 200, TOP, 180, (196, TOP + 18, "middle")),
        Arrow("IL", "RL", 372, BOTTOM - 8, 90, (311, rail + 26, "middle")),
    )
    return Layout(symbols, wires, ((220, rail),), flags, arrows)
