"""The histogram of a quantity over many samples: where each bar, mark and label stands. Nothing electrical in it."""

import math
from dataclasses import dataclass

import numpy as np

from engine import BINS, RULES, UNITS, Distribution, as_typed, span
from webapp.present.axes import TickView, even, linear, marked
from webapp.present.figures import plain

WIDTH, HEIGHT = 480, 290
LEFT, RIGHT, TOP, BOTTOM = 58, 18, 62, 54
"""Room around the bars, in units of the view box."""

_NEAR = 1.5  # times the span of all values that a limit may lie beside it and still be drawn
_ROOM = 0.03  # share of the span that stays free at either end
_FLAT = 0.02  # share of a value that never varies, drawn either side of it
_LETTER = 8.2  # width of a letter of a limit's label
_MOST_LABELS = 6  # so many labels touch one another on a small screen
_APART = 54  # width that a mark's label takes


@dataclass(frozen=True, slots=True)
class Printer:
    """Prints the values of one quantity.

    Attributes
    ----------
    unit : str
        Name of the SI unit.
    times : bool
        Whether it is a multiple, such as overdrive, rather than a share.
    """

    unit: str
    times: bool = False

    def one(self, value: float) -> str:
        """Return one value."""
        return _figures(value) if self.times else plain(value, self.unit)

    def mark(self, value: float) -> str:
        """Return a round value."""
        return (f"{value:g}" if self.times else as_typed(value, UNITS[self.unit])).replace("-", "−")

    def both(self, low: float, high: float, digits: int = 3) -> str:
        """Return a span, or one value where both ends read the same."""
        if self.times:
            ends = _figures(low, digits), _figures(high, digits)
            return ends[0] if ends[0] == ends[1] else " – ".join(ends)
        text, unit = span(low, high, UNITS[self.unit], digits=digits)
        return f"{text} {unit}".strip() if text else self.one(low)


@dataclass(frozen=True, slots=True)
class LineView:
    """A line across the bars.

    Attributes
    ----------
    x : float
        Where it stands.
    text : str
        Its label.
    anchor : str
        Which end of the label stands at the line.
    y : int
        Height of the label.
    """

    x: float
    text: str
    anchor: str
    y: int


@dataclass(frozen=True, slots=True)
class HistogramView:
    """One drawing.

    Attributes
    ----------
    title : str
        What is shown.
    description : str
        The drawing in a sentence.
    width, height, left, right, top, bottom : int
        View box, and the edges of the field within it.
    x_ticks, y_ticks : tuple of TickView
        The scales.
    bars : tuple of (float, float, float, float)
        Left edge, top edge, width, height.
    reach : tuple of (float, float, int)
        Left edge, width and height of the guaranteed range.
    limits : tuple of LineView
        The limits of rules.
    marks : tuple of LineView
        1 %, median and 99 %.
    beyond : str
        Limits that lie too far away to be drawn, in a sentence; empty if there are none.
    rows : tuple of (str, str, str)
        Bins: span, samples, share.
    """

    title: str
    description: str
    width: int
    height: int
    left: int
    right: int
    top: int
    bottom: int
    x_ticks: tuple[TickView, ...]
    y_ticks: tuple[TickView, ...]
    bars: tuple[tuple[float, float, float, float], ...]
    reach: tuple[float, float, int]
    limits: tuple[LineView, ...]
    marks: tuple[LineView, ...]
    beyond: str
    rows: tuple[tuple[str, str, str], ...]


def _figures(value, digits=3):
    """Return so many figures of a multiple."""
    return f"{value:#.{digits}g}".rstrip(".").replace("-", "−")


def histogram(title: str, found: Distribution, limits, say: Printer) -> HistogramView:
    """Return the drawing of one quantity with the limits of its rules."""
    near, far = _sorted_out(found, limits)
    ends = [found.low, found.high, found.minimum, found.maximum, *(limit for _, limit in near)]
    low, high = min(ends), max(ends)
    room = _ROOM * (high - low) or _FLAT * abs(high) or 1.0
    across = linear(low - room, high + room, LEFT, WIDTH - RIGHT)
    shares = found.counts / found.counts.sum()
    heights = even(0.0, 100.0 * float(shares.max()), 5)
    up = linear(0.0, heights[-1], HEIGHT - BOTTOM, TOP)
    edges = np.linspace(found.minimum, found.maximum, BINS + 1)
    still = not found.maximum > found.minimum
    if still:
        edges = np.array([found.minimum - room / 8, found.minimum + room / 8])
    count = int(found.counts.sum())
    steps = _steps(low - room, high + room)
    left, right = across(found.low), across(found.high)
    return HistogramView(
        title=title,
        description=(
            f"Histogram of {title} over {count:,} samples: {say.one(found.minimum)} to {say.one(found.maximum)}, "
            f"median {say.one(found.median)}."
        ),
        width=WIDTH,
        height=HEIGHT,
        left=LEFT,
        right=WIDTH - RIGHT,
        top=TOP,
        bottom=HEIGHT - BOTTOM,
        x_ticks=marked([(across(value), say.mark(value)) for value in steps], ends=False),
        y_ticks=tuple(TickView(up(value), f"{value:g} %") for value in heights),
        bars=_bars(edges, shares[:1] if still else shares, across, up),
        reach=(left, round(max(right - left, 1.0), 1), HEIGHT - BOTTOM - TOP),
        limits=_lines([(across(limit), f"limit: {_named(code)}") for code, limit in near], 18),
        marks=_marks(found, across),
        beyond=" ".join(_far(code, limit, found, say) for code, limit in far),
        rows=_rows(found, edges, still, say),
    )


def _steps(low, high):
    """Return round values within a span, at least three."""
    found = []
    for most in range(5, 12):
        found = [value for value in even(low, high, most) if low <= value <= high]
        if len(found) > 2:
            break
    return found[:: 1 + len(found) // _MOST_LABELS]


def _sorted_out(found, limits):
    """Return the limits that are near the values, and the others."""
    low, high = min(found.low, found.minimum), max(found.high, found.maximum)
    reach = _NEAR * (high - low) or _FLAT * abs(high)
    near = [(code, limit) for code, limit in limits if low - reach <= limit <= high + reach]
    return near, [pair for pair in limits if pair not in near]


def _far(code, limit, found, say):
    side = "above" if limit > found.high else "below"
    return f"The limit of “{_named(code)}”, {say.one(limit)}, lies far {side}."


def _named(code):
    title = RULES[code].title
    return title if title[:2].isupper() else title[0].lower() + title[1:]


def _bars(edges, shares, across, up):
    """Return the bars; one that counts anything is seen."""
    bars = []
    for start, end, share in zip(edges, edges[1:], shares, strict=False):
        if share > 0.0:
            x, top = across(start), min(up(100.0 * float(share)), HEIGHT - BOTTOM - 1.0)
            bars.append((x, top, round(max(across(end) - x, 1.0), 1), round(HEIGHT - BOTTOM - top, 1)))
    return tuple(bars)


def _lines(lines, y):
    """Return lines with their labels, those that would meet one below the other, those at the right edge turned."""
    made, ends = [], {}
    for x, text in sorted(lines):
        turned = x + 6 + len(text) * _LETTER > WIDTH
        start = x - 6 - len(text) * _LETTER if turned else x + 6
        row = next(row for row in range(9) if ends.get(row, -math.inf) < start)
        ends[row] = x + 6 if turned else start + len(text) * _LETTER
        made.append(LineView(x, text, "end" if turned else "start", y + 17 * min(row, 1)))
    return tuple(made)


def _marks(found, across):
    """Return the marks of 1 %, median and 99 %, the outer two labelled where there is room beside the middle one."""
    middle = across(found.median)
    made = [LineView(middle, "median", "middle", TOP - 8)]
    for value, text in ((found.p1, "1 %"), (found.p99, "99 %")):
        x = across(value)
        made.append(LineView(x, text if abs(x - middle) > _APART else "", "middle", TOP - 8))
    return tuple(made)


def _rows(found, edges, still, say):
    """Return the bars as a table."""
    count = int(found.counts.sum())
    if still:
        return ((say.one(found.minimum), f"{count:,}", "100 %"),)
    rows = []
    for start, end, number in zip(edges, edges[1:], found.counts, strict=False):
        rows.append((say.both(float(start), float(end), 4), f"{int(number):,}", f"{100.0 * number / count:.3g} %"))
    return tuple(rows)
