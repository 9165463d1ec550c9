"""Transistor on the input side that logic drives: in series with the LED on the low side, or across it."""

from webapp.present.drawings.ladder import BOTTOM, TOP, Ladder, branch
from webapp.present.drawings.parts import Flag

DRIVER, BASE, TRANSISTOR = 186, 200, 376
_COLLECTOR = TRANSISTOR + 18


def transistor(side):
    """Return the layout of a transistor, its base or gate resistor and the logic that drives it."""
    ladder = Ladder(side)
    ladder.supply()
    kind = "npn" if side.transistor == "npn" else "nmos"
    ladder.symbol("source", "VD", (DRIVER, BASE + 32), label=(DRIVER + 28, BASE + 50, "start"))
    ladder.symbol("resistor", "R2", (DRIVER + 86, BASE), label=(DRIVER + 86, BASE + 26, "middle"))
    ladder.symbol(kind, "Q1", (TRANSISTOR, BASE), label=(TRANSISTOR + 30, BASE + 6, "start"))
    ladder.wire((DRIVER, BASE + 10), (DRIVER, BASE), (DRIVER + 50, BASE))
    ladder.wire((DRIVER, BASE + 54), (DRIVER, BOTTOM))
    ladder.dots.append((DRIVER, BOTTOM))
    ladder.wire((DRIVER + 122, BASE), (TRANSISTOR - 24, BASE))
    ladder.flags.append(Flag("VD", 192, 140, (192, BASE)))
    ladder.flags.append(Flag("G", 314, 140, (318, BASE)))
    ladder.flag_top("VS", 100)
    return _series(ladder) if side.lies == "series" else _across(ladder)


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
    """Return the layout with the transistor across the LED."""
    ladder.wire((_COLLECTOR, TOP), (_COLLECTOR, BASE - 46))
    ladder.wire((_COLLECTOR, BOTTOM), (_COLLECTOR, BASE + 46))
    ladder.dots += [(_COLLECTOR, TOP), (_COLLECTOR, BOTTOM)]
    ladder.free = _COLLECTOR + 60
    return branch(ladder)
