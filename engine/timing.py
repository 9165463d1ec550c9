"""How fast a stage is: delays, transitions, when the receiver surely reads the new level, and the highest rate."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.interpolate import PchipInterpolator

from engine.build import wiring
from engine.edges import edges_of
from engine.slowing import END, START, limited_by
from engine.watched import FOLLOWED

POINTS = 160
"""Points of a waveform [-]."""

_AFTER = 1.25  # [-], time that is drawn over that of the last event
_HALF = 0.5  # [-], share of the swing that tPHL and tPLH go by; common practice


@dataclass(frozen=True, slots=True)
class Span:
    """A time or a rate with its extremes over all members.

    Attributes
    ----------
    value : float or None
        Of the nominal stage; None where it is never reached [s or Hz].
    low : float or None
        Smallest of all; None where none reaches it, and of a rate where any does not [s or Hz].
    high : float or None
        Largest of all; None where any member never reaches it [s or Hz].
    """

    value: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class Wave:
    """What is read at the output over an edge.

    Attributes
    ----------
    t : ndarray, shape (points,)
        Time after the input's edge [s].
    nominal : ndarray, shape (points,)
        Of the nominal stage [V or A].
    low : ndarray, shape (points,)
        The smallest of all members [V or A].
    high : ndarray, shape (points,)
        The largest of all members [V or A].
    IF : ndarray, shape (points,)
        LED current of the nominal stage [A].
    IF_on : float or None
        LED current from which a typical coupler decides; None of one that has no threshold [A].
    limit : float
        From where on the nominal receiver surely reads the new level [V or A].
    rises : bool
        Whether the new level is the upper one.
    """

    t: np.ndarray
    nominal: np.ndarray
    low: np.ndarray
    high: np.ndarray
    IF: np.ndarray
    IF_on: float | None
    limit: float
    rises: bool


@dataclass(frozen=True, slots=True)
class Edge:
    """One edge.

    Attributes
    ----------
    delay : Span
        From the input's edge to 10 % of the swing [s].
    transition : Span
        From 10 % to 90 % [s].
    half : Span
        To 50 % [s].
    total : Span
        To 90 % [s].
    valid : Span
        Until the new level is surely read, at every member's own supply [s].
    wave : Wave
        The course.
    """

    delay: Span
    transition: Span
    half: Span
    total: Span
    valid: Span
    wave: Wave


@dataclass(frozen=True, slots=True)
class Timing:
    """How fast a stage is.

    Attributes
    ----------
    scenario : Scenario
        The stage.
    edges : dict of str to Edge
        "on", the LED is switched on, and "off".
    tPHL : Span
        To the middle of the edge on which the output falls [s].
    tPLH : Span
        To the middle of the edge on which it rises [s].
    distortion : Span
        By how much a pulse is made longer or shorter: the difference of both [s].
    max_rate : Span
        Highest square-wave rate at which both levels are surely reached; `low` is that at worst [Hz].
    narrowest_pulse : Span
        Shortest pulse of either polarity that is surely read; `high` is that at worst [s].
    limited_by : str
        Which edge limits the rate, and which part of it, in a sentence.
    IF : float
        LED current of the nominal stage [A].
    """

    scenario: object
    edges: dict
    tPHL: Span
    tPLH: Span
    distortion: Span
    max_rate: Span
    narrowest_pulse: Span
    limited_by: str
    IF: float


def why_untimed(scenario):
    """Return why edges of a stage are not followed.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    str
        A sentence; empty where they are.
    """
    load = scenario.output
    if scenario.input.kind == "ac":
        return "On alternating voltage the line sets the pace; see the pulses over the cycle."
    if load.kind not in FOLLOWED:
        return (
            "A triac waits for the line: without zero crossing it conducts microseconds after its LED is lit, with it"
            " up to half a period later. It goes dark when its current next ends, up to half a period after its LED."
        )
    if load.kind == "relay" and load.clamp == "none":
        return (
            "Without a clamp the coil's voltage rises until the transistor breaks down, so no edge is followed; the"
            " figures of the output tell how far it would rise."
        )
    return ""


@lru_cache(maxsize=32)
def timing_of(scenario):
    """Return how fast a stage is.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    Timing or None
        Its edges; None where they are not followed, for which `why_untimed` has the reason.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.
    ConvergenceError
        If the solver fails, which is a defect.

    Notes
    -----
    Both edges start from rest. The highest rate is that at which each half of the period lasts as long as the slower
    edge takes until it is surely read. At that rate an edge finds the detector less deep in saturation, or less far
    from conducting, than at rest, and is no slower; so the rate is a sure one, not the utmost.

    References
    ----------
    Derived here. Shares of the swing: common practice, no source.
    """
    return timings_of((scenario,))[0]


def timings_of(scenarios):
    """Return how fast several stages are; those that are wired alike are one batch.

    Parameters
    ----------
    scenarios : sequence of Scenario
        The stages.

    Returns
    -------
    list of Timing or None
        In their order; None where the edges of one are not followed.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.
    ConvergenceError
        If the solver fails, which is a defect.
    """
    found, alike = [None] * len(scenarios), {}
    for k, scenario in enumerate(scenarios):
        if not why_untimed(scenario):
            alike.setdefault(wiring(scenario), []).append(k)
    for places in alike.values():
        some = tuple(scenarios[k] for k in places)
        for k, edges in zip(places, edges_of(some), strict=True):
            found[k] = _timing(scenarios[k], edges)
    return found


def _timing(scenario, edges):
    """Return the figures of both edges."""
    times = {name: _times(courses) for name, courses in (("on", edges.on), ("off", edges.off))}
    falls = "off" if edges.on[0].rises else "on"
    tPHL, tPLH = times[falls]["half"], times["off" if falls == "on" else "on"]["half"]
    slower = np.maximum(times["on"]["valid"], times["off"]["valid"])
    with np.errstate(divide="ignore", invalid="ignore"):
        rate = np.where(slower > 0.0, 0.5 / slower, 0.0)
        distortion = np.where(np.isfinite(tPHL + tPLH), np.abs(tPHL - tPLH), np.inf)
    IF_on = scenario.coupling.spread().get("threshold", (None,))[0]
    made = {
        name: Edge(
            **{key: _span(values) for key, values in found.items()},
            wave=_wave(getattr(edges, name), edges.light[name], IF_on, found),
        )
        for name, found in times.items()
    }
    return Timing(
        scenario, made, _span(tPHL), _span(tPLH), _span(distortion), _rate(rate), _span(slower),
        limited_by(scenario, times, edges), edges.IF,
    )  # fmt: skip


def _times(courses):
    """Return the times of one edge by name, over all members; infinite where never reached."""
    start, half, end = (np.array([c.reached(share) for c in courses]) for share in (START, _HALF, END))
    transition = np.full(len(start), np.inf)
    np.subtract(end, start, out=transition, where=np.isfinite(end))
    valid = np.array([c.valid() for c in courses])
    return {"delay": start, "transition": transition, "half": half, "total": end, "valid": valid}


def _span(values):
    """Return nominal value and extremes of times."""
    value, low, high = (float(v) for v in (values[0], values.min(), values.max()))
    return Span(*(v if np.isfinite(v) else None for v in (value, low, high)))


def _rate(values):
    """Return nominal value and extremes of rates; 0 stands for levels that are never reached."""
    return Span(*(float(v) or None for v in (values[0], values.min(), values.max())))


def _wave(courses, light, IF_on, times):
    """Return the waveform of an edge, up to a while after its last event."""
    lasting = [t for t in (times["total"].max(), times["valid"].max()) if np.isfinite(t)]
    until = _AFTER * max(lasting) if lasting and max(lasting) > 0.0 else float(courses[0].t[-1])
    t = np.linspace(0.0, until, POINTS)
    y = np.array([np.interp(t, c.t, c.y) for c in courses])
    if len(courses[0].t) > 1:
        # The steps of the integration are few where the course is smooth.
        y[0] = PchipInterpolator(courses[0].t, courses[0].y)(np.minimum(t, courses[0].t[-1]))
    IF = np.interp(t, *light)
    return Wave(t, y[0], y.min(axis=0), y.max(axis=0), IF, IF_on, courses[0].limit, courses[0].rises)
