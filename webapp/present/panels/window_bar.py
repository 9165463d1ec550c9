"""What a resistor may be, laid out as a bar on a scale of decades. Nothing electrical in it."""

import math
from collections.abc import Callable
from dataclasses import dataclass

from engine import OHM, Bound, Window, as_typed
from webapp.present.axes import TickView, decades, logarithmic, marked
from webapp.present.figures import plain

WIDTH = 960
"""Width of a bar's view box."""

TOP, BOTTOM = 66, 94
"""Between which a band stands."""

_INWARD = 34.0  # how far from the edges the scale begins, so that its labels are whole
_EDGE, _ROOM = 14.0, 262.0  # what stays free at the sides, and beside the stretch that is shown for the ends' labels
_NEAR, _BESIDE = math.log(30.0), 1.1  # how far off other limits are shown, as a ratio; room beyond them
_ROUNDS = 60  # in which room for labels and the stretch that is shown settle
_LEAST = math.log(8.0)  # the least stretch that is shown, as a ratio of its ends
_SCALE, _FIRST, _ROW, _BELOW = 22, 48, 21, 8  # below the band: labels of the scale, of marks, the next row, the edge
_SHORT = 7  # characters of a resistance that is printed as it is typed
_LETTER, _GAP = 8.2, 14  # width of a letter of a label, and what stays free beside it


@dataclass(frozen=True, slots=True)
class EndView:
    """One end of what is allowed.

    Attributes
    ----------
    x : float
        Where it stands.
    anchor : str
        On which side of it its label begins: "start" or "end".
    label_x : float
        Where the label begins.
    words : str
        "at least" or "at most".
    value : str
        The resistance.
    cause : str
        What sets it.
    """

    x: float
    anchor: str
    label_x: float
    words: str
    value: str
    cause: str


@dataclass(frozen=True, slots=True)
class MarkView:
    """A limit that is not the tightest.

    Attributes
    ----------
    x, y : float
        Where it stands, and where its label does.
    anchor : str
        On which side of it its label begins.
    label_x : float
        Where the label begins.
    text : str
        What sets it, and the resistance.
    """

    x: float
    y: float
    anchor: str
    label_x: float
    text: str


@dataclass(frozen=True, slots=True)
class WindowBar:
    """The drawing.

    Attributes
    ----------
    height : int
        Height of the view box.
    top, bottom : int
        Between which the band stands.
    scale_y : int
        Where the labels of the scale stand.
    start, length : float
        The stretch that is allowed, or the gap where nothing is.
    ends : tuple of EndView
        Its ends, as far as there are any.
    now : float
        Where the present resistance stands.
    now_text : str
        The present resistance.
    now_anchor : str
        How its label is anchored there.
    marks : tuple of MarkView
        Other limits within the drawing.
    ticks : tuple of TickView
        The scale.
    """

    height: int
    top: int
    bottom: int
    scale_y: int
    start: float
    length: float
    ends: tuple[EndView, ...]
    now: float
    now_text: str
    now_anchor: str
    marks: tuple[MarkView, ...]
    ticks: tuple[TickView, ...]


def window_bar(window: Window) -> WindowBar:
    """Return the drawing of a window."""
    low, high = _shown(window)
    place = logarithmic(low, high, _EDGE, WIDTH - _EDGE)
    inside = [bound for bound in window.bounds if bound not in (window.low, window.high) and low < bound.R < high]
    marks = _marks(inside, place)
    first, last = sorted(min(max(end, low), high) for end in window.ends)
    lowest = max((mark.y for mark in marks), default=BOTTOM + _SCALE)
    wide = high / low > 1e4
    scale = [(place(R), as_typed(R, OHM)) for R in decades(low, high, (1,) if wide else (1, 2, 5))]
    scale = [(at, text) for at, text in scale if _INWARD < at < WIDTH - _INWARD]
    now = place(min(max(window.present, low), high))
    return WindowBar(
        height=round(lowest) + _BELOW,
        top=TOP,
        bottom=BOTTOM,
        scale_y=BOTTOM + _SCALE,
        start=place(first),
        length=round(place(last) - place(first), 1),
        ends=tuple(_end(bound, place, window.empty) for bound in (window.low, window.high) if bound),
        now=now,
        now_text=f"now {resistance(window.present)}",
        now_anchor="start" if now < _ROOM / 2 else "end" if now > WIDTH - _ROOM / 2 else "middle",
        marks=marks,
        ticks=marked(scale, ends=False),
    )


def _shown(window: Window) -> tuple[float, float]:
    """Return the resistances at both edges.

    They hold the ends and the present value with room for labels beside them, and other limits that are not far off.
    """
    wanted = [window.present, *(bound.R for bound in (window.low, window.high) if bound)]
    low, high = math.log(min(wanted)), math.log(max(wanted))
    short = max(_LEAST - (high - low), 0.0) / 2.0
    low, high = low - short, high + short
    others = [math.log(bound.R) for bound in window.bounds]
    left = max((low - R for R in others if 0.0 < low - R < _NEAR), default=0.0)
    right = max((R - high for R in others if 0.0 < R - high < _NEAR), default=0.0)
    whole = high - low
    for _ in range(_ROUNDS):
        room = _ROOM / WIDTH * whole
        whole = high - low + max(left * _BESIDE, room) + max(right * _BESIDE, room)
    return math.exp(low - max(left * _BESIDE, room)), math.exp(high + max(right * _BESIDE, room))


def _end(bound: Bound, place: Callable[[float], float], empty: bool) -> EndView:
    """Return one end; labels stand outside of what is allowed."""
    outwards = (bound.side == "upper") != empty
    x = place(bound.R)
    words = "at least" if bound.side == "lower" else "at most"
    anchor, aside = ("start", 7.0) if outwards else ("end", -7.0)
    return EndView(x, anchor, x + aside, words, plain(bound.R, "ohm"), bound.title)


def _marks(bounds: list[Bound], place: Callable[[float], float]) -> tuple[MarkView, ...]:
    """Return other limits, their labels in as many rows as they need not to touch."""
    rows: list[list[tuple[float, float]]] = []
    found = []
    for bound in sorted(bounds, key=lambda one: one.R):
        text, x = f"{bound.title} {plain(bound.R, 'ohm')}", place(bound.R)
        length = len(text) * _LETTER
        anchor = "start" if x + length < WIDTH else "end"
        taken = (x, x + length) if anchor == "start" else (x - length, x)
        row = next((k for k, others in enumerate(rows) if _clear(taken, others)), len(rows))
        if row == len(rows):
            rows.append([])
        rows[row].append(taken)
        y = BOTTOM + _FIRST + row * _ROW
        found.append(MarkView(x, y, anchor, x + (5.0 if anchor == "start" else -5.0), text))
    return tuple(found)


def _clear(taken: tuple[float, float], others: list[tuple[float, float]]) -> bool:
    """Return whether a stretch touches none of others."""
    return all(taken[1] + _GAP < start or end + _GAP < taken[0] for start, end in others)


def resistance(ohms: float) -> str:
    """Return a resistance as it is typed where that is short, else as a reading."""
    typed = as_typed(ohms, OHM)
    return typed if len(typed) <= _SHORT else plain(ohms, "ohm")
