"""Findings on the barrier: whether the coupler's insulation is stated for the voltage across it."""

import math

from engine.findings.finding import Finding, Rule, listed, printed
from engine.insulation import GRADES, rated_impulse, required_clearance, required_creepage
from engine.quantity import METRE, VOLT, as_typed
from engine.scenario import NO_BARRIER

_DEFER = "The product standard, local codes and a qualified person decide."


def _working_voltage(point):
    """Hold the peak of the voltage across the barrier against the coupler's repetitive insulation voltage."""
    volts, card = point.scenario.conditions.V_barrier, point.scenario.coupling.data
    if volts == NO_BARRIER:
        return None
    peak = volts * math.sqrt(2.0)
    if card.VIORM is None:
        reason = f"The card states no repetitive insulation voltage for {printed(peak, VOLT)} peak. {_DEFER}"
        return Finding("working-voltage", "caution", peak, 0.0, -1.0, "V", "not stated", reason)
    held = peak <= card.VIORM
    verb = "is within" if held else "exceeds"
    reason = (
        f"The working voltage, {printed(peak, VOLT)} peak, {verb} the coupler's {as_typed(card.VIORM, VOLT)}; "
        f"its one-minute test voltage is none to work at. {_DEFER}"
    )
    margin = (card.VIORM - peak) / card.VIORM
    return Finding("working-voltage", "pass" if held else "stop", peak, card.VIORM, margin, "V", "sine", reason)


def _creepage(point):
    """Hold the coupler's creepage distance against what the voltage across the barrier takes."""
    conditions, card = point.scenario.conditions, point.scenario.coupling.data
    if conditions.V_barrier == NO_BARRIER or card.creepage is None or card.group() is None:
        return None
    basic = required_creepage(conditions.V_barrier, conditions.pollution, card.group())
    condition = f"pollution degree {conditions.pollution}, material group {card.group()}, {conditions.insulation}"
    if basic is None:
        reason = f"No creepage distance is tabulated for {printed(conditions.V_barrier, VOLT)}. {_DEFER}"
        return Finding("creepage", "stop", card.creepage, 0.0, -1.0, "m", condition, reason)
    needed = basic * GRADES[conditions.insulation]
    held = card.creepage >= needed * (1.0 - 1e-9)
    verb = "meets" if held else "falls short of"
    reason = (
        f"The coupler's creepage distance, {as_typed(card.creepage, METRE)}, {verb} the {as_typed(needed, METRE)} that "
        f"{printed(conditions.V_barrier, VOLT)} takes. {_DEFER}"
    )
    margin = card.creepage / needed - 1.0
    return Finding("creepage", "pass" if held else "stop", card.creepage, needed, margin, "m", condition, reason)


def _clearance(point):
    """Hold the coupler's clearance through air against what the surges of its line take."""
    conditions, card = point.scenario.conditions, point.scenario.coupling.data
    if conditions.V_barrier == NO_BARRIER or card.clearance is None:
        return None
    volts, category, grade = conditions.V_barrier, conditions.category, conditions.insulation
    impulse = rated_impulse(volts, category)
    needed = required_clearance(impulse, conditions.pollution, grade) if impulse else None
    condition = f"overvoltage category {category}, pollution degree {conditions.pollution}, {grade}"
    if needed is None:
        reason = f"No clearance is tabulated for {printed(volts, VOLT)} in overvoltage category {category}. {_DEFER}"
        return Finding("clearance", "stop", card.clearance, 0.0, -1.0, "m", condition, reason)
    held = card.clearance >= needed * (1.0 - 1e-9)
    verb = "meets" if held else "falls short of"
    reason = (
        f"The coupler's clearance through air, {as_typed(card.clearance, METRE)}, {verb} the "
        f"{as_typed(needed, METRE)} that impulses of {as_typed(impulse, VOLT)} take. {_DEFER}"
    )
    margin = 0.0 if held and card.clearance < needed else card.clearance / needed - 1.0
    return Finding("clearance", "pass" if held else "stop", card.clearance, needed, margin, "m", condition, reason)


RULES = listed(
    Rule(
        code="working-voltage",
        title="Working voltage",
        asks="Is the coupler's insulation stated for the voltage across the barrier?",
        why="The insulation wears through within its life, though it stood far more for a minute in a test.",
        limit_from="Card, line insulation.VIORM: the repetitive peak voltage.",
        worst_where="Crest of the working voltage, taken as a sine.",
        mends="Nothing that is fitted: it takes a coupler that is stated for it.",
        measure=_working_voltage,
    ),
    Rule(
        code="creepage",
        title="Creepage",
        asks="Is the path over the coupler's surface long enough for the voltage across the barrier?",
        why="Dirt and moisture on the body track, until a conducting path bridges the barrier.",
        limit_from="IEC 60664-1, Table F.4, by pollution degree and material group; reinforced, twice that.",
        worst_where="This coupler; it does not depend on corners.",
        severities=("stop",),
        mends="Nothing that is fitted: it takes a longer body, or a cleaner surrounding.",
        measure=_creepage,
    ),
    Rule(
        code="clearance",
        title="Clearance",
        asks="Is the shortest path through air long enough for the surges of the line?",
        why="A surge flashes over the coupler from one side to the other.",
        limit_from="IEC 60664-1, Tables F.1 and F.2, case A, by overvoltage category; from memory.",
        worst_where="This coupler; it does not depend on corners.",
        severities=("stop",),
        mends="Nothing that is fitted: it takes a longer body, or protection that lowers the overvoltage category.",
        measure=_clearance,
    ),
)
"""Rules by their codes, in the order of importance."""

REMEDIES = {}
"""Nothing that is fitted mends a barrier: it takes another coupler."""
