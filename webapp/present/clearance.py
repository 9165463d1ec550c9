"""Keeps what is written on a drawing clear of flags, parts and other writing, by moving it a little where it must.

Nearly nothing collides, so what does is looked for first, and only that is moved: to the nearest of a few places that
overlaps least. Widths are estimates for the widest figures, so that nothing moves while only a figure changes.
"""

from dataclasses import dataclass, replace
from functools import lru_cache

_GAP = 2.0  # that is kept clear, in the units of the drawing
_DEAR = 0.6  # what a unit of a shift costs, in units of overlapped area
_BODIES = {"source": (22, 22), "acsource": (22, 22), "reference": (9, 16), "receiver": (34, 18), "plcinput": (40, 36)}
_BODY, _TALL = (30, 11), (28, 30)  # half a part with two terminals along its wire; half of any other


@dataclass(frozen=True, slots=True)
class Item:
    """Something with a place on the drawing.

    Attributes
    ----------
    key : tuple
        What it is, and of what.
    box : tuple of (float, float, float, float)
        Left, top, right and bottom.
    moves : tuple of (int, int)
        Shifts that may be tried; empty for what stays.
    """

    key: tuple
    box: tuple[float, float, float, float]
    moves: tuple = ()


def text_box(x, y, anchor, width, lines, size):
    """Return the box of some lines of text.

    Parameters
    ----------
    x : float
        Where it is anchored.
    y : float
        Base line of the first line.
    anchor : str
        "start", "middle" or "end".
    width : float
        Width of the longest line.
    lines : int
        How many lines.
    size : float
        Size of the letters.

    Returns
    -------
    tuple of (float, float, float, float)
        Left, top, right and bottom.
    """
    left = x - width * {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor]
    return left, y - 0.75 * size, left + width, y + 0.1 * size + (lines - 1) * 1.08 * size


def body_box(symbol):
    """Return the box of a part."""
    half = _BODIES.get(symbol.kind) or (_TALL if symbol.kind in _THREE else _BODY)
    width, height = half if symbol.turn % 180 == 0 else half[::-1]
    return symbol.x - width, symbol.y - height, symbol.x + width, symbol.y + height


_THREE = frozenset(
    ("npn", "nmos", "detector", "reversed", "based", "darlington", "opengate", "photorelay", "gatedriver", "optotriac",
     "igbt", "triac", "port", "sensor")
)  # fmt: skip


@lru_cache(maxsize=256)  # a figure that moves leaves everything where it is
def cleared(items, within):
    """Return key to shift for every item that has to move.

    Parameters
    ----------
    items : tuple of Item
        All that has a place.
    within : tuple of (float, float)
        Width and height of the drawing, which nothing may leave.

    Returns
    -------
    dict of tuple to (int, int)
        Shifts to the right and downwards.
    """
    items, shifts = list(items), {}
    for _ in range(2):
        for i, item in enumerate(items):
            others = [other for other in items if other.key[-1] != item.key[-1]]
            if item.moves and _overlap(item.box, others):
                best = min(item.moves, key=lambda move, one=item, rest=others: _cost(one, move, rest, within))
                items[i] = replace(item, box=_moved(item.box, *best), moves=())
                if best != (0, 0):
                    shifts[item.key] = best
    return shifts


def _cost(item, move, others, within):
    """Return what a place costs: what it overlaps, and how far away it is."""
    left, top, right, bottom = box = _moved(item.box, *move)
    outside = max(-left, 0) + max(-top, 0) + max(right - within[0], 0) + max(bottom - within[1], 0)
    return _overlap(box, others) + _DEAR * (abs(move[0]) + abs(move[1])) + 1000 * outside


def _overlap(box, others):
    """Return the area that a box shares with others."""
    area = 0.0
    left, top, right, bottom = box[0] - _GAP, box[1] - _GAP, box[2] + _GAP, box[3] + _GAP
    for other in others:
        a, b, c, d = other.box
        if a < right and left < c and b < bottom and top < d:
            area += (min(right, c) - max(left, a)) * (min(bottom, d) - max(top, b))
    return area


def _moved(box, dx, dy):
    """Return a box moved to the right and downwards."""
    return box[0] + dx, box[1] + dy, box[2] + dx, box[3] + dy
