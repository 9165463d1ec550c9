"""An input on alternating voltage as a stage: sized, shown at its crest, followed over the cycle, judged."""

import math

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from engine import (
    ScenarioError,
    findings_of,
    operating_point,
    over_cycle,
    pulse_tables,
    query_from,
    scenario_from_query,
    size,
)
from engine.cycle import over_the_cycle
from engine.cycling.period import drive_values, members_of, output_values
from engine.cycling.smoothing import charging_of
from engine.inputs import AcLine
from engine.scenario import Scenario

STAGES = (
    "in=ac",
    "in=ac&form=diode",
    "in=ac&form=pair&coupler=two-way",
    "in=ac&dropper=capacitor",
    "in=ac&dropper=capacitor&form=diode&rbd=none",
    "in=ac&cs=10u",
    "in=ac&dropper=capacitor&cs=4u7",
    "in=ac&vac=24V&if=5mA&r1v=50V",
    "in=ac&ileak=500uA",
    "in=ac&dropper=capacitor&cs=1u&ileak=300uA",
    "in=ac&vac=24V&form=diode&ileak=2mA&ta=85C",
)


def point_of(query):
    return operating_point(scenario_from_query(query))


def cycle_of(query):
    return over_cycle(scenario_from_query(query))


def triple(cycle, symbol):
    return next(one for one in cycle.electrical if one.symbol == symbol)


def findings(query):
    return {finding.code: finding for finding in findings_of(point_of(query))}


# ---------------------------------------------------------------- sizing


@pytest.mark.parametrize("form", ["bridge", "diode", "pair&coupler=two-way"])
@pytest.mark.parametrize("more", ["", "&vac=24V", "&if=200uA", "&dropper=capacitor"])
def test_auto_gives_the_wanted_average(form, more):
    query = f"in=ac&form={form}{more}"
    point = point_of(query)
    sized = point.sized["CD" if "capacitor" in more else "R1"]
    wanted = point.scenario.input.IF
    key = "cd" if "capacitor" in more else "r1"
    exact = cycle_of(f"{query}&{key}={sized.exact:.12g}")
    assert triple(exact, "IF").average.value == pytest.approx(wanted, rel=1e-5)
    assert triple(cycle_of(query), "IF").average.value == pytest.approx(wanted, rel=0.11)  # rounded to E24, E12


def test_auto_resistor_is_the_integral_on_paper():
    # With a constant drop the average of the rectified current is an integral: 24 V, LED and two diodes.
    point = point_of("in=ac&vac=24V&if=5mA")
    closed, crest = point.states["closed"].quantities, 24 * math.sqrt(2)
    drop = closed["VF"].value + 2 * 0.68
    mean, _ = quad(lambda angle: max(crest * math.sin(angle) - drop, 0.0), 0, math.pi, points=[0.07, math.pi - 0.07])
    assert point.sized["R1"].exact == pytest.approx(mean / math.pi / 5e-3, rel=0.01)


def test_auto_resistor_before_a_capacitor_limits_the_inrush():
    cycle = cycle_of("in=ac&dropper=capacitor")
    assert cycle.figures["inrush_IF"].high < 10 * 50e-3
    assert cycle.figures["inrush_IF"].high > 0.7 * 10 * 50e-3


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ("in=ac&vac=1V&if=100mA", "if"),
        ("in=ac&vac=1V&dropper=capacitor&if=1A", "if"),
        ("in=ac&form=pair", "coupler"),
        ("in=ac&form=pair&coupler=low-drive", "coupler"),
        ("in=ac&form=diode&cs=10u", "cs"),
        ("in=ac&nsplit=2.5", "nsplit"),
        ("in=ac&vsmin=250V&vsmax=200V", "vsmin"),
        ("in=ac&vac=0V", "vac"),
        ("in=ac&f=0Hz", "f"),
        ("in=ac&cd=1kF", "cd"),
        ("in=ac&form=full", "form"),
    ],
)
def test_what_cannot_be_is_refused_with_its_field(query, field):
    with pytest.raises(ScenarioError) as refused:
        point_of(query)
    assert [problem.field for problem in refused.value.problems] == [field]


def test_a_pair_is_refused_for_a_reason_that_names_the_other_half_cycle():
    with pytest.raises(ScenarioError, match="half cycle"):
        Scenario(input=AcLine(form="pair"))


def test_a_pair_and_its_coupler_may_come_in_one_query():
    scenario = scenario_from_query("in=ac&form=pair&coupler=two-way")
    assert scenario_from_query(query_from(scenario)) == scenario


# ---------------------------------------------------------------- at the crest


@pytest.mark.parametrize("query", STAGES)
def test_the_circuit_at_the_crest_is_that_of_the_cycle(query):
    point, cycle = point_of(query), cycle_of(query)
    closed = point.states["closed"].quantities["IF"]
    assert closed.value == pytest.approx(cycle.IF[0].max(), rel=1e-4)
    assert closed.low <= cycle.IF[1].max() * 1.0001
    assert closed.high >= cycle.IF[2].max() * 0.9999


@pytest.mark.parametrize("query", STAGES)
def test_powers_are_averages_that_balance(query):
    for state in point_of(query).states.values():
        inner = [
            power.value for part, power in state.powers.items() if part not in ("VS", "VCC", "RL", "RX", "U1", "D1")
        ]
        of_two = 2.0 if "bridge" in query or "form" not in query else 1.0  # the half of a bridge that is not drawn
        diodes = sum(state.powers[part].value for part in ("D4", "D5") if part in state.powers)
        second = state.powers["LED"].value if "pair" in query else 0.0
        taken = sum(inner) + (of_two - 1.0) * diodes + second
        assert -state.powers["VS"].value == pytest.approx(taken, rel=5e-3, abs=1e-7)


def test_absent_line_voltage_leaves_the_led_dark():
    for query in ("in=ac", "in=ac&dropper=capacitor", "in=ac&cs=10u"):
        state = point_of(query).states["open"]
        assert state.quantities["IF"].high < 1e-8
        assert all(
            abs(power.value) < 1e-6 for part, power in state.powers.items() if part not in ("VCC", "RL", "U1", "RX")
        )


def test_residual_current_flows_past_the_absent_line_voltage():
    state = point_of("in=ac&ileak=500uA&vstol=0%25").states["open"]
    # 500 uA rms into a short circuit have a crest of 707 uA; R1 of 100 kohm and the LED leave less.
    expected = (230 * math.sqrt(2) - 1.1 - 2 * 0.6) / (230 / 500e-6 + 100e3)
    assert state.quantities["IF"].value == pytest.approx(expected, rel=0.01)


def test_a_capacitor_at_the_crest_has_its_share_of_the_line():
    drops = point_of("in=ac&dropper=capacitor").states["closed"].drops
    loop = ("S1", "CD", "R1", "D4", "LED", "D5")
    assert drops["VS"].value == pytest.approx(sum(drops[part].value for part in loop), rel=1e-9)
    assert abs(drops["CD"].value) < 0.5 * 325  # the current leads the voltage by nearly a quarter of the period


def test_the_range_of_the_line_is_that_of_the_stage_at_either_end():
    fixed = "in=ac&r1=47k&tol=0%25&vstol=0%25"
    wide = point_of(f"{fixed}&vac=120V&vsmin=100V&vsmax=240V").states["closed"]
    weak, strong = (point_of(f"{fixed}&vac={volts}V").states["closed"] for volts in (100, 240))
    assert wide.quantities["IF"].low == pytest.approx(weak.quantities["IF"].low)
    assert wide.quantities["IF"].high == pytest.approx(strong.quantities["IF"].high)
    assert (wide.nodes["VS"].low, wide.nodes["VS"].high) == pytest.approx((100 * math.sqrt(2), 240 * math.sqrt(2)))


# ---------------------------------------------------------------- over the cycle


def test_line_voltage_has_its_three_figures():
    line = triple(cycle_of("in=ac&vstol=10%25"), "V line")
    assert (line.rms.value, line.rms.low, line.rms.high) == pytest.approx((230.0, 207.0, 253.0))
    assert line.peak.value == pytest.approx(230 * math.sqrt(2))
    assert line.average.value == pytest.approx(230 * math.sqrt(8) / math.pi, rel=1e-4)


@pytest.mark.parametrize("query", STAGES)
def test_every_range_holds_its_value(query):
    cycle = cycle_of(query)
    ranges = [*cycle.figures.values(), *cycle.powers.values()]
    ranges += [found for one in cycle.electrical for found in (one.rms, one.peak, one.average)]
    assert all(found.low <= found.value <= found.high for found in ranges)
    assert all(
        one.average.value <= one.rms.value * (1 + 1e-12) <= one.peak.value * (1 + 1e-9) for one in cycle.electrical
    )


@pytest.mark.parametrize("query", STAGES)
def test_corners_of_the_loop_are_the_extremes_of_its_ends(query):
    """The three members that are solved against all ends of line, R1, VF and CD, each solved on its own."""
    scenario = scenario_from_query(query)
    point = operating_point(scenario)
    three = drive_values(scenario, point.sized)
    names = [name for name in three if name != "S1"]
    ends = np.array(np.meshgrid(*([three[name][1], three[name][2]] for name in names))).reshape(len(names), -1)
    values = dict(zip(names, ends, strict=True)) | {"S1": np.full(ends.shape[1], three["S1"][0])}
    T = scenario.conditions.TA + 273.15
    IF = over_the_cycle(scenario.input.loop_of(scenario.coupling.model.led, T, values)).IF.mean(axis=1)
    average = triple(over_cycle(scenario), "IF").average
    assert (average.low, average.high) == pytest.approx((IF.min(), IF.max()), rel=1e-6)


@pytest.mark.parametrize("output", ["", "&out=pull-down", "&out=indicator", "&rl=47k&ta=70C"])
def test_output_follows_the_led_current_as_a_direct_current_stage_does(output):
    cycle = cycle_of(f"in=ac&vstol=0%25{output}")
    for instant in (3, 8, 20, 64):
        IF = cycle.IF[0, instant]
        # A supply so high that R1 sets the current, whatever the LED takes of it.
        point = point_of(f"in=contact-high&vs=1kV&rc=1m&r1={(1000 - 1.1) / IF:.9g}{output}")
        state = point.states["closed"].quantities
        assert state["IF"].value == pytest.approx(IF, rel=1e-3)
        observed = point.scenario.output.observed
        assert cycle.out[0, instant] == pytest.approx(
            state[observed].value, rel=0.005, abs=0.001 if observed == "VOUT" else 1e-6
        )


def test_unlit_time_ends_where_the_output_crosses_its_limit():
    cycle = cycle_of("in=ac")
    assert len(cycle.unlit) == 2
    start, width = cycle.unlit[0].start, cycle.unlit[0].width
    before, after = (cycle.out[0, int(share * 256) % 256] for share in (start - 0.01, start + 0.01))
    assert before < 0.8 < after
    assert width / 50 == pytest.approx(cycle.figures["unlit"].value)
    assert cycle.figures["unlit_offset"].value == pytest.approx(0.0, abs=1e-5)


def test_a_capacitor_dropper_moves_the_pulse_away_from_the_zero_crossing():
    offset = cycle_of("in=ac&dropper=capacitor").figures["unlit_offset"]
    assert -5e-3 < offset.value < -3e-3


def test_one_diode_leaves_half_of_the_cycle_unlit():
    unlit = cycle_of("in=ac&form=diode").figures["unlit"]
    assert 10e-3 < unlit.low <= unlit.high < 12e-3


def test_smoothing_before_the_led_or_behind_the_coupler_makes_the_output_steady():
    assert not cycle_of("in=ac").steady
    assert cycle_of("in=ac&cs=10u").steady
    assert cycle_of("in=ac&co=22u").steady


def test_output_capacitor_settles_between_nothing_and_everything():
    bare, small, large, huge = (cycle_of(f"in=ac{more}") for more in ("", "&co=1n", "&co=22u", "&co=220u"))
    # A capacitor that is almost nothing changes almost nothing; the tables it is solved by are coarser.
    assert np.abs(small.out[0] - bare.out[0]).max() < 0.12
    ripples = [cycle.figures["out_ripple"].value for cycle in (bare, large, huge)]
    assert ripples[0] > 20 * ripples[1] > 100 * ripples[2] > 0
    assert ripples[1] == pytest.approx(10 * ripples[2], rel=0.1)


@pytest.mark.parametrize("capacity", ["1p", "10p", "100p", "10n"])
def test_output_capacitor_of_a_photodarlington_is_solved(capacity):
    """Its first transistor needs 0.6 V, so what flows into CO is steep between two flat stretches of its voltage."""
    bare, found = cycle_of("in=ac&coupler=cascade"), cycle_of(f"in=ac&coupler=cascade&co={capacity}")
    low, high = bare.out[0].min(), bare.out[0].max()
    # The tables that it is solved by are coarser.
    assert (found.out[0] > low - 0.05).all()
    assert (found.out[0] < high + 0.05).all()
    if capacity.endswith("p"):  # next to nothing
        assert np.abs(found.out[0] - bare.out[0]).max() < 0.05


def test_output_capacitor_of_a_photodarlington_agrees_with_a_general_integrator():
    scenario = scenario_from_query("in=ac&coupler=cascade&co=100n")
    cycle, period = over_cycle(scenario), 1.0 / scenario.input.f
    nominal = output_values(scenario, size(scenario), members_of(scenario)[0][:1])
    stored = charging_of(scenario, nominal, float(cycle.IF.max()), scenario.input.C_out)
    fine = np.linspace(0.0, 1.0, 4097)
    IF = np.interp(fine, np.append(cycle.phases, 1.0), np.append(cycle.IF[0], cycle.IF[0, 0]))
    known, levels = stored.known(IF[None])[0], stored.levels[0]

    def rate(t, volts):
        at = t / period % 1.0 * 4096
        row = known[int(at)] + (at % 1.0) * (known[int(at) + 1] - known[int(at)])
        return [np.interp(volts[0], levels, row) / stored.C]

    times = period * (1.0 + cycle.phases)
    run = solve_ivp(rate, (0.0, 2.0 * period), [2.0], "Radau", times, rtol=1e-6, atol=1e-6, max_step=period / 256)
    # Where the LED goes dark the output leaps within one of the cycle's steps.
    assert np.abs(run.y[0] - cycle.out[0]).mean() < 0.004
    assert np.abs(run.y[0] - cycle.out[0]).max() < 0.1


def test_output_capacitor_discharges_through_the_load():
    # Pull-down and one diode: through the dark half cycle CO empties through RL alone.
    cycle = cycle_of("in=ac&form=diode&out=pull-down&rl=4k7&co=1u&iin=0A")
    first, last = cycle.out[0, 160], cycle.out[0, 224]
    assert last / first == pytest.approx(math.exp(-(64 / 256 / 50) / (4700 * 1e-6)), rel=0.01)


def test_pulse_widths_grow_with_R1_and_shrink_with_RL():
    over_R1, over_RL = pulse_tables(scenario_from_query("in=ac"))
    widths = np.array(over_R1.widths)
    assert (np.diff(widths, axis=0) > 0).all()
    assert (np.diff(widths, axis=1) < 0).all()  # weakest, nominal, strongest coupler
    assert (np.diff(np.array(over_RL.widths), axis=0) < 0).all()
    at = over_R1.ohms.index(100e3)
    assert widths[at, 1] == pytest.approx(cycle_of("in=ac").figures["unlit"].value, rel=0.02)
    at = over_RL.ohms.index(4700.0)
    assert over_RL.widths[at][1] == pytest.approx(widths[over_R1.ohms.index(100e3), 1], rel=0.02)


def test_no_pulse_widths_where_a_capacitor_settles_the_output():
    assert pulse_tables(scenario_from_query("in=ac&co=1u")) == ()


# ---------------------------------------------------------------- findings


def test_direct_current_has_none_of_these_findings():
    assert not findings("").keys() & {"led-average", "inrush", "resistor-voltage", "zero-crossing", "left-charge"}


@pytest.mark.parametrize(
    ("code", "wrong", "severity", "right"),
    [
        ("led-average", "in=ac&if=45mA&r1w=25W", "caution", "in=ac&if=40mA&r1w=25W"),
        ("led-average", "in=ac&if=70mA&r1w=25W", "stop", "in=ac&if=40mA&r1w=25W"),
        ("inrush", "in=ac&dropper=capacitor&r1=680R", "caution", "in=ac&dropper=capacitor&r1=820R"),
        ("inrush", "in=ac&dropper=capacitor&r1=470R", "stop", "in=ac&dropper=capacitor&r1=820R"),
        ("inrush", "in=ac&dropper=capacitor&r1=820R&rbd=none", "stop", "in=ac&dropper=capacitor&r1=820R"),
        ("resistor-voltage", "in=ac&nsplit=1", "stop", "in=ac&nsplit=2"),
        ("resistor-voltage", "in=ac&nsplit=1&r1v=340V", "caution", "in=ac&nsplit=1&r1v=360V"),
        ("resistor-voltage", "in=ac&dropper=capacitor&nsplit=1", "stop", "in=ac&dropper=capacitor&nsplit=2"),
        ("zero-crossing", "in=ac", "caution", "in=ac&co=10u"),
        ("left-charge", "in=ac&dropper=capacitor&rbd=none", "caution", "in=ac&dropper=capacitor"),
        ("left-charge", "in=ac&dropper=capacitor&cd=1u&rbd=1M", "caution", "in=ac&dropper=capacitor&cd=1u&rbd=330k"),
    ],
)
def test_finding_is_raised_and_is_not_just_inside(code, wrong, severity, right):
    assert findings(wrong)[code].severity == severity
    assert findings(right)[code].severity == "pass"


@pytest.mark.parametrize(
    ("code", "query"),
    [
        ("led-average", "in=ac&if=50mA&r1w=25W"),
        ("led-average", "in=ac&if=60mA&dropper=capacitor&r1w=25W"),
        ("inrush", "in=ac&dropper=capacitor&r1=470R"),
        ("resistor-voltage", "in=ac&nsplit=1"),
        ("zero-crossing", "in=ac"),
        ("zero-crossing", "in=ac&form=diode&r1w=2W"),
        ("left-charge", "in=ac&dropper=capacitor&rbd=none&nsplit=4"),
        ("power-r1", "in=ac&if=5mA"),
    ],
)
def test_remedy_mends_its_finding(code, query):
    mend = findings(query)[code].mend
    assert mend is not None
    assert {f.code: f.severity for f in findings_of(operating_point(mend.scenario))}[code] == "pass"


@pytest.mark.parametrize(("volts", "noted"), [("230V", True), ("50V", True), ("24V", False), ("45V", False)])
def test_a_line_above_fifty_volts_is_hazardous(volts, noted):
    assert ("hazardous-voltage" in findings(f"in=ac&vac={volts}")) == noted


@pytest.mark.parametrize(
    ("query", "noted"),
    [("in=ac&dropper=capacitor", True), ("in=ac&dropper=capacitor&vac=24V", False), ("in=ac", False)],
)
def test_a_capacitor_at_a_dangerous_line_must_be_made_for_it(query, noted):
    assert ("line-capacitor" in findings(query)) == noted


def test_power_of_R1_is_that_of_the_rms_current():
    found, cycle = findings("in=ac&vstol=0%25&tol=0%25"), cycle_of("in=ac&vstol=0%25&tol=0%25")
    assert found["power-r1"].value == pytest.approx(triple(cycle, "I R1").rms.high ** 2 * 100e3, rel=1e-6)
    assert found["power-r1"].limit == 1.0  # two parts of 0.5 W


def test_a_residual_current_that_lights_the_led_is_found():
    assert findings("in=ac&ileak=500uA")["residual-light"].severity in ("caution", "note")
    assert findings("in=ac")["residual-light"].severity == "pass"
