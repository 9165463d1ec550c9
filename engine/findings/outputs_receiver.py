"""Findings on what receivers ask beside their level: current while the LED is dark, a detector the right way round."""

from dataclasses import replace

from engine.findings.finding import Finding, Mend, Rule, listed, printed
from engine.findings.fitting import CLEAR, fitted, ratio
from engine.quantity import AMPERE


def _off_delivery(point):
    """Hold the current that the receiver gets while the LED is dark against the one that it asks for."""
    found = point.states["open"].quantities.get("I_delivered")
    if found is None:
        return None
    needed = point.scenario.output.I_need
    held = found.low >= needed
    severity = "pass" if held else "stop" if found.value < needed else "caution"
    verb = "gives" if point.scenario.output.level_when_lit == "low" else "takes"
    worst = f"{printed(max(found.low, 0.0), AMPERE)} at worst"
    asked = printed(needed, AMPERE)
    reason = (
        f"With the LED dark the stage {verb} {worst}, and the receiver asks for {asked}."
        if held
        else f"With the LED dark the stage {verb} only {worst}, not the {asked} that the receiver asks for."
    )
    margin = found.low / needed - 1.0
    made = Finding("off-delivery", severity, found.low, needed, margin, "A", "supply low, RL high", reason)
    return replace(made, holds=found.members >= needed, worst=int(found.members.argmin()))


def _swapped(point):
    """Note a detector whose collector and emitter are exchanged."""
    if getattr(point.scenario.output, "swap", "no") != "yes":
        return None
    IC, available = (abs(point.states["closed"].quantities[name].value) for name in ("IC", "IC_available"))
    share = ratio(IC, available)
    reason = (
        f"Collector and emitter are exchanged: backwards the detector hardly amplifies, and {printed(IC, AMPERE)} flow "
        f"of the {printed(available, AMPERE)} that it could give. Its emitter junction stands a few volts only."
    )
    return Finding("swapped", "note", min(share, 1.0), 1.0, min(share, 1.0) - 1.0, "1", "this wiring", reason)


def _mends_of_off_delivery(point):
    """Yield a smaller load resistor."""
    load, conditions = point.scenario.output, point.scenario.conditions
    if getattr(load, "I_need", "none") == "none":
        return
    verdict, dark = point.states["open"].verdict, point.states["open"].currents["U1"].high
    for clear in CLEAR:
        current = load.I_need * clear + max(dark, 0.0)
        room = verdict.low_limit
        if load.level_when_lit == "low":
            room = load.VCC_ends[0] - max(verdict.high_limit, load.I_need * load.R_in if load.R_in != "none" else 0.0)
        yield fitted(point, "RL", ratio(max(room, 0.0), current * (1.0 + conditions.tolerance)), "down")


def _mends_of_exchange(point):
    """Yield the detector the right way round."""
    load = point.scenario.output
    if getattr(load, "swap", "no") == "yes":
        turned = replace(point.scenario, output=replace(load, swap="no"))
        yield Mend("exchange collector and emitter", turned)


RULES = listed(
    Rule(
        code="off-delivery",
        title="Current while dark",
        asks="Does the receiver get the current that it asks for while the LED is dark?",
        why="A receiver that lives on its input's current does not see its idle level.",
        limit_from="The current that was typed for the receiver.",
        worst_where="Output supply low, RL high.",
        mends="A smaller RL.",
        measure=_off_delivery,
        remedies=_mends_of_off_delivery,
    ),
    Rule(
        code="swapped",
        title="Detector turned round",
        asks="Are collector and emitter of the detector exchanged?",
        why="It hardly amplifies, and its emitter junction withstands a few volts only.",
        limit_from="Derived here: the current that flows over the one that the right way round would give.",
        worst_where="This wiring; it does not depend on corners.",
        severities=("note",),
        mends="Nothing by itself: where the level suffers, exchanging the leads is offered there.",
        measure=_swapped,
    ),
)
"""Rules by their codes, in the order of importance."""

REMEDIES = {"level-lit": _mends_of_exchange, "level-dark": _mends_of_exchange}
"""Code of a rule of another module to what yields its possible remedies, the best first."""
