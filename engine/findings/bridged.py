"""The finding that stands above all others: a conductor that joins the two sides."""

from dataclasses import replace

from engine.findings.finding import Finding, Mend, Rule, listed, printed
from engine.quantity import VOLT
from engine.scenario import APART, NO_BARRIER


def _bridged(point):
    """Ask whether a conductor joins the returns of the two sides."""
    held = point.scenario.conditions.joined == APART
    volts = point.scenario.conditions.V_barrier
    reason = (
        "No conductor joins the two returns."
        if held
        else "A conductor joins the two returns: the barrier is bridged, nothing is isolated."
    )
    if not held and volts != NO_BARRIER:
        reason += f" The {printed(volts, VOLT)} between the sides drive a current through it, and reach either side."
    severity, count, margin = ("pass", 0.0, 0.0) if held else ("stop", 1.0, -1.0)
    return Finding("barrier-bridged", severity, count, 0.0, margin, "count", "this wiring", reason)


def _mends_of_bridged(point):
    """Yield the stage without the conductor."""
    apart = replace(point.scenario.conditions, joined=APART)
    yield Mend("take the conductor between the returns away", replace(point.scenario, conditions=apart))


RULES = listed(
    Rule(
        code="barrier-bridged",
        title="Bridged barrier",
        asks="Does a conductor join the returns of the two sides?",
        why="Every voltage of one side reaches the other: the coupler is still there, the isolation is not.",
        limit_from="None at all: isolation is that no conductor crosses.",
        worst_where="This wiring; it does not depend on corners.",
        severities=("stop",),
        mends="Taking the conductor away: a common ground, a shared supply, a screen that is earthed at both ends.",
        measure=_bridged,
        remedies=_mends_of_bridged,
    ),
)
"""Rules by their codes, in the order of importance."""

REMEDIES = {}
"""Code of a rule of another module to what yields its possible remedies, the best first."""
