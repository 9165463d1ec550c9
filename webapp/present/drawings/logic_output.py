"""Push-pull port on the input side, and any other box with a pin that sources or sinks the LED's current."""

from webapp.present.drawings.ladder import BOTTOM, LEFT, TOP, Ladder, branch

BOX = 160


def logic_output(side):
    """Return the layout of a port that lights the LED by going high or low."""
    return sourcing(side, "port") if side.active == "high" else sinking(side, "port")


def sourcing(side, kind):
    """Return the layout of a box whose pin feeds R1; its symbol is of a given kind."""
    ladder, pin = Ladder(side), TOP + 48
    part, (_, node) = side.switch_part, side.switched
    ladder.supply(narrow=True)
    ladder.symbol(kind, part, (BOX, pin + 20), label=(BOX, BOTTOM + 28, "middle"))
    ladder.wire(*ladder.top, (BOX, TOP), (BOX, pin - 40))
    ladder.wire((BOX, BOTTOM), (BOX, pin + 80))
    ladder.dots.append((BOX, BOTTOM))
    ladder.flag_top("VS", 84)
    feed = BOX + 86
    ladder.top = ((BOX + 44, pin), (feed, pin), (feed, TOP))
    if "RB" in side.shunts and side.bypass_at == "switch":
        ladder.symbol("resistor", "RB", (BOX + 43, TOP), label=(BOX + 43, TOP - 17, "middle"))
        ladder.wire((BOX, TOP), (BOX + 7, TOP))
        ladder.wire((BOX + 79, TOP), (feed, TOP))
        ladder.dots += [(BOX, TOP), (feed, TOP)]
    ladder.x = feed
    ladder.free = feed
    ladder.flag_top(node, feed, feed + 10 if "RB" in side.shunts and side.bypass_at == "switch" else None)
    return branch(ladder)


def sinking(side, kind):
    """Return the layout of a box whose pin takes the cathode's current; its symbol is of a given kind."""
    ladder, pin = Ladder(side), TOP + 70
    part, (node, _) = side.switch_part, side.switched
    ladder.supply(narrow=True)
    ladder.symbol(kind, part, (BOX, pin + 20), label=(BOX, BOTTOM + 28, "middle"))
    ladder.wire((BOX, TOP), (BOX, pin - 40))
    ladder.dots.append((BOX, TOP))
    ladder.wire((LEFT, BOTTOM), (BOX, BOTTOM))
    ladder.flag_top("VS", 100)
    corner = BOX + 86
    ladder.bottom = ((BOX + 44, pin), (corner, pin), (corner, BOTTOM))
    if "RB" in side.shunts and side.bypass_at == "switch":
        ladder.symbol("resistor", "RB", (BOX + 43, BOTTOM), label=(BOX + 70, BOTTOM + 28, "start"))
        ladder.wire((BOX, BOTTOM), (BOX + 7, BOTTOM))
        ladder.wire((BOX + 79, BOTTOM), (corner, BOTTOM))
        ladder.dots.append((corner, BOTTOM))
    ladder.x = BOX
    ladder.flag_bottom(node, corner + 66, corner + 40)
    return branch(ladder)
