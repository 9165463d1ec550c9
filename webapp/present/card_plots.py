"""Curves of a coupler laid out as drawings: where each line, tick and label stands. Nothing electrical in it."""

from dataclasses import dataclass

from engine import CELSIUS, UNITS, as_typed
from webapp.present.axes import TickView, apart, even, linear, logarithmic, marked
from webapp.present.figures import plain

WIDTH, HEIGHT = 480, 320
LEFT, RIGHT, TOP, BOTTOM = 78, 86, 34, 58
"""Room around the curves, in units of the view box."""

_LINE = 17  # height of a label


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
    y_marks = even(min(y_values), max(y_values))
    across, x_ticks = _x_scale(graph)
    up = linear(y_marks[0], y_marks[-1], HEIGHT - BOTTOM, TOP)
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
    places = {
        number: y for (_, number), y in zip(ends, apart([y for y, _ in ends], _LINE, HEIGHT - BOTTOM), strict=True)
    }
    return tuple(
        TraceView(
            _printed(trace.name),
            " ".join(f"{across(x):g},{up(y):g}" for x, y in zip(graph.x, trace.y, strict=True)),
            places[number],
            number % 5,
        )
        for number, trace in enumerate(graph.traces)
    )


def _x_scale(graph):
    """Return a function from a set value to its place, and the marks of the scale."""
    low, high, unit = graph.x[0], graph.x[-1], UNITS[graph.x_unit]
    marks = [graph.x[place] for place in graph.rows]
    if graph.logarithmic:
        across = logarithmic(low, high, LEFT, WIDTH - RIGHT)
    else:
        across = linear(low, high, LEFT, WIDTH - RIGHT)
        if unit is not CELSIUS:
            marks = [value for value in even(low, high) if low <= value <= high]
    return across, marked([(across(value), _text(value, unit)) for value in marks])
