"""Load resistor and receiver on the output side; the detector stands at the barrier, on the left."""

from webapp.present.drawings.parts import WIDTHS, Arrow, Flag, Layout, Symbol

TOP, MIDDLE, BOTTOM = 112, 187, 262
DETECTOR, SUPPLY = 60, 404
COLLECTOR = DETECTOR + 18
_RIN, _RPU = 96, 76  # room that the receiver's own resistor and a port's pull-up take


def _detector(side, label):
    """Return the detector, the right way round or not."""
    return Symbol("reversed" if side.swap == "yes" else "detector", "U1", DETECTOR, MIDDLE, label=label)


def _width(supply):
    """Return the width of a side whose supply stands at a place."""
    return next(width for width in WIDTHS if width >= supply + 56)


def pull_up(side):
    """Return the layout of a detector to common with its load to the supply."""
    own, port = side.R_in != "none", side.has_port_resistor
    load = 284 + own * _RIN + port * 20
    supply = load + 120 + port * _RPU
    symbols = (
        _detector(side, (118, MIDDLE + 46, "start")),
        Symbol("resistor", "RL", load, TOP, label=(load, TOP - 17 if port else TOP + 30, "middle")),
        Symbol("source", "VCC", supply, MIDDLE, label=(supply - 30, MIDDLE - 4, "end")),
        Symbol("receiver", "RX", 186, MIDDLE - 12, label=(186, MIDDLE - 15, "middle")),
        Symbol("reference", "", supply, BOTTOM, label=(supply, BOTTOM + 28, "middle")),
    )
    wires = (
        ((COLLECTOR, MIDDLE - 46), (COLLECTOR, TOP), (load - 36, TOP)),
        ((load + 36, TOP), (supply, TOP), (supply, MIDDLE - 22)),
        ((186, TOP), (186, MIDDLE - 30)),
        ((COLLECTOR, MIDDLE + 46), (COLLECTOR, BOTTOM), (supply, BOTTOM), (supply, MIDDLE + 22)),
    )
    dots = [(186, TOP)]
    if own:
        symbols += (Symbol("resistor", "RIN", 256, MIDDLE, 90, label=(274, MIDDLE + 6, "start")),)
        wires += (((256, TOP), (256, MIDDLE - 36)), ((256, MIDDLE + 36), (256, BOTTOM)))
        dots += [(256, TOP), (256, BOTTOM)]
    if port:
        low = TOP + 46
        symbols += (Symbol("resistor", "RPU", load, low, label=(load, low + 28, "middle")),)
        wires += tuple(((load + way * 50, TOP), (load + way * 50, low), (load + way * 36, low)) for way in (-1, 1))
        dots += [(load - 50, TOP), (load + 50, TOP)]
    flags = (Flag("OUT", 128, 40, (128, TOP)), Flag("VCC", supply - 28, 40, (supply - 28, TOP)))
    text = (load + 62, TOP + 18, "start") if port else (load, TOP + 50, "middle")
    arrows = (
        _collector_arrow(side, BOTTOM, 0),
        Arrow("IL", "RL", load + (72 if port else 48), TOP, 180, text),
    )
    return Layout(symbols, wires, tuple(dots), flags, arrows, _width(supply))


def _collector_arrow(side, y, turn):
    """Return the arrow of the collector current, which enters a detector that is turned round at its other end."""
    return Arrow("IC", "U1", 200, y, (turn + 180) % 360 if side.swap == "yes" else turn, (196, y + 18, "middle"))


def pull_down(side):
    """Return the layout of a detector to the supply with its load to common."""
    own = side.R_in != "none"
    rail, bottom = MIDDLE + 46, BOTTOM + own * 80
    load, supply, middle = 306 + own * _RIN, SUPPLY + own * (_RIN + 64), (TOP + bottom) // 2
    symbols = (
        _detector(side, (100, rail + 35, "start")),
        Symbol("resistor", "RL", load, rail, label=(load, rail - 18, "middle")),
        Symbol("source", "VCC", supply, middle, label=(supply - 30, middle - 4, "end")),
        Symbol("receiver", "RX", 220, rail + 34, label=(220, rail + 30, "middle")),
        Symbol("reference", "", supply, bottom, label=(supply, bottom + 28, "middle")),
    )
    wires = (
        ((COLLECTOR, MIDDLE - 46), (COLLECTOR, TOP), (supply, TOP), (supply, middle - 22)),
        ((COLLECTOR, rail), (load - 36, rail)),
        ((220, rail), (220, rail + 16)),
        ((load + 36, rail), (load + 66, rail), (load + 66, bottom), (supply, bottom), (supply, middle + 22)),
    )
    dots = [(220, rail)]
    if own:
        symbols += (Symbol("resistor", "RIN", 290, rail + 55, 90, label=(310, rail + 51, "start")),)
        wires += (((290, rail), (290, rail + 19)), ((290, rail + 91), (290, bottom), (load + 66, bottom)))
        dots += [(290, rail), (load + 66, bottom)]
    flags = (Flag("OUT", 180, 170, (180, rail)), Flag("VCC", supply - 28, 40, (supply - 28, TOP)))
    arrows = (
        _collector_arrow(side, TOP, 180),
        Arrow("IL", "RL", load + 66, bottom - 8, 90, (load + 5, rail + 26, "middle")),
    )
    return Layout(symbols, wires, tuple(dots), flags, arrows, _width(supply), height=300 + own * 80)
