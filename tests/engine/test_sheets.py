"""Tests of data sheets as stages: each opens from its link, and reads what the report reads."""

from dataclasses import replace

import pytest

from engine import (
    card_names,
    lines_of,
    load_card,
    operating_point,
    query_from,
    scenario_from_query,
    sheet_stages,
    speed_lines_of,
    timing_of,
)

EDGES = {
    "Rise time": ("on", "transition"),
    "Fall time": ("off", "transition"),
    "Turn-on time": ("on", "total"),
    "Storage time": ("off", "delay"),
    "Turn-off time": ("off", "total"),
}
TRANSISTORS = card_names("phototransistor", "photodarlington")


def stage_of(card, name):
    return next(test for test in sheet_stages(card) if test.name == name)


def report(card):
    return {line.name: line for line in (*lines_of(card), *speed_lines_of(card))}


@pytest.mark.parametrize("name", card_names())
def test_a_stage_is_the_same_from_its_link(name):
    card = load_card(name)
    tests = sheet_stages(card)
    assert tests
    for test in tests:
        assert bool(test.why) == (test.scenario is None)
        assert set(test.lines) <= set(report(card))
        if test.scenario is not None:
            assert scenario_from_query(query_from(test.scenario)) == test.scenario
            assert test.scenario.coupling.data == card


@pytest.mark.parametrize("name", TRANSISTORS)
@pytest.mark.parametrize("test", ["Speed without saturation", "Speed with saturation"])
def test_edges_of_a_stage_are_those_of_the_report(name, test):
    card = load_card(name)
    stage, read = stage_of(card, test), report(card)
    edges = timing_of(stage.scenario).edges
    for line in stage.lines:
        edge, time = EDGES[line]
        assert getattr(edges[edge], time).value == pytest.approx(read[line].modelled, rel=0.02)


@pytest.mark.parametrize("name", TRANSISTORS)
def test_surely_read_is_a_sheets_on_and_off(name):
    """The receiver's limits lie at a tenth and nine tenths of the swing to VCE(sat), which is of another current."""
    edges = timing_of(stage_of(load_card(name), "Speed with saturation").scenario).edges
    for edge in edges.values():
        assert edge.valid.value == pytest.approx(edge.total.value, rel=0.1)


@pytest.mark.parametrize("name", TRANSISTORS)
def test_ratio_and_saturation_are_those_of_the_card(name):
    card = load_card(name)
    lit = operating_point(stage_of(card, "Current transfer ratio").scenario).states["closed"]
    assert lit.currents["RL"].value / card.CTR_IF == pytest.approx(card.CTR_typ, rel=0.01)
    assert lit.quantities["VOUT"].value == pytest.approx(card.CTR_VCE, abs=5e-3)
    lit = operating_point(stage_of(card, "Saturation voltage").scenario).states["closed"]
    assert lit.quantities["VOUT"].value == pytest.approx(card.VCE_sat, abs=2e-3)
    assert lit.currents["RL"].value == pytest.approx(card.VCE_sat_IC, rel=1e-3)


def test_a_gate_sinks_its_test_current():
    card = load_card("fast-gate")
    lit = operating_point(stage_of(card, "Low level").scenario).states["closed"]
    assert lit.quantities["VOUT"].value == pytest.approx(card.VOL, abs=2e-3)
    assert lit.currents["RL"].value == pytest.approx(card.VOL_IOL, rel=1e-3)


@pytest.mark.parametrize("name", ["fast-gate", "push-pull", "photo-relay"])
def test_a_coupler_with_a_threshold_is_driven_as_its_test_says(name):
    card = load_card(name)
    states = operating_point(stage_of(card, "Speed").scenario).states
    assert states["closed"].currents["LED"].value == pytest.approx(card.speed_IF, rel=1e-3)
    assert states["open"].currents["LED"].value == pytest.approx(0.0, abs=1e-9)
    assert states["closed"].verdict.level != states["open"].verdict.level


@pytest.mark.parametrize("name", ["fast-gate", "push-pull", "photo-relay"])
def test_a_coupler_with_a_threshold_takes_its_stated_times_in_its_stage(name):
    """At worst a little more: a forward voltage at its upper limit takes drive away, which a sheet's test sets anew."""
    card = load_card(name)
    edges = timing_of(stage_of(card, "Speed").scenario).edges
    assert edges["on"].half.value == pytest.approx(card.t_on[0], rel=0.02)
    assert edges["off"].half.value == pytest.approx(card.t_off[0], rel=0.02)
    assert 0.99 * card.t_on[1] < edges["on"].half.high < 1.08 * card.t_on[1]
    assert edges["off"].half.high == pytest.approx(card.t_off[1], rel=0.02)


@pytest.mark.parametrize("name", card_names("opto-triac"))
def test_a_triac_has_no_stage_and_says_why(name):
    (test,) = sheet_stages(load_card(name))
    assert test.scenario is None
    assert "direct voltage" in test.why


@pytest.mark.parametrize(("line", "value"), [("speed_RL", 0.5), ("speed_VCC", 2000.0)])
def test_values_that_no_stage_takes_are_told(line, value):
    card = replace(load_card("photo-relay"), **{line: value})
    (test,) = sheet_stages(card)
    assert test.scenario is None
    assert test.why.startswith("No stage takes it: ")


def test_tests_that_a_card_does_not_state_are_not_there():
    unstated = dict.fromkeys(f"linear_{name}" for name in ("VCC", "IC", "RL", "rise", "fall"))
    names = [test.name for test in sheet_stages(replace(load_card("general"), **unstated))]
    assert names == ["Speed with saturation", "Current transfer ratio", "Saturation voltage"]
