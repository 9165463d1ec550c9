"""The off state: everything that leaks, what it does to the LED and the output, and the bleeder that cures it.

The bleeder is found from the solver, and the stage with it is judged anew, lit too.
"""

from bisect import bisect_left
from dataclasses import dataclass, replace

import numpy as np

from engine.errors import ScenarioError
from engine.findings import FAILING, Finding, judged
from engine.findings.drive import DARK_VF
from engine.inputs import AcLine, LogicOutput
from engine.inputs.drive import NONE, Drive
from engine.operating import Range, operating_point
from engine.preferred import ladder
from engine.quantity import AMPERE, OHM, VOLT, as_typed
from engine.resized import rating_for
from engine.sizing import LEAST, MOST, size

PLACES = ("led", "input")
"""Where a bleeder may lie: across the LED, or across R1 and all behind it."""


@dataclass(frozen=True, slots=True)
class Leak:
    """One way for current in the off state.

    Attributes
    ----------
    name : str
        What leaks, in words.
    field : str
        Key of the field that states it; "" where the coupler's card does.
    side : str
        "input" or "output".
    stated : str
        What is stated of it, as it is typed; "" where it is a matter of the card.
    short : float or None
        Current that it would let through into a short circuit; None where that is not asked [A].
    flows : Range
        Current that flows [A].
    """

    name: str
    field: str
    side: str
    stated: str
    short: float | None
    flows: Range


@dataclass(frozen=True, slots=True)
class Cure:
    """A bleeder that leaves the LED dark, and the stage with it.

    Attributes
    ----------
    place : str
        One of `PLACES`.
    R : float
        The largest preferred resistance that does [ohm].
    VF : float
        Voltage that it leaves across the LED at worst [V].
    power : float
        Power that it takes at worst, which is with the LED lit [W].
    rating : float or None
        Standard power rating for that; None where it has to be larger than any [W].
    scenario : Scenario
        The stage with it.
    IF : Range
        LED current of the lit stage [A].
    overdrive : float or None
        Least overdrive of the lit stage; None where there is none [-].
    worse : tuple of str
        Codes of findings that hold without it and fail with it.
    failing : tuple of str
        All codes that fail with it.
    """

    place: str
    R: float
    VF: float
    power: float
    rating: float | None
    scenario: object
    IF: Range
    overdrive: float | None
    worse: tuple
    failing: tuple


@dataclass(frozen=True, slots=True)
class BareRule:
    """What the supply over the leakage, a rule in print, makes of a bleeder.

    Attributes
    ----------
    place : str
        One of `PLACES`.
    R : float
        Supply over leakage [ohm].
    V : float
        Largest voltage that is left across it [V].
    VF : float
        Largest voltage that is left across the LED [V].
    """

    place: str
    R: float
    V: float
    VF: float


@dataclass(frozen=True, slots=True)
class OffState:
    """A stage that is meant to be off.

    Attributes
    ----------
    scenario : Scenario
        The stage.
    leaks : tuple of Leak
        What leaks, of the input side first.
    VF : Range
        Voltage across the LED [V].
    IF : Range
        Current through the LED [A].
    light : Finding or None
        The finding on residual light; None where no current flows through the LED.
    name : str
        What is read at the output, by its symbol.
    read : Range
        Its value.
    level : str
        What it reads as.
    output : Finding or None
        The finding on that level.
    present : tuple of (str, float) or None
        Place and resistance of the bypass that there is.
    cures : tuple of Cure
        Bleeders, one for each place that one helps at.
    rules : tuple of BareRule
        What the rule in print would do at each place; nothing where no leakage is stated.
    uncured : str
        Why there is no bleeder to tell of; "" where there is one.
    """

    scenario: object
    leaks: tuple
    VF: Range
    IF: Range
    light: Finding | None
    name: str
    read: Range
    level: str
    output: Finding | None
    present: tuple | None
    cures: tuple
    rules: tuple
    uncured: str

    @property
    def leaking(self):
        """Return whether anything leaks past the open switch."""
        return any(leak.side == "input" and leak.flows.high > AMPERE.floor for leak in self.leaks)

    @property
    def dark(self):
        """Return whether the LED is dark at every corner."""
        return self.VF.high <= DARK_VF


def off_state_of(scenario):
    """Return what a stage does while it is meant to be off.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    OffState
        Leakages, LED, output, and what would cure them.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.
    ConvergenceError
        If the solver fails, which is a defect.

    Notes
    -----
    A bleeder is the largest of the preferred series that leaves no more than `DARK_VF` across the LED at the worst
    corner. An "auto" R1 is sized anew beside it, where it can be.

    References
    ----------
    The limit of 0.8 V is common practice, no source. The bleeder from it: derived here.
    """
    point = operating_point(scenario)
    dark = point.states["open"]
    found = {finding.code: finding for finding in judged(point)}
    output, side = scenario.output, scenario.input
    leaks = (*_input_leaks(point), *_output_leaks(point))
    bypassed = isinstance(side, Drive) and side.R_bypass != NONE
    cures, rules, uncured = _cured(point, leaks, found)
    return OffState(
        scenario,
        leaks,
        dark.quantities["VF"],
        dark.quantities["IF"],
        found.get("residual-light"),
        output.observed,
        dark.quantities[output.observed],
        dark.verdict.level,
        found.get(output.level_codes[1]),
        (side.bypass_at, side.R_bypass) if bypassed else None,
        cures,
        rules,
        uncured,
    )


# ---------------------------------------------------------------- what leaks


def _range(members):
    """Return the range of a current over all members."""
    return Range(float(members[0]), float(members.min()), float(members.max()), "A", members)


def _input_leaks(point):
    """Yield what leaks past the open switch."""
    side, dark = point.scenario.input, point.states["open"]
    through = dark.currents[side.switch_part].members
    if hasattr(side, "R_leak"):
        ohmic = np.zeros_like(through)
        if side.R_leak != NONE:
            ohmic = dark.drops[side.switch_part].members / side.R_leak
            short = side.VS_ends[1] / side.R_leak
            yield Leak("Open contact and cable", "leak", "input", as_typed(side.R_leak, OHM), short, _range(ohmic))
        if side.I_residual:
            stated = as_typed(side.I_residual, AMPERE)
            yield Leak("Electronic contact", "ires", "input", stated, side.I_residual, _range(through - ohmic))
    elif hasattr(side, "I_off"):
        yield Leak("Sensor while off", "ioff", "input", as_typed(side.I_off, AMPERE), side.I_off, _range(through))
    elif isinstance(side, LogicOutput) and side.active == "low" and side.VOH != "rail":
        yield Leak("Port level below the supply", "voh", "input", as_typed(side.VOH, VOLT), None, _range(through))
    elif isinstance(side, AcLine) and side.I_leak:
        stated = as_typed(side.I_leak, AMPERE)
        yield Leak("Past the absent line", "ileak", "input", stated, side.I_leak, _range(through))
    if isinstance(side, Drive) and side.R_bypass != NONE and side.bypass_at == "switch":
        short = side.VS_ends[1] / side.R_bypass
        stated = as_typed(side.R_bypass, OHM)
        yield Leak("Bypass across the switch", "rb", "input", stated, short, _range(dark.currents["RB"].members))


def _output_leaks(point):
    """Yield what flows at the output with the LED dark."""
    dark, load = point.states["open"], point.scenario.output
    hottest = point.scenario.conditions.TA_ends[1]
    yield Leak(f"Detector, up to {hottest:g} °C", "", "output", "", None, _range(np.abs(dark.currents["U1"].members)))
    if "RX" in dark.currents:
        stated = as_typed(max(load.leakage), AMPERE)
        flows = _range(np.abs(dark.currents["RX"].members))
        yield Leak("Receiver's input", "iin", "output", stated, max(load.leakage), flows)


# ---------------------------------------------------------------- what cures it


def _cured(point, leaks, found):
    """Return bleeders, what the rule in print would do, and why there is none."""
    side, dark = point.scenario.input, point.states["open"]
    own = [leak for leak in leaks if leak.side == "input"]
    if not any(leak.flows.high > AMPERE.floor for leak in own):
        return (), (), "Nothing leaks on the input side, so no bleeder is needed."
    if not isinstance(side, Drive):
        return (), (), "This input side has no place for a bleeder: add one by hand, or take a smaller snubber."
    if side.R_bypass != NONE and side.bypass_at == "switch":
        return (), (), "RB lies across the switch, where it leaks itself: lay it across the LED instead."
    before = {code for code, finding in found.items() if finding.severity in FAILING}
    leaking = sum(leak.flows.high for leak in own)
    cures = tuple(cure for place in PLACES if (cure := _cure(point, place, leaking, before)) is not None)
    rules = tuple(_rules(point, sum(leak.short or 0.0 for leak in own)))
    if not cures and dark.quantities["VF"].high <= DARK_VF:
        return (), rules, "What leaks leaves the LED dark by itself, so no bleeder is needed."
    return cures, rules, "" if cures else "No bleeder leaves this LED dark."


def _with_bleeder(point, R, place):
    """Return the stage with a bleeder; with R1 as it is where an "auto" one cannot be sized beside it."""
    scenario = point.scenario
    side = replace(scenario.input, R_bypass=R, bypass_at=place)
    bled = replace(scenario, input=side)
    try:
        size(bled)
    except ScenarioError:
        return replace(scenario, input=replace(side, R1=point.sized["R1"].chosen))
    return bled


def _left(point, R, place):
    """Return the voltage that a bleeder leaves across the LED at worst [V]."""
    return operating_point(_with_bleeder(point, R, place)).states["open"].quantities["VF"].high


def _cure(point, place, leaking, before):
    """Return the largest bleeder at a place that leaves the LED dark; None where none is needed or none does."""
    values = ladder(LEAST, MOST, point.scenario.conditions.series)
    near = bisect_left(values, DARK_VF / leaking)
    last = _last(min(near, len(values) - 1), len(values), lambda k: _left(point, values[k], place) <= DARK_VF)
    if last < 0 or last == len(values) - 1:
        return None
    return _judged(_with_bleeder(point, values[last], place), place, before)


def _last(near, count, holds):
    """Return the last of so many places up to which something holds, looked for from a place on; -1 if nowhere."""
    step, held = 1, holds(near)
    low, high = (near, near + 1) if held else (near - 1, near)
    while held and high < count and holds(high):
        low, step = high, 2 * step
        high = min(low + step, count)
    while not held and low >= 0 and not holds(low):
        high, step = low, 2 * step
        low = max(high - step, -1)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if holds(middle) else (low, middle)
    return low


def _judged(scenario, place, before):
    """Return a bleeder with its power rating, and what becomes of the stage with it."""
    rating = rating_for(operating_point(scenario), "RB")
    if rating is not None:
        scenario = replace(scenario, input=replace(scenario.input, RB_rating=rating))
    solved = operating_point(scenario)
    failing = tuple(finding.code for finding in judged(solved) if finding.severity in FAILING)
    overdrive = solved.states["closed"].quantities.get("overdrive")
    return Cure(
        place,
        scenario.input.R_bypass,
        solved.states["open"].quantities["VF"].high,
        max(state.powers["RB"].high for state in solved.states.values()),
        rating,
        scenario,
        solved.states["closed"].quantities["IF"],
        overdrive and overdrive.low,
        tuple(code for code in failing if code not in before),
        failing,
    )


def _rules(point, leakage):
    """Yield what the supply over the leakage would leave at each place."""
    if not leakage > AMPERE.floor:
        return
    R = point.scenario.input.VS / leakage
    if LEAST <= R <= MOST:
        for place in PLACES:
            dark = operating_point(_with_bleeder(point, R, place)).states["open"]
            yield BareRule(place, R, dark.drops["RB"].high, dark.quantities["VF"].high)
