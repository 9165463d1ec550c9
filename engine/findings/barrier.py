"""Findings on the barrier: whether the coupler's insulation is stated for the voltage across it."""

import math

from engine.findings.finding import Finding, printed
from engine.insulation import GRADES, required_creepage
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


RULES = {"working-voltage": _working_voltage, "creepage": _creepage}
"""Code of a finding to the function that makes it, in the order of importance."""

REMEDIES = {}
"""Nothing that is fitted mends a barrier: it takes another coupler."""
