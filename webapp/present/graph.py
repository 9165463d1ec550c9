"""Charts laid out as drawings: where each line, band, tick and label stands. Nothing electrical in it."""

import math
from dataclasses import dataclass
from itertools import groupby

from engine import CELSIUS, UNITS
from webapp.present.axes import TickView, apart, decades, even, linear, logarithmic, marked
from webapp.present.chart import TIMES, Chart, read, round_text
from webapp.present.graph_zones import zones

WIDTH, HEIGHT = 780, 490
LEFT, RIGHT, TOP, BOTTOM = 84, 132, 70, 62
"""Room around the curves, in units of the view box."""

_LINE, _LETTER = 18, 8.0  # height of a label, width of one of its letters
_MOST_X, _MOST_Y = 8, 7  # marks of a scale
_DECADES_FROM = 1e3  # ratio of the largest to the least value from which the scale of what follows is one of decades
_FAR = 0.02  # share of the drawing by which a label stands beside its dot


@dataclass(frozen=True, slots=True)
class LineView:
    """One line.

    Attributes
    ----------
    name : str
        What tells it from the others.
    kind : str
        How it is drawn.
    style : int
        Number of its dash pattern.
    strokes : tuple of str
        Points of its polylines; more than one where it has gaps.
    x, y : float
        Where its name stands.
    anchor : str
        Which end of the name stands there.
    """

    name: str
    kind: str
    style: int
    strokes: tuple
    x: float
    y: float
    anchor: str


@dataclass(frozen=True, slots=True)
class BandView:
    """One band.

    Attributes
    ----------
    name : str
        What it is.
    kind : str
        How it is drawn.
    areas : tuple of str
        Points of its outlines.
    edges : tuple of str
        Points of its edges.
    """

    name: str
    kind: str
    areas: tuple
    edges: tuple


@dataclass(frozen=True, slots=True)
class LabelView:
    """A labelled place: a limit, a mark, a dot.

    Attributes
    ----------
    x, y : float
        Where it is.
    text : str
        Its label.
    text_x, text_y : float
        Where the label stands.
    anchor : str
        Which end of the label stands there.
    strong : bool
        Whether it is that of the stage as it is.
    """

    x: float
    y: float
    text: str
    text_x: float
    text_y: float
    anchor: str
    strong: bool = False


@dataclass(frozen=True, slots=True)
class RowView:
    """One row of the table.

    Attributes
    ----------
    at : float
        Where it stands in the drawing.
    cells : tuple of str
        What is set, then all that follows.
    """

    at: float
    cells: tuple


@dataclass(frozen=True, slots=True)
class GraphView:
    """One drawing, with its values as a table.

    Attributes
    ----------
    key : str
        Name within the page.
    title, condition, description : str
        What is shown, under which it holds, the drawing in a sentence.
    notes : tuple of str
        Sentences that belong to it.
    width, height, left, right, top, bottom : int
        View box, and the edges of the field within it.
    x_name, y_name : str
        Names of the axes.
    x_ticks, y_ticks : tuple of TickView
        Their scales.
    zones : tuple of ZoneView
        Shaded stretches.
    bands : tuple of BandView
        Bands.
    lines : tuple of LineView
        Lines.
    limits, marks, dots : tuple of LabelView
        Limits across, values of what is set, points.
    head : tuple of str
        Heads of the table.
    rows : tuple of RowView
        The table.
    shown : RowView
        The row that is read out at first.
    """

    key: str
    title: str
    condition: str
    description: str
    notes: tuple
    width: int
    height: int
    left: int
    right: int
    top: int
    bottom: int
    x_name: str
    y_name: str
    x_ticks: tuple
    y_ticks: tuple
    zones: tuple
    bands: tuple
    lines: tuple
    limits: tuple
    marks: tuple
    dots: tuple
    head: tuple
    rows: tuple
    shown: RowView


def graph(chart: Chart) -> GraphView:
    """Return the drawing of a chart."""
    across, x_ticks = _across(chart)
    up, y_ticks = _up(chart)
    rows = _rows(chart, across)
    marks = _marks(chart, across)
    return GraphView(
        key=chart.key,
        title=chart.title,
        condition=chart.condition,
        description=_description(chart),
        notes=chart.notes,
        width=WIDTH,
        height=chart.height,
        left=LEFT,
        right=WIDTH - RIGHT,
        top=TOP,
        bottom=chart.height - BOTTOM,
        x_name=chart.x.name,
        y_name=f"{chart.y_name}, times" if chart.y_unit == TIMES else chart.y_name,
        x_ticks=x_ticks,
        y_ticks=y_ticks,
        zones=tuple(zones(chart, across, up, (TOP, chart.height - BOTTOM))),
        bands=tuple(_band(band, chart, across, up) for band in chart.bands),
        lines=_lines(chart, across, up),
        limits=tuple(
            LabelView(LEFT, up(one.y), one.name, WIDTH - RIGHT - 8, up(one.y) - 6, "end") for one in chart.limits
        ),
        marks=marks,
        dots=_dots(chart, across, up),
        head=(chart.x.name, *(column.name for column in chart.columns)),
        rows=rows,
        shown=_first(rows, chart, across),
    )


def _description(chart):
    """Return the drawing in a sentence."""
    names = ", ".join(line.name for line in chart.lines)
    pointed = ", ".join(one.name for one in (*chart.limits, *chart.marks, *chart.dots, *chart.zones) if one.name)
    told = f"{chart.y_name} over {chart.x.name}: {names}"
    return f"{told}. Pointed out: {pointed}." if pointed else f"{told}."


# ---------------------------------------------------------------- scales


def _across(chart):
    """Return a function from a set value to its place, and the marks of the scale."""
    low, high, unit = chart.x.values[0], chart.x.values[-1], chart.x.unit
    if chart.log_x:
        place, marks = logarithmic(low, high, LEFT, WIDTH - RIGHT), decades(low, high)
        if len(marks) < 3:
            marks = [value for value in even(low, high, _MOST_X) if low <= value <= high]
    else:
        place = linear(low, high, LEFT, WIDTH - RIGHT)
        marks = [value for value in even(low, high, _MOST_X) if low <= value <= high]
    return place, marked([(place(value), round_text(value, unit)) for value in marks], ends=unit == CELSIUS.name)


def _up(chart):
    """Return a function from a value to its place, kept a little beyond the field, and the marks of the scale."""
    values = [
        value
        for numbers in (
            *(line.column for line in chart.lines),
            *(edge for b in chart.bands for edge in (b.low, b.high)),
        )
        for value in numbers.values
        if value is not None
    ]
    values += [one.y for one in (*chart.limits, *chart.dots)]
    low, high = min(values, default=0.0), max(values, default=1.0)
    high = high if chart.top is None else max(min(high, chart.top), low)
    floor = 0.0 if chart.y_unit == TIMES else UNITS[chart.y_unit].floor
    bottom = chart.height - BOTTOM
    if chart.log_y and low > floor:
        around = decades(low / 10.0, high * 10.0)
        low, high = max(mark for mark in around if mark <= low), min(mark for mark in around if mark >= high)
        high = high if high > low else next(mark for mark in around if mark > low)
        place, marks = logarithmic(low, high, bottom, TOP), decades(low, high)
    elif chart.top is None and low > floor and high > _DECADES_FROM * low:
        low, high = (10.0**rounded for rounded in (math.floor(math.log10(low)), math.ceil(math.log10(high))))
        place, marks = logarithmic(low, high, bottom, TOP), decades(low, high, (1,))
    else:
        marks = even(low, high, max(_MOST_Y * bottom // (HEIGHT - BOTTOM), 3))
        place = linear(marks[0], marks[-1], bottom, TOP)
    ticks = [TickView(place(value), round_text(value, chart.y_unit)) for value in marks]
    return lambda value: min(max(place(value), -2.0 * HEIGHT), 3.0 * HEIGHT), tuple(_thinned(ticks))


def _thinned(ticks):
    """Yield marks, of very many every other one with its text only."""
    every = math.ceil(len(ticks) / (_MOST_Y + 3))
    for number, tick in enumerate(ticks):
        yield tick if number % every == 0 else TickView(tick.at, "")


# ---------------------------------------------------------------- what is drawn


def _runs(x, *columns):
    """Yield stretches without gaps, as lists of tuples of what is set and all columns."""
    rows = zip(x, *columns, strict=True)
    for whole, stretch in groupby(rows, key=lambda row: None not in row):
        if whole:
            yield list(stretch)


def _points(pairs, across, up):
    """Return the points of a polyline; a single one twice, which is drawn as a dot."""
    texts = [f"{across(x):g},{up(y):g}" for x, y in pairs]
    return " ".join(texts * 2 if len(texts) == 1 else texts)


def _lines(chart, across, up):
    """Return the lines, their names behind their ends, or above where they leave the field, clear of one another."""
    views, behind, above = [], [], []
    beside = 0
    for number, line in enumerate(chart.lines):
        beside += line.kind == "beside"
        runs = list(_runs(chart.x.values, line.column.values))
        strokes = tuple(_points(run, across, up) for run in runs)
        views.append(LineView(line.name, line.kind, beside % 5, strokes, 0.0, 0.0, "start"))
        if not runs:
            continue
        x, y = (across(runs[-1][-1][0]), up(runs[-1][-1][1]))
        leaves = next((across(x) for x, y in runs[-1] if up(y) < TOP), None)
        (above if leaves is not None else behind).append((leaves if leaves is not None else y, x, number))
    behind.sort()
    for (_, _, number), y in zip(behind, apart([b[0] for b in behind], _LINE, chart.height - BOTTOM), strict=True):
        views[number] = _named(views[number], WIDTH - RIGHT + 10, max(y, TOP) + 5)
    free = [-math.inf, -math.inf, -math.inf]
    for x, _, number in sorted(above):
        row, start = _free(free, x - 10, views[number].name)
        views[number] = _named(views[number], start, TOP - 8 - row * _LINE)
    return tuple(view for view in views if view.strokes)


def _named(view, x, y):
    return LineView(view.name, view.kind, view.style, view.strokes, round(x, 1), round(y, 1), "start")


def _free(free, start, text):
    """Return the lowest row of labels above the field that has room from a place on, and where it begins there."""
    row = next((row for row, end in enumerate(free) if end <= start), free.index(min(free)))
    begin = max(start, free[row])
    free[row] = begin + len(text) * _LETTER + 10
    return row, begin


def _band(band, chart, across, up):
    """Return one band: outlines to be filled, and its edges."""
    runs = list(_runs(chart.x.values, band.low.values, band.high.values))
    lows = [[(x, low) for x, low, _ in run] for run in runs]
    highs = [[(x, high) for x, _, high in run] for run in runs]
    areas = tuple(
        f"{_points(high, across, up)} {_points(low[::-1], across, up)}" for low, high in zip(lows, highs, strict=True)
    )
    return BandView(band.name, band.kind, areas, tuple(_points(edge, across, up) for edge in (*lows, *highs)))


def _marks(chart, across):
    """Return values of what is set with their names above the field, in rows that leave them apart."""
    found, free = [], [-math.inf, -math.inf, -math.inf]
    low, high = chart.x.values[0], chart.x.values[-1]
    for mark in sorted((mark for mark in chart.marks if low <= mark.x <= high), key=lambda mark: mark.x):
        x = across(mark.x)
        width = len(mark.name) * _LETTER
        start = min(max(x - width / 2, LEFT - 20), WIDTH - width - 4)
        row, begin = _free(free, start, mark.name)
        begin = min(begin, WIDTH - width - 4)
        found.append(LabelView(x, TOP, mark.name, round(begin, 1), TOP - 8 - row * _LINE, "start", mark.strong))
    return tuple(found)


def _dots(chart, across, up):
    """Return points with their names beside them, towards the middle of the field."""
    found, middle = [], (LEFT + WIDTH - RIGHT) / 2
    low, high = chart.x.values[0], chart.x.values[-1]
    for dot in chart.dots:
        if not low <= dot.x <= high:
            continue
        x, y = across(dot.x), up(dot.y)
        left = x > middle
        away = _FAR * WIDTH
        below = y < TOP + 2 * _LINE
        text_y = round(y + (_LINE + 4 if below else -8), 1)
        found.append(
            LabelView(x, y, dot.name, round(x - away if left else x + away, 1), text_y, "end" if left else "start")
        )
    return tuple(found)


def _rows(chart, across):
    """Return the table."""
    numbers = (chart.x, *chart.columns)
    return tuple(
        RowView(across(chart.x.values[k]), tuple(read(column.values[k], column.unit) for column in numbers))
        for k in range(len(chart.x.values))
    )


def _first(rows, chart, across):
    """Return the row next to what the stage has, or the middle one."""
    among = [mark.x for mark in chart.marks if mark.strong] or [dot.x for dot in chart.dots][:1]
    if not among or not chart.x.values[0] <= among[0] <= chart.x.values[-1]:
        return rows[len(rows) // 2]
    at = across(among[0])
    return min(rows, key=lambda row: abs(row.at - at))
