"""The wanted signal rate: when it is asked, how grave it is to miss it, what mends it, and what it costs others."""

import pytest

from engine import ScenarioError, findings_of, operating_point, query_from, scenario_from_query, timing_of
from engine.findings import RULES, judged
from engine.preferred import preferred
from engine.several import held_by
from engine.traps import traps_of


def found(query, **kind):
    point = operating_point(scenario_from_query(query))
    return {finding.code: finding for finding in findings_of(point, **kind)}


@pytest.mark.parametrize(("text", "value"), [("12kHz", 12e3), ("0.5 Hz", 0.5), ("1 GHz", 1e9), ("none", "none")])
def test_a_rate_is_read_and_written(text, value):
    scenario = scenario_from_query(f"rate={text}")
    assert scenario.conditions.rate == value
    assert scenario_from_query(query_from(scenario)) == scenario


@pytest.mark.parametrize("text", ["0", "-1Hz", "2GHz", "1uHz", "5V", "fast", "nan"])
def test_a_rate_that_cannot_be_names_its_field(text):
    with pytest.raises(ScenarioError) as refused:
        scenario_from_query(f"rate={text}")
    (problem,) = refused.value.problems
    assert problem.field == "rate"
    assert "or none" in problem.accepted


def test_links_without_one_ask_for_none():
    assert scenario_from_query("").conditions.rate == "none"
    assert "rate" not in query_from(scenario_from_query("rl=10k"))
    assert "edge-rate" not in found("")


def test_it_is_asked_by_nobody_who_asks_many_or_is_in_a_hurry():
    scenario = scenario_from_query("rate=1MHz")
    point = operating_point(scenario)
    assert RULES["edge-rate"].slow
    assert "edge-rate" not in {finding.code for finding in judged(point)}
    assert "edge-rate" not in found("rate=1MHz", slow=False)
    assert "edge-rate" not in held_by([scenario]).codes
    assert held_by([scenario]).all.all()
    assert traps_of(point, findings_of(point, remedies=False, slow=False)) == ()


@pytest.mark.parametrize(("share", "severity"), [(0.99, "pass"), (1.01, "caution")])
def test_it_is_held_against_the_slowest_corner(share, severity):
    worst = timing_of(scenario_from_query("rl=10k")).max_rate.low
    finding = found(f"rl=10k&rate={share * worst:.3f}Hz", remedies=False)["edge-rate"]
    assert finding.severity == severity
    assert finding.value == pytest.approx(worst, rel=1e-6)
    assert finding.margin == pytest.approx(1.0 / share - 1.0, rel=1e-3)
    assert "switching off" in finding.condition


def test_it_is_a_stop_where_the_nominal_stage_is_too_slow():
    nominal = timing_of(scenario_from_query("rl=10k")).max_rate.value
    assert found(f"rl=10k&rate={1.01 * nominal:.3f}Hz", remedies=False)["edge-rate"].severity == "stop"


def test_a_level_that_is_never_sure_follows_nothing():
    finding = found("rl=470R&rate=1Hz", remedies=False)["edge-rate"]
    assert (finding.value, finding.margin) == (0.0, -1.0)
    assert "however slow" in finding.reason


@pytest.mark.parametrize("query", ["in=ac&rate=50Hz", "out=ac-triac&rate=50Hz"])
def test_where_edges_are_not_followed_that_is_said(query):
    finding = found(query)["edge-rate"]
    assert finding.severity == "note"
    assert "not known" in finding.reason
    assert finding.mend is None


def test_the_remedy_is_the_largest_load_resistor_that_does():
    mend = found("rl=22k&rate=8kHz")["edge-rate"].mend
    RL = mend.scenario.output.RL
    assert mend.text.startswith("make RL ")
    larger = f"rl={preferred(RL * 1.001, 'E24', 'up')}&rate=8kHz"
    assert found(query_from(mend.scenario))["edge-rate"].severity == "pass"
    assert found(larger, remedies=False)["edge-rate"].severity != "pass"


def test_a_base_resistor_is_offered_where_a_smaller_load_resistor_would_not_saturate():
    finding = found("coupler=with-base&rate=15kHz")["edge-rate"]
    assert "RBE" in finding.mend.text
    mended = found(query_from(finding.mend.scenario))
    assert {f.severity for f in mended.values()} <= {"pass", "note"}


def test_a_remedy_of_another_finding_makes_no_stage_too_slow():
    quick, whole = (found("rl=1k&rate=18kHz", slow=slow)["level-lit"].mend for slow in (False, True))
    assert found(query_from(quick.scenario), remedies=False)["edge-rate"].severity == "stop"
    assert found("rl=1k&rate=18kHz", remedies=False)["edge-rate"].severity == "caution"
    assert found(query_from(whole.scenario), remedies=False)["edge-rate"].severity in ("pass", "caution")
