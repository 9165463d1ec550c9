"""Findings: what holds, what does not, by how much, and what would mend it.

One function per finding, listed in `RULES`; each takes the solved stage and returns a `Finding` or nothing.
"""

import math
from dataclasses import dataclass, replace

from engine.coupler import load_card
from engine.inputs import LogicOutput
from engine.outputs import Indicator, PullDown
from engine.preferred import preferred
from engine.quantity import AMPERE, OHM, RATIO, VOLT, WATT, as_typed, reading
from engine.scenario import Scenario
from engine.sizing import LEAST, MOST

SEVERITIES = ("stop", "caution", "note", "pass")
HAZARDOUS_DC = 120.0  # [V], direct voltage above which a side is treated as dangerous; IEC 61140, from memory
_POWER_RATINGS = (0.0625, 0.1, 0.125, 0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 10.0, 25.0, 50.0, 100.0)  # [W], common practice
_MARGIN = 1.15  # [-], by how much a remedy clears its limit


@dataclass(frozen=True, slots=True)
class Mend:
    """A concrete remedy.

    Attributes
    ----------
    text : str
        What to do, with its value.
    scenario : Scenario
        The scenario with the remedy applied.
    """

    text: str
    scenario: Scenario


@dataclass(frozen=True, slots=True)
class Finding:
    """One check of a stage.

    Attributes
    ----------
    code : str
        Stable name.
    severity : str
        One of `SEVERITIES`.
    value : float
        The worst value [unit].
    limit : float
        What it is held against [unit].
    margin : float
        Distance to the limit relative to it, positive where it holds; 0 where the limit is 0 [-].
    unit : str
        Name of the SI unit; "1" for ratios.
    condition : str
        Where it is worst.
    reason : str
        One sentence.
    mend : Mend or None
        What would mend it.
    """

    code: str
    severity: str
    value: float
    limit: float
    margin: float
    unit: str
    condition: str
    reason: str
    mend: Mend | None = None


def _print(value, unit):
    return " ".join(reading(value, unit))


@dataclass(frozen=True, slots=True)
class _Limit:
    """A limit that a value must not exceed, in words."""

    code: str
    subject: str
    unit: object
    condition: str


def _at_most(limit, found, allowed, mend=None):
    """Return the finding on a value that must not exceed a limit: stop if the nominal stage does, else caution."""
    held = found.high <= allowed
    severity = "pass" if held else "stop" if found.value > allowed else "caution"
    verb = "stays within" if held else "exceeds"
    reason = (
        f"{limit.subject}, {_print(found.high, limit.unit)} at worst, {verb} "
        f"{as_typed(float(f'{allowed:.3g}'), limit.unit)}."
    )
    margin = (allowed - found.high) / allowed if allowed else 0.0
    return Finding(
        limit.code,
        severity,
        found.high,
        allowed,
        margin,
        limit.unit.name,
        limit.condition,
        reason,
        None if held else mend,
    )


def _with_R1(point, factor):
    """Return the remedy of a larger or smaller series resistor."""
    return _resized(point, "R1", factor)


def _with_RL(point, factor):
    """Return the remedy of a larger or smaller load resistor."""
    return _resized(point, "RL", factor)


def _ratio(a, b):
    """Return a over b, infinite where b is nothing."""
    return a / b if b > 0.0 else math.inf


def _load_window(point):
    """Return the smallest load that saturates and the largest that still serves, as factors of the one fitted.

    A receiver's load must not be moved by what flows in the dark; an indicator's must leave it lit.
    """
    overdrive = point.states["closed"].quantities.get("overdrive")
    least = _ratio(1.0, overdrive.low) if overdrive else 0.0
    load, conditions = point.scenario.output, point.scenario.conditions
    if isinstance(load, Indicator):
        return least, point.states["closed"].quantities["IC_needed"].low / (load.I_lit * _MARGIN)
    dark, verdict = point.states["open"], point.states["open"].verdict
    current = max(dark.quantities["IC"].high, dark.quantities["IC_available"].high) + load.leakage
    supply = load.VCC * (1.0 - load.VCC_tolerance)
    room = verdict.low_limit if isinstance(load, PullDown) else supply - verdict.high_limit
    return least, _ratio(max(room, 0.0), current * (1.0 + conditions.tolerance) * point.sized["RL"].chosen)


def _saturating(point, overdrive, times):
    """Return the remedy that makes a load saturate so many times over: a larger load, or else more drive."""
    _, most = _load_window(point)
    wanted = _ratio(times, overdrive.low)
    if wanted <= most and (mend := _with_RL(point, wanted)):
        return mend
    closed, side = point.states["closed"].quantities, point.scenario.input
    factor = 0.8 / wanted  # the transfer ratio may fall as the drive rises
    allowed = load_card(point.scenario.coupling.card).IF_rating.at(point.scenario.conditions.TA)
    if isinstance(side, LogicOutput):
        allowed = min(allowed, side.I_port)
    return _with_R1(point, factor) if closed["IF"].high <= allowed * factor else None


def _resized(point, name, factor):
    scenario, fitted = point.scenario, point.sized[name].chosen
    wanted = fitted * factor
    if not LEAST <= wanted <= MOST:
        return None
    R = preferred(wanted, scenario.conditions.series, "up" if factor > 1 else "down")
    if not LEAST <= R <= MOST:
        return None
    part = "input" if name == "R1" else "output"
    mended = replace(scenario, **{part: replace(getattr(scenario, part), **{name: R})})
    return Mend(f"make {name} {as_typed(R, OHM)}", mended)


def _led_current(point):
    """Hold the LED current against the card's rating at this ambient temperature."""
    IF = point.states["closed"].quantities["IF"]
    rating = load_card(point.scenario.coupling.card).IF_rating.at(point.scenario.conditions.TA)
    mend = _with_R1(point, IF.high / rating * _MARGIN) if rating else None
    return _at_most(_Limit("led-current", "LED current", AMPERE, "supply high, R1 low, VF low"), IF, rating, mend)


def _port_current(point):
    """Hold the LED current against what the port may carry."""
    side = point.scenario.input
    if not isinstance(side, LogicOutput):
        return None
    IF = point.states["closed"].quantities["IF"]
    mend = _with_R1(point, IF.high / side.I_port * _MARGIN)
    return _at_most(
        _Limit("port-current", "Port current", AMPERE, "supply high, R1 low, VF low"), IF, side.I_port, mend
    )


def _saturation(point):
    """Hold the collector current that the coupler can give against the one that the load needs."""
    overdrive = point.states["closed"].quantities.get("overdrive")
    if overdrive is None:
        return None
    held = overdrive.low >= 1.0
    severity = "pass" if held else "stop" if overdrive.value < 1.0 else "caution"
    times = f"{overdrive.low:.3g} times"
    reason = (
        f"The coupler can give {times} what the load needs, even at its worst."
        if held
        else f"At worst the coupler gives only {times} what the load needs, so the output does not saturate."
    )
    mend = None if held else _saturating(point, overdrive, _MARGIN)
    return Finding(
        "saturation",
        severity,
        overdrive.low,
        1.0,
        overdrive.low - 1.0,
        "1",
        "CTR at its lowest, R1 high, RL low",
        reason,
        mend,
    )


def _level_lit(point):
    """Ask whether the output surely reads as intended with the LED lit."""
    return _level(point, "closed", "level-lit", point.scenario.output.level_when_lit)


def _level_dark(point):
    """Ask whether the output surely reads as intended with the LED dark."""
    lit = point.scenario.output.level_when_lit
    return _level(point, "open", "level-dark", {"low": "high", "high": "low", "lit": "dark"}[lit])


def _level(point, state, code, wanted):
    """Return the finding on one state's reading."""
    solved, output = point.states[state], point.scenario.output
    verdict = solved.verdict
    seen = solved.quantities[output.observed]
    below = wanted in ("low", "dark")
    value, limit = (seen.high, verdict.low_limit) if below else (seen.low, verdict.high_limit)
    unit = AMPERE if isinstance(output, Indicator) else VOLT
    right = verdict.level == wanted
    severity = "pass" if right and verdict.sure else "caution" if right else "stop"
    name, place = output.observed, point.scenario.input.states[state]
    if severity == "pass":
        reason = f"{name} surely reads {wanted} with the {place}."
    elif right:
        reason = (
            f"{name} reads {wanted} with the {place}, but {_print(value, unit)} at worst passes {_print(limit, unit)}."
        )
    else:
        reason = f"{name} reads {verdict.level} instead of {wanted} with the {place}: {_print(seen.value, unit)}."
    margin = ((limit - value) if below else (value - limit)) / limit if limit else 0.0
    mend = None if severity == "pass" else _level_mend(point, state)
    return Finding(code, severity, value, limit, margin, unit.name, "the worst of all corners", reason, mend)


def _level_mend(point, state):
    """Return the remedy of a wrong level: deeper saturation with the LED lit, a smaller load with it dark."""
    if state == "closed":
        overdrive = point.states["closed"].quantities.get("overdrive")
        return _saturating(point, overdrive, 2.0 * _MARGIN) if overdrive and overdrive.low < 2.0 else None
    least, most = _load_window(point)
    return _with_RL(point, most / _MARGIN) if least <= most / _MARGIN < 1.0 else None


def _collector_current(point):
    """Hold the collector current against the card's rating."""
    IC = point.states["closed"].quantities["IC"]
    rating = load_card(point.scenario.coupling.card).IC_max
    mend = _with_RL(point, IC.high / rating * _MARGIN)
    return _at_most(
        _Limit("collector-current", "Collector current", AMPERE, "output supply high, RL low"), IC, rating, mend
    )


def _collector_voltage(point):
    """Hold the collector-emitter voltage of the dark detector against the card's rating."""
    VCE = point.states["open"].quantities["VCE"]
    rating = load_card(point.scenario.coupling.card).VCEO
    return _at_most(
        _Limit("collector-voltage", "Collector-emitter voltage", VOLT, "output supply high, LED dark"), VCE, rating
    )


def _detector_power(point):
    """Hold the detector's power against the card's rating at this ambient temperature."""
    power = point.states["closed"].powers["U1"]
    mend = _with_RL(point, power.high / power.rating * _MARGIN) if power.rating else None
    return _at_most(
        _Limit("detector-power", "Detector power", WATT, "the worst of all corners"), power, power.rating, mend
    )


def _resistor_power_R1(point):
    """Hold the series resistor's power against its rating."""
    return _resistor_power(point, "R1", "input")


def _resistor_power_RL(point):
    """Hold the load resistor's power against its rating."""
    return _resistor_power(point, "RL", "output")


def _resistor_power(point, name, part):
    """Return the finding on one resistor's power."""
    power = point.states["closed"].powers[name]
    side = getattr(point.scenario, part)
    bigger = next((rating for rating in _POWER_RATINGS if rating >= power.high * _MARGIN), None)
    mend = None
    if bigger:
        mended = replace(point.scenario, **{part: replace(side, **{f"{name}_rating": bigger})})
        mend = Mend(f"use a {as_typed(bigger, WATT)} part for {name}", mended)
    limit = _Limit(f"power-{name.lower()}", f"{name} power", WATT, f"supply high, {name} low")
    return _at_most(limit, power, power.rating, mend)


def _outside_bin(point):
    """Note a specimen whose transfer ratio lies outside of its own bin."""
    coupling = point.scenario.coupling
    (low, high), (CTR, *_) = coupling.bin(), coupling.ratios()
    if low <= CTR <= high:
        return None
    limit = low if CTR < low else high
    bin_ = f"{_print(low, RATIO)} to {_print(high, RATIO)}"
    reason = f"A CTR of {_print(CTR, RATIO)} lies outside of the bin, {bin_}; the ranges cover both."
    return Finding("outside-bin", "note", CTR, limit, -abs(CTR - limit) / limit, "1", "this specimen", reason)


def _hazardous_voltage(point):
    """Note a side whose voltage is dangerous to touch."""
    scenario = point.scenario
    volts = max(
        scenario.input.VS * (1 + scenario.input.VS_tolerance), scenario.output.VCC * (1 + scenario.output.VCC_tolerance)
    )
    if volts <= HAZARDOUS_DC:
        return None
    reason = f"{_print(volts, VOLT)} is dangerous to touch: isolate, lock out and prove dead before you work on it."
    return Finding(
        "hazardous-voltage", "note", volts, HAZARDOUS_DC, HAZARDOUS_DC / volts - 1.0, "V", "supply high", reason
    )


RULES = {
    "saturation": _saturation,
    "level-lit": _level_lit,
    "level-dark": _level_dark,
    "led-current": _led_current,
    "port-current": _port_current,
    "power-r1": _resistor_power_R1,
    "power-rl": _resistor_power_RL,
    "collector-current": _collector_current,
    "collector-voltage": _collector_voltage,
    "detector-power": _detector_power,
    "outside-bin": _outside_bin,
    "hazardous-voltage": _hazardous_voltage,
}
"""Code of a finding to the function that makes it, in the order of importance."""


def findings_of(point):
    """Return every finding on a solved stage, the gravest first.

    Parameters
    ----------
    point : OperatingPoint
        The solved stage.

    Returns
    -------
    tuple of Finding
        Findings by severity, then in the order of `RULES`.
    """
    made = [finding for rule in RULES.values() if (finding := rule(point)) is not None]
    return tuple(sorted(made, key=lambda finding: SEVERITIES.index(finding.severity)))
