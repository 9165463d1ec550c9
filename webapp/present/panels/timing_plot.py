"""One edge laid out as a drawing: the nominal course, the band of all corners, the limit. Nothing electrical in it."""

from dataclasses import dataclass

from engine import Edge, Wave
from webapp.present.axes import TickView, even, linear
from webapp.present.figures import plain

WIDTH, HEIGHT = 480, 358
LEFT, RIGHT, TOP, BOTTOM = 84, 18, 112, 52
"""Room around the curves, in units of the view box; above them the LED current has its place."""
INPUT = 24, 64
"""Upper and lower end of the place of the LED current."""

_TITLES = {"on": "Switching on", "off": "Switching off"}
_ROWS = 16  # every so many points are a row of the table
_MOST_TICKS = 5
_LEAST_LIGHT = 1e-9  # [A], scale of an LED that stays dark
_LETTER = 11  # width that a letter of an event's name takes at the most
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
class Told:
    """What a drawing of what is read over time says beside its lines.

    Attributes
    ----------
    key, title, description : str
        Name in the page, heading, what it shows in a sentence.
    x_name : str
        What the time counts from.
    limit_text : str
        What the limit is.
    event : float or None
        Time that is marked [s].
    event_text : str
        What it is.
    stretch : float or None
        Up to when a stretch is marked that begins with the drawing [s].
    stretch_text : str
        What it is.
    lost : bool
        Whether the event is a bad one.
    """

    key: str
    title: str
    description: str
    x_name: str
    limit_text: str
    event: float | None
    event_text: str
    stretch: float | None
    stretch_text: str
    lost: bool = False


@dataclass(frozen=True, slots=True)
class EdgePlot:
    """The drawing of what is read over time, with its values as a table."""

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
    light: str
    light_top: float
    light_bottom: float
    light_text: str
    threshold_y: float | None
    threshold_text: str
    nominal: str
    band: str
    limit_y: float
    limit_text: str
    limit_dy: int
    delay: MarkView | None
    valid_x: float | None
    valid_text: str
    valid_anchor: str
    lost: bool
    head: tuple
    rows: tuple


def edge_plot(name: str, edge: Edge, load) -> EdgePlot:
    """Return the drawing of one edge of an output side."""
    wave, unit = edge.wave, "A" if load.observed == "IL" else "V"
    valid, delay = edge.valid.value, edge.delay.value
    level = load.words[2] if wave.rises else load.words[0]
    event = f"surely {level} after {plain(valid, 's')}" if valid is not None else f"never surely {level}"
    told = Told(
        key=name,
        title=_TITLES[name],
        description=f"{_TITLES[name]}: {load.observed} over time, nominal with the band of all corners; {event}.",
        x_name="time after the input's edge",
        limit_text=limit_text(wave, load),
        event=valid,
        event_text=event,
        stretch=delay,
        stretch_text="" if delay is None else f"{'storage' if name == 'off' else 'delay'} {plain(delay, 's')}",
    )
    return wave_plot(wave, load.observed, unit, told)


def limit_text(wave: Wave, load) -> str:
    """Return what the limit of a level is."""
    level, unit = load.words[2] if wave.rises else load.words[0], "A" if load.observed == "IL" else "V"
    return f"{level} {'from' if wave.rises else 'up to'} {plain(wave.limit, unit)}"


def wave_plot(wave: Wave, observed: str, unit: str, told: Told) -> EdgePlot:
    """Return the drawing of what is read over time: nominal, the band of all corners, the limit, what is told."""
    values = [*wave.low.tolist(), *wave.high.tolist(), wave.limit]
    x_marks, y_marks = even(0.0, float(wave.t[-1]), _MOST_TICKS), even(min(0.0, *values), max(values), _MOST_TICKS)
    across, up = (
        linear(0.0, float(wave.t[-1]), LEFT, WIDTH - RIGHT),
        linear(y_marks[0], y_marks[-1], HEIGHT - BOTTOM, TOP),
    )
    event, most = told.event, max(float(wave.IF.max()), wave.IF_on or 0.0, _LEAST_LIGHT)
    light = linear(min(float(wave.IF.min()), 0.0), most, INPUT[1], INPUT[0])
    return EdgePlot(
        key=told.key,
        title=told.title,
        description=told.description,
        width=WIDTH, height=HEIGHT, left=LEFT, right=WIDTH - RIGHT, top=TOP, bottom=HEIGHT - BOTTOM,
        x_name=told.x_name, y_name=observed,
        x_ticks=tuple(TickView(across(t), plain(t, "s") if t else "0") for t in x_marks if t <= wave.t[-1]),
        y_ticks=tuple(TickView(up(y), plain(y, unit) if y else "0") for y in y_marks),
        light=_points(wave.t, wave.IF, across, light),
        light_top=INPUT[0], light_bottom=INPUT[1], light_text=plain(most, "A"),
        threshold_y=None if wave.IF_on is None else light(wave.IF_on),
        threshold_text="" if wave.IF_on is None else f"decides from {plain(wave.IF_on, 'A')}",
        nominal=_points(wave.t, wave.nominal, across, up),
        band=f"{_points(wave.t, wave.high, across, up)} {_points(wave.t[::-1], wave.low[::-1], across, up)}",
        limit_y=up(wave.limit),
        limit_text=told.limit_text,
        limit_dy=-7 if up(wave.limit) > TOP + 30 else 19,
        delay=_stretch(told.stretch, told.stretch_text, across),
        valid_x=across(event) if event is not None and event <= wave.t[-1] else None,
        valid_text=told.event_text,
        valid_anchor=_anchor(across(event), told.event_text) if event is not None else "end",
        lost=told.lost,
        head=("time", "nominal", "least", "most"),
        rows=tuple(
            (plain(t, "s"), *(plain(float(y[k]), unit) for y in (wave.nominal, wave.low, wave.high)))
            for k, t in list(enumerate(wave.t.tolist()))[::_ROWS]
        ),
    )  # fmt: skip


def _anchor(x, text):
    """Return which end of an event's name stands at it; "end" where the name must stand at the end of the scale."""
    wide = _LETTER * len(text)
    if x + wide <= WIDTH:
        return "start"
    return "middle" if LEFT <= x - wide / 2 and x + wide / 2 <= WIDTH else "end"


def _stretch(until, text, across):
    """Return the stretch of time that is marked, from the beginning on."""
    if until is None:
        return None
    x, end = across(0.0), across(until)
    roomy = end - x > 2 * _NARROW
    return MarkView(x, end, text, (x + end) / 2 if roomy else end + 7, "middle" if roomy else "start")


def _points(ts, ys, across, up):
    """Return points of a line."""
    return " ".join(f"{across(float(t)):g},{up(float(y)):g}" for t, y in zip(ts, ys, strict=True))
