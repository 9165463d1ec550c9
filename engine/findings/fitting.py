"""What may be fitted to mend a finding: resistors, their ratings, more or less drive."""

import math
from dataclasses import replace

import numpy as np

from engine.build import specimens
from engine.constants import ZERO_CELSIUS
from engine.devices import photocurrent
from engine.findings.finding import Mend
from engine.inputs import LogicOutput
from engine.inputs.drive import NONE
from engine.outputs import Indicator, PullDown
from engine.preferred import preferred
from engine.quantity import OHM, WATT, as_typed
from engine.sizing import LEAST, MOST, series_resistance

POWER_RATINGS = (0.0625, 0.1, 0.125, 0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 10.0, 25.0, 50.0, 100.0)  # [W], common practice
MARGIN = 1.15  # [-], by how much a remedy clears its limit
CLEAR = (MARGIN, 1.0)  # [-], the same, and what is tried where that would break another rule
DEEP = (2.3, 6.0)  # [-], how many times over a load is made to saturate so that its level is sure
FIELDS = {
    "R1": ("input", "R1", "R1_rating"),
    "RB": ("input", "R_bypass", "RB_rating"),
    "B2": ("input", None, "limiter_rating"),
    "RL": ("output", "RL", "RL_rating"),
}
"""Part to its side, the field of its value and the field of its power rating."""

_STEPS = 200  # currents among which a drive is looked for


def ratio(a, b):
    """Return a over b, infinite where b is nothing.

    Parameters
    ----------
    a : float
        Numerator [unit].
    b : float
        Denominator, not negative [unit].

    Returns
    -------
    float
        Quotient [-].
    """
    return a / b if b > 0.0 else math.inf


def fitted(point, name, R, rounding):
    """Return the remedy of another resistor, rounded to the stage's series; none if it is not a resistor.

    Parameters
    ----------
    point : OperatingPoint
        The solved stage.
    name : str
        The part, a key of `FIELDS`.
    R : float
        Resistance before rounding [ohm].
    rounding : str
        "nearest", "up" or "down".

    Returns
    -------
    Mend or None
        The remedy.
    """
    if not LEAST <= R <= MOST:
        return None
    R = preferred(R, point.scenario.conditions.series, rounding)
    if not LEAST <= R <= MOST:
        return None
    part, field, _ = FIELDS[name]
    side = replace(getattr(point.scenario, part), **{field: R})
    return Mend(f"make {name} {as_typed(R, OHM)}", replace(point.scenario, **{part: side}))


def largest_IF(point):
    """Return the LED current that card, port and package allow at this ambient temperature.

    Parameters
    ----------
    point : OperatingPoint
        The solved stage.

    Returns
    -------
    float
        Current [A].
    """
    scenario, side = point.scenario, point.scenario.input
    allowed = scenario.coupling.data.IF_rating.at(scenario.conditions.TA_ends[1])
    if not isinstance(side, LogicOutput):
        return allowed
    package = math.inf if side.I_package == NONE else side.I_package / side.pins
    return min(allowed, side.I_port, package)


def R1_for(point, IF, VS, R1_share, specimen):
    """Return the nominal R1 that gives a current at one corner of supply, resistor and forward voltage.

    Parameters
    ----------
    point : OperatingPoint
        The solved stage.
    IF : float
        LED current [A].
    VS : float
        Supply at the corner [V].
    R1_share : float
        R1 at the corner over its nominal value [-].
    specimen : tuple of (float, float)
        Forward voltage of the LED above the typical one, and its ambient temperature [V, degC].

    Returns
    -------
    float
        Resistance [ohm].
    """
    scenario = point.scenario
    shift, TA = specimen
    VF = float(scenario.coupling.model.led.VF(IF, TA + ZERO_CELSIUS)) + shift
    R, _ = scenario.input.R1_for(IF, VF, VS, TA)
    return R / R1_share


def less_drive(point, allowed):
    """Return the remedy of an R1 that holds the largest LED current to a limit.

    Parameters
    ----------
    point : OperatingPoint
        The solved stage.
    allowed : float
        The limit [A].

    Returns
    -------
    Mend or None
        The remedy.
    """
    if not allowed > 0.0:
        return None
    side, tolerance = point.scenario.input, point.scenario.conditions.tolerance
    low, _ = point.scenario.coupling.model.VF_shifts()
    R = R1_for(point, allowed, side.VS_ends[1], 1.0 - tolerance, (low, point.scenario.conditions.TA_ends[1]))
    return fitted(point, "R1", R, "up")


def more_drive(point, wanted):
    """Return the remedy of an R1 with which even the weakest coupler can give a collector current.

    Parameters
    ----------
    point : OperatingPoint
        The solved stage.
    wanted : float
        The collector current [A].

    Returns
    -------
    Mend or None
        The remedy, within what card and port allow.
    """
    scenario, closed = point.scenario, point.states["closed"].quantities
    model, weakest = scenario.coupling.model, specimens(scenario)
    allowed = largest_IF(point) / MARGIN
    if not (scenario.coupling.has_ratio and 0.0 < closed["IF"].low < allowed):
        return None
    IF = np.geomspace(closed["IF"].low, allowed, _STEPS)
    ends = (np.full(_STEPS, TA + ZERO_CELSIUS) for TA in scenario.conditions.TA_ends)
    laws = (model.transfer(np.full(_STEPS, weakest["CTR"][1]), T) for T in ends)
    enough = IF[np.min([photocurrent(IF, law)[0] for law in laws], axis=0) * model.gain >= wanted]
    if not len(enough):
        return None
    return drive_of(point, enough[0])


def drive_of(point, IF):
    """Return the remedy of an R1 that gives the LED a current at its worst, if that leaves it within its limits.

    Parameters
    ----------
    point : OperatingPoint
        The solved stage.
    IF : float
        LED current [A].

    Returns
    -------
    Mend or None
        The remedy.
    """
    scenario, allowed = point.scenario, largest_IF(point) / MARGIN
    if not 0.0 < IF <= allowed:
        return None
    side, tolerance = scenario.input, scenario.conditions.tolerance
    low, high = scenario.coupling.model.VF_shifts()
    cold, hot = scenario.conditions.TA_ends
    mend = fitted(point, "R1", R1_for(point, IF, side.VS_ends[0], 1.0 + tolerance, (high, cold)), "down")
    least = R1_for(point, allowed, side.VS_ends[1], 1.0 - tolerance, (low, hot))
    return mend if mend and mend.scenario.input.R1 >= least else None


def RL_for(point, IL, VCC, VCE):
    """Return the load resistance that takes a current with a voltage across the detector.

    Parameters
    ----------
    point : OperatingPoint
        The solved stage.
    IL : float
        Load current [A].
    VCC : float
        Supply of the output side [V].
    VCE : float
        Voltage across the detector [V].

    Returns
    -------
    float
        Resistance [ohm].
    """
    load, T = point.scenario.output, point.scenario.conditions.TA + ZERO_CELSIUS
    return series_resistance(VCC, VCE + load.drop_beside_load(IL, T), IL)


def less_load(point, IC, VCE=0.0):
    """Return the nominal RL with which the load asks for a collector current at the most.

    Parameters
    ----------
    point : OperatingPoint
        The solved stage.
    IC : float
        Collector current [A].
    VCE : float
        Voltage across the detector [V].

    Returns
    -------
    float
        Resistance; infinite where no load is light enough [ohm].
    """
    load, leakage = point.scenario.output, point.scenario.output.lit_leakage()
    if not IC > leakage:
        return math.inf
    return RL_for(point, IC - leakage, load.VCC_ends[1], VCE) / (1.0 - point.scenario.conditions.tolerance)


def most_RL(point):
    """Return the largest RL that leaves the dark level alone, or an indicator lit.

    Parameters
    ----------
    point : OperatingPoint
        The solved stage.

    Returns
    -------
    float
        Resistance [ohm].
    """
    load, conditions = point.scenario.output, point.scenario.conditions
    dark, lowest = point.states["open"], load.VCC_ends[0]
    if isinstance(load, Indicator):
        VCE = point.scenario.coupling.model.V_lit
        return RL_for(point, load.I_lit * MARGIN, lowest, VCE) / (1.0 + conditions.tolerance)
    dark_currents = [dark.quantities[name].high for name in ("IC", "IC_available") if name in dark.quantities]
    current = max(dark_currents) + load.dark_leakage
    room = dark.verdict.low_limit if isinstance(load, PullDown) else lowest - dark.verdict.high_limit
    return ratio(max(room, 0.0), current * (1.0 + conditions.tolerance))


def bigger_part(point, name):
    """Yield a resistor that may take its power.

    Parameters
    ----------
    point : OperatingPoint
        The solved stage.
    name : str
        The part, a key of `FIELDS`.

    Yields
    ------
    Mend
        The remedy, where there is a rating that holds.
    """
    power = max(state.powers[name].high for state in point.states.values()) * MARGIN
    rating = next((rating for rating in POWER_RATINGS if rating >= power), None)
    if rating is not None:
        part, _, field = FIELDS[name]
        side = replace(getattr(point.scenario, part), **{field: rating})
        yield Mend(f"use a {as_typed(rating, WATT)} part for {name}", replace(point.scenario, **{part: side}))
