"""What a stage makes of its input supply, and how much room its coupler leaves over transfer ratio or threshold."""

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from engine.build import light_left
from engine.constants import ZERO_CELSIUS
from engine.errors import Problem, ScenarioError
from engine.operating import operating_point
from engine.parameter import Parameter, declared
from engine.quantity import AMPERE, RATIO
from engine.supply import FROM_TOLERANCE
from engine.sweep import Asked, Series, Sweep, as_built, solved, sweep_of, values_of

ENOUGH = 1.0
"""Overdrive from which the coupler gives what the output side needs [-]."""

_BEYOND = 1.25  # [-], how far a transfer curve goes beyond the highest supply
_FINER = 17  # values of a second sweep between the two that a reading changes between
_AROUND = 0.5, 1.4  # [-], how far a margin goes beyond the bin
_POINTS = 81
_THRESHOLD = Parameter("threshold", "IF on", AMPERE, 1e-6, 1.0)


@dataclass(frozen=True, slots=True)
class Transfer:
    """What is read at the output over the supply of the input side.

    Attributes
    ----------
    sweep : Sweep
        The stage over its supply, taken as exact; what is "auto" is held at what is fitted.
    observed : str
        What is read, a name for `Sweep.series`.
    limits : tuple of (float, float)
        Values that the reading turns on: low, dark or off up to the first, high, lit or on from the second [unit].
    supply : tuple of (float, float, float)
        The supply as it is, its lowest and its highest value [V].
    lit_from : float or None
        Supply from which the output is surely read as lit, with the input on; None where it never is [V].
    dark_to : float or None
        Supply up to which it is surely read as dark all the same; None where it never is [V].
    """

    sweep: Sweep
    observed: str
    limits: tuple
    supply: tuple
    lit_from: float | None
    dark_to: float | None


@dataclass(frozen=True, slots=True)
class RoomOver:
    """How much room there is over what differs from coupler to coupler.

    Attributes
    ----------
    symbol : str
        "CTR", or "IF on" of a coupler with a threshold.
    unit : str
        Name of its SI unit.
    x : tuple of float
        Its values at the card's test point and 25 degC [unit].
    overdrive : Series
        What the coupler can give over what the output side needs; of a coupler with a threshold the LED current over
        that threshold. None at every value where nothing is needed [-].
    level : tuple of float or None
        Margin of the lit level at each value, at the worst corner [-].
    bin : tuple of (float, float)
        Ends of the bin [unit].
    specimen : float
        The nominal specimen [unit].
    enough : tuple of (float or None, float or None)
        Value where overdrive is just enough: nominal, and at the worst corner; None where it is nowhere [unit].
    """

    symbol: str
    unit: str
    x: tuple
    overdrive: Series
    level: tuple
    bin: tuple
    specimen: float
    enough: tuple


# ---------------------------------------------------------------- transfer curve


def supply_of(scenario):
    """Return the key of the input side's supply, or nothing where it has none of its own.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    str or None
        "vs", of an alternating voltage "vac"; None for a driver that is known by its table.
    """
    keys = {parameter.key for parameter in declared(scenario.input).values()}
    return next((key for key in ("vs", "vac") if key in keys), None)


def transfer_span(scenario):
    """Return the supplies that a transfer curve covers unless it is asked for others.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    tuple of (float, float)
        First and last supply [V].
    """
    parameter = next(p for p in declared(scenario.input).values() if p.key == supply_of(scenario))
    _, _, highest = _supply(scenario)
    end = float(f"{_BEYOND * max(highest, 1.0):.2g}")
    return parameter.low, min(max(end, 2.0 * parameter.low), parameter.high)


def _supply(scenario):
    """Return the supply as it is, its lowest and its highest value, in the unit of its field."""
    side = scenario.input
    if supply_of(scenario) == "vac":
        return side.V_line, *side.line_ends
    return side.VS, *side.VS_ends


def transfer_of(scenario, low=None, high=None, points=_POINTS):
    """Return what is read at the output over the supply of the input side.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    low : float or None
        First supply; that of `transfer_span` if None [V].
    high : float or None
        Last supply, likewise [V].
    points : int
        How many supplies [-].

    Returns
    -------
    Transfer
        The curve, and the supplies that its readings change at.

    Raises
    ------
    ScenarioError
        If the side has no supply of its own, the span cannot be, or an "auto" resistor cannot be sized.
    ConvergenceError
        If the solver fails, which is a defect.

    Notes
    -----
    The corners are those of everything but the supply, which is what is drawn along the axis. The supplies from and up
    to which a reading is sure are found within a thousandth or so of the span.
    """
    key = supply_of(scenario)
    if key is None:
        reason = "a driver that is known by its table has no supply that could be varied"
        raise ScenarioError([Problem("over", scenario.input.kind, "another way of driving the LED", reason)])
    usual = transfer_span(scenario)
    low, high = (usual[k] if end is None else end for k, end in enumerate((low, high)))
    exact = _exact(as_built(scenario))
    sweep, load = sweep_of(exact, key, low, high, points), scenario.output
    verdict = operating_point(exact).states["closed"].verdict
    lit = [v and v.sure and v.level == load.level_when_lit for v in sweep.verdicts("closed")]
    dark = [v and v.sure and v.level == load.level_when_dark for v in sweep.verdicts("closed")]
    return Transfer(
        sweep,
        load.observed,
        (verdict.low_limit, verdict.high_limit),
        _supply(scenario),
        _first_of_last_run(exact, sweep, lit, load.level_when_lit),
        _last_of_first_run(exact, sweep, dark, load.level_when_dark),
    )


def _exact(scenario):
    """Return the stage with a supply that is what it says."""
    exact = replace(scenario.input, VS_tolerance=0.0, VS_min=FROM_TOLERANCE, VS_max=FROM_TOLERANCE)
    return replace(scenario, input=exact)


def _first_of_last_run(scenario, sweep, held_at, level):
    """Return the value from which a reading is sure up to the end, found anew between two values; None if never."""
    if not held_at[-1]:
        return None
    k = next((k for k in range(len(held_at) - 1, -1, -1) if not held_at[k]), None)
    if k is None:
        return sweep.x[0]
    finer = sweep_of(scenario, sweep.key, sweep.x[k], sweep.x[k + 1], _FINER)
    return _run(finer.x[::-1], finer.verdicts("closed")[::-1], level, sweep.x[k + 1])


def _last_of_first_run(scenario, sweep, held_at, level):
    """Return the value up to which a reading is sure from the beginning on; None if never."""
    start = next((k for k, point in enumerate(sweep.points) if point), None)
    if start is None or not held_at[start]:
        return None
    k = next((k for k in range(start, len(held_at)) if not held_at[k]), None)
    if k is None:
        return sweep.x[-1]
    finer = sweep_of(scenario, sweep.key, sweep.x[k - 1], sweep.x[k], _FINER)
    return _run(finer.x, finer.verdicts("closed"), level, sweep.x[k - 1])


def _run(x, verdicts, level, last):
    """Return the last value of a run that surely reads a level, the one before it where there is none."""
    for value, verdict in zip(x, verdicts, strict=True):
        if not (verdict and verdict.sure and verdict.level == level):
            break
        last = value
    return last


# ---------------------------------------------------------------- room over the coupler


def room_over(scenario, low=None, high=None, points=_POINTS):
    """Return how much room there is over what differs from coupler to coupler.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    low : float or None
        First transfer ratio, or threshold; a little below the bin if None [-, A].
    high : float or None
        Last one; a little above the bin if None [-, A].
    points : int
        How many [-].

    Returns
    -------
    RoomOver
        Overdrive and margin of the lit level, with the bin and the specimen.

    Raises
    ------
    ScenarioError
        If the span cannot be, or an "auto" resistor cannot be sized.
    ConvergenceError
        If the solver fails, which is a defect.

    Notes
    -----
    Each value is that of a coupler as it was bought: the corners are those of everything else, ageing among it.
    """
    usual = room_span(scenario)
    low, high = (usual[k] if end is None else end for k, end in enumerate((low, high)))
    over = _over_ratio if scenario.coupling.has_ratio else _over_threshold
    return over(as_built(scenario), Asked(room_parameter(scenario).key, low, high, points, "log"))


def room_span(scenario):
    """Return the values that a margin covers unless it is asked for others: the bin and a little more.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    tuple of (float, float)
        First and last transfer ratio, or threshold [-, A].
    """
    specimen, least, most = bin_of(scenario)
    parameter, ends = room_parameter(scenario), (_AROUND[0] * min(least, specimen), _AROUND[1] * max(most, specimen))
    return tuple(min(max(float(f"{end:.2g}"), parameter.low), parameter.high) for end in ends)


def bin_of(scenario):
    """Return the nominal specimen and the ends of the bin, of transfer ratio or threshold.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    specimen : float
        The nominal one [-, A].
    low : float
        Lower end of the bin [-, A].
    high : float
        Upper end [-, A].
    """
    coupling = scenario.coupling
    if coupling.has_ratio:
        return coupling.ratios()[0], *coupling.bin()
    three = coupling.model.spread()["threshold"]
    return three[0], min(three), max(three)


def room_parameter(scenario):
    """Return the declaration of what a margin goes over.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    Parameter
        The transfer ratio, or the threshold of a coupler that has one instead.
    """
    return declared(scenario.coupling)["CTR"] if scenario.coupling.has_ratio else _THRESHOLD


def _over_ratio(stage, wanted):
    """Return the margin over the transfer ratio: every one a stage of its own."""
    x = values_of(wanted, room_parameter(stage))
    found, reasons = solved(stage, 1, [{"CTR": ratio, "CTR_min": ratio, "CTR_max": ratio} for ratio in x])
    sweep = Sweep("ctr", "CTR", RATIO.name, x, found, reasons)
    overdrive = sweep.series("closed", "overdrive")
    level = sweep.margin(stage.output.level_codes[0])
    return RoomOver("CTR", RATIO.name, x, overdrive, level, *_bin(stage), _enough(x, overdrive))


def _over_threshold(stage, wanted):
    """Return the margin over the threshold, which is no concern of the LED: its current is solved once."""
    x = values_of(wanted, room_parameter(stage))
    point, model = operating_point(stage), stage.coupling.model
    IF, found = point.states["closed"].quantities["IF"].members, point.varied["threshold"]
    aged = np.where((found == found.max()) & (found > found[0]), 1.0 / light_left(stage), 1.0)
    needed = np.outer(x, model.threshold(np.ones_like(IF), point.varied["TA"] + ZERO_CELSIUS) * aged)
    times = IF / needed
    columns = (times[:, 0], times.min(axis=1), times.max(axis=1))
    overdrive = Series("1", *(tuple(float(value) for value in column) for column in columns))
    return RoomOver("IF on", AMPERE.name, x, overdrive, (None,) * len(x), *_bin(stage), _enough(x, overdrive))


def _bin(stage):
    specimen, low, high = bin_of(stage)
    return (low, high), specimen


def _enough(x, overdrive):
    """Return where overdrive passes `ENOUGH`, nominal and at the worst corner."""
    return tuple(_passes(x, column) for column in (overdrive.value, overdrive.low))


def _passes(x, column):
    """Return where a column passes `ENOUGH`, by the logarithm of both; None where it does not."""
    for (x0, y0), (x1, y1) in pairwise(zip(x, column, strict=True)):
        if y0 and y1 and (y0 < ENOUGH) != (y1 < ENOUGH):
            share = np.log(ENOUGH / y0) / np.log(y1 / y0)
            return float(x0 * (x1 / x0) ** share)
    return None
