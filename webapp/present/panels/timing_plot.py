"""One edge laid out as a drawing: the nominal course, the band of all corners, the limit. Nothing electrical in it."""

from dataclasses import dataclass

from engine import Edge
from webapp.present.axes import TickView, even, linear
from webapp.present.figures import plain

WIDTH, HEIGHT = 480, 290
LEFT, RIGHT, TOP, BOTTOM = 74, 18, 34, 52
"""Room around the curves, in units of the view box."""

_TITLES = {"on": "Switching on", "off": "Switching off"}
_ROWS = 16  # every so many points are a row of the table
_MOST_TICKS = 5
_BESIDE = 200, 365  # up to where a name begins at its event, and has it in its middle
_NARROW = 90  # width from which a stretch has room for its name


@dataclass(frozen=True, slots=True)
class MarkView:
    """A stretch of time that is marked.

    Attributes
    ----------
    x : float
        Where it begins.
    end : float
        Where it ends.
    text : str
        Its name and length.
    name_x : float
        Where the name stands.
    anchor : str
        Which end of the name stands there.
    """

    x: float
    end: float
    text: str
    name_x: float
    anchor: str


@dataclass(frozen=True, slots=True)
class EdgePlot:
    """The drawing of one edge, with its values as a table."""

    key: str
    title: str
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
    nominal: str
    band: str
    limit_y: float
    limit_text: str
    limit_dy: int
    delay: MarkView | None
    valid_x: float | None
    valid_text: str
    valid_anchor: str
    head: tuple
    rows: tuple


def edge_plot(name: str, edge: Edge, load) -> EdgePlot:
    """Return the drawing of one edge of an output side."""
    wave, unit = edge.wave, "A" if load.observed == "IL" else "V"
    values = [*wave.low.tolist(), *wave.high.tolist(), wave.limit]
    x_marks, y_marks = even(0.0, float(wave.t[-1]), _MOST_TICKS), even(min(0.0, *values), max(values), _MOST_TICKS)
    across, up = (
        linear(0.0, float(wave.t[-1]), LEFT, WIDTH - RIGHT),
        linear(y_marks[0], y_marks[-1], HEIGHT - BOTTOM, TOP),
    )
    valid, delay = edge.valid.value, edge.delay.value
    level = load.words[2] if wave.rises else load.words[0]
    told = f"surely {level} after {plain(valid, 's')}" if valid is not None else f"never surely {level}"
    return EdgePlot(
        key=name,
        title=_TITLES[name],
        description=f"{_TITLES[name]}: {load.observed} over time, nominal with the band of all corners; {told}.",
        width=WIDTH, height=HEIGHT, left=LEFT, right=WIDTH - RIGHT, top=TOP, bottom=HEIGHT - BOTTOM,
        x_name="time after the input's edge", y_name=load.observed,
        x_ticks=tuple(TickView(across(t), plain(t, "s") if t else "0") for t in x_marks if t <= wave.t[-1]),
        y_ticks=tuple(TickView(up(y), plain(y, unit) if y else "0") for y in y_marks),
        nominal=_points(wave.t, wave.nominal, across, up),
        band=f"{_points(wave.t, wave.high, across, up)} {_points(wave.t[::-1], wave.low[::-1], across, up)}",
        limit_y=up(wave.limit),
        limit_text=f"{level} {'from' if wave.rises else 'up to'} {plain(wave.limit, unit)}",
        limit_dy=-7 if up(wave.limit) > TOP + 30 else 19,
        delay=_delay(name, delay, across),
        valid_x=across(valid) if valid is not None and valid <= wave.t[-1] else None,
        valid_text=told,
        valid_anchor=_anchor(across(valid)) if valid is not None else "end",
        head=("time", "nominal", "least", "most"),
        rows=tuple(
            (plain(t, "s"), *(plain(float(y[k]), unit) for y in (wave.nominal, wave.low, wave.high)))
            for k, t in list(enumerate(wave.t.tolist()))[::_ROWS]
        ),
    )  # fmt: skip


def _anchor(x):
    """Return which end of the name of an event stands at it, so that the name is whole and clear of the scale."""
    return "start" if x < _BESIDE[0] else "middle" if x < _BESIDE[1] else "end"


def _delay(name, delay, across):
    """Return the stretch before the output moves."""
    if delay is None:
        return None
    x, end = across(0.0), across(delay)
    text = f"{'storage' if name == 'off' else 'delay'} {plain(delay, 's')}"
    roomy = end - x > 2 * _NARROW
    return MarkView(x, end, text, (x + end) / 2 if roomy else end + 7, "middle" if roomy else "start")


def _points(ts, ys, across, up):
    """Return points of a line."""
    return " ".join(f"{across(float(t)):g},{up(float(y)):g}" for t, y in zip(ts, ys, strict=True))
