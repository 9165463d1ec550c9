"""An ac load on a triac coupler, alone or with a larger triac; the line stands on the right."""

from webapp.present.drawings.parts import Arrow, Flag, Layout, Symbol

TOP, MIDDLE = 112, 187
TRIAC = 60
UPPER = TRIAC + 18


def _line(x, middle, bottom):
    """Return the line's source and reference."""
    return (
        Symbol("acsource", "VCC", x, middle, label=(x - 30, middle - 4, "end")),
        Symbol("reference", "", x, bottom, label=(x, bottom + 28, "middle")),
    )


def _snubber(x, bottom):
    """Return symbols, wires and flag of a snubber that hangs from the upper rail; the caller dots its ends."""
    symbols = (
        Symbol("resistor", "RSN", x, TOP + 48, 90, label=(x + 20, TOP + 44, "start")),
        Symbol("capacitor", "CSN", x, bottom - 48, 90, label=(x + 22, bottom - 52, "start")),
    )
    wires = (
        ((x, TOP), (x, TOP + 12)),
        ((x, TOP + 84), (x, bottom - 78)),
        ((x, bottom - 18), (x, bottom)),
    )
    middle = (TOP + 84 + bottom - 78) // 2
    return symbols, wires, Flag("SN", x + 84, middle + 1, (x, middle))


def ac_load(side):
    """Return the layout of line, load and the coupler's triac in series."""
    room = 180 if side.has_snubber else 0
    supply, load, bottom = 404 + room, 284 + room, 342 if side.has_snubber else 262
    middle = (TOP + bottom) // 2
    symbols = (
        Symbol("optotriac", "U1", TRIAC, MIDDLE, label=(118, MIDDLE + 46, "start")),
        Symbol("resistor", "RL", load, TOP, label=(load, TOP + 30, "middle")),
        *_line(supply, middle, bottom),
    )
    wires = (
        ((UPPER, MIDDLE - 46), (UPPER, TOP), (load - 36, TOP)),
        ((load + 36, TOP), (supply, TOP), (supply, middle - 22)),
        ((UPPER, MIDDLE + 46), (UPPER, bottom), (supply, bottom), (supply, middle + 22)),
    )
    flags = (Flag("T", 128, 40, (128, TOP)), Flag("VCC", supply - 28, 40, (supply - 28, TOP)))
    dots = ()
    if side.has_snubber:
        more, tied, flag = _snubber(220, bottom)
        symbols, wires, flags, dots = symbols + more, wires + tied, (*flags, flag), ((220, TOP), (220, bottom))
    arrows = (
        Arrow("IC", "U1", 150, bottom, 0, (160, bottom + 18, "middle")),
        Arrow("IL", "RL", load + 48, TOP, 180, (load, TOP + 50, "middle")),
    )
    return Layout(symbols, wires, dots, flags, arrows, 460 if not room else 660, height=bottom + 38)


def ac_triac(side):
    """Return the layout of a coupler that triggers a larger triac in series with the load."""
    room = 170 if side.has_snubber else 0
    rail, bottom, triac = 233, 342, 376
    load, supply = 500 + room, 624 + room
    middle = (TOP + bottom) // 2
    symbols = (
        Symbol("optotriac", "U1", TRIAC, MIDDLE, label=(100, rail + 32, "start")),
        Symbol("resistor", "RL", 262, TOP, label=(262, TOP - 17, "middle")),
        Symbol("resistor", "RGK", 250, 288, 90, label=(270, 284, "start")),
        Symbol("triac", "Q3", triac, 209, label=(triac + 28, 205, "start")),
        Symbol("resistor", "RLOAD", load, TOP, label=(load, TOP + 30, "middle")),
        *_line(supply, middle, bottom),
    )
    wires = (
        ((UPPER, MIDDLE - 46), (UPPER, TOP), (226, TOP)),
        ((298, TOP), (load - 36, TOP)),
        ((triac, TOP), (triac, 163)),
        ((UPPER, rail), (triac - 34, rail)),
        ((250, rail), (250, 252)),
        ((250, 324), (250, bottom), (supply, bottom), (supply, middle + 22)),
        ((triac, 255), (triac, bottom)),
        ((load + 36, TOP), (supply, TOP), (supply, middle - 22)),
    )
    dots = ((triac, TOP), (250, rail), (triac, bottom))
    flags = (
        Flag("T", 128, 40, (128, TOP)),
        Flag("T2", 336, 40, (336, TOP)),
        Flag("VCC", supply - 28, 40, (supply - 28, TOP)),
        Flag("GT", 178, 176, (140, rail)),
    )
    if side.has_snubber:
        more, tied, flag = _snubber(478, bottom)
        symbols, wires, flags = symbols + more, wires + tied, (*flags, flag)
        dots += ((478, TOP), (478, bottom))
    arrows = (Arrow("IC", "U1", 130, TOP, 180, (114, TOP + 18, "start")),)
    return Layout(symbols, wires, dots, flags, arrows, 700 if not room else 860, height=380)
