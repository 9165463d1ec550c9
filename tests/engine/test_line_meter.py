"""What a meter shows on a line: against closed forms, and against the cycle that is solved as a whole."""

import numpy as np
import pytest

from engine import (
    METERS,
    STATES,
    ScenarioError,
    bench_sheet,
    diagnose,
    operating_point,
    over_cycle,
    scenario_from_query,
)
from engine.build import build_all
from engine.diagnosis import left_aside
from engine.faults import GOOD, faults_of
from engine.hypotheses import hypotheses_of, simulated
from engine.line_meter import AC, DC, LineMeter
from engine.probing import probes_of
from engine.sampling import Samples

CREST = 230.0 * np.sqrt(2.0)
TRIAC = "out=ac-load&coupler=triac-random&if=15mA"


def readings(query, fault_id="good"):
    """Return probe id and state to what the nominal stage shows with a fault."""
    scenario = scenario_from_query(query)
    fault = next(fault for fault in (GOOD, *faults_of(scenario)) if fault.id == fault_id)
    probes, meter = probes_of(scenario), METERS[scenario.conditions.meter]
    stage = build_all((scenario,), draw=Samples(scenario, 0).take(0))
    shown = simulated(stage, list({GOOD, fault}), probes, meter)
    row = shown[list({GOOD, fault}).index(fault)]
    return {(probe.id, state): row[k, n, 0] for k, probe in enumerate(probes) for n, state in enumerate(STATES)}


# ---------------------------------------------------------------- the input on a line


def test_an_open_diode_of_a_bridge_leaves_half_a_sine():
    shown = readings("in=ac", "d4-open")
    alternating = CREST * np.sqrt(0.25 - 1.0 / np.pi**2)  # a half sine without its mean, elementary
    assert shown["r1", "closed"] == pytest.approx(alternating, rel=0.015)  # less the drops of LED and diodes
    assert shown["d4", "closed"] == pytest.approx(CREST / np.pi, rel=0.03)


def test_diodes_of_a_bridge_take_turns():
    shown = readings("in=ac")
    assert shown["d4", "closed"] == pytest.approx(shown["d5", "closed"], abs=1e-6)
    assert 2.0 * shown["d4", "closed"] + shown["led", "closed"] == pytest.approx(0.0, abs=1e-3)  # round the bridge


def test_the_meter_divides_the_line_with_what_the_open_switch_leaves():
    shown = readings("in=ac&form=pair&coupler=two-way&meter=loading&r1=51k", "led-short")
    R1 = 51e3
    assert shown["s1", "open"] == pytest.approx(230.0 * 300e3 / (300e3 + R1), rel=1e-3)


@pytest.mark.parametrize(
    "query",
    [
        "in=ac&dropper=capacitor",
        "in=ac&cs=10uF",
        "in=ac&dropper=capacitor&cs=10uF",
        "in=ac&dropper=capacitor&form=diode",
    ],
)
def test_capacitors_followed_come_to_the_cycle_that_is_solved_as_a_whole(query):
    shown, cycle = readings(query), over_cycle(scenario_from_query(query))
    found = {one.symbol: one for one in cycle.electrical}
    assert shown["r1", "closed"] == pytest.approx(found["V R1"].rms.value, rel=0.02)
    for part in ("CD", "CS"):
        if f"V {part}" in found:
            figure = found[f"V {part}"].rms if part == "CD" else found[f"V {part}"].average
            assert shown[part.lower(), "closed"] == pytest.approx(figure.value, rel=0.01)
    assert shown["out", "closed"] == pytest.approx(cycle.figures["out_average"].value, abs=0.06)


def test_an_open_led_charges_the_smoothing_capacitor_to_the_crest():
    shown = readings("in=ac&dropper=capacitor&cs=1uF&rbd=none", "led-open")
    assert shown["cs", "closed"] == pytest.approx(CREST, rel=0.05)


def test_nothing_is_left_behind_an_open_switch():
    shown = readings("in=ac&dropper=capacitor&cs=10uF")
    dark = {point: volts for (point, state), volts in shown.items() if state == "open"}
    assert all(abs(dark[point]) < 1e-3 for point in ("cd", "r1", "led", "cs", "rf"))
    assert dark["s1"] == pytest.approx(230.0, rel=0.02)


# ---------------------------------------------------------------- the load on a line


@pytest.mark.parametrize("query", [TRIAC, "out=ac-triac&coupler=triac-random&if=15mA"])
def test_a_load_that_is_switched_has_the_rms_of_the_closed_form(query):
    shown, states = readings(query), operating_point(scenario_from_query(query)).states
    part = "rl" if "ac-load" in query else "rload"
    assert shown[part, "closed"] == pytest.approx(states["closed"].quantities["VLOAD"].value, rel=2e-3)
    assert shown["u1", "open"] == pytest.approx(230.0, rel=1e-3)


def test_a_snubber_feeds_the_load_while_off():
    shown, states = readings(TRIAC + "&csn=47nF"), operating_point(scenario_from_query(TRIAC + "&csn=47nF")).states
    assert shown["rl", "open"] == pytest.approx(states["open"].quantities["VLOAD"].value, rel=5e-3)
    impedance = 1.0 / (2.0 * np.pi * 50.0 * 47e-9)
    assert shown["rsn", "open"] == pytest.approx(230.0 * 39.0 / impedance, rel=0.02)  # the load is small beside it


def test_a_larger_triac_that_is_open_leaves_the_load_dark():
    shown = readings("out=ac-triac&coupler=triac-random&if=15mA", "q3-open")
    assert shown["q3", "closed"] > 150.0
    assert shown["rload", "closed"] < 0.3 * 230.0


def test_below_its_holding_current_a_coupler_does_not_stay_on():
    IH = scenario_from_query(TRIAC).coupling.data.IH
    R = int(CREST / IH * 1.2)
    shown = readings(f"{TRIAC}&rl={R}R&rlw=5W")
    assert shown["u1", "closed"] == pytest.approx(shown["u1", "open"])


# ---------------------------------------------------------------- which range, and what is left aside


def test_ranges_follow_what_a_point_has_to_show():
    rows = {row.probe.id: row.coupling for row in bench_sheet(scenario_from_query("in=ac")).rows}
    assert {point for point, kind in rows.items() if kind == AC} == {"vs", "s1", "r1"}
    assert {kind for point, kind in rows.items() if point in ("out", "rl", "vcc", "led")} == {DC}


@pytest.mark.parametrize(
    ("query", "word"), [("in=ac&co=1uF", "CO"), ("in=ac&out=ac-load&coupler=triac-random", "phases")]
)
def test_points_whose_readings_say_nothing_are_left_aside(query, word):
    scenario = scenario_from_query(query)
    points, because = left_aside(scenario)
    assert "vcc" not in points
    assert points
    assert word in because
    assert not set(points) & {point for point, _ in hypotheses_of(scenario).places}
    with pytest.raises(ScenarioError, match="not diagnosed"):
        diagnose(scenario, [(points[0], "closed", 1.0)])


def test_nothing_is_left_aside_elsewhere():
    for query in ("", "in=ac", TRIAC):
        assert left_aside(scenario_from_query(query)) == ((), "")


def test_capacitors_need_no_leap_where_they_repeat_already():
    scenario = scenario_from_query("in=ac&cs=10uF")
    line = LineMeter(scenario, METERS["digital"])
    stage = line.ready(build_all((scenario,), draw=Samples(scenario, 0).take(0)))
    assert line.follows
    first, _ = line.read_input(stage.netlist, [("DC", "K")], [DC])
    assert first[0, 0] == pytest.approx(
        {one.symbol: one for one in over_cycle(scenario).electrical}["V CS"].average.value, rel=0.01
    )


# ---------------------------------------------------------------- finding faults


@pytest.mark.parametrize(
    ("query", "fault_id"),
    [
        ("in=ac", "d4-open"), ("in=ac", "led-open"), ("in=ac&form=pair&coupler=two-way", "u1-tired"),
        (TRIAC, "u1-short"), ("out=ac-triac&coupler=triac-random&if=15mA", "q3-short"),
    ],
)  # fmt: skip
def test_faults_on_a_line_are_found(query, fault_id):
    scenario, shown = scenario_from_query(query), readings(query, fault_id)
    found = diagnose(scenario, [(*place, volts) for place, volts in shown.items()])
    first = found.ranking[0]
    assert fault_id in {fault.id for fault in (first.fault, *first.same_readings_as)}
    assert found.explained
