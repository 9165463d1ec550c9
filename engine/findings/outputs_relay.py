"""Findings on a relay's coil: that it operates, that it releases, and what it gives back when it is switched off."""

from dataclasses import replace

from engine.findings.detector import level
from engine.findings.finding import Limit, Mend, Rule, at_most, listed, printed
from engine.findings.fitting import CLEAR, MARGIN, fitted
from engine.outputs import Relay
from engine.preferred import preferred
from engine.quantity import AMPERE, OHM, SECOND, VOLT, as_typed

_HELD_OFF = 0.35, 0.2  # [V], base-emitter or gate voltage at which the transistor surely blocks; common practice
_HARD = 2.0, 1.2  # [-], how many times over the transistor's base is driven so that it saturates; common practice


def _operate(point):
    """Ask whether the relay surely operates with the LED lit."""
    found = level(point, "relay-operate")
    if found is None or found.severity == "pass":
        return found
    return replace(
        found, reason=f"{found.reason} The coil does not get the voltage at which every relay of the type operates."
    )


def _release(point):
    """Ask whether the relay surely releases with the LED dark, its transistor amplifying what leaks."""
    found = level(point, "relay-release")
    if found is None or found.severity == "pass":
        return found
    leaking = printed(point.states["open"].currents["U1"].high, AMPERE)
    why = f"The transistor amplifies what leaks through the dark detector, {leaking}."
    return replace(found, reason=f"{found.reason} {why}")


def _flyback(point):
    """Hold the voltage that the coil brings to the transistor when it is switched off against its rating."""
    load, dark = point.scenario.output, point.states["open"].quantities
    if not isinstance(load, Relay):
        return None
    subject = "Voltage at the transistor just after switching off"
    limit = Limit("flyback-peak", subject, VOLT, "supply high, coil current high")
    found = at_most(limit, dark["V_peak"], load.V_rating)
    released = printed(dark["t_release"].high, SECOND)
    lacking = " No clamp takes the coil's current over." if load.clamp == "none" else ""
    return replace(found, reason=f"{found.reason}{lacking} The coil lets go after {released} at the latest.")


def _mends_of_operate(point):
    """Yield more current into the base."""
    load = point.scenario.output
    if not isinstance(load, Relay):
        return
    coil = load.V_nominal / load.R_coil
    for times in _HARD:
        base = coil / load.gain_min * times if load.transistor == "npn" else load.Vth * MARGIN * times / load.R_base
        room = load.VCC_ends[0] - point.scenario.coupling.model.V_lit - load.drop_beside_load(base, 298.15)
        yield fitted(point, "RL", room / base, "down")


def _mends_of_release(point):
    """Yield a resistor from base to emitter that carries what leaks."""
    load, leaking = point.scenario.output, point.states["open"].currents["U1"].high
    if not isinstance(load, Relay) or not leaking > AMPERE.floor:
        return
    for volts in _HELD_OFF:
        R = preferred(volts / leaking, point.scenario.conditions.series, "down")
        if 1.0 <= R < load.R_base:
            yield Mend(f"make R3 {as_typed(R, OHM)}", replace(point.scenario, output=replace(load, R_base=R)))


def _mends_of_flyback(point):
    """Yield a clamp that holds the voltage: a smaller resistor or zener voltage, or a plain diode."""
    load = point.scenario.output
    if not isinstance(load, Relay):
        return
    room, coil = load.V_rating - load.VCC_ends[1], point.states["closed"].quantities["IK"].high
    for clear in CLEAR:
        R = preferred(room / clear / coil, "E12", "down") if room > 0.0 and coil > AMPERE.floor else 0.0
        if load.clamp == "resistor" and 1.0 <= R <= 1e6:
            yield Mend(f"clamp it with {as_typed(R, OHM)}", replace(point.scenario, output=replace(load, R_clamp=R)))
        VZ = preferred(room / clear - 1.0, "E24", "down") if room / clear > 2.0 else 0.0
        if load.clamp == "zener" and 1.0 <= VZ <= 500.0:
            other = replace(load, V_clamp=VZ)
            yield Mend(f"clamp it at {as_typed(VZ, VOLT)}", replace(point.scenario, output=other))
    if load.clamp != "diode":
        yield Mend("fit a diode across the coil", replace(point.scenario, output=replace(load, clamp="diode")))


RULES = listed(
    Rule(
        code="relay-operate",
        title="Relay operates",
        asks="Does the coil surely get the voltage at which the relay operates while the LED is lit?",
        why="The relay chatters or stays open, the more so with a warm coil, whose resistance is higher.",
        limit_from="Must-operate voltage of the relay at 20 °C, as typed, corrected for the coil's temperature.",
        worst_where="Supply low, coil warm, CTR and current gain at their lowest.",
        mends="A smaller base resistor, or more drive for the LED.",
        measure=_operate,
        remedies=_mends_of_operate,
    ),
    Rule(
        code="relay-release",
        title="Relay releases",
        asks="Does the relay surely release while the LED is dark, although its transistor amplifies what leaks?",
        why="The relay stays closed, or lets go late.",
        limit_from="Must-release voltage of the relay at 20 °C, as typed.",
        worst_where="Dark current and current gain at their highest, hot.",
        mends="A resistor from base or gate to common that carries what leaks.",
        measure=_release,
        remedies=_mends_of_release,
    ),
    Rule(
        code="flyback-peak",
        title="Flyback",
        asks="Does the transistor withstand what the coil gives back when it is switched off?",
        why="Without a clamp, or with one that is too high, the coil's energy breaks the transistor down.",
        limit_from="Voltage that the transistor withstands, as typed.",
        worst_where="Supply high, coil current high.",
        mends="A diode across the coil, or a lower zener voltage or resistor of the clamp.",
        measure=_flyback,
        remedies=_mends_of_flyback,
    ),
)
"""Rules by their codes, in the order of importance."""

REMEDIES = {}
"""Code of a rule of another module to what yields its possible remedies, the best first."""
