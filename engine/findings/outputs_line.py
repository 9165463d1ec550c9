"""Findings on an ac load: the coupler's surge, where in the half cycle it begins, whether it stays on."""

from dataclasses import replace

from engine.findings.finding import Finding, Limit, Rule, at_most, listed, printed
from engine.findings.fitting import CLEAR, fitted, ratio
from engine.outputs import AcTriac
from engine.quantity import AMPERE, VOLT

_LATE = 20.0  # [deg], beyond which a load that begins later is told of; a value of our own


def _surge(point):
    """Hold the current through the coupler, should it be lit at the crest, against its surge rating."""
    if not point.scenario.output.on_line:
        return None
    limit = Limit("surge-current", "Surge current of the coupler", AMPERE, "lit at the crest, line high, RL low")
    return at_most(limit, point.states["closed"].quantities["I_surge"], point.scenario.coupling.data.ITSM)


def _holding(point):
    """Hold the crest of the load's current against the current below which it would not stay on."""
    load = point.scenario.output
    if not load.on_line:
        return None
    hold = load.I_hold if isinstance(load, AcTriac) else point.scenario.coupling.data.IH
    crest = point.states["closed"].quantities["I_crest"]
    held = crest.low >= hold
    severity = "pass" if held else "stop" if crest.value < hold else "caution"
    verb = "is above" if held else "does not reach"
    reason = (
        f"The load's current at the crest, {printed(crest.low, AMPERE)} at worst, {verb} the {printed(hold, AMPERE)} "
        "below which a triac lets go."
    )
    made = Finding("minimum-load", severity, crest.low, hold, crest.low / hold - 1.0, "A", "line low, RL high", reason)
    return replace(made, holds=crest.members >= hold, worst=int(crest.members.argmin()))


def _trigger_point(point):
    """Note a load that begins late in the half cycle, or tell where it begins."""
    if not point.scenario.output.on_line:
        return None
    found = point.states["closed"].quantities
    angle, volts = found["angle"], found["V_trigger"]
    held = angle.high <= _LATE
    if angle.value >= 90.0:
        reason = "The load never begins: the coupler is not lit, or its line never reaches what the gate asks for."
        made = Finding("trigger-point", "stop", angle.high, _LATE, 1.0 - angle.high / _LATE, "deg", "nominal", reason)
        return replace(made, holds=angle.members <= _LATE)
    severity = "pass" if held else "caution"
    where = f"{angle.high:.3g}° at the latest, with {printed(volts.high, VOLT)} on the line"
    reason = (
        f"The load begins at {where}."
        if held
        else f"The load begins as late as {where}; the rest of the half cycle is lost, and disturbs."
    )
    made = Finding(
        "trigger-point", severity, angle.high, _LATE, 1.0 - angle.high / _LATE, "deg", "RL high, line low", reason
    )
    return replace(made, holds=angle.members <= _LATE, worst=int(angle.members.argmax()))


def _window(point):
    """Ask whether a coupler that turns on near the zero crossing only gets its holding current there."""
    load, card = point.scenario.output, point.scenario.coupling.data
    if not load.on_line or card.inhibit is None:
        return None
    gate, R_load = (load.V_GT, load.R_load) if isinstance(load, AcTriac) else (0.0, 0.0)
    currents = max(card.inhibit - card.VTM_max - gate, 0.0) / (point.varied["RL"] + R_load)
    current, holds = float(currents.min()), currents >= card.IH
    held = bool(holds.all())
    verb = "keeps" if held else "does not keep"
    reason = (
        f"The coupler turns on below {printed(card.inhibit, VOLT)} only; {printed(current, AMPERE)} flow there, which "
        f"{verb} it on. It starts a load without a surge, and cannot dim it."
    )
    margin = ratio(current, card.IH) - 1.0
    made = Finding("zero-cross", "pass" if held else "stop", current, card.IH, margin, "A", "RL high", reason)
    return replace(made, holds=holds, worst=int(currents.argmin()))


def _mends_of_surge(point):
    """Yield a larger series resistor."""
    load = point.scenario.output
    if load.on_line:
        for clear in CLEAR:
            R = 2.0**0.5 * load.VCC_ends[1] / (point.scenario.coupling.data.ITSM / clear)
            yield fitted(point, "RL", R / (1.0 - point.scenario.conditions.tolerance), "up")


def _mends_of_trigger_point(point):
    """Yield a smaller series resistor, which lets the gate have its current sooner."""
    if isinstance(point.scenario.output, AcTriac):
        for share in (0.7, 0.4, 0.2):
            yield fitted(point, "RL", point.sized["RL"].chosen * share, "down")


RULES = listed(
    Rule(
        code="surge-current",
        title="Surge current",
        asks="Is the triac coupler within its surge rating if it is lit at the crest of the line?",
        why="The coupler's triac fails at the first unlucky instant.",
        limit_from="Card, line output.ITSM_rating.",
        worst_where="Lit at the crest, line high, RL low.",
        mends="A larger series resistor.",
        measure=_surge,
        remedies=_mends_of_surge,
    ),
    Rule(
        code="trigger-point",
        title="Trigger point",
        asks="Does the load begin early in the half cycle?",
        why="The load misses part of its power, and each late edge disturbs the line.",
        limit_from="20° after the zero crossing: a value of our own, no source.",
        worst_where="Line low, RL high, gate trigger current and voltage as typed.",
        mends="A smaller series resistor, or more drive for the LED.",
        measure=_trigger_point,
        remedies=_mends_of_trigger_point,
    ),
    Rule(
        code="minimum-load",
        title="Minimum load",
        asks="Is the crest of the load's current above the holding current?",
        why="The triac lets go within the half cycle, and the load flickers.",
        limit_from="Holding current of the larger triac as typed, or card, line output.IH.",
        worst_where="Line low, load resistance high.",
        mends="A smaller series resistor or more drive where that is what holds it back; else a larger load.",
        measure=_holding,
        remedies=_mends_of_trigger_point,
    ),
    Rule(
        code="zero-cross",
        title="Zero-crossing window",
        asks="Does a zero-crossing coupler get its holding current within the window in which it turns on?",
        why="It turns on and lets go again, half cycle after half cycle.",
        limit_from="Card, lines output.IH and output.zero_cross_inhibit.",
        worst_where="Series resistor and load high.",
        severities=("stop",),
        mends="Nothing that is fitted: it takes a larger load, or a coupler that turns on at any phase.",
        measure=_window,
    ),
)
"""Rules by their codes, in the order of importance."""

REMEDIES = {"level-lit": _mends_of_trigger_point}
"""Code of a rule of another module to what yields its possible remedies, the best first."""
