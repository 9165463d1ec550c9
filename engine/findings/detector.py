"""Findings on the coupler's detector and on what reads the output, and what may mend them."""

import math
from dataclasses import replace

import numpy as np

from engine.coupler import lines_of
from engine.findings.finding import ROUNDING, Finding, Limit, Mend, Rule, at_least, at_most, listed, margin_of, printed
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


_RECEIVER = "The receiver's largest sure low and smallest sure high, by its logic family or as typed"

RULES = listed(
    Rule(
        code="saturation",
        title="Saturation",
        asks="Can the coupler give the collector current that the load needs, at its worst?",
        why="The output stays somewhere between the levels, and every further loss of light moves it.",
        limit_from="Derived here: available over needed collector current, at least 1, from the card's CTR and curves.",
        worst_where="CTR at its lowest, R1 high, RL low; cold or hot, and at the end of the service.",
        mends="A larger RL, or a smaller R1 for more drive.",
        measure=_saturation,
        remedies=_mends_of_saturation,
    ),
    Rule(
        code="level-lit",
        title="Level, LED lit",
        asks="Is the output surely read as it should be while the LED is lit?",
        why="The receiver may read the signal as absent, or change its mind from part to part.",
        limit_from=f"{_RECEIVER}; IEC 61131-2 for a controller's input; the load's own figures elsewhere.",
        worst_where="The corner that comes nearest to the limit.",
        mends="A larger RL or more drive, so that the coupler saturates deeper; the detector the right way round.",
        measure=lambda point: level(point, "level-lit"),
        remedies=_mends_of_level_lit,
    ),
    Rule(
        code="level-dark",
        title="Level, LED dark",
        asks="Is the output surely read as it should be while the LED is dark?",
        why="Dark current and leakage alone may look like a signal, the more so when it is hot.",
        limit_from=f"{_RECEIVER}; IEC 61131-2 for a controller's input; the load's own figures elsewhere.",
        worst_where="The corner that comes nearest to the limit; the dark current grows with the temperature.",
        mends="A smaller RL; a bypass across an LED that leakage lights; the detector the right way round.",
        measure=lambda point: level(point, "level-dark"),
        remedies=_mends_of_level_dark,
    ),
    Rule(
        code="collector-current",
        title="Collector current",
        asks="Is the collector current within the coupler's rating?",
        why="The detector's bond wire and junction are overloaded, and the part may fail.",
        limit_from="Card, line detector.IC_rating: an absolute maximum.",
        worst_where="CTR high, output supply high, RL low.",
        mends="A larger RL.",
        measure=_collector_current,
        remedies=_mends_of_collector_current,
    ),
    Rule(
        code="collector-voltage",
        title="Collector voltage",
        asks="Does the dark detector withstand the voltage across it?",
        why="The detector breaks down, conducts although the LED is dark, and may fail.",
        limit_from="Card, line detector.VCEO_rating: an absolute maximum.",
        worst_where="Output supply high, LED dark.",
        mends="Nothing that is fitted: it takes a lower supply, or a coupler that withstands more.",
        measure=_collector_voltage,
    ),
    Rule(
        code="detector-power",
        title="Detector power",
        asks="Can the output side of the coupler turn its power into heat at this ambient temperature?",
        why="The junction becomes hotter than it may, which ages the part and may destroy it.",
        limit_from="Card, line power_rating of the output side, which falls with the ambient temperature.",
        worst_where="A detector that does not saturate, half of the supply across it; hot.",
        mends="A larger RL.",
        measure=_detector_power,
        remedies=_mends_of_detector_power,
    ),
    Rule(
        code="receiver-supply",
        title="Receiver's supply",
        asks="Are the receiver's limits stated for its supply?",
        why="What the receiver reads is not known there, and too high a supply may destroy it.",
        limit_from="Supply range of the logic family, from published tables of its thresholds.",
        worst_where="Output supply at whichever end lies farther out.",
        mends="A logic family that is stated for this supply.",
        measure=_receiver_supply,
        remedies=_mends_of_receiver_supply,
    ),
    Rule(
        code="outside-bin",
        title="Outside of the bin",
        asks="Does this specimen belong to the bin that its card states?",
        why="The stage is shown for a part that nobody sells under this card; the ranges cover both.",
        limit_from="Card, lines CTR.min and CTR.max, or the ends as typed.",
        worst_where="This specimen; it does not depend on corners.",
        severities=("note",),
        mends="Nothing needs to be: it is a remark on what was chosen.",
        measure=_outside_bin,
    ),
    Rule(
        code="card-fit",
        title="Fit of the card",
        asks="Does the model meet every line of a card of one's own?",
        why="Figures near a line that is missed are less true than elsewhere.",
        limit_from="The card's own lines, each with its tolerance.",
        worst_where="This card; its page shows every line as stated and as modelled.",
        severities=("note",),
        mends="Nothing that is fitted: lines of the card that contradict each other.",
        measure=_card_fit,
    ),
)
"""Rules by their codes, in the order of importance."""

REMEDIES = {}
"""Code of a rule of another module to what yields its possible remedies, the best first."""
