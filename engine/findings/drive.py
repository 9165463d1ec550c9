"""Findings on what drives the LED, and what may mend them."""

from dataclasses import replace

import numpy as np

from engine.findings.finding import ROUNDING, Finding, Limit, Mend, Rule, at_most, listed, margin_of, printed
from engine.findings.fitting import CLEAR, MARGIN, bigger_part, fitted, largest_IF, less_drive, ratio
from engine.inputs import AcLine, LogicOutput, TwoWireSensor
from engine.inputs.drive import NONE
from engine.operating import Range
from engine.parameter import declared
from engine.preferred import preferred
from engine.quantity import AMPERE, CELSIUS, OHM, VOLT, WATT, as_typed
from engine.sizing import LEAST, MOST
from engine.thermal import FILM_KNEE, resistor_rating

HAZARDOUS_AC = 50.0  # [V], rms voltage above which a side is treated as dangerous; IEC 61140, from memory
HAZARDOUS_DC = 120.0  # [V], direct voltage above which a side is treated as dangerous; IEC 61140, from memory
_MOST_DIODES = 4  # that a remedy puts in series with an LED that a port cannot switch off
DARK_VF = 0.8  # [V], forward voltage below which a coupler's LED gives no light to speak of; common practice, no source


def _led_current(point):
    """Hold a steady LED current against the card's rating at this ambient temperature."""
    if isinstance(point.scenario.input, AcLine):
        return None
    IF = point.states["closed"].quantities["IF"]
    rating = point.scenario.coupling.data.IF_rating.at(point.varied["TA"])
    return at_most(Limit("led-current", "LED current", AMPERE, "supply high, R1 low, VF low"), IF, rating)


def _port_current(point):
    """Hold the LED current against what the port may carry."""
    side = point.scenario.input
    if not isinstance(side, LogicOutput):
        return None
    current = point.states["closed"].currents["P1"]
    return at_most(Limit("port-current", "Port current", AMPERE, "supply high, R1 low, VF low"), current, side.I_port)


def _package_current(point):
    """Hold the current of all pins that are lit at once against what the package may carry."""
    side = point.scenario.input
    if not isinstance(side, LogicOutput) or side.I_package == NONE:
        return None
    one = point.states["closed"].currents["P1"]
    together = Range(*(side.pins * current for current in (one.value, one.low, one.high)), "A", side.pins * one.members)
    subject = f"Current of {side.pins:.0f} pins" if side.pins > 1 else "Current of the package's only lit pin"
    return at_most(Limit("package-current", subject, AMPERE, "supply high, R1 low, VF low"), together, side.I_package)


def _sensor_load(point):
    """Ask whether a two-wire sensor gets the current that it lives on while it is on."""
    side = point.scenario.input
    if not isinstance(side, TwoWireSensor):
        return None
    current = point.states["closed"].currents["B1"]
    holds = current.members >= side.I_least * (1.0 - ROUNDING)
    held = bool(holds.all())
    severity = "pass" if held else "caution" if current.value >= side.I_least else "stop"
    verb = "gets" if held else "gets no more than"
    need = as_typed(side.I_least, AMPERE)
    reason = f"The sensor {verb} {printed(current.low, AMPERE)} at worst while it is on, and needs {need}."
    margin = margin_of(current.low - side.I_least, side.I_least, held, AMPERE)
    made = Finding("sensor-load", severity, current.low, side.I_least, margin, "A", "supply low, R1 high", reason)
    return replace(made, holds=holds, worst=int(current.members.argmin()))


def _residual_light(point):
    """Ask whether what leaks past the open switch lifts the LED to where it begins to give light."""
    dark = point.states["open"]
    VF, IF = dark.quantities["VF"], dark.quantities["IF"]
    if not IF.high > AMPERE.floor:
        return None
    lit = dark.verdict.reads != (0 if point.scenario.output.level_when_dark == point.scenario.output.words[0] else 2)
    holds = (VF.members <= DARK_VF) | ~lit
    dim, heeded = VF.high <= DARK_VF, not holds.all()
    severity = "caution" if heeded else "pass"
    verb = "leaves it dark" if dim else "lights it" if heeded else "gives little light, which the output does not heed"
    current, volts = printed(IF.high, AMPERE), printed(VF.high, VOLT)
    reason = f"With the switch open {current} still flow through the LED: {volts} {verb}."
    margin = (DARK_VF - VF.high) / DARK_VF
    margin = margin if severity == "caution" else max(margin, 0.0)
    made = Finding("residual-light", severity, VF.high, DARK_VF, margin, "V", "leakage at its largest", reason)
    worst = np.where(holds, -np.inf, VF.members) if heeded else VF.members
    return replace(made, holds=holds, worst=int(worst.argmax()))


def _power_rule(name):
    """Return the rule that holds a part's power against its rating, where the stage has such a part."""

    def rule(point):
        powers = [state.powers[name] for state in point.states.values() if name in state.powers]
        if not powers:
            return None
        power = max(powers, key=lambda one: one.high)
        condition = f"supply high, {name} low" if name.startswith("R") else "supply high"
        found = at_most(Limit(f"power-{name.lower()}", f"{name} power", WATT, condition), power, power.ratings)
        hottest = point.scenario.conditions.TA_ends[1]
        return _told_of_heat(found, hottest) if hottest > FILM_KNEE else found

    return rule


def _told_of_heat(finding, TA):
    """Return a finding on a part's power that tells what the heat around it leaves of its rating."""
    told = f"At {as_typed(TA, CELSIUS)} it may take {100.0 * resistor_rating(1.0, TA):.0f} % of its rating."
    return replace(finding, reason=f"{finding.reason} {told}")


def _hazardous_voltage(point):
    """Note a side whose voltage is dangerous to touch."""
    side, load = point.scenario.input, point.scenario.output
    direct, rms = (HAZARDOUS_DC, ""), (HAZARDOUS_AC, " rms")
    met = [(load.VCC_ends[1], *(rms if load.on_line else direct))]
    met.append((side.line_ends[1], *rms) if isinstance(side, AcLine) else (side.VS_ends[1], *direct))
    volts, limit, name = max(met, key=lambda one: one[0] / one[1])
    if volts <= limit:
        return None
    reason = (
        f"{printed(volts, VOLT)}{name} is dangerous to touch: isolate, lock out and prove dead before you work on it."
    )
    return Finding("hazardous-voltage", "note", volts, limit, limit / volts - 1.0, "V", "supply high", reason)


def _mends_of_drive(point):
    """Yield what may hold the LED current below its limits."""
    for clear in CLEAR:
        yield less_drive(point, largest_IF(point) / clear)


def _mends_of_residual_light(point):
    """Yield what keeps the LED dark: a bypass that carries what leaks, diodes where a port holds a voltage."""
    if isinstance(point.scenario.input, AcLine) or not point.states["open"].quantities["VF"].high > DARK_VF:
        return
    ways = _bypasses, _diode_strings
    for way in reversed(ways) if isinstance(point.scenario.input, LogicOutput) else ways:
        yield from way(point)


def _bypasses(point):
    """Yield bypass resistors across the LED that carry what leaks past the open switch."""
    side, leaking = point.scenario.input, point.states["open"].quantities["IF"].high
    if side.R_bypass != NONE and side.bypass_at == "led":
        leaking += DARK_VF / side.R_bypass
    if not leaking > AMPERE.floor:
        return
    for volts in (DARK_VF / MARGIN, DARK_VF / 1.3):
        R = volts / leaking / (1.0 + point.scenario.conditions.tolerance)
        if LEAST <= R <= MOST:
            R = preferred(R, point.scenario.conditions.series, "down")
            bypassed = replace(side, R_bypass=R, bypass_at="led")
            yield Mend(f"put RB {as_typed(R, OHM)} across the LED", replace(point.scenario, input=bypassed))


def _diode_strings(point):
    """Yield strings of diodes in series with the LED."""
    side = point.scenario.input
    most = min(int(side.diodes) + _MOST_DIODES, int(declared(side)["diodes"].high))
    for count in range(int(side.diodes) + 1, most + 1):
        word = "one diode" if count == 1 else f"{count} diodes"
        raised = replace(side, diodes=float(count))
        yield Mend(f"put {word} in series with the LED", replace(point.scenario, input=raised))


def _mends_of_sensor_load(point):
    """Yield what gives a two-wire sensor more current: a resistor across the input, a smaller R1."""
    side, tolerance = point.scenario.input, point.scenario.conditions.tolerance
    least = point.states["closed"].currents["B1"].low
    lacking = side.I_least * MARGIN - least
    R = ratio(max(side.VS_ends[0] - side.V_on, 0.0), lacking * (1.0 + tolerance))
    if side.R_bypass == NONE and LEAST <= R <= MOST:
        R = preferred(R, point.scenario.conditions.series, "down")
        beside = replace(side, R_bypass=R, bypass_at="input")
        yield Mend(f"put RB {as_typed(R, OHM)} across the input", replace(point.scenario, input=beside))
    for clear in CLEAR:
        yield fitted(point, "R1", ratio(point.sized["R1"].chosen * least, side.I_least * clear), "down")


def _mends_of_power(name):
    """Return what yields a part that may take the power."""
    return lambda point: bigger_part(point, name)


def _power(part, title, asks):
    """Return the rule that holds a part's power against its rating."""
    return Rule(
        code=f"power-{part.lower()}",
        title=title,
        asks=asks,
        why="The part becomes hotter than it may, drifts, and may burn.",
        limit_from="Power rating as typed; a film resistor's falls above 70 °C to nothing at 155 °C: common practice.",
        worst_where="Supply high, resistor low, in whichever state takes more; hot.",
        mends="A part with a higher rating.",
        measure=_power_rule(part),
        remedies=_mends_of_power(part),
    )


RULES = listed(
    Rule(
        code="led-current",
        title="LED current",
        asks="Is the LED's steady current within its rating at this ambient temperature?",
        why="The LED ages fast, loses its light, and may fail.",
        limit_from="Card, line LED.IF_rating, which falls with the ambient temperature.",
        worst_where="Supply high, R1 low, forward voltage low, hot.",
        mends="A larger R1.",
        measure=_led_current,
        remedies=_mends_of_drive,
    ),
    Rule(
        code="residual-light",
        title="Residual light",
        asks="Does what leaks past the open switch lift the LED to where it gives light that the output heeds?",
        why="The output sees a signal although the switch is open.",
        limit_from="0.8 V across the LED: common practice, no source.",
        worst_where="Supply and leakage at their largest.",
        severities=("caution",),
        mends="A bypass across the LED that carries what leaks; diodes in series where a port holds a voltage.",
        measure=_residual_light,
        remedies=_mends_of_residual_light,
    ),
    Rule(
        code="port-current",
        title="Port current",
        asks="Is the current of the logic port within what it may carry?",
        why="The port's level sags, and it may fail.",
        limit_from="Current limit of the port, as typed.",
        worst_where="Supply high, R1 low, forward voltage low.",
        mends="A larger R1.",
        measure=_port_current,
        remedies=_mends_of_drive,
    ),
    Rule(
        code="package-current",
        title="Package current",
        asks="Is the current of all pins that are lit at once within what the package may carry?",
        why="The supply lead of the package is overloaded, though each port by itself is not.",
        limit_from="Current limit of the package, as typed.",
        worst_where="Supply high, R1 low, forward voltage low, every pin lit.",
        mends="A larger R1.",
        measure=_package_current,
        remedies=_mends_of_drive,
    ),
    Rule(
        code="sensor-load",
        title="Sensor's load",
        asks="Does a two-wire sensor get the current that it lives on while it is on?",
        why="The sensor drops out, and the signal flickers.",
        limit_from="Least current of the sensor, as typed.",
        worst_where="Supply low, R1 high.",
        mends="A resistor across the input, or a smaller R1.",
        measure=_sensor_load,
        remedies=_mends_of_sensor_load,
    ),
    _power("R1", "R1 power", "Can the series resistor turn its power into heat?"),
    _power("RB", "RB power", "Can the bypass resistor turn its power into heat?"),
    _power("B2", "Limiter power", "Can the current limiter turn its power into heat?"),
    _power("RL", "RL power", "Can the load resistor turn its power into heat?"),
    Rule(
        code="hazardous-voltage",
        title="Dangerous voltage",
        asks="Is a side dangerous to touch?",
        why="Whoever measures or mends there may be hurt.",
        limit_from="50 V ac, 120 V dc: IEC 61140, from memory.",
        worst_where="Supply high.",
        severities=("note",),
        mends="Nothing that is fitted: isolate, lock out and prove dead.",
        measure=_hazardous_voltage,
    ),
)
"""Rules by their codes, in the order of importance."""

REMEDIES = {"level-dark": _mends_of_residual_light}
"""Code of a rule of another module to what yields its possible remedies, the best first."""
