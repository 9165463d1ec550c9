"""Findings: what holds, what does not, by how much, and what would mend it.

One function per finding, listed in `RULES`; each takes the solved stage and returns a `Finding` or nothing. What may
mend a finding is listed in `REMEDIES`; a remedy is only looked for where a rule fails, and only offered once a solve
has shown that it mends its rule and breaks no other.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from engine.constants import ZERO_CELSIUS
from engine.coupler import calibrated, load_card
from engine.devices import photocurrent
from engine.inputs import LogicOutput
from engine.logic import FAMILIES
from engine.operating import operating_point
from engine.outputs import Indicator, PullDown
from engine.preferred import preferred
from engine.quantity import AMPERE, OHM, RATIO, VOLT, WATT, as_typed, reading
from engine.scenario import Scenario
from engine.sizing import LEAST, MOST, series_resistance

SEVERITIES = ("stop", "caution", "note", "pass")
_FAILING = SEVERITIES[:2]
HAZARDOUS_DC = 120.0  # [V], direct voltage above which a side is treated as dangerous; IEC 61140, from memory
_POWER_RATINGS = (0.0625, 0.1, 0.125, 0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 10.0, 25.0, 50.0, 100.0)  # [W], common practice
_MARGIN = 1.15  # [-], by how much a remedy clears its limit
_CLEAR = (_MARGIN, 1.0)  # [-], the same, and what is tried where that would break another rule
_DEEP = (2.3, 6.0)  # [-], how many times over a load is made to saturate so that its level is sure
_SIDE_OF = {"R1": "input", "RL": "output"}
_LOADED = {"power-r1": "R1", "power-rl": "RL"}
_ROUNDING = 1e-9  # [-], what a limit may be missed by relative to itself and still be met
_STEPS = 200  # currents among which a drive is looked for


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
        Distance to the limit relative to it, negative where the rule is broken. Nothing can be relative to a limit of
        0, or to one below what an instrument reads: there it is 0 where the rule holds and -1 where it is broken [-].
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


def _margin(room, limit, held, unit):
    """Return the margin of so much room before a limit, which may be nothing."""
    if limit > unit.floor:
        return room / limit
    return 0.0 if held else -1.0


def _at_most(limit, found, allowed):
    """Return the finding on a value that must not exceed a limit: stop if the nominal stage does, else caution."""
    held = found.high <= max(allowed, limit.unit.floor)
    severity = "pass" if held else "stop" if found.value > allowed else "caution"
    verb = "stays within" if held else "exceeds"
    reason = (
        f"{limit.subject}, {_print(found.high, limit.unit)} at worst, {verb} "
        f"{as_typed(float(f'{allowed:.3g}'), limit.unit)}."
    )
    margin = _margin(allowed - found.high, allowed, held, limit.unit)
    return Finding(limit.code, severity, found.high, allowed, margin, limit.unit.name, limit.condition, reason)


def _ratio(a, b):
    """Return a over b, infinite where b is nothing."""
    return a / b if b > 0.0 else math.inf


def _fitted(point, name, R, rounding):
    """Return the remedy of another resistor, rounded to the stage's series; none if it is not a resistor."""
    if not LEAST <= R <= MOST:
        return None
    R = preferred(R, point.scenario.conditions.series, rounding)
    if not LEAST <= R <= MOST:
        return None
    part = _SIDE_OF[name]
    side = replace(getattr(point.scenario, part), **{name: R})
    return Mend(f"make {name} {as_typed(R, OHM)}", replace(point.scenario, **{part: side}))


def _largest_IF(point):
    """Return the LED current that card and port allow at this ambient temperature."""
    scenario = point.scenario
    allowed = load_card(scenario.coupling.card).IF_rating.at(scenario.conditions.TA)
    return min(allowed, scenario.input.I_port) if isinstance(scenario.input, LogicOutput) else allowed


def _R1_for(point, IF, VS, R1_share, shift):
    """Return the nominal R1 that gives a current at one corner of supply, resistor and forward voltage."""
    scenario = point.scenario
    VF = float(calibrated(scenario.coupling.card).led.VF(IF, scenario.conditions.TA + ZERO_CELSIUS)) + shift
    R = series_resistance(VS, VF + scenario.input.drop(IF), IF)
    return R / R1_share


def _less_drive(point, allowed):
    """Return the remedy of an R1 that holds the largest LED current to a limit."""
    if not allowed > 0.0:
        return None
    side, tolerance = point.scenario.input, point.scenario.conditions.tolerance
    low, _ = calibrated(point.scenario.coupling.card).VF_shifts()
    R = _R1_for(point, allowed, side.VS_ends[1], 1.0 - tolerance, low)
    return _fitted(point, "R1", R, "up")


def _more_drive(point, wanted):
    """Return the remedy of an R1 with which even the weakest coupler can give a collector current."""
    scenario, closed = point.scenario, point.states["closed"].quantities
    model, T = calibrated(scenario.coupling.card), np.full(_STEPS, scenario.conditions.TA + ZERO_CELSIUS)
    allowed = _largest_IF(point) / _MARGIN
    if not 0.0 < closed["IF"].low < allowed:
        return None
    IF = np.geomspace(closed["IF"].low, allowed, _STEPS)
    law = model.transfer(np.full(_STEPS, scenario.coupling.ratios()[1]), T)
    enough = IF[photocurrent(IF, law)[0] * model.gain >= wanted]
    if not len(enough):
        return None
    side, tolerance = scenario.input, scenario.conditions.tolerance
    low, high = model.VF_shifts()
    R = _R1_for(point, enough[0], side.VS_ends[0], 1.0 + tolerance, high)
    mend = _fitted(point, "R1", R, "down")
    least = _R1_for(point, allowed, side.VS_ends[1], 1.0 - tolerance, low)
    return mend if mend and mend.scenario.input.R1 >= least else None


def _RL_for(point, IL, VCC, VCE):
    """Return the load resistance that takes a current with a voltage across the detector."""
    load, T = point.scenario.output, point.scenario.conditions.TA + ZERO_CELSIUS
    return series_resistance(VCC, VCE + load.drop_beside_load(IL, T), IL)


def _less_load(point, IC, VCE=0.0):
    """Return the nominal RL with which the load asks for a collector current at the most."""
    load, leakage = point.scenario.output, point.scenario.output.lit_leakage()
    if not IC > leakage:
        return math.inf
    return _RL_for(point, IC - leakage, load.VCC_ends[1], VCE) / (1.0 - point.scenario.conditions.tolerance)


def _most_RL(point):
    """Return the largest RL that leaves the dark level alone, or an indicator lit."""
    load, conditions = point.scenario.output, point.scenario.conditions
    dark, lowest = point.states["open"], load.VCC_ends[0]
    if isinstance(load, Indicator):
        VCE = load_card(point.scenario.coupling.card).VCE_sat
        return _RL_for(point, load.I_lit * _MARGIN, lowest, VCE) / (1.0 + conditions.tolerance)
    current = max(dark.quantities["IC"].high, dark.quantities["IC_available"].high) + load.dark_leakage
    room = dark.verdict.low_limit if isinstance(load, PullDown) else lowest - dark.verdict.high_limit
    return _ratio(max(room, 0.0), current * (1.0 + conditions.tolerance))


def _led_current(point):
    """Hold the LED current against the card's rating at this ambient temperature."""
    IF = point.states["closed"].quantities["IF"]
    rating = load_card(point.scenario.coupling.card).IF_rating.at(point.scenario.conditions.TA)
    return _at_most(_Limit("led-current", "LED current", AMPERE, "supply high, R1 low, VF low"), IF, rating)


def _port_current(point):
    """Hold the LED current against what the port may carry."""
    side = point.scenario.input
    if not isinstance(side, LogicOutput):
        return None
    IF = point.states["closed"].quantities["IF"]
    return _at_most(_Limit("port-current", "Port current", AMPERE, "supply high, R1 low, VF low"), IF, side.I_port)


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
    condition = "CTR at its lowest, R1 high, RL low"
    return Finding("saturation", severity, overdrive.low, 1.0, overdrive.low - 1.0, "1", condition, reason)


def _level_lit(point):
    """Ask whether the output surely reads as intended with the LED lit."""
    return _level(point, "closed", "level-lit", point.scenario.output.level_when_lit)


def _level_dark(point):
    """Ask whether the output surely reads as intended with the LED dark."""
    lit = point.scenario.output.level_when_lit
    return _level(point, "open", "level-dark", {"low": "high", "high": "low", "lit": "dark"}[lit])


def _level(point, state, code, wanted):
    """Return the finding on one state's reading, held against its limits at the corner that comes nearest to them."""
    solved, output = point.states[state], point.scenario.output
    verdict = solved.verdict
    below = wanted in ("low", "dark")
    value, limit = verdict.nearest_above if below else verdict.nearest_below
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
        seen = solved.quantities[name].value
        reason = f"{name} reads {verdict.level} instead of {wanted} with the {place}: {_print(seen, unit)}."
    margin = _margin(limit - value if below else value - limit, limit, severity == "pass", unit)
    return Finding(code, severity, value, limit, margin, unit.name, "the worst of all corners", reason)


def _collector_current(point):
    """Hold the collector current against the card's rating."""
    IC = point.states["closed"].quantities["IC"]
    rating = load_card(point.scenario.coupling.card).IC_max
    return _at_most(_Limit("collector-current", "Collector current", AMPERE, "output supply high, RL low"), IC, rating)


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
    return _at_most(_Limit("detector-power", "Detector power", WATT, "the worst of all corners"), power, power.rating)


def _resistor_power_R1(point):
    """Hold the series resistor's power against its rating."""
    return _resistor_power(point, "R1")


def _resistor_power_RL(point):
    """Hold the load resistor's power against its rating."""
    return _resistor_power(point, "RL")


def _resistor_power(point, name):
    """Return the finding on one resistor's power."""
    power = point.states["closed"].powers[name]
    limit = _Limit(f"power-{name.lower()}", f"{name} power", WATT, f"supply high, {name} low")
    return _at_most(limit, power, power.rating)


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


def _receiver_supply(point):
    """Ask whether the receiver's limits are stated for its supply, unless they are given."""
    load = point.scenario.output
    if isinstance(load, Indicator) or "family" not in (load.VIL, load.VIH):
        return None
    family = FAMILIES[load.family]
    (low, high), ends = family.supply, load.VCC_ends
    margins = (ends[0] - low) / low, (high - ends[1]) / high
    margin, value, limit, condition = min(
        (margins[0], ends[0], low, "supply low"), (margins[1], ends[1], high, "supply high")
    )
    held = margin >= -_ROUNDING
    severity = "pass" if held else "caution" if low <= load.VCC <= high else "stop"
    span = f"{as_typed(low, VOLT)} to {as_typed(high, VOLT)}"
    reason = (
        f"What {family.title} reads is stated for a supply of {span}; {_print(value, VOLT)} is within."
        if held
        else f"What {family.title} reads is stated for a supply of {span}, not for {_print(value, VOLT)}."
    )
    return Finding("receiver-supply", severity, value, limit, margin, "V", condition, reason)


def _hazardous_voltage(point):
    """Note a side whose voltage is dangerous to touch."""
    scenario = point.scenario
    volts = max(scenario.input.VS_ends[1], scenario.output.VCC_ends[1])
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
    "receiver-supply": _receiver_supply,
    "outside-bin": _outside_bin,
    "hazardous-voltage": _hazardous_voltage,
}
"""Code of a finding to the function that makes it, in the order of importance."""


def _mends_of_saturation(point):
    """Yield what may make the load saturate."""
    for times in _CLEAR:
        yield from _saturating(point, times)


def _saturating(point, times):
    """Yield what may make the load saturate so many times over: a larger load, more drive."""
    closed = point.states["closed"].quantities
    R = _less_load(point, closed["IC_available"].low / times, load_card(point.scenario.coupling.card).VCE_sat)
    if R <= _most_RL(point):
        yield _fitted(point, "RL", R, "up")
    yield _more_drive(point, closed["IC_needed"].high * times)


def _mends_of_level_lit(point):
    """Yield what may mend the level with the LED lit: an indicator's own resistor, deeper saturation."""
    if isinstance(point.scenario.output, Indicator):
        yield _fitted(point, "RL", _most_RL(point), "down")
    for times in _DEEP:
        yield from _saturating(point, times)


def _mends_of_level_dark(point):
    """Yield what may mend the level with the LED dark: a smaller load, across which leakage drops less."""
    if not isinstance(point.scenario.output, Indicator):
        for clear in _CLEAR:
            yield _fitted(point, "RL", _most_RL(point) / clear, "down")


def _mends_of_drive(point):
    """Yield what may hold the LED current below its limits."""
    for clear in _CLEAR:
        yield _less_drive(point, _largest_IF(point) / clear)


def _mends_of_collector_current(point):
    """Yield what may hold the collector current below its rating."""
    for clear in _CLEAR:
        yield _fitted(point, "RL", _less_load(point, load_card(point.scenario.coupling.card).IC_max / clear), "up")


def _mends_of_detector_power(point):
    """Yield what may hold the detector's power below its rating."""
    # A load line gives the detector most where both have half of the supply: VCC^2 / (4 RL).
    load, rating = point.scenario.output, point.states["closed"].powers["U1"].rating
    VCC = load.VCC_ends[1]
    leaking = VCC * load.lit_leakage()
    for clear in _CLEAR:
        R = _ratio(VCC**2, 4.0 * (rating / clear - leaking / 2.0)) if leaking < rating / clear else math.inf
        yield _fitted(point, "RL", R / (1.0 - point.scenario.conditions.tolerance), "up")


def _mends_of_receiver_supply(point):
    """Yield the receivers that are stated for the supply."""
    load = point.scenario.output
    for name, family in FAMILIES.items():
        if family.supply[0] <= load.VCC <= family.supply[1]:
            output = replace(load, family=name)
            yield Mend(f"read it with {family.title}", replace(point.scenario, output=output))


def _bigger_part(point, name):
    """Yield a resistor that may take its power."""
    power = point.states["closed"].powers[name].high * _MARGIN
    rating = next((rating for rating in _POWER_RATINGS if rating >= power), None)
    if rating is not None:
        part = _SIDE_OF[name]
        side = replace(getattr(point.scenario, part), **{f"{name}_rating": rating})
        yield Mend(f"use a {as_typed(rating, WATT)} part for {name}", replace(point.scenario, **{part: side}))


REMEDIES = {
    "saturation": _mends_of_saturation,
    "level-lit": _mends_of_level_lit,
    "level-dark": _mends_of_level_dark,
    "led-current": _mends_of_drive,
    "port-current": _mends_of_drive,
    "power-r1": lambda point: _bigger_part(point, "R1"),
    "power-rl": lambda point: _bigger_part(point, "RL"),
    "collector-current": _mends_of_collector_current,
    "detector-power": _mends_of_detector_power,
    "receiver-supply": _mends_of_receiver_supply,
}
"""Code of a finding to what yields its possible remedies, the best first; none where nothing is fitted (None)."""


class _Trials:
    """Remedies of one stage, each tried out by a solve; what has been solved is kept."""

    def __init__(self, point, findings):
        self.point = point
        self.before = {finding.code: finding.severity for finding in findings}
        self.solved = {}

    def remedy(self, code):
        """Return the first remedy that mends a rule and makes no other worse, or None."""
        for possible in REMEDIES[code](self.point) if code in REMEDIES else ():
            if possible is None:
                continue
            mend = self._strengthened(possible)
            if not self._worse(mend.scenario) and self._tried(mend.scenario)[1].get(code) == "pass":
                return mend
        return None

    def _strengthened(self, mend):
        """Return a remedy with stronger resistors where their power is all that it makes worse."""
        while (worse := self._worse(mend.scenario)) and worse <= _LOADED.keys():
            part = next(_bigger_part(self._tried(mend.scenario)[0], _LOADED[min(worse)]), None)
            if part is None:
                break
            mend = Mend(f"{mend.text} and {part.text}", part.scenario)
        return mend

    def _worse(self, scenario):
        """Return the codes of the rules that are broken, or graver, in another scenario only."""
        rank = SEVERITIES.index
        return {
            code
            for code, severity in self._tried(scenario)[1].items()
            if severity in _FAILING and rank(severity) < rank(self.before.get(code, "pass"))
        }

    def _tried(self, scenario):
        """Return another scenario solved, and the severity of every finding on it by code."""
        if scenario not in self.solved:
            point = operating_point(scenario)
            self.solved[scenario] = point, {finding.code: finding.severity for finding in _judged(point)}
        return self.solved[scenario]


def _judged(point):
    """Return every finding on a solved stage without remedies, in the order of `RULES`."""
    return [finding for rule in RULES.values() if (finding := rule(point)) is not None]


def findings_of(point):
    """Return every finding on a solved stage, the gravest first.

    Parameters
    ----------
    point : OperatingPoint
        The solved stage.

    Returns
    -------
    tuple of Finding
        Findings by severity, then in the order of `RULES`. The remedy of a stop or a caution has been tried out: with
        it the rule passes, and no other rule comes out graver than before.
    """
    made = _judged(point)
    trials = _Trials(point, made)
    found = [replace(f, mend=trials.remedy(f.code)) if f.severity in _FAILING else f for f in made]
    return tuple(sorted(found, key=lambda finding: SEVERITIES.index(finding.severity)))
