"""Findings on couplers with a threshold, and on what their outputs may carry, withstand and be supplied with."""

from dataclasses import replace

import numpy as np

from engine.findings.finding import ROUNDING, Finding, Limit, Rule, at_least, at_most, listed, printed
from engine.findings.fitting import CLEAR, drive_of, fitted
from engine.quantity import AMPERE, VOLT, as_typed


def _turn_on(point):
    """Hold the LED current against the one from which every coupler of the class is on."""
    overdrive = point.states["closed"].quantities.get("overdrive")
    if overdrive is None or point.scenario.coupling.has_ratio:
        return None
    told = (
        "The LED gets {} the current from which the coupler turns on, even at its worst.",
        "At worst the LED gets only {} the current from which the coupler surely turns on.",
    )
    return at_least("turn-on", overdrive, 1.0, told, "threshold high, R1 high")


def _output_current(point):
    """Hold the current of a switching output against the card's rating."""
    found, rating = point.states["closed"].quantities, _current_rating(point)
    if rating is None:
        return None
    current = found["ILOAD"] if "ILOAD" in found else found["IC"]
    return at_most(Limit("output-current", "Output current", AMPERE, "output supply high, RL low"), current, rating)


def _current_rating(point):
    """Return what the output may carry for long; None where the load is a gate, or a triac that takes over."""
    card, TA = point.scenario.coupling.data, point.varied["TA"]
    if card.family == "opto-triac" and point.scenario.output.kind == "ac-load":
        return card.IT_rating.at(TA)
    if card.family == "mosfet-relay":
        return card.IL_rating.at(TA)
    return card.IOL_rating if card.family == "logic-gate" else None


def _output_voltage(point):
    """Hold the voltage that a switching output withstands while off against the card's rating."""
    card, dark = point.scenario.coupling.data, point.states["open"]
    rating = {"logic-gate": "VO_rating", "mosfet-relay": "VL_rating", "opto-triac": "VDRM"}.get(card.family)
    if rating is None:
        return None
    limit = Limit("output-voltage", "Voltage across the output", VOLT, "output supply high, LED dark")
    return at_most(limit, dark.drops["U1"], getattr(card, rating))


def _coupler_supply(point):
    """Ask whether a coupler with a supply of its own is within it, its undervoltage lockout included."""
    card, load = point.scenario.coupling.data, point.scenario.output
    if not hasattr(card, "supply"):
        return None
    VEE = getattr(load, "VEE", 0.0)
    volts = point.varied["VCC"] - VEE
    least, most = max(card.supply[0], *(getattr(card, "UVLO_on", None) or (0.0,))), card.supply[1]
    margins = np.stack([volts / least - 1.0, 1.0 - volts / most])
    side, worst = np.unravel_index(margins.argmin(), margins.shape)
    margin, value, limit = float(margins[side, worst]), float(volts[worst]), (least, most)[side]
    holds = margins.min(axis=0) >= -ROUNDING
    held = bool(holds.all())
    severity = "pass" if held else "caution" if least <= volts[0] <= most else "stop"
    span = f"{as_typed(least, VOLT)} to {as_typed(most, VOLT)}"
    verb = "is within" if held else "is outside of"
    reason = f"The coupler's own supply, {printed(value, VOLT)} at worst, {verb} the {span} that it is made for."
    condition = ("supply low", "supply high")[side]
    made = Finding("coupler-supply", severity, value, limit, margin, "V", condition, reason)
    return replace(made, holds=holds, worst=int(worst))


def _mends_of_turn_on(point):
    """Yield what gives the LED enough current."""
    needed = point.states["closed"].quantities.get("IF_needed")
    if needed is not None:
        for clear in CLEAR:
            yield drive_of(point, needed.high * clear)


def _mends_of_output_current(point):
    """Yield a load that takes less."""
    rating, load = _current_rating(point), point.scenario.output
    least = 0.0 if rating is None else float(np.min(rating))
    if least > 0.0:
        for clear in CLEAR:
            R = load.VCC_ends[1] / (least / clear) / (1.0 - point.scenario.conditions.tolerance)
            yield fitted(point, "RL", R, "up")


RULES = listed(
    Rule(
        code="turn-on",
        title="Turn-on",
        asks="Does the LED get the current from which every coupler of the class is on?",
        why="Some specimens, or aged ones, do not switch at all.",
        limit_from="Card, line threshold.on, over temperature and age.",
        worst_where="Threshold high, supply low, R1 high.",
        mends="A smaller R1.",
        measure=_turn_on,
        remedies=_mends_of_turn_on,
    ),
    Rule(
        code="coupler-supply",
        title="Coupler's supply",
        asks="Is a coupler with a supply of its own within its limits, its lockout included?",
        why="Below, the output is held off by the lockout or is undefined; above, the part may fail.",
        limit_from="Card, lines supply.VCC and supply.UVLO_on.",
        worst_where="Output supply at whichever end lies farther out.",
        mends="Nothing that is fitted: it takes another supply.",
        measure=_coupler_supply,
    ),
    Rule(
        code="output-current",
        title="Output current",
        asks="Is the current of a switching output within its rating?",
        why="The output overheats, or no longer pulls to its level.",
        limit_from="Card, line of the output's current rating; it falls with the ambient temperature.",
        worst_where="Output supply high, RL low, hot.",
        mends="A load that takes less: a larger RL.",
        measure=_output_current,
        remedies=_mends_of_output_current,
    ),
    Rule(
        code="output-voltage",
        title="Output voltage",
        asks="Does a switching output withstand the voltage across it while it is off?",
        why="It breaks down and switches its load on by itself, or fails for good.",
        limit_from="Card, line of the output's voltage rating (of a triac, the repetitive peak off-state voltage).",
        worst_where="Output supply high, LED dark.",
        mends="Nothing that is fitted: it takes a coupler that withstands more.",
        measure=_output_voltage,
    ),
)
"""Rules by their codes, in the order of importance."""

REMEDIES = {
    "level-lit": _mends_of_turn_on,
    "relay-operate": _mends_of_turn_on,
    "trigger-point": _mends_of_turn_on,
    "minimum-load": _mends_of_turn_on,
}
"""Code of a rule of another module to what yields its possible remedies, the best first."""
