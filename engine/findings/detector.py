"""Findings on the coupler's detector and on what reads the output, and what may mend them."""

import math
from dataclasses import replace

import numpy as np

from engine.coupler import lines_of
from engine.findings.finding import ROUNDING, Finding, Limit, Mend, at_least, at_most, margin_of, printed
from engine.findings.fitting import CLEAR, DEEP, fitted, less_load, more_drive, most_RL, ratio
from engine.logic import FAMILIES
from engine.outputs import Indicator
from engine.quantity import AMPERE, RATIO, UNITS, VOLT, WATT, as_typed


def _saturation(point):
    """Hold the collector current that the coupler can give against the one that the load needs."""
    overdrive = point.states["closed"].quantities.get("overdrive")
    if overdrive is None or not point.scenario.coupling.has_ratio:
        return None
    told = (
        "The coupler can give {} what the load needs, even at its worst.",
        "At worst the coupler gives only {} what the load needs, so the output does not saturate.",
    )
    return at_least("saturation", overdrive, 1.0, told, "CTR at its lowest, R1 high, RL low")


def level(point, code):
    """Return the finding on one state's reading, held against its limits at the corner that comes nearest to them.

    Parameters
    ----------
    point : OperatingPoint
        The solved stage.
    code : str
        Code of the finding; the output side says which two of its kind there are, LED lit and dark.

    Returns
    -------
    Finding or None
        None where the output side is asked under another code.
    """
    output = point.scenario.output
    if code not in output.level_codes:
        return None
    state = ("closed", "open")[output.level_codes.index(code)]
    wanted = output.level_when_lit if state == "closed" else output.level_when_dark
    solved, verdict = point.states[state], point.states[state].verdict
    below = wanted == output.words[0]
    value, limit = verdict.nearest_above if below else verdict.nearest_below
    unit = UNITS[solved.quantities[output.observed].unit]
    right = verdict.level == wanted
    severity = "pass" if right and verdict.sure else "caution" if right else "stop"
    name, place = output.observed, point.scenario.input.states[state]
    if severity == "pass":
        reason = f"{name} surely reads {wanted} with the {place}."
    elif right:
        far = printed(value, unit), printed(limit, unit)
        reason = f"{name} reads {wanted} with the {place}, but {far[0]} at worst passes {far[1]}."
    else:
        seen = solved.quantities[name].value
        reason = f"{name} reads {verdict.level} instead of {wanted} with the {place}: {printed(seen, unit)}."
    margin = margin_of(limit - value if below else value - limit, limit, severity == "pass", unit)
    made = Finding(code, severity, value, limit, margin, unit.name, "the worst of all corners", reason)
    return replace(made, holds=verdict.reads == (0 if below else 2), worst=verdict.farthest[0 if below else 1])


def _collector_current(point):
    """Hold the collector current against the card's rating."""
    if not point.scenario.coupling.has_ratio:
        return None
    IC = point.states["closed"].quantities["IC"]
    rating = point.scenario.coupling.data.IC_max
    return at_most(Limit("collector-current", "Collector current", AMPERE, "output supply high, RL low"), IC, rating)


def _collector_voltage(point):
    """Hold the collector-emitter voltage of the dark detector against the card's rating."""
    if not point.scenario.coupling.has_ratio:
        return None
    VCE = point.states["open"].quantities["VCE"]
    rating = point.scenario.coupling.data.VCEO
    return at_most(
        Limit("collector-voltage", "Collector-emitter voltage", VOLT, "output supply high, LED dark"), VCE, rating
    )


def _detector_power(point):
    """Hold the detector's power against the card's rating at this ambient temperature; a gate asks for more."""
    if "P_driver" in point.states["closed"].quantities:
        return None
    power = point.states["closed"].powers["U1"]
    return at_most(Limit("detector-power", "Detector power", WATT, "the worst of all corners"), power, power.ratings)


def _outside_bin(point):
    """Note a specimen whose transfer ratio lies outside of its own bin."""
    coupling = point.scenario.coupling
    if not coupling.has_ratio:
        return None
    (low, high), (CTR, *_) = coupling.bin(), coupling.ratios()
    if low <= CTR <= high:
        return None
    limit = low if CTR < low else high
    bin_ = f"{printed(low, RATIO)} to {printed(high, RATIO)}"
    reason = f"A CTR of {printed(CTR, RATIO)} lies outside of the bin, {bin_}; the ranges cover both."
    return Finding("outside-bin", "note", CTR, limit, -abs(CTR - limit) / limit, "1", "this specimen", reason)


def _receiver_supply(point):
    """Ask whether the receiver's limits are stated for its supply, unless they are given."""
    load = point.scenario.output
    if not hasattr(load, "family") or "family" not in (load.VIL, load.VIH):
        return None
    family = FAMILIES[load.family]
    (low, high), VCC = family.supply, point.varied["VCC"]
    margins = np.stack([VCC / low - 1.0, 1.0 - VCC / high])
    side, worst = np.unravel_index(margins.argmin(), margins.shape)
    margin, value, limit = float(margins[side, worst]), float(VCC[worst]), (low, high)[side]
    holds = margins.min(axis=0) >= -ROUNDING
    held = bool(holds.all())
    severity = "pass" if held else "caution" if low <= VCC[0] <= high else "stop"
    span = f"{as_typed(low, VOLT)} to {as_typed(high, VOLT)}"
    reason = (
        f"What {family.title} reads is stated for a supply of {span}; {printed(value, VOLT)} is within."
        if held
        else f"What {family.title} reads is stated for a supply of {span}, not for {printed(value, VOLT)}."
    )
    condition = ("supply low", "supply high")[side]
    made = Finding("receiver-supply", severity, value, limit, margin, "V", condition, reason)
    return replace(made, holds=holds, worst=int(worst))


def _mends_of_saturation(point):
    """Yield what may make the load saturate."""
    for times in CLEAR:
        yield from _saturating(point, times)


def _saturating(point, times):
    """Yield what may make the load saturate so many times over: a larger load, more drive."""
    closed = point.states["closed"].quantities
    if "IC_available" not in closed:
        return
    R = less_load(point, closed["IC_available"].low / times, point.scenario.coupling.data.VCE_sat)
    if R <= most_RL(point):
        yield fitted(point, "RL", R, "up")
    yield more_drive(point, closed["IC_needed"].high * times)


def _mends_of_level_lit(point):
    """Yield what may mend the level with the LED lit: an indicator's own resistor, deeper saturation."""
    if isinstance(point.scenario.output, Indicator):
        yield fitted(point, "RL", most_RL(point), "down")
    for times in DEEP:
        yield from _saturating(point, times)


def _mends_of_level_dark(point):
    """Yield what may mend the level with the LED dark: a smaller load, across which leakage drops less."""
    if not isinstance(point.scenario.output, Indicator):
        for clear in CLEAR:
            yield fitted(point, "RL", most_RL(point) / clear, "down")


def _mends_of_collector_current(point):
    """Yield what may hold the collector current below its rating."""
    for clear in CLEAR:
        yield fitted(point, "RL", less_load(point, point.scenario.coupling.data.IC_max / clear), "up")


def _mends_of_detector_power(point):
    """Yield what may hold the detector's power below its rating."""
    # A load line gives the detector most where both have half of the supply: VCC^2 / (4 RL).
    load, rating = point.scenario.output, point.states["closed"].powers["U1"].rating
    VCC = load.VCC_ends[1]
    leaking = VCC * load.lit_leakage()
    for clear in CLEAR:
        R = ratio(VCC**2, 4.0 * (rating / clear - leaking / 2.0)) if leaking < rating / clear else math.inf
        yield fitted(point, "RL", R / (1.0 - point.scenario.conditions.tolerance), "up")


def _mends_of_receiver_supply(point):
    """Yield the receivers that are stated for the supply."""
    load = point.scenario.output
    for name, family in FAMILIES.items():
        output = replace(load, family=name)
        if family.supply[0] <= load.VCC <= family.supply[1] and not list(output.contradictions()):
            yield Mend(f"read it with {family.title}", replace(point.scenario, output=output))


def _card_fit(point):
    """Note an own card that its model cannot meet in every line."""
    if point.scenario.coupling.card != "own":
        return None
    answered = [line for line in lines_of(point.scenario.coupling.data) if line.modelled is not None]
    missed = sum(not line.met for line in answered)
    if not missed:
        return None
    reason = f"The model misses {missed} of the {len(answered)} lines of this card that it answers for; see its page."
    return Finding("card-fit", "note", float(missed), 0.0, -1.0, "count", "this card", reason)


RULES = {
    "saturation": _saturation,
    "level-lit": lambda point: level(point, "level-lit"),
    "level-dark": lambda point: level(point, "level-dark"),
    "collector-current": _collector_current,
    "collector-voltage": _collector_voltage,
    "detector-power": _detector_power,
    "receiver-supply": _receiver_supply,
    "outside-bin": _outside_bin,
    "card-fit": _card_fit,
}
"""Code of a finding to the function that makes it, in the order of importance."""

REMEDIES = {
    "saturation": _mends_of_saturation,
    "level-lit": _mends_of_level_lit,
    "level-dark": _mends_of_level_dark,
    "collector-current": _mends_of_collector_current,
    "detector-power": _mends_of_detector_power,
    "receiver-supply": _mends_of_receiver_supply,
}
"""Code of a finding to what yields its possible remedies, the best first; none where nothing is fitted (None)."""
