"""The input of a programmable controller as a plot: its characteristic and both states in the regions of its type."""

from dataclasses import dataclass

import numpy as np

from engine import AMPERE, STATES, VOLT, as_typed, reading
from webapp.present.figures import Figure, figure

WIDTH, HEIGHT = 320, 214
"""Size of the plot, in the units of its view box."""

_LEFT, _RIGHT, _TOP, _BOTTOM = 48, 300, 10, 182
_POINTS = 61  # of the curve
_STEPS = (0.5e-3, 1e-3, 2e-3, 5e-3, 10e-3, 20e-3)  # [A], between marks
_ROOM = 1.12  # [-], by how much the axes reach beyond what is shown


@dataclass(frozen=True, slots=True)
class RegionView:
    """A region of the standard as printed.

    Attributes
    ----------
    name : str
        "off" or "on".
    points : str
        Its outline.
    """

    name: str
    points: str


@dataclass(frozen=True, slots=True)
class StatePoint:
    """One state as printed.

    Attributes
    ----------
    place : str
        The state of the input side in words.
    x : float
        Where its voltage is.
    y : float
        Where its current is.
    box : tuple of (float, float, float, float)
        Left, top, width and height of its range.
    volts : Figure
        Voltage across the input.
    amperes : Figure
        Its current.
    """

    place: str
    x: float
    y: float
    box: tuple
    volts: Figure
    amperes: Figure


@dataclass(frozen=True, slots=True)
class InputPlot:
    """The plot.

    Attributes
    ----------
    title : str
        Heading.
    width : int
        Width of the view box.
    height : int
        Height of the view box.
    frame : str
        Path of both axes.
    regions : tuple of RegionView
        Where the input is surely off and surely on.
    curve : str
        Points of a typical input.
    band : str
        Outline of what inputs of the type may be.
    points : tuple of StatePoint
        Both states.
    volts : tuple of (float, str)
        Marks along the axis of the voltage.
    amperes : tuple of (float, str)
        Marks along the axis of the current.
    axis : tuple of (int, int)
        Where the marks of the voltage stand, and those of the current end.
    summary : str
        The same in sentences.
    """

    title: str
    width: int
    height: int
    frame: str
    regions: tuple
    curve: str
    band: str
    points: tuple
    volts: tuple
    amperes: tuple
    axis: tuple
    summary: str


class _Axes:
    """Where a voltage and a current stand."""

    def __init__(self, volts, amperes):
        self.V_most, self.I_most = volts, amperes

    def x(self, volts):
        """Return where a voltage stands."""
        return round(_LEFT + (_RIGHT - _LEFT) * min(max(volts / self.V_most, 0.0), 1.0), 1)

    def y(self, amperes):
        """Return where a current stands."""
        return round(_BOTTOM - (_BOTTOM - _TOP) * min(max(amperes / self.I_most, 0.0), 1.0), 1)

    def path(self, pairs):
        """Return the points of a polyline."""
        return " ".join(f"{self.x(volts)},{self.y(amperes)}" for volts, amperes in pairs)


def input_plot(point):
    """Return the plot of a solved stage; None where its output side is no controller's input."""
    load = point.scenario.output
    if load.kind != "controller":
        return None
    seen = [point.states[name].quantities for name in STATES]
    limits = load.limits_of_type
    V_most = max(limits.V_most, *(found["VIN"].high for found in seen)) * 1.02
    volts = np.linspace(0.0, V_most, _POINTS)
    low, typical, high = (load.characteristic(volts, 1.0 + way * load.spread) for way in (-1, 0, 1))
    axes = _Axes(V_most, max(high[-1], limits.I_on, limits.I_off) * _ROOM)
    corners = point.states["closed"].verdict
    band = [*zip(volts, high, strict=True), *zip(volts[::-1], low[::-1], strict=True)]
    points = tuple(_point(point, name, found, axes) for name, found in zip(STATES, seen, strict=True))
    return InputPlot(
        title=f"The input: {limits.title} of IEC 61131-2",
        width=WIDTH,
        height=HEIGHT,
        frame=f"M{_LEFT} {_TOP}V{_BOTTOM}H{_RIGHT}",
        regions=(
            RegionView("off", axes.path(_off(load, limits, axes))),
            RegionView("on", axes.path(_on(load, limits, axes))),
        ),
        curve=axes.path(zip(volts, typical, strict=True)),
        band=axes.path(band),
        points=points,
        volts=tuple((axes.x(v), f"{v:g} V") for v in (0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0) if v <= V_most),
        amperes=tuple((axes.y(i), as_typed(i, AMPERE)) for i in _marks(axes.I_most)),
        axis=(HEIGHT - 14, _LEFT - 4),
        summary=_summary(load, limits, corners, points),
    )


def _marks(most):
    """Return round currents along an axis, two to four of them."""
    step = next(step for step in _STEPS if most / step < 5)
    return tuple(step * k for k in range(1, int(most / step) + 1))


def _off(load, limits, axes):
    """Return the outline of where the input is surely off: below a voltage, or, by its type, below a current."""
    if load.V_valid_off != "type":
        return ((0.0, 0.0), (0.0, axes.I_most), (load.V_valid_off, axes.I_most), (load.V_valid_off, 0.0))
    V, I_off = limits.V_off, limits.I_off
    return (0.0, 0.0), (0.0, axes.I_most), (V, axes.I_most), (V, I_off), (limits.V_on, I_off), (limits.V_on, 0.0)


def _on(load, limits, axes):
    """Return the outline of where the input is surely on: from a voltage and a current."""
    V = limits.V_on if load.V_valid_on == "type" else load.V_valid_on
    return (V, limits.I_on), (V, axes.I_most), (limits.V_most, axes.I_most), (limits.V_most, limits.I_on)


def _point(point, name, found, axes):
    """Return one state."""
    V, current = found["VIN"], found["IIN"]
    left, right, top, bottom = axes.x(V.low), axes.x(V.high), axes.y(current.high), axes.y(current.low)
    box = left, top, round(right - left, 1), round(bottom - top, 1)
    place = point.scenario.input.states[name]
    return StatePoint(place, axes.x(V.value), axes.y(current.value), box, figure(V), figure(current))


def _summary(load, limits, verdict, points):
    """Return the plot in sentences."""
    regions = (
        f"Off up to {_volts(limits.V_off)}, or below {_amperes(limits.I_off)}; on from {_volts(limits.V_on)} with at "
        f"least {_amperes(limits.I_on)}."
        if "type" in (load.V_valid_on, load.V_valid_off)
        else f"Off up to {_volts(verdict.low_limit)}, on from {_volts(verdict.high_limit)}."
    )
    states = " ".join(f"{p.place.capitalize()}: {p.volts.text} and {p.amperes.text}." for p in points)
    return f"{regions} {states}"


def _volts(value):
    return " ".join(reading(value, VOLT))


def _amperes(value):
    return " ".join(reading(value, AMPERE))
