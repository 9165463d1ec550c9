"""Push-pull port on the input side, and any other box with a pin that sources or sinks the LED's current."""

from webapp.present.drawings.parts import Arrow, Flag, Layout, Symbol

TOP, MIDDLE, BOTTOM = 108, 187, 262
LEFT, PORT, LED = 52, 150, 400


def logic_output(side):
    """Return the layout of a port that lights the LED by going high or low."""
    return sourcing("port", "P1", "P") if side.active == "high" else sinking("port", "P1", "P")


def _supply(label_x, label_y):
    """Return what both ports have: supply and reference."""
    return (
        Symbol("source", "VS", LEFT, MIDDLE, label=(label_x, label_y, "start")),
        Symbol("reference", "", LEFT, BOTTOM, label=(LEFT, BOTTOM + 28, "middle")),
    )


def sourcing(kind, part, node):
    """Return the layout of a box whose pin drives the anode: kind of its symbol, its part, the node at its pin."""
    pin = 160
    symbols = (
        *_supply(LEFT + 26, MIDDLE + 38),
        Symbol(kind, part, PORT, pin + 20, label=(PORT, BOTTOM + 28, "middle")),
        Symbol("resistor", "R1", 292, pin - 40, label=(292, pin - 10, "middle")),
        Symbol("led", "LED", LED, MIDDLE + 8, 90, label=(LED - 24, BOTTOM - 8, "end")),
    )
    wires = (
        ((LEFT, MIDDLE - 22), (LEFT, TOP), (PORT, TOP), (PORT, pin - 40)),
        ((LEFT, MIDDLE + 22), (LEFT, BOTTOM), (LED, BOTTOM), (LED, MIDDLE + 38)),
        ((PORT, BOTTOM), (PORT, pin + 80)),
        ((PORT + 44, pin), (222, pin), (222, pin - 40), (256, pin - 40)),
        ((328, pin - 40), (LED, pin - 40), (LED, MIDDLE - 22)),
    )
    flags = (
        Flag("VS", 84, 40, (84, TOP)),
        Flag(node, 222, 40, (222, pin - 40)),
        Flag("A", 366, 40, (366, pin - 40)),
    )
    arrows = (Arrow("IF", "LED", 300, BOTTOM, 180, (304, BOTTOM + 18, "middle")),)
    return Layout(symbols, wires, ((PORT, BOTTOM),), flags, arrows)


def sinking(kind, part, node):
    """Return the layout of a box whose pin drives the cathode: kind of its symbol, its part, the node at its pin."""
    pin = 182
    symbols = (
        *_supply(LEFT + 12, TOP + 23),
        Symbol(kind, part, PORT, pin + 20, label=(PORT, BOTTOM + 28, "middle")),
        Symbol("resistor", "R1", 200, TOP, label=(200, TOP + 30, "middle")),
        Symbol("led", "LED", LED, MIDDLE, 90, label=(LED - 48, MIDDLE + 65, "end")),
    )
    wires = (
        ((LEFT, MIDDLE - 22), (LEFT, TOP), (164, TOP)),
        ((PORT, TOP), (PORT, pin - 40)),
        ((236, TOP), (LED, TOP), (LED, MIDDLE - 30)),
        ((LED, MIDDLE + 30), (LED, BOTTOM - 28), (232, BOTTOM - 28), (232, pin), (PORT + 44, pin)),
        ((LEFT, MIDDLE + 22), (LEFT, BOTTOM), (PORT, BOTTOM)),
    )
    flags = (
        Flag("VS", 100, 40, (100, TOP)),
        Flag("A", 360, 40, (356, TOP)),
        Flag(node, 300, 172, (300, BOTTOM - 28)),
    )
    arrows = (Arrow("IF", "LED", 290, TOP, 0, (250, TOP + 30, "start")),)
    return Layout(symbols, wires, ((PORT, TOP),), flags, arrows)
