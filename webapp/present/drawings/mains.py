"""Alternating voltage on the input side: line, switch, dropper, rectifier, smoothing, LED.

A bridge is drawn by its two diodes that conduct at the crest; the other two conduct in the other half cycle.
"""

from webapp.present.drawings.ladder import TOP, Ladder

_PITCH = 128
_MORE = 44  # room for a label that tells of several resistors
_HALF = 36


def ac_line(side):
    """Return the layout of an input on alternating voltage."""
    ladder = Ladder(side)
    ladder.supply(kind="acsource")
    ladder.flag_top("VS", 100)
    nodes = [*(node for _, node in side.branch[1:]), side.reference]
    ends = dict(zip((part for part, _ in side.branch), nodes, strict=True))
    ladder.along_top("S1", ends["S1"])
    if side.capacitive:
        ladder.along_top("CD", ends["CD"])
        if "RBD" in side.shunts:
            _beside_capacitor(ladder, ladder.x - _PITCH // 2)
    ladder.along_top("R1", ends["R1"], pitch=_PITCH + (_MORE if side.split > 1 else 0))
    if "D5" in ends:
        ladder.along_bottom("D5", ladder.x - _PITCH // 2)
        ladder.flag_bottom("K", ladder.x + 26)
        ladder.along_top("D4", ends["D4"])
    if "D3" in side.shunts:
        ladder.beside("D3", upwards=True)
    if "CS" in side.shunts:
        ladder.beside("CS")
        ladder.along_top("RF", "A", pitch=_PITCH + 24)
    return ladder.finish()


def _beside_capacitor(ladder, x):
    """Place the bleeder under the capacitor that stands on the upper rail around a place."""
    y = TOP + 56
    ladder.symbol("resistor", "RBD", (x, y), 0, (x, y + 28, "middle"))
    for sign in (-1, 1):
        corner = x + sign * 50
        ladder.wire((corner, TOP), (corner, y), (x + sign * _HALF, y))
        ladder.dots.append((corner, TOP))
    ladder.free = max(ladder.free, x + 60)
