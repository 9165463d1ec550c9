"""Transistor on the input side that logic drives: in series with the LED on the low side, or across it."""

from webapp.present.drawings.ladder import BOTTOM, TOP, Ladder, branch
from webapp.present.drawings.parts import Flag

DRIVER, BASE, TRANSISTOR = 186, 200, 408
_COLLECTOR = TRANSISTOR + 18
_REACHED = 388  # where the upper rail may be when the transistor has its usual place
_CLEAR = 150  # up to where the room between the rails may be taken then


def transistor(side):
    """Return the layout of a transistor, its base or gate resistor and the logic that drives it."""
    ladder = Ladder(side)
    ladder.supply()
    ladder.flag_top("VS", 100)
    if side.lies == "across":
        return branch(ladder, _across)
    _driven(ladder, 0)
    return _series(ladder)


def _driven(ladder, dx):
    """Place transistor, resistor and logic, so far to the right of their usual place."""
    kind, driver, base = "npn" if ladder.side.transistor == "npn" else "nmos", DRIVER + dx, TRANSISTOR + dx
    ladder.symbol("source", "VD", (driver, BASE + 32), label=(driver + 28, BASE + 50, "start"))
    ladder.symbol("resistor", "R2", (driver + 86, BASE), label=(driver + 86, BASE + 26, "middle"))
    ladder.symbol(kind, "Q1", (base, BASE), label=(base + 30, BASE + 6, "start"))
    ladder.wire((driver, BASE + 10), (driver, BASE), (driver + 50, BASE))
    ladder.wire((driver, BASE + 54), (driver, BOTTOM))
    ladder.dots.append((driver, BOTTOM))
    ladder.wire((driver + 122, BASE), (base - 24, BASE))
    ladder.flags.append(Flag("VD", 192 + dx, 140, (192 + dx, BASE)))
    ladder.flags.append(Flag("G", 314 + dx, 140, (318 + dx, BASE)))


def _series(ladder):
    """Return the layout with the transistor between LED and return."""
    side, drop = ladder.side, _COLLECTOR + 90
    ladder.wire(*ladder.bottom, (_COLLECTOR, BOTTOM), (_COLLECTOR, BASE + 46))
    ladder.bottom = ((_COLLECTOR, BASE - 46), (drop, BASE - 46), (drop, BOTTOM))
    if "RB" in side.shunts and side.bypass_at == "switch":
        ladder.symbol("resistor", "RB", (_COLLECTOR + 45, BOTTOM), label=(_COLLECTOR + 45, BOTTOM + 28, "middle"))
        ladder.wire((_COLLECTOR, BOTTOM), (_COLLECTOR + 9, BOTTOM))
        ladder.wire((_COLLECTOR + 81, BOTTOM), (drop, BOTTOM))
        ladder.dots += [(_COLLECTOR, BOTTOM), (drop, BOTTOM)]
    ladder.flag_bottom(side.cathode, drop + 66, drop + 30)
    return branch(ladder)


def _across(ladder):
    """Place the transistor across the LED: behind what is in series, clear of what is beside that."""
    dx = max(0, ladder.x - _REACHED, ladder.free - _CLEAR)
    _driven(ladder, dx)
    collector = _COLLECTOR + dx
    ladder.wire((collector, TOP), (collector, BASE - 46))
    ladder.wire((collector, BOTTOM), (collector, BASE + 46))
    ladder.dots += [(collector, TOP), (collector, BOTTOM)]
    ladder.free = collector + 60
