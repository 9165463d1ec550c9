"""Findings on the coupler's LED beside its steady current: its power, reverse voltage, and too little current."""

from dataclasses import replace

import numpy as np

from engine.cycling import over_cycle
from engine.findings.alternating import less_average
from engine.findings.finding import Finding, Limit, Mend, Rule, at_most, listed, printed
from engine.findings.fitting import CLEAR, drive_of, less_drive
from engine.inputs import AcLine
from engine.inputs.drive import NONE
from engine.operating import Range
from engine.quantity import AMPERE, VOLT, WATT, as_typed

_LOW = 1e-3  # [A], below which parts of one bin spread more than at the test point; a maker's note on the curve


def _power(point):
    """Hold the LED's power against the card's rating at this ambient temperature."""
    power = point.states["closed"].powers["LED"]
    limit = Limit("led-power", "LED power", WATT, "supply high, R1 low, VF high")
    return at_most(limit, power, power.ratings)


def _reverse(point):
    """Hold the reverse voltage across a single LED against the card's rating; the two of a pair limit each other's."""
    card = point.scenario.coupling.data
    if card.input == "pair":
        return None
    if isinstance(point.scenario.input, AcLine):
        found, condition = over_cycle(point.scenario).figures.get("VR"), "line high, crest of the other half cycle"
    else:
        found, condition = _backwards(point), "the worst of all corners"
    if found is None:
        return None
    return at_most(Limit("led-reverse", "Reverse voltage of the LED", VOLT, condition), found, card.VR_max)


def _backwards(point):
    """Return the largest reverse voltage of either state on direct current; None where the LED meets none."""
    lit, dark = (point.states[name].quantities["VF"] for name in ("closed", "open"))
    if min(lit.low, dark.low) >= -VOLT.floor:
        return None
    members = np.maximum(-np.minimum(lit.members, dark.members), 0.0)
    return Range(float(members[0]), float(members.min()), float(members.max()), "V", members)


def _low(point):
    """Hold the lit LED's least current against where the card's curves begin, and where parts begin to differ more."""
    card, IF = point.scenario.coupling.data, point.states["closed"].quantities["IF"]
    if not point.scenario.coupling.has_ratio or isinstance(point.scenario.input, AcLine) or IF.high <= AMPERE.floor:
        return None
    known, even = _known_from(card), min(_LOW, card.CTR_IF)
    least = printed(IF.low, AMPERE)
    if IF.low < known:
        begin = as_typed(known, AMPERE)
        severity, limit = "caution", known
        reason = f"The LED gets only {least} at worst; the card's curves begin at {begin}, and below that is guessed."
    elif IF.low < even:
        severity, limit = "note", even
        reason = f"The LED gets only {least} at worst: below {as_typed(even, AMPERE)} parts of one bin differ more."
    else:
        severity, limit = "pass", max(known, even)
        reason = f"The LED's current, {least} at worst, is one that the card tells of."
    margin = IF.low / limit - 1.0
    made = Finding("led-current-low", severity, IF.low, limit, margin, "A", "supply low, R1 high, VF high", reason)
    return replace(made, holds=IF.members >= known, worst=int(IF.members.argmin()))


def _known_from(card):
    """Return the LED current from which on the card states both forward voltage and transfer ratio [A]."""
    return max(card.VF_points[0][0], card.CTR_shape[0][0])


def _mends_of_power(point):
    """Yield what lowers the LED's current by as much as its power is too large."""
    power, IF = point.states["closed"].powers["LED"], point.states["closed"].quantities["IF"].high
    if not (power.rating > 0.0 and power.high > WATT.floor):
        return
    too_much = power.high / power.rating
    if isinstance(point.scenario.input, AcLine):
        yield from less_average(point, too_much)
    else:
        for clear in CLEAR:
            yield less_drive(point, IF / too_much / clear)


def _mends_of_reverse(point):
    """Yield a diode that takes the reverse voltage."""
    side = point.scenario.input
    if isinstance(side, AcLine):
        guarded = replace(side, form="diode")
    elif side.antiparallel == NONE:
        guarded = replace(side, antiparallel="diode")
    else:
        return
    yield Mend("put a diode antiparallel to the LED", replace(point.scenario, input=guarded))


def _mends_of_low(point):
    """Yield more drive."""
    card = point.scenario.coupling.data
    if point.scenario.coupling.has_ratio and not isinstance(point.scenario.input, AcLine):
        for clear in CLEAR:
            yield drive_of(point, max(_known_from(card), min(_LOW, card.CTR_IF)) * clear)


RULES = listed(
    Rule(
        code="led-power",
        title="LED power",
        asks="Can the LED turn its power into heat at this ambient temperature?",
        why="The LED's junction becomes hotter than it may, which ages it and takes its light.",
        limit_from="Card, line LED.power_rating, which falls with the ambient temperature.",
        worst_where="Supply high, R1 low, forward voltage high, hot; on alternating voltage averaged over the cycle.",
        mends="A larger R1; on alternating voltage a smaller CD where a capacitor drops the voltage.",
        measure=_power,
        remedies=_mends_of_power,
    ),
    Rule(
        code="led-reverse",
        title="LED reverse voltage",
        asks="Does the LED withstand the voltage that it meets backwards?",
        why="An LED breaks down at a few volts backwards, and loses its light or fails.",
        limit_from="Card, line LED.VR_rating: an absolute maximum, 3 V to 6 V on most data sheets.",
        worst_where="Supply of what drives it high; on alternating voltage the crest of the other half cycle.",
        mends="A silicon diode antiparallel to the LED.",
        measure=_reverse,
        remedies=_mends_of_reverse,
    ),
    Rule(
        code="led-current-low",
        title="LED current too low",
        asks="Is the lit LED's least current one that the card tells of?",
        why="Forward voltage and transfer ratio are guessed below the card's curves, and parts differ more there.",
        limit_from="Card, first points of LED.VF and CTR.shape; 1 mA, or the CTR's test current where that is lower, "
        "below which a maker notes that the spread grows.",
        worst_where="Supply low, R1 high, forward voltage high.",
        severities=("caution", "note"),
        mends="A smaller R1 for more drive.",
        measure=_low,
        remedies=_mends_of_low,
    ),
)
"""Rules by their codes, in the order of importance."""

REMEDIES = {}
"""Code of a rule of another module to what yields its possible remedies, the best first."""
