"""A stage over several edges, drawn: what switches, the LED current, what is read. Nothing electrical in it."""

from dataclasses import dataclass

import numpy as np

from webapp.present.axes import TickView, even, linear
from webapp.present.figures import plain

WIDTH, HEIGHT = 480, 366
LEFT, RIGHT, TOP, BOTTOM = 84, 34, 140, 32
"""Room around what is read, in units of the view box; above it what switches and the LED current have their places."""
SWITCH, LIGHT = (14, 34), (58, 100)
"""Upper and lower end of these places."""

_MOST_TICKS, _ROWS = 5, 20
_LEAST_LIGHT = 1e-9  # [A], scale of an LED that stays dark


@dataclass(frozen=True, slots=True)
class LimitView:
    """One limit of the receiver."""

    y: float
    text: str
    dy: int


@dataclass(frozen=True, slots=True)
class Train:
    """What is drawn.

    Attributes
    ----------
    key, title, description : str
        Name in the page, heading, what it shows in a sentence.
    changes : tuple of float
        When what switches changes its state [s].
    on_first : bool
        Whether it is on after the first change.
    switch : str
        What switches.
    t, IF, y, low, high : ndarray, shape (points,)
        Time [s], LED current [A], what is read, least and most of it [V or A].
    limits : tuple of (float, float)
        Up to what surely low is read, from what on surely high [V or A].
    observed, unit : str
        What is read, and its unit.
    words : tuple of str
        Name of the low and of the high level.
    event : float or None
        A time that is marked [s].
    event_text : str
        What it is.
    lost : bool
        Whether that is a bad one.
    """

    key: str
    title: str
    description: str
    changes: tuple
    on_first: bool
    switch: str
    t: np.ndarray
    IF: np.ndarray
    y: np.ndarray
    low: np.ndarray
    high: np.ndarray
    limits: tuple
    observed: str
    unit: str
    words: tuple
    event: float | None
    event_text: str
    lost: bool = False


@dataclass(frozen=True, slots=True)
class TrainPlot:
    """The drawing, with its values as a table."""

    key: str
    title: str
    description: str
    width: int
    height: int
    left: int
    right: int
    top: int
    bottom: int
    y_name: str
    x_ticks: tuple
    y_ticks: tuple
    switch: str
    switch_points: str
    switch_y: float
    light: str
    light_top: float
    light_bottom: float
    light_text: str
    nominal: str
    band: str
    limits: tuple[LimitView, ...]
    event_x: float | None
    event_text: str
    lost: bool
    head: tuple
    rows: tuple


def train_plot(train: Train) -> TrainPlot:
    """Return the drawing."""
    end = float(train.t[-1])
    values = [*train.low.tolist(), *train.high.tolist(), *train.limits]
    marks = even(min(0.0, *values), max(values), _MOST_TICKS)
    across, up = linear(0.0, end, LEFT, WIDTH - RIGHT), linear(marks[0], marks[-1], HEIGHT - BOTTOM, TOP)
    most = max(float(train.IF.max()), _LEAST_LIGHT)
    light = linear(min(float(train.IF.min()), 0.0), most, LIGHT[1], LIGHT[0])
    event = None if train.event is None or train.event > end else across(train.event)
    times = [t for t in even(0.0, end, _MOST_TICKS) if t <= end]
    return TrainPlot(
        key=train.key, title=train.title, description=train.description,
        width=WIDTH, height=HEIGHT, left=LEFT, right=WIDTH - RIGHT, top=TOP, bottom=HEIGHT - BOTTOM,
        y_name=train.observed,
        x_ticks=tuple(TickView(across(t), plain(t, "s") if t else "0") for t in times),
        y_ticks=tuple(TickView(up(y), plain(y, train.unit) if y else "0") for y in marks),
        switch=train.switch, switch_points=_switched(train, across, end), switch_y=sum(SWITCH) / 2,
        light=_points(train.t, train.IF, across, light),
        light_top=LIGHT[0], light_bottom=LIGHT[1], light_text=plain(most, "A"),
        nominal=_points(train.t, train.y, across, up),
        band=f"{_points(train.t, train.high, across, up)} {_points(train.t[::-1], train.low[::-1], across, up)}",
        limits=_limits(train, up),
        event_x=event, event_text=train.event_text,
        lost=train.lost,
        head=("time", train.switch, "IF", "nominal", "least", "most"),
        rows=tuple(_row(train, k) for k in range(0, len(train.t), max(len(train.t) // _ROWS, 1))),
    )  # fmt: skip


def _limits(train, up):
    """Return both limits: each name on the side of its line where its level is not, so that both stay clear."""
    low, high = train.limits
    words = f"{train.words[0]} up to {plain(low, train.unit)}", f"{train.words[1]} from {plain(high, train.unit)}"
    near = abs(up(low) - up(high)) < 44
    return LimitView(up(low), words[0], 19 if near else -7), LimitView(up(high), words[1], -7 if near else 19)


def _on(train, t):
    """Return whether what switches is on at a time."""
    return (sum(change <= t for change in train.changes) % 2 == 1) == train.on_first


def _switched(train, across, end):
    """Return the line of what switches."""
    changes = [t for t in train.changes if 0.0 < t < end]
    points, state = [], _on(train, 0.0)
    for t in (0.0, *changes):
        if t:
            points.append((across(t), SWITCH[0] if state else SWITCH[1]))
            state = not state
        points.append((across(t), SWITCH[0] if state else SWITCH[1]))
    points.append((across(end), SWITCH[0] if state else SWITCH[1]))
    return " ".join(f"{x:g},{y:g}" for x, y in points)


def _row(train, k):
    """Return one row of the table."""
    t = float(train.t[k])
    read = (plain(float(y[k]), train.unit) for y in (train.y, train.low, train.high))
    return (plain(t, "s"), "on" if _on(train, t) else "off", plain(float(train.IF[k]), "A"), *read)


def _points(ts, ys, across, up):
    """Return points of a line."""
    return " ".join(f"{across(float(t)):g},{up(float(y)):g}" for t, y in zip(ts, ys, strict=True))
