"""Output sides whose detector feeds its load from the supply: controller inputs, a relay's transistor, a dc load."""

from webapp.present.drawings.parts import Arrow, Flag, Layout, Symbol

TOP, MIDDLE, RAIL, BOTTOM = 112, 187, 233, 342
DETECTOR = 60
COLLECTOR = DETECTOR + 18


def feeding(supply, top=TOP, bottom=BOTTOM):
    """Return what every such side has: detector, supply and reference, and the wire between the first two."""
    middle = (top + bottom) // 2
    symbols = (
        Symbol("detector", "U1", DETECTOR, MIDDLE, label=(100, RAIL + 32, "start")),
        Symbol("source", "VCC", supply, middle, label=(supply - 30, middle - 4, "end")),
        Symbol("reference", "", supply, bottom, label=(supply, bottom + 28, "middle")),
    )
    wire = ((COLLECTOR, MIDDLE - 46), (COLLECTOR, top), (supply, top), (supply, middle - 22))
    arrow = Arrow("IC", "U1", 200, top, 180, (196, top + 18, "middle"))
    return symbols, (wire,), (arrow,), ((supply, bottom), (supply, middle + 22))


def controller(side):
    """Return the layout of a controller input, sinking or sourcing."""
    return _sinking() if side.sinks else _sourcing()


def _sinking():
    """Return the layout of an input that takes current: detector, resistor, input, common."""
    supply = 484
    symbols, wires, arrows, end = feeding(supply)
    symbols += (
        Symbol("resistor", "RL", 244, RAIL, label=(244, RAIL + 30, "middle")),
        Symbol("plcinput", "A1", 360, RAIL + 55, label=(410, RAIL + 52, "start")),
    )
    wires += (
        ((COLLECTOR, RAIL), (208, RAIL)),
        ((280, RAIL), (360, RAIL), (360, RAIL + 19)),
        ((360, RAIL + 91), (360, BOTTOM), *end),
    )
    flags = (
        Flag("VCC", 440, 40, (440, TOP)),
        Flag("E", 168, 170, (140, RAIL)),
        Flag("IN", 318, 170, (318, RAIL)),
    )
    arrows += (Arrow("IL", "RL", 308, RAIL, 0, (244, RAIL + 52, "middle")),)
    return Layout(symbols, wires, (), flags, arrows, 540, height=380)


def _sourcing():
    """Return the layout of an input that gives current: supply, input, resistor, detector, common."""
    supply, bottom = 564, 262
    symbols = (
        Symbol("detector", "U1", DETECTOR, MIDDLE, label=(118, RAIL, "start")),
        Symbol("resistor", "RL", 230, TOP, label=(230, TOP + 30, "middle")),
        Symbol("plcinput", "A1", 416, TOP, 90, label=(416, TOP + 62, "middle")),
        Symbol("source", "VCC", supply, MIDDLE, label=(supply - 30, MIDDLE - 4, "end")),
        Symbol("reference", "", supply, bottom, label=(supply, bottom + 28, "middle")),
    )
    wires = (
        ((COLLECTOR, MIDDLE - 46), (COLLECTOR, TOP), (194, TOP)),
        ((266, TOP), (380, TOP)),
        ((452, TOP), (supply, TOP), (supply, MIDDLE - 22)),
        ((COLLECTOR, RAIL), (COLLECTOR, bottom), (supply, bottom), (supply, MIDDLE + 22)),
    )
    flags = (
        Flag("C", 128, 40, (128, TOP)),
        Flag("IN", 306, 40, (306, TOP)),
        Flag("VCC", 528, 40, (528, TOP)),
    )
    arrows = (
        Arrow("IC", "U1", 200, bottom, 0, (196, bottom + 18, "middle")),
        Arrow("IL", "RL", 290, TOP, 180, (230, TOP + 52, "middle")),
    )
    return Layout(symbols, wires, (), flags, arrows, 620)


def dc_load(side):
    """Return the layout of a load between the coupler's output and common."""
    supply = 404
    symbols, wires, arrows, end = feeding(supply, bottom=262)
    symbols += (Symbol("resistor", "RL", 290, RAIL, label=(290, RAIL - 18, "middle")),)
    wires += (
        ((COLLECTOR, RAIL), (254, RAIL)),
        ((326, RAIL), (356, RAIL), (356, 262), *end),
    )
    flags = (Flag("VCC", 376, 40, (376, TOP)), Flag("OUT", 172, 170, (172, RAIL)))
    arrows += (Arrow("IL", "RL", 242, RAIL, 0, (290, RAIL + 28, "middle")),)
    return Layout(symbols, wires, (), flags, arrows)


_CLAMPS = {"diode": ("diode", 30, 270), "zener": ("clamp", 30, 270), "resistor": ("resistor", 36, 90)}


def relay(side):
    """Return the layout of a coil, its clamp, and the transistor that switches it."""
    supply, top, coil, clamp = 684, 96, 438, 520
    symbols, wires, arrows, end = feeding(supply, top)
    kind = "npn" if side.transistor == "npn" else "nmos"
    symbols += (
        Symbol("resistor", "RL", 244, RAIL, label=(244, RAIL + 30, "middle")),
        Symbol("resistor", "R3", 330, 288, 90, label=(350, 284, "start")),
        Symbol(kind, "Q2", 420, RAIL, label=(456, RAIL + 32, "start")),
        Symbol("coil", "K1", coil, 140, 90, label=(coil - 22, 136, "end")),
    )
    wires += (
        ((COLLECTOR, RAIL), (208, RAIL)),
        ((280, RAIL), (396, RAIL)),
        ((330, RAIL), (330, 252)),
        ((330, 324), (330, BOTTOM), *end),
        ((coil, 279), (coil, BOTTOM)),
        ((coil, top), (coil, 110)),
        ((coil, 170), (coil, 187)),
    )
    dots = [(330, RAIL), (coil, BOTTOM), (coil, top)]
    if side.clamp != "none":
        clamped, half, turn = _CLAMPS[side.clamp]
        symbols += (Symbol(clamped, "D6", clamp, 140, turn, label=(clamp + 20, 136, "start")),)
        wires += (((clamp, top), (clamp, 140 - half)), ((clamp, 140 + half), (clamp, 180), (coil, 180)))
        dots += [(clamp, top), (coil, 180)]
    flags = (
        Flag("VCC", 620, 34, (620, top)),
        Flag("E", 168, 170, (140, RAIL)),
        Flag("G2", 316, 170, (316, RAIL)),
        Flag("C2", 530, 196, (clamp, 180)) if side.clamp != "none" else Flag("C2", 540, 140, (coil, 176)),
    )
    arrows += (Arrow("IL", "RL", 308, RAIL, 0, (244, RAIL + 52, "middle")),)
    return Layout(symbols, wires, tuple(dots), flags, arrows, 740, height=380)
