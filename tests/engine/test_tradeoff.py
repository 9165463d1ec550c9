"""What speed costs over one resistor, and the largest load resistor that is fast enough."""

from dataclasses import replace

import numpy as np
import pytest

from engine import (
    RULES,
    Scenario,
    ScenarioError,
    Wanted,
    findings_of,
    ladder,
    operating_point,
    pull_up_for,
    scenario_from_query,
    timing_of,
    tradeoff_of,
    varied_in,
    wanted_from,
)
from engine.findings import FAILING
from engine.several import held_by, operating_points
from engine.tradeoff import refitted

QUERIES = ("rl=10k", "coupler=with-base&rl=10k", "out=pull-down&rl=47k", "out=indicator", "coupler=cascade&rl=10k")
BASE = "coupler=with-base&rl=10k"


def failing(scenario):
    found = findings_of(operating_point(scenario), remedies=False)
    return {finding.code for finding in found if finding.severity in FAILING}


CASES = [(query, part) for query in QUERIES for part in varied_in(scenario_from_query(query))]


@pytest.mark.parametrize(("query", "part"), CASES)
def test_every_value_is_a_stage_of_its_own(query, part):
    scenario = scenario_from_query(query)
    found = tradeoff_of(scenario, part)
    assert 8 <= len(found.R) <= 14
    assert (np.diff(found.R) > 0.0).all()
    end = (0, -1)[CASES.index((query, part)) % 2]
    for k in (len(found.R) // 2, end):
        stage = refitted(scenario, part, found.R[k])
        timing, lit = timing_of(stage), operating_point(stage).states["closed"]
        assert found.speed.worst[k] == pytest.approx(timing.max_rate.low or 0.0, rel=0.01)
        assert found.speed.rate[k] == pytest.approx(timing.max_rate.value or 0.0, rel=0.01)
        assert found.cost.IF[k] == pytest.approx(lit.quantities["IF"].value, rel=1e-6)
        assert found.cost.P_VCC[k] == pytest.approx(-lit.powers["VCC"].value, rel=1e-6)
        assert set(found.failing[k]) == failing(stage)


def test_the_ladder_is_of_the_series_and_has_what_is_there():
    scenario = scenario_from_query("rl=9k53&series=E12")
    found = tradeoff_of(scenario)
    assert found.present == 9530.0
    assert found.present in found.R
    assert set(found.R) - {9530.0} <= set(ladder(900.0, 100e3, "E12"))
    assert found.R[0] < 1.3e3
    assert found.R[-1] > 75e3


@pytest.mark.parametrize(("query", "low", "high"), [("rl=1R", 1.0, 10.0), ("rl=100M", 1e7, 1e8)])
def test_the_ladder_ends_where_the_scenario_does(query, low, high):
    found = tradeoff_of(scenario_from_query(query))
    assert found.R[0] >= low
    assert found.R[-1] <= high
    assert len(found.R) > 5


def test_base_resistors_make_one_batch():
    values = (180e3, 470e3, 1e6, 10e6)
    stages = [refitted(scenario_from_query(BASE), "RBE", R) for R in values]
    for stage, point in zip(stages, operating_points(stages), strict=True):
        alone = operating_point(stage)
        for name, found in alone.states["closed"].quantities.items():
            together = point.states["closed"].quantities[name]
            assert together.low == pytest.approx(found.low, rel=1e-6, abs=1e-12)
            assert together.high == pytest.approx(found.high, rel=1e-6, abs=1e-12)


@pytest.mark.parametrize(("query", "part"), [("rl=10k", "RL"), ("out=indicator", "RL"), (BASE, "R1"), (BASE, "RBE")])
def test_stretches_are_where_a_finding_fails(query, part):
    found = tradeoff_of(scenario_from_query(query), part)
    assert found.stretches
    for R, codes in zip(found.R, found.failing, strict=True):
        assert {one.code for one in found.stretches if one.low <= R <= one.high} == set(codes)


def test_an_end_of_a_stretch_is_near_where_the_finding_turns():
    scenario = scenario_from_query("rl=10k")
    (end,) = [one.high for one in tradeoff_of(scenario).stretches if one.code == "saturation"]
    held = held_by([refitted(scenario, "RL", end * way) for way in (0.95, 1.05)])
    assert "saturation" in held.failing(0)
    assert "saturation" not in held.failing(1)


def test_both_ends_are_told():
    found = tradeoff_of(scenario_from_query("rl=10k"))
    assert RULES["saturation"].title in found.low_end
    assert found.low_end.startswith("From ")
    assert found.high_end.startswith("Up to 100 kΩ")
    assert "at worst" in found.high_end


def test_what_fails_already_is_no_limit():
    found = tradeoff_of(scenario_from_query("rl=10k&vcc=5V"))
    assert found.now == ("receiver-supply",)
    assert RULES["receiver-supply"].title not in found.low_end + found.high_end


def test_less_saturation_is_faster():
    found = tradeoff_of(scenario_from_query("rl=10k"), "R1")
    assert (np.diff(found.speed.storage) < 0.0).all()
    assert (np.diff(found.speed.on) > 0.0).all()
    assert (np.diff(found.room.overdrive) < 0.0).all()


def test_without_a_base_resistor_the_rate_is_told_beside():
    found = tradeoff_of(scenario_from_query(BASE), "RBE")
    assert found.present is None
    assert found.bare == pytest.approx(timing_of(scenario_from_query(BASE)).max_rate.low, rel=0.01)
    assert tradeoff_of(scenario_from_query(BASE + "&rbe=1M"), "RBE").bare is None


def test_what_may_be_varied():
    assert varied_in(Scenario()) == ("RL", "R1")
    assert varied_in(scenario_from_query(BASE)) == ("RL", "RBE", "R1")
    assert varied_in(scenario_from_query("in=limited")) == ("RL",)
    with pytest.raises(ValueError, match="RBE cannot be varied"):
        tradeoff_of(Scenario(), "RBE")
    assert tradeoff_of(scenario_from_query("in=ac")) is None


# ---------------------------------------------------------------- the largest that is fast enough


@pytest.mark.parametrize("query", ["rl=10k", "out=indicator", "coupler=with-base&rl=22k&series=E96", "rl=2k2&cl=1n"])
@pytest.mark.parametrize("wanted", [{"rate": 5e3}, {"edge": 1e-4}])
def test_the_next_larger_value_is_too_slow_or_breaks_something(query, wanted):
    scenario = scenario_from_query(query)
    found, asked = pull_up_for(scenario, **wanted), Wanted(**wanted)
    assert found.RL is not None
    here = refitted(scenario, "RL", found.RL)
    assert found.scenario == here
    assert asked.met(asked.figure(timing_of(here)))
    assert failing(here) <= failing(scenario)
    series = scenario.conditions.series
    above = next(R for R in ladder(found.RL, 10 * found.RL, series) if R > found.RL * 1.001)
    beyond = refitted(scenario, "RL", above)
    assert not asked.met(asked.figure(timing_of(beyond))) or failing(beyond) - failing(scenario)


def test_a_rate_far_away_is_found_beyond_the_ladder():
    found = pull_up_for(scenario_from_query("rl=220k&iin=0A"), rate=15e3)
    assert 2e3 < found.RL < 5e3


def test_where_there_is_none_the_reason_is_told():
    scenario = scenario_from_query(BASE)
    fast = pull_up_for(scenario, rate=1e6)
    assert fast.RL is None
    assert fast.scenario is None
    assert "comes nearest" in fast.reason
    broken = pull_up_for(scenario, edge=20e-6)
    assert broken.RL is None
    assert RULES["saturation"].title in broken.reason
    untimed = pull_up_for(scenario_from_query("in=ac"), rate=1e3)
    assert untimed.RL is None
    assert "line" in untimed.reason


@pytest.mark.parametrize(
    "wanted", [{}, {"rate": 1e3, "edge": 1e-3}, {"rate": 0.0}, {"rate": float("nan")}, {"edge": 1e9}]
)
def test_what_cannot_be_wanted_is_refused(wanted):
    with pytest.raises(ScenarioError):
        pull_up_for(Scenario(), **wanted)


def test_texts_are_read_and_refused_all_at_once():
    assert wanted_from({}) is None
    assert wanted_from({"edge": "20 us", "other": "x"}) == Wanted(edge=20e-6)
    with pytest.raises(ScenarioError) as refused:
        wanted_from({"rate": "fast", "edge": "5 V"})
    assert [problem.field for problem in refused.value.problems] == ["rate", "edge"]


def test_a_stage_that_is_known_over_RL_gives_the_same_answer():
    scenario = scenario_from_query("rl=10k")
    known = tradeoff_of(scenario)
    assert pull_up_for(scenario, rate=9e3, found=known) == pull_up_for(scenario, rate=9e3)


def test_a_rate_that_the_stage_asks_for_leaves_the_ladder_as_it_is():
    scenario = scenario_from_query("rl=10k")
    asking = replace(scenario, conditions=replace(scenario.conditions, rate=9e3))
    assert (tradeoff_of(asking).speed.worst == tradeoff_of(scenario).speed.worst).all()
