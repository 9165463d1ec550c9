"""Contact bounce: a contact that closes or opens many times before it rests, through filter, coupler and receiver."""

from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise

import numpy as np

from engine.edges import Course
from engine.inputs.contact import ContactHigh, ContactLow
from engine.preferred import ladder
from engine.timing import Span
from engine.train import Train, spanned, why_unfollowed

BOUNCE_TIME, BOUNCES = 5e-3, 5
"""What a contact is taken to bounce for [s], and how often [-]; common practice, no source."""

BOUNCE_ENDS, MOST_BOUNCES = (10e-6, 0.1), 12
"""Shortest and longest time [s] and most bounces [-] that may be asked for."""

_SHRINKING = 0.6  # [-], length of a bounce over that of the one before; common practice, no source
_SPLITS = (0.02, 0.1, 0.3, 0.6, 0.9)  # [-], share of the time after which the worst pattern lets go again
_ALLOWED = 3e-3  # [V], error of a step: bounces last far longer than the coupler takes
_LONG = 20.0  # [-], time constants for which the last state is followed
_POINTS = 240  # of a waveform
_TOUCH = 0.01  # [-], of the span between the receiver's limits, that a threshold must be crossed by
_SERIES, _C_ENDS = "E6", (1e-9, 1e-3)  # [F], capacitors that are tried
_COARSE = 6  # every so many of them at first
_EDGES = ("closing", "opening")


def bounce_times(tb, bounces, ratio=_SHRINKING):
    """Return for how long a contact that comes to rest is in its new state and out of it again, one after the other.

    Parameters
    ----------
    tb : float
        From the first touch to the last [s].
    bounces : int
        How often it lets go again [-].
    ratio : float
        Length of a bounce over that of the one before [-].

    Returns
    -------
    ndarray, shape (2 bounces,)
        In the new state, out of it, in it, ...; together `tb` [s].

    Notes
    -----
    Each bounce is half touch and half gap, and they shrink as those of a ball do that loses the same share of its
    speed each time.

    References
    ----------
    Common practice, no source.
    """
    lengths = ratio ** np.arange(bounces)
    return np.repeat(0.5 * tb * lengths / lengths.sum(), 2)


def worst_times(tb):
    """Return patterns with one gap as long as it can be, by when the contact lets go.

    Parameters
    ----------
    tb : float
        From the first touch to the last [s].

    Returns
    -------
    ndarray, shape (patterns, 2)
        In the new state, and out of it [s].

    References
    ----------
    Derived here: a filter is passed by one long gap rather than by many short ones.
    """
    first = tb * np.array(_SPLITS)
    return np.stack([first, tb - first], axis=1)


def why_unbounced(scenario):
    """Return why the bounce of a stage's contact is not followed.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    str
        A sentence; empty where it is.
    """
    if not isinstance(scenario.input, ContactLow | ContactHigh):
        if scenario.input.kind == "ac":
            return "On alternating voltage the LED blinks with the line already; bounce is lost in that."
        return "This input is driven by no mechanical contact, so nothing bounces."
    return why_unfollowed(scenario)


# ---------------------------------------------------------------- what the receiver sees


def sure_edges(y, low, high):
    """Return how many edges any receiver sees: from surely low to surely high, and back.

    Parameters
    ----------
    y : ndarray, shape (points,)
        What is read over time [unit].
    low : float
        Up to what the receiver surely reads low [unit].
    high : float
        From what on it surely reads high [unit].

    Returns
    -------
    int
        Edges [-].
    """
    zone = np.where(y <= low, -1, np.where(y >= high, 1, 0))
    zone = zone[zone != 0]
    return int(np.count_nonzero(np.diff(zone)))


def possible_edges(y, low, high):
    """Return how many edges a receiver may see at the most, whose one threshold lies between the limits.

    Parameters
    ----------
    y : ndarray, shape (points,)
        What is read over time [unit].
    low : float
        Up to what the receiver surely reads low [unit].
    high : float
        From what on it surely reads high [unit].

    Returns
    -------
    int
        Edges [-].

    Notes
    -----
    Crossings of the threshold that is crossed most often. What rises and falls by less than 1 % of the span between
    the limits is no edge.
    """
    touch = _TOUCH * (high - low)
    turns = _turns(np.clip(y, low, high), touch)
    levels = np.unique(turns)
    most = 0
    for below, above in pairwise(levels):
        over = turns > 0.5 * (below + above)
        most = max(most, int(np.count_nonzero(np.diff(over))))
    return max(most, sure_edges(y, low, high))


def _turns(y, touch):
    """Return the values at which a course turns, without what turns by less than a touch."""
    turns = [float(y[0])]
    # Where it stands still it does not turn.
    for value in y[1:][np.diff(y) != 0.0].tolist():
        if len(turns) > 1 and (value - turns[-1]) * (turns[-1] - turns[-2]) >= 0.0:
            turns[-1] = value
        elif abs(value - turns[-1]) > touch:
            turns.append(value)
    return np.array(turns)


@dataclass(frozen=True, slots=True)
class Bounced:
    """What becomes of one edge of a contact that bounces, or of one that does not.

    Attributes
    ----------
    surely : tuple of (int, int)
        Edges that any receiver sees: of the nominal stage, and the most of all members [-].
    possibly : tuple of (int, int)
        Edges that a receiver may see at the most, likewise [-].
    stable : Span
        From the first touch on until the new level is surely read for good; None where it never is [s].
    """

    surely: tuple
    possibly: tuple
    stable: Span

    @property
    def clean(self):
        """Return whether it is one edge, at worst too."""
        return self.surely == (1, 1) and self.possibly == (1, 1) and self.stable.high is not None


@dataclass(frozen=True, slots=True)
class Bouncing:
    """The waveform of one edge, of the nominal stage.

    Attributes
    ----------
    t : ndarray, shape (points,)
        Time after the first touch or the first letting go [s].
    contact : tuple of float
        When the contact changes its state, the first change at 0 [s].
    IF : ndarray, shape (points,)
        LED current [A].
    y : ndarray, shape (points,)
        What is read [V or A].
    low : ndarray, shape (points,)
        The smallest of all members [V or A].
    high : ndarray, shape (points,)
        The largest of all members [V or A].
    limits : tuple of (float, float)
        Up to what the nominal receiver surely reads low, and from what on high [V or A].
    """

    t: np.ndarray
    contact: tuple
    IF: np.ndarray
    y: np.ndarray
    low: np.ndarray
    high: np.ndarray
    limits: tuple


@dataclass(frozen=True, slots=True)
class FilterCase:
    """A stage with one filter capacitor.

    Attributes
    ----------
    C : float
        Filter capacitor, 0 for none [F].
    edges : dict of str to Bounced
        "closing" and "opening" with bounces that shrink.
    worst : dict of str to Bounced
        The same, the worst of the patterns with one long gap.
    delay : dict of str to Span
        Of either edge without any bounce until the new level is surely read [s].
    rate : Span
        Square-wave rate each half of which lasts as long as the slower edge; None where a level is never reached [Hz].
    waves : dict of str to Bouncing
        Both waveforms, with bounces that shrink.
    """

    C: float
    edges: dict
    worst: dict
    delay: dict
    rate: Span
    waves: dict


# ---------------------------------------------------------------- following


class _Patterns:
    """Several copies of a stage, each with its capacitor, its edge and its bounces.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    cases : sequence of tuple of (float, str, ndarray)
        Filter capacitor [F], "closing" or "opening", times in the new state and out of it [s].
    chosen : sequence of int or None
        Members that are followed, the nominal one first; all if None.
    """

    def __init__(self, scenario, cases, chosen=None):
        C = np.array([case[0] for case in cases])
        self.cases, self.train = cases, Train(scenario, len(cases), C, _ALLOWED, chosen)
        train, most = self.train, max(len(times) for *_, times in cases)
        closing = train.of([edge == "closing" for _, edge, _ in cases])
        lengths = np.array([[*times, *(0.0,) * (most - len(times))] for *_, times in cases])
        settling = _settling(scenario, train, train.of(C))
        segments = [(closing == (k % 2 == 0), train.of(lengths[:, k])) for k in range(most)]
        segments.append((closing, settling))
        start = train.switched.at_rest(~closing)
        self.trail = train.switched.follow(start, ~closing, segments)
        self.y, self.closing = train.read(self.trail.voltages), closing

    def members(self, copy):
        """Return the places of a copy's members."""
        return range(copy * self.train.members, (copy + 1) * self.train.members)

    def bounced(self, copy):
        """Return what a receiver sees of a copy."""
        train, counts, stable = self.train, [], []
        for k in self.members(copy):
            y, low, high = self.y[:, k], float(train.low[k]), float(train.high[k])
            counts.append((sure_edges(y, low, high), possible_edges(y, low, high)))
            stable.append(self.course(k).valid())
        surely, possibly = zip(*counts, strict=True)
        return Bounced((surely[0], max(surely)), (possibly[0], max(possibly)), spanned(np.array(stable)))

    def course(self, k):
        """Return the course of one member after its first change."""
        train, t = self.train, self.trail.t[:, k]
        rises = bool(train.lit_high == self.closing[k])
        limit = train.high[k] if rises else train.low[k]
        end = train.ends["lit" if self.closing[k] else "dark"][k]
        on = np.concatenate([[True], np.diff(t) > 0.0])
        return Course(t[on], self.y[on, k], float(end), float(limit), rises)

    def wave(self, copy, until):
        """Return the waveform of a copy."""
        t, members = np.linspace(0.0, until, _POINTS), self.members(copy)
        first, times = members[0], self.cases[copy][2]
        IF = self.train.LED_current(self.trail.voltages)[:, first]
        ys = np.array([np.interp(t, self.trail.t[:, k], self.y[:, k]) for k in members])
        changes = np.concatenate([[0.0], np.cumsum(times)]).tolist()
        limits = float(self.train.low[first]), float(self.train.high[first])
        at = np.interp(t, self.trail.t[:, first], IF)
        return Bouncing(t, tuple(changes), at, ys[0], ys.min(axis=0), ys.max(axis=0), limits)


def _settling(scenario, train, C):
    """Return for how long the last state is followed: many time constants, as an LED's light ebbs away slowly [s]."""
    load = scenario.output
    RL = float(np.max(train.varied["RL"])) + getattr(load, "R_by_hand", 0.0)
    own = RL * (getattr(load, "C_load", 0.0) + 10e-9) + 1e-4
    return _LONG * (own + C * (train.R1 + 1e3))


def _left(patterns, copy):
    """Return when each member leaves the level that it begins at [s]."""
    train, found = patterns.train, []
    for k in patterns.members(copy):
        low, high, y = train.low[k], train.high[k], patterns.y[:, k]
        away = np.flatnonzero(y > low if y[0] <= low else y < high)
        found.append(float(patterns.trail.t[away[0], k]) if len(away) else np.inf)
    return np.array(found)


@dataclass(frozen=True, slots=True)
class Filtering:
    """A filter capacitor with which one closing is one edge, and what there is beside it.

    Attributes
    ----------
    C : float or None
        The smallest standard value that does, at worst too; None where none does [F].
    reason : str
        Why none does, or why none is needed, in a sentence; empty where one is proposed.
    cases : tuple of FilterCase
        The stage without a filter, as it is, with the proposed one, and with twice that; each once.
    """

    C: float | None
    reason: str
    cases: tuple


@lru_cache(maxsize=16)
def filter_for(scenario, tb=BOUNCE_TIME, bounces=BOUNCES):
    """Return the smallest standard capacitor across the LED with which one closing is one edge at worst.

    Parameters
    ----------
    scenario : Scenario
        The stage; of those whose bounce is followed (`why_unbounced`).
    tb : float
        From the first touch of the contact to the last, within `BOUNCE_ENDS` [s].
    bounces : int
        How often it lets go again, 1 to `MOST_BOUNCES` [-].

    Returns
    -------
    Filtering or None
        The capacitor, and what it costs; None where the bounce is not followed.

    Raises
    ------
    ValueError
        If time or number of bounces is out of range.
    ScenarioError
        If an "auto" resistor cannot be sized.
    ConvergenceError
        If the solver fails, which is a defect.

    Notes
    -----
    While a capacitor is far slower than the coupler, all times are proportional to it. So one closing and one opening
    tell about which capacitor keeps the LED dark until the contact rests, or lit over the longest gap; the standard
    values around it are then followed through the worst patterns, at the corners that are quickest to leave a level
    and slowest to reach one. A capacitor that is too small for either lets a long touch through and a long gap too.

    References
    ----------
    Derived here. Bounces and their time: common practice, no source.
    """
    _check(tb, bounces)
    if why_unbounced(scenario):
        return None
    present = 0.0 if scenario.input.C_filter == "none" else scenario.input.C_filter
    some, C, reason = _proposed(replace(scenario, input=replace(scenario.input, C_filter="none")), tb)
    values = sorted({0.0, present} | ({C, 2.0 * C} if C else set()))
    return Filtering(C, reason, tuple(_cases(scenario, values, tb, bounces, some)))


def _check(tb, bounces):
    low, high = BOUNCE_ENDS
    if not (low <= tb <= high and 1 <= bounces <= MOST_BOUNCES and bounces == int(bounces)):
        raise ValueError(f"{low:g} to {high:g} s, 1 to {MOST_BOUNCES} bounces")


@lru_cache(maxsize=16)
def _proposed(scenario, tb):
    """Return which members matter, the capacitor, and why there is none; whatever the filter and the bounces are."""
    some, ratios, reason = _scouted(scenario, tb)
    return (some, None, reason) if reason else (some, *_smallest(scenario, tb, ratios, some))


def _scouted(scenario, tb):
    """Return which members matter, about which capacitors do, and why none can; from one edge each without bounce."""
    C = tb / 1e3
    none = np.zeros(0)
    found = _Patterns(scenario, [(C, edge, none) for edge in _EDGES])
    away, ready = ([times(found, copy) for copy in (0, 1)] for times in (_left, _readied))
    level = {"lit": ready[0], "dark": ready[1]}
    for name, times in level.items():
        if not np.isfinite(times).all():
            when = "" if not np.isfinite(times[0]) else "at worst "
            return [0], (), f"With the LED {name} the level is {when}not surely read, and no filter mends that."
    most = {0, int(away[0].argmin()), int(away[1].argmin()), int(ready[0].argmax()), int(ready[1].argmax())}
    # Dark through the longest touch, or lit over the longest gap.
    return sorted(most), (C * _SPLITS[-1] * tb / away[0].min(), C * tb / away[1].min()), ""


def _readied(patterns, copy):
    """Return when each member surely reads the new level [s]."""
    return np.array([patterns.course(k).valid() for k in patterns.members(copy)])


def _smallest(scenario, tb, ratios, some):
    """Return the smallest standard capacitor that makes one edge of a closing, and why there is none."""
    values = ladder(*_C_ENDS, _SERIES)
    guess = int(np.searchsorted(values, min(ratios)))
    near = (0.0, *values[max(guess - 3, 0) : guess + 3])
    bare, *found = _clean(scenario, near, tb, some)
    if bare:
        return None, "The stage is so slow by itself that one closing is one edge without any filter."
    near = near[1:]
    if not near or found[0] or not found[-1]:
        near = values[::_COARSE]
        found = _clean(scenario, near, tb, some)
        first = next((k for k, done in enumerate(found) if done), None)
        if first is None:
            return None, _why_none(values)
        near = values[max((first - 1) * _COARSE, 0) : first * _COARSE + 1]
        found = _clean(scenario, near, tb, some)
    return next((C for C, done in zip(near, found, strict=True) if done), None), ""


def _why_none(values):
    return (
        f"No capacitor up to {values[-1] * 1e6:.0f} \u00b5F across the LED makes one edge of a closing: "
        "it charges to the LED's small voltage while the contact touches, and cannot light the LED over the gap."
    )


def _clean(scenario, values, tb, some):
    """Return whether each capacitor makes one edge of a closing with any of the worst patterns."""
    patterns = worst_times(tb)
    found = _Patterns(scenario, [(C, "closing", times) for C in values for times in patterns], some)
    size = len(patterns)
    return [all(found.bounced(k * size + j).clean for j in range(size)) for k in range(len(values))]


def _cases(scenario, values, tb, bounces, some):
    """Yield what each capacitor makes of both edges."""
    shrinking, worst, none = bounce_times(tb, bounces), worst_times(tb), np.zeros(0)
    times = [shrinking, none, *worst]
    found = _Patterns(scenario, [(C, edge, lengths) for C in values for edge in _EDGES for lengths in times], some)
    for k, C in enumerate(values):
        copies = {edge: (2 * k + j) * len(times) for j, edge in enumerate(_EDGES)}
        ready = {edge: _readied(found, copy + 1) for edge, copy in copies.items()}
        slower = np.maximum(*ready.values())
        with np.errstate(divide="ignore"):
            rate = spanned(0.5 / slower)
        bounced = {edge: found.bounced(copy) for edge, copy in copies.items()}
        until = _shown(bounced, tb)
        yield FilterCase(
            C,
            bounced,
            {
                edge: _worst_of([found.bounced(copy + 2 + j) for j in range(len(worst))])
                for edge, copy in copies.items()
            },
            {edge: spanned(times) for edge, times in ready.items()},
            Span(rate.value or None, rate.low or None, rate.high or None),
            {edge: found.wave(copy, until[edge]) for edge, copy in copies.items()},
        )


def _worst_of(some):
    """Return the worst of several patterns."""
    surely, possibly = (
        tuple(max(getattr(one, name)[k] for one in some) for k in (0, 1)) for name in ("surely", "possibly")
    )
    last = [[getattr(one.stable, name) for one in some] for name in ("value", "low", "high")]
    return Bounced(surely, possibly, Span(*(None if None in times else max(times) for times in last)))


def _shown(bounced, tb):
    """Return up to when each waveform is drawn [s]."""
    ends = {}
    for edge, found in bounced.items():
        stable = found.stable
        ends[edge] = 1.25 * max(tb, stable.value if stable.high is None else stable.high) if stable.value else 1.25 * tb
    return ends
