"""Findings on an input on alternating voltage, over the whole cycle, and what may mend them."""

import math
from dataclasses import replace

from engine.cycle import HALF_WAVE, in_series
from engine.cycling import over_cycle
from engine.findings.drive import HAZARDOUS_AC
from engine.findings.finding import Finding, Limit, Mend, Rule, at_most, listed, margin_of, printed
from engine.findings.fitting import CLEAR, MARGIN, fitted
from engine.inputs import AcLine
from engine.inputs.mains import LEAST_C, NONE
from engine.operating import Range
from engine.preferred import preferred
from engine.quantity import AMPERE, FARAD, OHM, SECOND, VOLT, as_typed
from engine.sizing import CAPACITORS, LEAST, MOST

SURGE = 10.0  # [-], multiples of its continuous current that an LED bears for up to 0.1 ms; common practice, no source
_SAFE = 34.0  # [V], to which a capacitor must have fallen a second after the line; IEC 60335-1, from memory
_SECOND = 1.0  # [s]
_MOST_CO = 1e-2  # [F], largest capacitor that is offered for the output


def _cycle(point):
    """Return the solved period; None for a stage on direct current."""
    return over_cycle(point.scenario) if isinstance(point.scenario.input, AcLine) else None


def _figure(cycle, symbol):
    """Return an alternating quantity of the input side by its symbol; None if the side has no such quantity."""
    return next((one for one in cycle.electrical if one.symbol == symbol), None)


def _led_average(point):
    """Hold the LED current, averaged over the cycle, against the card's rating at this ambient temperature."""
    if (cycle := _cycle(point)) is None:
        return None
    rating = point.scenario.coupling.data.IF_rating.at(point.scenario.conditions.TA_ends[1])
    limit = Limit("led-average", "Average LED current over the cycle", AMPERE, "line high, R1 low, VF low")
    return at_most(limit, _figure(cycle, "IF").average, rating)


def _inrush(point):
    """Hold the LED's current when the line is switched on at its crest against what an LED bears for a moment."""
    cycle = _cycle(point)
    if cycle is None or "inrush_IF" not in cycle.figures:
        return None
    rating = point.scenario.coupling.data.IF_rating.at(point.scenario.conditions.TA_ends[1])
    bled = not point.scenario.input.capacitive or point.scenario.input.R_bleeder != NONE
    condition = "switched on at the crest" if bled else "switched on at the crest, CD left charged against it"
    limit = Limit("inrush", "Inrush through the LED", AMPERE, condition)
    return at_most(limit, cycle.figures["inrush_IF"], SURGE * rating)


def _across_R1(cycle, side):
    """Return the peak voltage across all of R1, the inrush before a capacitor among it."""
    volts = _figure(cycle, "V R1").peak
    if not side.capacitive:
        return volts
    line = _figure(cycle, "V line").peak
    twice = 1.0 if side.R_bleeder != NONE else 2.0
    return Range(*(max(v, twice * u) for v, u in zip(_ends(volts), _ends(line), strict=True)), "V")


def _ends(found):
    """Return value, low and high."""
    return found.value, found.low, found.high


def _resistor_voltage(point):
    """Hold the peak voltage across one resistor of R1 against its rating."""
    if (cycle := _cycle(point)) is None:
        return None
    side = point.scenario.input
    one = Range(*(volts / side.split for volts in _ends(_across_R1(cycle, side))), "V")
    subject = "Peak voltage across R1" if side.split == 1 else f"Peak voltage across each of {side.split:.0f} resistors"
    condition = "line high" if not side.capacitive else "line high, switched on at the crest"
    return at_most(Limit("resistor-voltage", subject, VOLT, condition), one, side.R1_voltage)


def _zero_crossing(point):
    """Ask whether the output is read as lit all through the cycle."""
    cycle = _cycle(point)
    if cycle is None or cycle.out is None:
        return None
    unlit, lit = cycle.figures["unlit"], point.states["closed"].verdict.sure
    severity = "pass" if cycle.steady else "caution" if lit else "note"
    share = cycle.figures["lit_share"].low
    if cycle.steady:
        reason = "The output is read as lit all through the cycle."
    elif not share > 0.0:
        reason = "At worst the output is not surely read as lit at any instant of the cycle."
    else:
        where = "for half of each cycle and more" if point.scenario.input.form in HALF_WAVE else "in each half cycle"
        reason = (
            f"The output is not surely read as lit {where}: for {printed(unlit.high, SECOND)} in a row at worst. "
            "Smooth it, or let the receiver wait longer than that."
        )
    margin = 0.0 if cycle.steady else -1.0
    return Finding("zero-crossing", severity, unlit.high, 0.0, margin, "s", "weakest coupler, line low", reason)


def _left_charge(point):
    """Ask whether the capacitor before the LED loses its charge soon after the line."""
    if (cycle := _cycle(point)) is None or not point.scenario.input.capacitive:
        return None
    side = point.scenario.input
    volts = _figure(cycle, "V CD").peak.high
    if volts <= _SAFE:
        return None
    if side.R_bleeder == NONE:
        reason = f"Nothing discharges CD: it keeps up to {printed(volts, VOLT)} after the line is switched off."
        return Finding("left-charge", "caution", volts, _SAFE, _SAFE / volts - 1.0, "V", "no bleeder", reason)
    time = _bleeding(point, volts, side.R_bleeder)
    held = time <= _SECOND
    reason = (
        f"RBD takes {printed(time, SECOND)} at worst to bring CD from {printed(volts, VOLT)} to "
        f"{printed(_SAFE, VOLT)}: {'within' if held else 'more than'} one second."
    )
    margin = margin_of(_SECOND - time, _SECOND, held, SECOND)
    return Finding(
        "left-charge", "pass" if held else "caution", time, _SECOND, margin, "s", "line high, CD high", reason
    )


def _line_capacitor(point):
    """Note that a capacitor at the line must be one that is made for it."""
    if (cycle := _cycle(point)) is None or not point.scenario.input.capacitive:
        return None
    volts = _figure(cycle, "V CD").rms.high
    if volts <= HAZARDOUS_AC:
        return None
    reason = (
        f"CD stands at the line with up to {printed(volts, VOLT)} rms: take one that is made for that, of class X, "
        "which does not burn when it fails."
    )
    return Finding("line-capacitor", "note", volts, HAZARDOUS_AC, HAZARDOUS_AC / volts - 1.0, "V", "line high", reason)


def _bleeding(point, volts, R):
    """Return how long a bleeder takes at worst to discharge CD [s]."""
    side, tolerance = point.scenario.input, point.scenario.conditions.tolerance
    C = point.sized["CD"].chosen * (1.0 + side.CD_tolerance)
    return R * (1.0 + tolerance) * C * math.log(volts / _SAFE)


def _mends_of_led_average(point):
    """Yield what lowers the LED's average current: a larger R1, a smaller CD."""
    rating = point.scenario.coupling.data.IF_rating.at(point.scenario.conditions.TA_ends[1])
    if rating > 0.0:
        yield from less_average(point, _figure(_cycle(point), "IF").average.high / rating)


def less_average(point, too_much):
    """Yield what lowers the LED's average current by a factor: a larger R1, a smaller CD.

    Parameters
    ----------
    point : OperatingPoint
        A solved stage on alternating voltage.
    too_much : float
        The factor, above 1 [-].

    Yields
    ------
    Mend or None
        Remedies, the best first.
    """
    side = point.scenario.input
    for clear in CLEAR:
        if side.capacitive:
            C = preferred(point.sized["CD"].chosen / (too_much * clear), CAPACITORS, "down")
            if C >= LEAST_C:
                smaller = replace(side, CD=C)
                yield Mend(f"make CD {as_typed(C, FARAD)}", replace(point.scenario, input=smaller))
        else:
            yield fitted(point, "R1", point.sized["R1"].chosen * too_much * clear, "up")


def _mends_of_inrush(point):
    """Yield a larger R1, and a bleeder where there is none."""
    side, rating = point.scenario.input, point.scenario.coupling.data.IF_rating.at(point.scenario.conditions.TA_ends[1])
    if side.capacitive and side.R_bleeder == NONE:
        yield from _mends_of_left_charge(point)
    if rating > 0.0:
        over = _cycle(point).figures["inrush_IF"].high / (SURGE * rating)
        for clear in CLEAR:
            yield fitted(point, "R1", point.sized["R1"].chosen * over * clear, "up")


def _mends_of_resistor_voltage(point):
    """Yield more resistors in series."""
    side = point.scenario.input
    count = in_series(_across_R1(_cycle(point), side).high, side.R1_voltage, 0.0, 1.0)
    if side.split < count <= 20:
        parts = replace(side, split=float(count))
        yield Mend(f"make R1 of {count} equal resistors in series", replace(point.scenario, input=parts))


def _mends_of_zero_crossing(point):
    """Yield capacitors at the output that carry it over the zero crossing."""
    side, load = point.scenario.input, point.scenario.output
    if load.observed != "VOUT":
        return
    wait = min(_cycle(point).figures["unlit"].high, 1.0 / side.f)
    for times in (3.0, 10.0, 30.0):
        C = preferred(times * wait / point.sized["RL"].chosen, CAPACITORS, "up")
        if 1e-12 <= C <= _MOST_CO:
            held = replace(side, C_out=C)
            yield Mend(f"put CO {as_typed(C, FARAD)} across the output", replace(point.scenario, input=held))


def _mends_of_left_charge(point):
    """Yield bleeders that discharge CD within a second."""
    side = point.scenario.input
    volts = _figure(_cycle(point), "V CD").peak.high
    R = _SECOND / _bleeding(point, volts, 1.0) / MARGIN
    if LEAST <= R <= MOST:
        R = preferred(R, point.scenario.conditions.series, "down")
        bled = replace(side, R_bleeder=max(R, 100.0))
        yield Mend(f"put RBD {as_typed(R, OHM)} across CD", replace(point.scenario, input=bled))


RULES = listed(
    Rule(
        code="led-average",
        title="Average LED current",
        asks="Is the LED's current, averaged over the cycle, within its rating at this ambient temperature?",
        why="The LED ages fast, loses its light, and may fail.",
        limit_from="Card, line LED.IF_rating, which falls with the ambient temperature.",
        worst_where="Line high, R1 low or CD high, forward voltage low, hot.",
        mends="A larger R1, or a smaller CD.",
        measure=_led_average,
        remedies=_mends_of_led_average,
    ),
    Rule(
        code="inrush",
        title="Inrush",
        asks="Does the LED bear the surge when the line is switched on at its crest?",
        why="A single switching-on at the wrong instant destroys the LED.",
        limit_from="Ten times the LED's continuous rating, for up to 0.1 ms: common practice, no source.",
        worst_where="Switched on at the crest, the dropper capacitor empty or left charged against it.",
        mends="A larger R1; a bleeder where the capacitor keeps its charge.",
        measure=_inrush,
        remedies=_mends_of_inrush,
    ),
    Rule(
        code="resistor-voltage",
        title="Resistor voltage",
        asks="Does each resistor of R1 bear its peak voltage?",
        why="A film resistor arcs over above its voltage rating, however little power it takes.",
        limit_from="Voltage rating of one resistor, as typed.",
        worst_where="Line high; before a capacitor, switched on at the crest.",
        mends="More equal resistors in series.",
        measure=_resistor_voltage,
        remedies=_mends_of_resistor_voltage,
    ),
    Rule(
        code="zero-crossing",
        title="Gaps at zero crossing",
        asks="Is the output read as lit all through the cycle?",
        why="The receiver sees pulses of twice the line's frequency instead of a steady level.",
        limit_from="No gap at all; a receiver that waits longer than the gap may do without.",
        worst_where="Weakest coupler, line low.",
        severities=("caution", "note"),
        mends="A capacitor across the output that carries it over the gap.",
        measure=_zero_crossing,
        remedies=_mends_of_zero_crossing,
    ),
    Rule(
        code="left-charge",
        title="Charge left in CD",
        asks="Does the dropper capacitor lose its charge within a second of the line being switched off?",
        why="Whoever touches the plug's pins gets a shock from the capacitor.",
        limit_from="34 V after one second: IEC 60335-1, from memory.",
        worst_where="Line high, CD high.",
        severities=("caution",),
        mends="A bleeder across CD, or a smaller one.",
        measure=_left_charge,
        remedies=_mends_of_left_charge,
    ),
    Rule(
        code="line-capacitor",
        title="Capacitor at the line",
        asks="Does the dropper capacitor stand at a dangerous line, so that it must be made for it?",
        why="An ordinary film capacitor that breaks down at the line burns.",
        limit_from="50 V ac: IEC 61140, from memory; capacitors of class X are of IEC 60384-14, from memory.",
        worst_where="Line high.",
        severities=("note",),
        mends="Nothing that is fitted: choose a capacitor of class X.",
        measure=_line_capacitor,
    ),
)
"""Rules by their codes, in the order of importance."""

REMEDIES = {}
"""Code of a rule of another module to what yields its possible remedies, the best first."""
