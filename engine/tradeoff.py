"""What speed costs: a stage over a ladder of preferred values of RL, RBE or R1, with what each value buys and breaks.

Every value is a stage of its own, followed over both edges and solved with all its corners; all are one batch.
"""

from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import groupby

import numpy as np

from engine.errors import ScenarioError
from engine.findings import FAILING, RULES, judged
from engine.operating import operating_point
from engine.pace import followed, rate_of
from engine.parameter import declared
from engine.preferred import ladder
from engine.quantity import AMPERE, HERTZ, OHM, RATIO, WATT, reading
from engine.several import operating_points
from engine.sizing import size
from engine.timing import why_untimed

VARIED = ("RL", "RBE", "R1")
"""What may be varied: the load resistor, the resistor from base to emitter, the series resistor of the LED."""

_PLACES = {"RL": "output", "RBE": "coupling", "R1": "input"}  # record of a scenario that holds each
_WAYS = {"RL": (0.1, 10.0), "RBE": (0.1, 10.0), "R1": (0.25, 4.0)}  # [-], how far the ladder goes, of what is there
_FROM, _BASE_WAYS = 0.6, (0.8, 60.0)  # [V], [-], base voltage and ladder about what that and the photocurrent make
_RUNGS = 11  # values of a ladder; each is followed over both edges at every corner that is extreme for speed


@dataclass(frozen=True, slots=True)
class Speed:
    """How fast each stage is.

    Attributes
    ----------
    rate : ndarray, shape (values,)
        Highest square-wave rate of the nominal stage; 0 where a level is never surely read [Hz].
    worst : ndarray, shape (values,)
        The same at worst [Hz].
    best : ndarray, shape (values,)
        The same at best [Hz].
    tPHL : ndarray, shape (values,)
        To the middle of the falling edge, nominal; infinite where it is never reached [s].
    tPLH : ndarray, shape (values,)
        To the middle of the rising edge, nominal [s].
    edge : ndarray, shape (values,)
        From 10 to 90 % of the slower edge, at worst [s].
    on : ndarray, shape (values,)
        From the light until the new level is surely read, nominal [s].
    off : ndarray, shape (values,)
        From the dark until it is, nominal [s].
    storage : ndarray, shape (values,)
        What of that passes before the output moves, nominal [s].
    """

    rate: np.ndarray
    worst: np.ndarray
    best: np.ndarray
    tPHL: np.ndarray
    tPLH: np.ndarray
    edge: np.ndarray
    on: np.ndarray
    off: np.ndarray
    storage: np.ndarray


@dataclass(frozen=True, slots=True)
class Cost:
    """What each stage takes, nominal but for the dark current; not a number where a stage has no such thing.

    Attributes
    ----------
    IF : ndarray, shape (values,)
        LED current while lit [A].
    P_R1 : ndarray, shape (values,)
        Power of R1 while lit [W].
    IL : ndarray, shape (values,)
        Current that the output side takes from its supply while lit [A].
    P_VCC : ndarray, shape (values,)
        Power of it [W].
    P_RL : ndarray, shape (values,)
        Power of RL while lit [W].
    I_dark : ndarray, shape (values,)
        Collector current while dark, at worst [A].
    """

    IF: np.ndarray
    P_R1: np.ndarray
    IL: np.ndarray
    P_VCC: np.ndarray
    P_RL: np.ndarray
    I_dark: np.ndarray


@dataclass(frozen=True, slots=True)
class Room:
    """What is left at worst; not a number where a stage has no such thing.

    Attributes
    ----------
    overdrive : ndarray, shape (values,)
        Collector current that is available over that needed [-].
    CTR : ndarray, shape (values,)
        Transfer ratio that is available [-].
    level : ndarray, shape (values,)
        Margin of the worse of both levels, relative to its limit; negative where it is not surely read [-].
    """

    overdrive: np.ndarray
    CTR: np.ndarray
    level: np.ndarray


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of the ladder where a finding does not hold.

    Attributes
    ----------
    code : str
        Code of the finding.
    title : str
        Its name for people.
    low : float
        Where it begins, between a value that holds and one that does not by their margins [ohm].
    high : float
        Where it ends [ohm].
    """

    code: str
    title: str
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Tradeoff:
    """A stage over a ladder of values of one resistor.

    Attributes
    ----------
    scenario : Scenario
        The stage as it is.
    part : str
        One of `VARIED`.
    R : ndarray, shape (values,)
        The values, rising; preferred ones, and what is there [ohm].
    present : float or None
        What is there; None where no such resistor is fitted [ohm].
    bare : float or None
        Highest rate at worst without the resistor, where none is fitted; 0 where there is none [Hz].
    speed : Speed
        How fast each is.
    cost : Cost
        What each takes.
    room : Room
        What is left with each.
    failing : tuple of tuple of str
        Codes of the findings that do not hold with each value.
    now : tuple of str
        Those that do not hold with the stage as it is.
    stretches : tuple of Stretch
        The same as stretches of the ladder.
    low_end : str
        What limits towards small values, in a sentence.
    high_end : str
        What limits towards large ones.
    """

    scenario: object
    part: str
    R: np.ndarray
    present: float | None
    bare: float | None
    speed: Speed
    cost: Cost
    room: Room
    failing: tuple
    now: tuple
    stretches: tuple
    low_end: str
    high_end: str


def varied_in(scenario):
    """Return what may be varied in a stage.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    tuple of str
        Some of `VARIED`; RBE where the base is brought out, R1 where it sets the LED current.
    """
    base = getattr(scenario.coupling.data, "base_lead", False) and getattr(scenario.output, "swap", "no") == "no"
    return ("RL", *(("RBE",) if base else ()), *(() if scenario.input.kind == "limited" else ("R1",)))


def refitted(scenario, part, R):
    """Return a stage with another resistor.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    part : str
        One of `VARIED`.
    R : float
        Its resistance [ohm].

    Returns
    -------
    Scenario
        The stage with it.

    Raises
    ------
    ScenarioError
        If it cannot have that resistance.
    """
    place = _PLACES[part]
    return replace(scenario, **{place: replace(getattr(scenario, place), **{part: float(R)})})


@lru_cache(maxsize=16)
def tradeoff_of(scenario, part="RL"):
    """Return what values of one resistor buy and cost.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    part : str
        One of `varied_in`.

    Returns
    -------
    Tradeoff or None
        About a dozen values around what is there; None where edges are not followed, for which
        `engine.timing.why_untimed` has the reason.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.
    ConvergenceError
        If the solver fails, which is a defect.
    ValueError
        If that resistor cannot be varied in this stage.

    Notes
    -----
    A ladder of RL and RBE goes a decade either way, one of R1 to a quarter and four times; where no RBE is fitted, one
    begins where it would take all the photocurrent of the nominal stage. An end of a stretch is
    where the margin of its finding passes nothing, on a straight line over the logarithm of the resistance.

    References
    ----------
    Derived here.
    """
    if part not in varied_in(scenario):
        raise ValueError(f"{part} cannot be varied in this stage")
    present = _present(scenario, part)
    if why_untimed(scenario):
        return None
    stages = list(_stages(scenario, part, present))
    made = [stage for _, stage in stages] + ([scenario] if present is None else [])
    points, timings = operating_points(made), followed(made)
    found = [judged(point) for point in points]
    R, failing = [value for value, _ in stages], [_failing(some) for some in found]
    now = failing[R.index(present) if present is not None else -1]
    bare = (rate_of(timings[-1]) or 0.0) if present is None else None
    # One whose edges are not found leaves a gap.
    kept = [k for k in range(len(R)) if timings[k] is not None]
    R, points, timings, found, failing = ([some[k] for k in kept] for some in (R, points, timings, found, failing))
    speed, cost, room = _speed(timings), _cost(points), _room(points, found)
    result = Tradeoff(
        scenario, part, np.array(R), present, bare, speed, cost, room,
        tuple(failing), now, tuple(_stretches(R, found)), "", "",
    )  # fmt: skip
    if not kept:
        return result
    return replace(result, low_end=_end(result, 0), high_end=_end(result, len(R) - 1))


# ---------------------------------------------------------------- the ladder


def _present(scenario, part):
    """Return the resistance that is there; None where no such resistor is fitted."""
    if part == "RBE":
        return None if scenario.coupling.RBE == "none" else scenario.coupling.RBE
    return size(scenario)[part].chosen


def _stages(scenario, part, present):
    """Yield resistances and stages with them: preferred values around what is there, and that itself."""
    low, high = _usual_RBE(scenario) if present is None else (present * way for way in _WAYS[part])
    accepted = declared(getattr(scenario, _PLACES[part]))[part]
    series = _COARSE.get(scenario.conditions.series, scenario.conditions.series)
    values = ladder(max(low, accepted.low), min(high, accepted.high), series)
    chosen = {values[k] for k in np.unique(np.linspace(0, len(values) - 1, _RUNGS).round().astype(int))}
    if present is not None:
        # What is there takes the place of the value next to it.
        chosen = {value for value in chosen if abs(np.log(value / present)) > _NEAR} | {present}
    for value in sorted(chosen):
        try:
            yield value, refitted(scenario, part, value)
        except ScenarioError:
            continue


def _usual_RBE(scenario):
    """Return the ends of a ladder about the resistor that takes all the photocurrent of the nominal stage [ohm]."""
    available = operating_point(scenario).states["closed"].quantities.get("IC_available")
    light = max(available.value if available else 0.0, _FAINT) / scenario.coupling.model.gain
    accepted = declared(scenario.coupling)["RBE"]
    most = accepted.high / _BASE_WAYS[1]
    R = min(max(_FROM / light, accepted.low / _BASE_WAYS[0]), most)
    return tuple(R * way for way in _BASE_WAYS)


_FAINT = 1e-9  # [A], collector current below which there is nothing to take
_COARSE = {"E3": "E12", "E6": "E12"}  # series that leave a ladder of few values to one that does not
_NEAR = 0.08  # [-], logarithm of the ratio below which two values are too close to be told apart


# ---------------------------------------------------------------- what each value does


def _speed(timings):
    """Return how fast each is."""

    def times(pick):
        return np.array([np.inf if (time := pick(timing)) is None else time for timing in timings])

    rates = [timing.max_rate for timing in timings]
    return Speed(
        *(np.array([getattr(rate, name) or 0.0 for rate in rates]) for name in ("value", "low", "high")),
        times(lambda t: t.tPHL.value),
        times(lambda t: t.tPLH.value),
        np.maximum(*(times(lambda t, edge=edge: t.edges[edge].transition.high) for edge in ("on", "off"))),
        times(lambda t: t.edges["on"].valid.value),
        times(lambda t: t.edges["off"].valid.value),
        times(lambda t: t.edges["off"].delay.value),
    )


def _cost(points):
    """Return what each takes."""
    lit = [point.states["closed"] for point in points]

    def nominal(kind, name, sign=1.0):
        found = [getattr(state, kind).get(name) for state in lit]
        return np.array([np.nan if one is None else sign * one.value for one in found])

    dark = [point.states["open"].quantities.get("IC") for point in points]
    return Cost(
        nominal("quantities", "IF"), nominal("powers", "R1"), nominal("currents", "VCC"),
        nominal("powers", "VCC", -1.0), nominal("powers", "RL"),
        np.array([np.nan if one is None else max(abs(one.low), abs(one.high)) for one in dark]),
    )  # fmt: skip


def _failing(found):
    """Return the codes of findings that do not hold."""
    return tuple(finding.code for finding in found if finding.severity in FAILING)


def _room(points, found):
    """Return what is left with each."""
    lit = [point.states["closed"].quantities for point in points]
    ratios = (
        np.array([some[name].low if name in some else np.nan for some in lit])
        for name in ("overdrive", "CTR_available")
    )
    levels = [[f.margin for f in some if f.code in ("level-lit", "level-dark")] for some in found]
    return Room(*ratios, np.array([min(some, default=np.nan) for some in levels]))


def _stretches(R, found):
    """Yield where each finding does not hold."""
    margins = [{f.code: (f.margin, f.severity in FAILING) for f in some} for some in found]
    for code in dict.fromkeys(code for some in margins for code in some):
        fails = [some.get(code, (0.0, False))[1] for some in margins]
        margin = [some.get(code, (0.0, False))[0] for some in margins]
        between = [_passes(R[k : k + 2], margin[k : k + 2]) for k in range(len(R) - 1)]
        for failed, run in groupby(range(len(R)), key=fails.__getitem__):
            if failed:
                places = list(run)
                first, last = places[0], places[-1]
                low = R[0] if first == 0 else between[first - 1]
                high = R[-1] if last == len(R) - 1 else between[last]
                yield Stretch(code, RULES[code].title, float(low), float(high))


def _passes(R, margins):
    """Return where a margin passes nothing between two values; their middle where it does not tell."""
    a, b = margins
    share = a / (a - b) if a * b < 0.0 else 0.5
    return float(np.exp(np.log(R[0]) + share * np.log(R[1] / R[0])))


# ---------------------------------------------------------------- in words


def _end(found, k):
    """Return what limits towards one end of the ladder, in a sentence."""
    step = 1 if k == 0 else -1
    new = [set(codes) - set(found.now) for codes in found.failing][::step]
    way, R = ("down" if k == 0 else "up"), found.R[::step]
    if new[0]:
        last = next((j for j, codes in enumerate(new) if not codes), len(new)) - 1
        told = "; ".join(RULES[code].title for code in RULES if code in new[last])
        return f"From {_told(R[last], OHM)} {way} this fails, which holds now: {told}."
    speed = found.speed.worst[k]
    rate = f"{_told(speed, HERTZ)} at worst" if speed > 0.0 else "no rate at which both levels are surely read"
    return f"{way.capitalize()} to {_told(R[0], OHM)} all that holds now holds: {rate}, {_price(found, k)}."


def _price(found, k):
    """Return what a value costs, in words."""
    if found.part == "RL":
        return f"with {_told(found.cost.P_VCC[k], WATT)} from VCC while lit"
    if found.part == "R1":
        return f"with an LED current of {_told(found.cost.IF[k], AMPERE)}"
    dark = f"up to {_told(found.cost.I_dark[k], AMPERE)} while dark"
    CTR = found.room.CTR[k]
    return f"with {dark}" + (f" and a CTR of {_told(CTR, RATIO)} at worst" if np.isfinite(CTR) else "")


def _told(value, unit):
    """Return a value as it is read in a sentence."""
    return " ".join(reading(float(value), unit))
