"""Findings on an ac load: the coupler's surge, where in the half cycle it begins, whether it stays on."""

from dataclasses import replace

from engine.findings.finding import Finding, Limit, at_most, printed
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
    R = point.sized["RL"].chosen * (1.0 + point.scenario.conditions.tolerance)
    gate = load.V_GT if isinstance(load, AcTriac) else 0.0
    R += load.R_load if isinstance(load, AcTriac) else 0.0
    current = max(card.inhibit - card.VTM_max - gate, 0.0) / R
    held = current >= card.IH
    verb = "keeps" if held else "does not keep"
    reason = (
        f"The coupler turns on below {printed(card.inhibit, VOLT)} only; {printed(current, AMPERE)} flow there, which "
        f"{verb} it on. It starts a load without a surge, and cannot dim it."
    )
    margin = ratio(current, card.IH) - 1.0
    return Finding("zero-cross", "pass" if held else "stop", current, card.IH, margin, "A", "RL high", reason)


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


RULES = {"surge-current": _surge, "trigger-point": _trigger_point, "minimum-load": _holding, "zero-cross": _window}
"""Code of a finding to the function that makes it, in the order of importance."""

REMEDIES = {
    "surge-current": _mends_of_surge,
    "trigger-point": _mends_of_trigger_point,
    "minimum-load": _mends_of_trigger_point,
    "level-lit": _mends_of_trigger_point,
}
"""Code of a finding to what yields its possible remedies, the best first."""
