"""Trains of edges: a stage whose LED is lit and darkened in any order, nominal and at the corners as one batch.

The periodic state at any square-wave rate, and the highest rate at which a receiver still surely sees both levels.
"""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from engine.build import build_all
from engine.circuit import solve
from engine.circuit.segments import Switched, steady_state
from engine.coupler import TransistorCard
from engine.edges import LED_current, charged, corners_of
from engine.timing import Span, timing_of, why_untimed
from engine.watched import Watch, load_capacitance

POINTS = 160
"""Points of the waveform of one period [-]."""

RATE_ENDS = SLOWEST, FASTEST = 1e-3, 1e9
"""Rates between which a square wave is followed [Hz]."""

MOST_RATES = 8
"""Rates of one batch [-]."""

_KINDS = ("pull-up", "pull-down", "indicator", "controller")
_ALLOWED = 2e-4  # [V], error of a step, as of single edges
_SEARCHING = 5e-4  # [V], the same while a rate is searched for
_REPEATED = 3e-5  # [-], charge by which a period may miss its beginning, over the charge moved
_NEARLY = 3e-3  # [-], the same while a rate is searched for
_LOOSE = ("stray",)  # parts that the input side charges at once
_MOST_PERIODS = 40
_FEW_PERIODS = 4  # the same while a rate is searched for
_LADDER = np.array([0.9, 1.0, 1.02, 1.05, 1.1, 1.2, 1.5, 2.2, 5.0, 20.0])  # [-], rates tried, of the sure one
_COARSE, _FINER = 1.15, 8  # [-], ratio of two rates that are narrowed, and into how many
_MOVES = 1e-6  # [-], least swing over the largest value that counts as moving


def why_unfollowed(scenario):
    """Return why a stage is not followed through trains of edges.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    str
        A sentence; empty where it is.
    """
    reason = why_untimed(scenario)
    if reason:
        return reason
    if not isinstance(scenario.coupling.model.card, TransistorCard):
        return "Trains of edges are followed for couplers with a transistor at the output; this one has a threshold."
    if scenario.output.kind not in _KINDS:
        return "Trains of edges are followed into a receiver, an indicator or a controller's input, not into this load."
    return ""


class Train:
    """A stage in several copies, ready to be led through segments; the members of a copy are nominal and corners.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    copies : int
        How many times there is every member [-].
    C_filter : ndarray, shape (copies,) or None
        Filter capacitor of each copy, 0 for none; that of the stage if None [F].
    allowed : float
        Error that a step may make [V].
    chosen : sequence of int or None
        Members that are followed, the nominal one first; all if None.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.
    ConvergenceError
        If the solver fails, which is a defect.
    """

    def __init__(self, scenario, copies, C_filter=None, allowed=_ALLOWED, chosen=None):
        if C_filter is not None:  # so that there is a place for it
            scenario = replace(scenario, input=replace(scenario.input, C_filter=1e-9))
        stage = build_all((scenario,), corners_of(scenario))
        self.rest = rest = solve(stage.netlist)
        some = np.arange(stage.members) if chosen is None else np.array(chosen)
        self.load, self.members, self.copies = scenario.output, len(some), copies
        which = np.tile(some, copies)
        self.batch, count = len(which), stage.count
        both = np.concatenate([which, which + count])
        circuit = charged(stage, rest, both, both, np.full(len(both), load_capacitance(scenario.output) or 0.0))
        if C_filter is not None:
            C = np.tile(np.repeat(C_filter, len(some)), 2)
            stores = tuple(replace(store, C=C) if store.part == "CF" else store for store in circuit.stores)
            circuit = replace(circuit, stores=stores)
        largest = max(1.0, *(float(np.abs(volts).max()) for _, volts in circuit.sources.values()))
        voltages = {node: volts[both] for node, volts in rest.voltages.items()}
        self.switched = Switched(circuit, allowed / largest, voltages, _LOOSE)
        self.reader = Watch(stage, rest, which, which + count)
        self.low, self.high = (np.broadcast_to(limit, (self.batch,)) for limit in (self.reader.low, self.reader.high))
        self.lit_high = bool(self.reader.rises[0])
        self.ends = {"lit": self.reader.end, "dark": Watch(stage, rest, which + count, which).end}
        self.R1, self.varied = stage.varied["R1"][which], stage.varied

    def of(self, values):
        """Return values of every copy for each of its members.

        Parameters
        ----------
        values : array-like, shape (copies,)
            One of every copy [unit].

        Returns
        -------
        ndarray, shape (batch,)
            They [unit].
        """
        return np.repeat(np.asarray(values), self.members)

    def read(self, voltages):
        """Return what is read at the output.

        Parameters
        ----------
        voltages : dict of str to ndarray, shape (steps, batch)
            Potential of every node [V].

        Returns
        -------
        ndarray, shape (steps, batch)
            Voltage or current [V or A].
        """
        return self.reader(voltages)

    def LED_current(self, voltages):
        """Return the LED current of every member.

        Parameters
        ----------
        voltages : dict of str to ndarray, shape (steps, batch)
            Potential of every node [V].

        Returns
        -------
        ndarray, shape (steps, batch)
            Current [A].
        """
        half = self.switched.netlist.take(np.arange(self.batch))
        return LED_current(half, voltages, np.arange(self.batch))


# ---------------------------------------------------------------- square waves


@dataclass(frozen=True, slots=True)
class Square:
    """A stage on a square wave, in the steady state.

    Attributes
    ----------
    rate : float
        Of the square wave [Hz].
    t : ndarray, shape (points,)
        Time over one period; the LED is lit in the first half [s].
    nominal : ndarray, shape (points,)
        What is read, of the nominal stage [V or A].
    low : ndarray, shape (points,)
        The smallest of all members [V or A].
    high : ndarray, shape (points,)
        The largest of all members [V or A].
    IF : ndarray, shape (points,)
        LED current of the nominal stage [A].
    limits : tuple of (float, float)
        Up to what the nominal receiver surely reads low, and from what on high [V or A].
    at_end : dict of str to Span
        What is read at the end of the "lit" and of the "dark" half [V or A].
    held : dict of str to Span
        For how long of the period the receiver surely reads the level of "lit" and of "dark"; 0 where never [s].
    sees : tuple of (bool, bool)
        Whether the receiver surely sees both levels in every period: nominal, and at worst.
    width_in : float
        How long the LED is lit [s].
    width_out : Span
        How long the output is past the middle of its swing towards the level of "lit"; None where it does not pass it
        twice in a period [s].
    settled : bool
        Whether the course has come to repeat itself.
    astray : float
        What the stores of a side gain or lose over the period, over the charge moved; of the worst member [-].
    periods : int
        Periods that were followed [-].
    """

    rate: float
    t: np.ndarray
    nominal: np.ndarray
    low: np.ndarray
    high: np.ndarray
    IF: np.ndarray
    limits: tuple
    at_end: dict
    held: dict
    sees: tuple
    width_in: float
    width_out: Span
    settled: bool
    astray: float
    periods: int


def square(scenario, rates):
    """Return what becomes of a stage on square waves of several rates.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    rates : sequence of float
        Rates, `MOST_RATES` at the most [Hz].

    Returns
    -------
    list of Square or None
        In the order of the rates; None where the stage is not followed, for which `why_unfollowed` has the reason.

    Raises
    ------
    ValueError
        If a rate is out of range, or there are too many.
    ScenarioError
        If an "auto" resistor cannot be sized.
    ConvergenceError
        If the solver fails, which is a defect.

    Notes
    -----
    Periods are followed until the charge at the end is that at the beginning, extrapolated where that would take
    many. What the period of a member that has not come to that shows is told by `settled` and `astray`.

    References
    ----------
    Derived here. That a pulse is as wide as it is at half its swing: common practice, no source.
    """
    _check(rates)
    if why_unfollowed(scenario):
        return None
    train = Train(scenario, len(rates))
    steady = _steady(train, train.of(rates), _REPEATED)
    y, IF = train.read(steady.trail.voltages), train.LED_current(steady.trail.voltages)
    return [_square(train, steady, y, IF, k, float(rate)) for k, rate in enumerate(rates)]


def _steady(train, rates, tolerance, most=_MOST_PERIODS):
    """Return the steady state of every member at its own rate."""
    half = 0.5 / rates
    dark = train.switched.at_rest(np.zeros(train.batch, dtype=bool))
    return steady_state(train.switched, (half, half), dark, tolerance, most)


def _square(train, steady, y, IF, copy, rate):
    """Return what is read off one copy."""
    t, half = steady.trail.t, 0.5 / rate
    members = range(copy * train.members, (copy + 1) * train.members)
    even = np.linspace(0.0, 2.0 * half, POINTS)
    courses = np.array([np.interp(even, t[:, k], y[:, k]) for k in members])
    first, middle = members[0], steady.trail.ends[0]
    held = _held(train, t, y, members)
    sees = (held["lit"] > 0.0) & (held["dark"] > 0.0)
    part = slice(members[0], members[-1] + 1)
    return Square(
        rate=rate, t=even, nominal=courses[0], low=courses.min(axis=0), high=courses.max(axis=0),
        IF=np.interp(even, t[:, first], IF[:, first]),
        limits=(float(train.low[first]), float(train.high[first])),
        at_end={"lit": spanned(y[middle, part]), "dark": spanned(y[-1, part])},
        held={level: spanned(times) for level, times in held.items()},
        sees=(bool(sees[0]), bool(sees.all())),
        width_in=half, width_out=spanned(_widths(train, t, y, members)),
        settled=bool((steady.astray[part] <= 10.0 * _REPEATED).all()), astray=float(steady.astray[part].max()),
        periods=steady.periods,
    )  # fmt: skip


def spanned(values):
    """Return nominal value and extremes; None where one is not finite.

    Parameters
    ----------
    values : ndarray, shape (members,)
        Values, the nominal one first [unit].

    Returns
    -------
    Span
        They [unit].
    """
    value, low, high = (float(v) for v in (values[0], values.min(), values.max()))
    return Span(*(v if np.isfinite(v) else None for v in (value, low, high)))


def _held(train, t, y, members):
    """Return for how long the receiver surely reads each level, of some members [s]."""
    above = np.array([time_above(t[:, k], y[:, k], train.high[k]) for k in members])
    below = np.array([time_above(t[:, k], -y[:, k], -train.low[k]) for k in members])
    return {"lit": above, "dark": below} if train.lit_high else {"lit": below, "dark": above}


def time_above(t, y, limit):
    """Return for how long a course of straight lines is above a limit, or at it.

    Parameters
    ----------
    t : ndarray, shape (points,)
        Times, not falling [s].
    y : ndarray, shape (points,)
        Values [unit].
    limit : float
        The limit [unit].

    Returns
    -------
    float
        Time [s].
    """
    over, h = y - limit, np.diff(t)
    a, b = over[:-1], over[1:]
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(np.abs(b - a) > 0.0, np.maximum(a, b) / np.abs(b - a), 1.0)
    share = np.where((a >= 0.0) & (b >= 0.0), 1.0, np.where((a < 0.0) & (b < 0.0), 0.0, share))
    return float((h * share).sum())


def _widths(train, t, y, members):
    """Return how long the output is past the middle of its swing, infinite where it does not pass it [s]."""
    found = []
    for k in members:
        lit, dark = train.ends["lit"][k], train.ends["dark"][k]
        sign = 1.0 if lit > dark else -1.0
        middle = 0.5 * (lit + dark)
        width = time_above(t[:, k], sign * y[:, k], sign * middle)
        moves = abs(lit - dark) > _MOVES * max(abs(lit), abs(dark))
        found.append(width if moves and 0.0 < width < t[-1, k] * (1.0 - 1e-9) else np.inf)
    return np.array(found)


# ---------------------------------------------------------------- the utmost rate


@dataclass(frozen=True, slots=True)
class Utmost:
    """The highest square-wave rates at which a receiver surely sees both levels.

    Attributes
    ----------
    value : float or None
        Of the nominal stage; None where no rate does [Hz].
    worst : float or None
        Of the slowest corner [Hz].
    sure : float or None
        The sure rate of the nominal stage: each half as long as the slower edge from rest [Hz].
    sure_worst : float or None
        The same at worst [Hz].
    """

    value: float | None
    worst: float | None
    sure: float | None
    sure_worst: float | None


def utmost_rate(scenario, timing=None):
    """Return the highest square-wave rate at which the receiver still surely sees both levels in every period.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    timing : Timing or None
        Its edges, where they are known.

    Returns
    -------
    Utmost or None
        Rates, to about 1 %; None where the stage is not followed.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.
    ConvergenceError
        If the solver fails, which is a defect.

    Notes
    -----
    Several rates of every member are tried at once: of the nominal stage from its own sure rate on, of the corners
    from that at worst. Between the last that does and the first that does not, the time for which a level is held is
    taken to go in a straight line with the period. Both levels must be reached at some time of the period, not within
    the half that asks for them: storage may shift them.
    """
    return None if why_unfollowed(scenario) else trains_of(scenario, (), timing)[1]


def trains_of(scenario, rates, timing=None):
    """Return square waves of several rates and the utmost rate together, for a quick look.

    Parameters
    ----------
    scenario : Scenario
        The stage; of those that are followed.
    rates : sequence of float
        Rates, `MOST_RATES` at the most [Hz].
    timing : Timing or None
        Its edges, where they are known.

    Returns
    -------
    squares : list of Square
        As of `square`, steps a little coarser.
    utmost : Utmost
        As of `utmost_rate`.

    Raises
    ------
    ValueError
        If a rate is out of range, or there are too many.
    ScenarioError
        If an "auto" resistor cannot be sized.
    ConvergenceError
        If the solver fails, which is a defect.
    """
    _check(rates)
    if timing is None:
        squares, utmost = _kept_trains(scenario, tuple(float(rate) for rate in rates))
    else:
        squares, utmost = _trains(scenario, rates, timing.max_rate)
    return list(squares), utmost


@lru_cache(maxsize=16)
def _kept_trains(scenario, rates):
    """Return square waves and the utmost rate of a stage, kept for who asks next."""
    return _trains(scenario, rates, timing_of(scenario).max_rate)


def _trains(scenario, rates, sure):
    """Return square waves of some rates and the utmost rate of a stage whose sure rate is known."""
    begin = sure.low or sure.value
    if begin is None:
        return (square(scenario, rates) if rates else []), Utmost(None, None, None, None)
    found, squares = {}, []
    ladder = _LADDER
    while len(ladder):
        train = Train(scenario, len(ladder) + len(rates), allowed=_SEARCHING)
        tried = np.full((len(ladder), train.members), begin) * ladder[:, None]
        tried[:, 0] = (sure.value or begin) * ladder
        tried = np.minimum(np.vstack([tried, *(np.full(train.members, rate) for rate in rates)]), FASTEST)
        steady = _steady(train, tried.ravel(), _NEARLY, _FEW_PERIODS)
        y, t = train.read(steady.trail.voltages), steady.trail.t
        if rates:
            IF = train.LED_current(steady.trail.voltages)
            squares = [_square(train, steady, y, IF, len(ladder) + k, float(rate)) for k, rate in enumerate(rates)]
        held = _held(train, t, y, range(train.batch))
        least = np.minimum(held["lit"], held["dark"]).reshape(tried.shape)[: len(ladder)]
        for k in range(train.members):
            found.setdefault(k, []).extend(zip(tried[: len(ladder), k].tolist(), least[:, k].tolist(), strict=True))
        first = ladder is _LADDER
        rates, ladder = (), _further(found, begin, sure) if first else ()
    if not all(one.settled for one in squares):
        squares = square(scenario, [one.rate for one in squares])
    value, worst = _crossing(found[0], sure.value), min(_crossing(one, begin) for one in found.values())
    value = value if sure.value is not None else None
    return squares, Utmost(value, worst if sure.low is not None else None, sure.value, sure.low)


def _further(found, begin, sure):
    """Return what else is tried, relative to the sure rate: between far ones that a wanted rate is between."""
    ends = {_bracket(found[0], sure.value or begin), min((_bracket(one, begin) for one in found.values()), default=())}
    starts = {sure.value or begin, begin}
    wide = [
        np.geomspace(low, high, _FINER + 2)[1:-1] / start
        for low, high in ends
        for start in starts
        if high > _COARSE * low
    ]
    return np.unique(np.concatenate(wide)) if wide else ()


def _bracket(tried, sure):
    """Return the highest rate up to which every one did, and the next that was tried."""
    low = sure
    for rate, held in sorted(tried):
        if held <= 0.0:
            return low, max(rate, low)
        low = max(rate, low)
    return low, low


def _crossing(tried, sure):
    """Return the rate at which no level is held any more, on a straight line over the period."""
    if sure is None:
        return None
    tried = sorted(tried)
    past = next((k for k, (_, held) in enumerate(tried) if held <= 0.0), len(tried))
    low, high = _bracket(tried, sure)
    if past < 2 or past == len(tried):
        return low
    (slower, more), (faster, less) = tried[past - 2 : past]
    slope = (more - less) / (1.0 / slower - 1.0 / faster)
    period = 1.0 / faster - less / slope if slope > 0.0 else 1.0 / faster
    return float(min(max(1.0 / period, low), high)) if period > 0.0 else high


def _check(rates):
    if len(rates) > MOST_RATES or not all(SLOWEST <= rate <= FASTEST for rate in rates):
        raise ValueError(f"up to {MOST_RATES} rates between {SLOWEST:g} and {FASTEST:g} Hz")
