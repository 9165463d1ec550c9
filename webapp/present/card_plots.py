"""Curves of a coupler laid out as drawings: where each line, tick and label stands. Nothing electrical in it."""

import math
from dataclasses import dataclass

from engine import CELSIUS, UNITS, as_typed
from webapp.present.figures import plain

WIDTH, HEIGHT = 480, 320
LEFT, RIGHT, TOP, BOTTOM = 78, 86, 34, 58
"""Room around the curves, in units of the view box."""

_LINE = 17  # height of a label
_LETTER, _GAP = 8.6, 8  # width of a letter of a label, and what stays free beside it
_DECADES = "1", "10", "100"
_MOST_TICKS = 6
_FROM_NOTHING = 0.4  # share of the largest value below which the scale begins at nothing


@dataclass(frozen=True, slots=True)
class TickView:
    """One mark of a scale.

    Attributes
    ----------
    at : float
        Where it stands.
    text : str
        Its label; empty for a line without.
    """

    at: float
    text: str


@dataclass(frozen=True, slots=True)
class TraceView:
    """One curve.

    Attributes
    ----------
    name : str
        What tells it from the others.
    points : str
        Points of the polyline.
    label_y : float
        Where its name stands, behind its end.
    style : int
        Number of its dash pattern.
    """

    name: str
    points: str
    label_y: float
    style: int


@dataclass(frozen=True, slots=True)
class PlotView:
    """One drawing of curves, with its values as a table.

    Attributes
    ----------
    key : str
        Name within the page.
    title : str
        What is shown.
    condition : str
        Under which it holds.
    description : str
        The drawing in a sentence.
    width, height, left, right, top, bottom : int
        View box, and the edges of the field within it.
    x_name, y_name : str
        Symbols of the quantities.
    x_ticks, y_ticks : tuple of TickView
        Their scales.
    traces : tuple of TraceView
        The curves.
    dots : tuple of (float, float)
        What the card states.
    head : tuple of str
        Heads of the table.
    rows : tuple of tuple of str
        The table.
    """

    key: str
    title: str
    condition: str
    description: str
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
    traces: tuple
    dots: tuple
    head: tuple
    rows: tuple


def plots(graphs):
    """Return the drawings of curves."""
    return tuple(_plot(f"curve-{number}", graph) for number, graph in enumerate(graphs, start=1))


def _plot(key, graph):
    """Return one drawing."""
    y_values = [value for trace in graph.traces for value in trace.y] + [value for _, value in graph.points]
    y_marks = _even(min(y_values), max(y_values))
    across, x_ticks = _x_scale(graph)
    up = _scale(y_marks[0], y_marks[-1], HEIGHT - BOTTOM, TOP)
    unit = UNITS[graph.y_unit]
    names = [_printed(trace.name) for trace in graph.traces]
    description = (
        f"{graph.y_name} over {graph.x_name}: {len(names)} {'curve' if len(names) == 1 else 'curves'} of the model "
        f"({', '.join(names)}) and {len(graph.points)} points of the card. {graph.condition}."
    )
    return PlotView(
        key=key,
        title=graph.title,
        condition=graph.condition,
        description=description,
        width=WIDTH,
        height=HEIGHT,
        left=LEFT,
        right=WIDTH - RIGHT,
        top=TOP,
        bottom=HEIGHT - BOTTOM,
        x_name=graph.x_name,
        y_name=graph.y_name,
        x_ticks=x_ticks,
        y_ticks=tuple(TickView(up(value), _text(value, unit)) for value in y_marks),
        traces=_traces(graph, across, up),
        dots=tuple((across(x), up(y)) for x, y in graph.points),
        head=(graph.x_name, *names),
        rows=_rows(graph),
    )


def _text(value, unit):
    """Return a round value as it stands on a scale."""
    return _printed(as_typed(value, unit))


def _printed(text):
    """Return numbers with the minus sign of print."""
    return text.replace("-", "−")


def _rows(graph):
    """Return the table: round values of what is set, and what each curve gives there."""
    unit = UNITS[graph.x_unit]
    return tuple(
        (_text(graph.x[place], unit), *(plain(trace.y[place], graph.y_unit) for trace in graph.traces))
        for place in graph.rows
    )


def _traces(graph, across, up):
    """Return the curves, their names behind their ends and clear of one another."""
    ends = sorted((up(trace.y[-1]), number) for number, trace in enumerate(graph.traces))
    places = {number: y for (_, number), y in zip(ends, _apart([y for y, _ in ends]), strict=True)}
    return tuple(
        TraceView(
            _printed(trace.name),
            " ".join(f"{across(x):g},{up(y):g}" for x, y in zip(graph.x, trace.y, strict=True)),
            places[number],
            number % 5,
        )
        for number, trace in enumerate(graph.traces)
    )


def _apart(ys):
    """Return rising places moved so far that labels do not touch, and within the drawing."""
    moved = []
    for y in ys:
        moved.append(max(y, moved[-1] + _LINE) if moved else y)
    lowest = HEIGHT - BOTTOM
    for place in range(len(moved) - 1, -1, -1):
        limit = lowest - _LINE * (len(moved) - 1 - place)
        moved[place] = round(min(moved[place], limit), 1)
    return moved


def _scale(low, high, start, end):
    """Return a function from a value to its place."""
    return lambda value: round(start + (value - low) / (high - low) * (end - start), 1)


def _even(low, high):
    """Return evenly spaced round values that hold a span between them."""
    if 0 < low < _FROM_NOTHING * high or low >= high:
        low = min(low, 0.0)
    raw = (high - low) / (_MOST_TICKS - 1) or 1.0
    power = math.floor(math.log10(raw))
    step = next(step for step in (float(f"{figure}e{power}") for figure in (1, 2, 5, 10)) if step >= raw * (1 - 1e-9))
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [float(f"{number * step:.12g}") for number in range(first, max(last, first + 1) + 1)]


def _x_scale(graph):
    """Return a function from a set value to its place, and the marks of the scale."""
    low, high, unit = graph.x[0], graph.x[-1], UNITS[graph.x_unit]
    marks = [graph.x[place] for place in graph.rows]
    if graph.logarithmic:
        linear = _scale(math.log(low), math.log(high), LEFT, WIDTH - RIGHT)

        def across(value):
            return linear(math.log(value))

    else:
        across = _scale(low, high, LEFT, WIDTH - RIGHT)
        if unit is not CELSIUS:
            marks = [value for value in _even(low, high) if low <= value <= high]
    return across, _marked([(across(value), _text(value, unit)) for value in marks])


def _marked(marks):
    """Return marks of a scale, labelled where there is room: the ends first, then decades, then the others."""
    kept, ends = {}, (marks[0], marks[-1])
    for at, text in sorted(marks, key=lambda mark: (mark not in ends, mark[1].split(" ")[0] not in _DECADES)):
        if all(abs(at - other) >= (len(text) + len(beside)) / 2 * _LETTER + _GAP for other, beside in kept.items()):
            kept[at] = text
    return tuple(TickView(at, kept.get(at, "")) for at, _ in marks)
