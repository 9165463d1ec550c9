"""What becomes of a stage over its service: burdens one after the other, margins over the years, when they end."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from engine import (
    LOOK_AHEAD,
    MOST_YEARS,
    OUTPUTS,
    ScenarioError,
    findings_of,
    in_service,
    life_of,
    operating_point,
    scenario_from_query,
    staircase_of,
)
from engine.ageing import PLANS, remaining
from engine.findings import FAILING, RULES
from engine.findings.service import LONG, left_after_a_year, share_needed
from engine.life import PLANNED, USUAL_TA
from tests.property.scenarios import seeded

BENCH = "vs=20V&r1=6k2&vcc=5V&rl=2k7&logic=hct"
"""Demands nearly all that the weakest part of the bin gives at room temperature."""

GATE = "in=logic&vs=5V&iport=25mA&out=gate&coupler=push-pull"

STAGES = (
    BENCH,
    "tamin=-20C&tamax=70C",
    f"{GATE}&if=9mA",
    "out=relay&kq=mosfet",
    "out=indicator&il=1.5mA",
    "out=pull-down&logic=hc",
    "out=controller",
    "in=ac",
    "coupler=cascade&rl=680",
    "ageing=stress&stloss=30%25&stta=60C",
    "ageing=own&loss=40%25&lossyears=8",
)


def stage(query):
    return scenario_from_query(query)


def aged(scenario, years, ageing):
    conditions = replace(scenario.conditions, years=years, ageing=ageing)
    return operating_point(replace(scenario, conditions=conditions))


def sure(point):
    verdict, output = point.states["closed"].verdict, point.scenario.output
    return verdict.sure and verdict.level == output.level_when_lit


# ---------------------------------------------------------------- the staircase


def test_a_bench_circuit_passes_on_the_bench_and_fails_in_service():
    steps = {step.code: step for step in staircase_of(stage(BENCH))}
    assert list(steps) == ["typical", "tolerances", "weakest", "temperature", "service-slow", "service-fast"]
    assert [step.holds for step in steps.values()] == [True, True, True, False, False, False]
    assert steps["temperature"].new == ("saturation", "level-lit")
    assert steps["temperature"].TA == USUAL_TA[1]
    assert steps["service-slow"].new == steps["service-fast"].new == ()


def test_the_first_step_is_the_nominal_stage():
    first, closed = staircase_of(stage(BENCH))[0], operating_point(stage(BENCH)).states["closed"].quantities
    assert first.overdrive == pytest.approx(closed["overdrive"].value, rel=1e-6)


def test_the_third_step_is_the_stage_as_it_stands_new():
    third, point = staircase_of(stage(BENCH))[2], operating_point(stage(BENCH))
    assert third.overdrive == pytest.approx(point.states["closed"].quantities["overdrive"].low, rel=1e-6)
    assert set(third.failing) == {f.code for f in findings_of(point, remedies=False) if f.severity in FAILING}


@pytest.mark.parametrize("query", STAGES)
def test_the_last_steps_are_the_stage_in_service(query):
    scenario = stage(query)
    for step in staircase_of(scenario)[3:]:
        point = operating_point(replace(scenario, conditions=step.conditions))
        judged = {f.code: f for f in findings_of(point, remedies=False)}
        assert set(step.failing) == {code for code, f in judged.items() if f.severity in FAILING}
        assert step.overdrive == pytest.approx(point.states["closed"].quantities["overdrive"].low, rel=1e-6)
        assert step.level.value == pytest.approx(judged[step.level.code].value, rel=1e-5, abs=1e-6)


def test_the_second_step_knows_no_spread_of_the_coupler():
    """With other ends of the bin the first two steps stay as they are, the third one does not."""
    usual, wide = staircase_of(stage(BENCH)), staircase_of(stage(f"{BENCH}&ctrmin=20%25&ctrmax=400%25"))
    for k in (0, 1):
        assert wide[k].overdrive == pytest.approx(usual[k].overdrive, rel=1e-6)
    assert wide[2].overdrive < 0.5 * usual[2].overdrive


def test_without_tolerances_the_second_step_is_the_first():
    steps = staircase_of(stage(f"{BENCH}&tol=0%25&vstol=0%25&vcctol=0%25&iin=0A"))
    assert steps[1].overdrive == pytest.approx(steps[0].overdrive, rel=1e-6)


CYCLED = {"zero-crossing"}
"""Over the cycle a finding has corners of its own, and is a note where the crest is not lit anyway."""


@pytest.mark.parametrize("scenario", list(seeded(20, 11)))
def test_every_burden_makes_it_worse(scenario):
    steps = staircase_of(scenario)
    for earlier, later in pairwise(steps[:4]):
        assert set(earlier.failing) - CYCLED <= set(later.failing)
        if None not in (earlier.overdrive, later.overdrive):
            assert later.overdrive <= earlier.overdrive + 1e-6 * abs(earlier.overdrive) + 1e-9
    for service in steps[4:]:
        assert set(steps[3].failing) - CYCLED <= set(service.failing)


def test_asked_temperatures_and_service_are_taken_instead_of_the_usual_ones():
    steps = staircase_of(stage(f"{BENCH}&tamin=-10C&tamax=45C&years=3&ageing=fast"))
    assert [step.code for step in steps] == ["typical", "tolerances", "weakest", "temperature", "service-fast"]
    assert steps[-1].conditions.TA_ends == (-10.0, 45.0)
    assert (steps[-1].conditions.years, steps[-1].conditions.ageing) == (3.0, "fast")
    assert [step.conditions.years for step in steps[:-1]] == [0.0] * 4


def test_a_law_of_ones_own_stands_beside_both_planning_figures():
    steps = staircase_of(stage(f"{BENCH}&ageing=own&loss=90%25"))
    assert [step.code for step in steps[4:]] == ["service-slow", "service-fast", "service-own"]
    assert {step.conditions.years for step in steps[4:]} == {PLANNED}
    assert steps[6].overdrive == pytest.approx(0.1 * steps[3].overdrive, rel=1e-4)


def test_a_resistor_that_cannot_be_sized_is_refused():
    for ask in (staircase_of, life_of):
        with pytest.raises(ScenarioError, match="no resistor gives"):
            ask(stage("vs=1V&r1=auto"))


# ---------------------------------------------------------------- margins over the years


@pytest.mark.parametrize("query", STAGES)
def test_margins_are_those_of_the_solved_stage_in_that_year(query):
    scenario = stage(query)
    life = life_of(scenario, 12.0)
    for fading in life.laws.values():
        for k in (0, 7, 20):
            overdrive = aged(scenario, fading.years[k], fading.ageing).states["closed"].quantities["overdrive"]
            assert fading.margin[k] == pytest.approx(overdrive.low - 1.0, rel=1e-6, abs=1e-6)


@pytest.mark.parametrize("query", STAGES)
@pytest.mark.parametrize("ageing", PLANS)
def test_the_ends_are_where_the_solved_stage_fails(query, ageing):
    """A hundredth of a year before it holds, a hundredth after it does not; both events, each by itself."""
    scenario = stage(query)
    fading = life_of(scenario, MOST_YEARS).laws[ageing]
    for end, holds in (
        (fading.ends_in_year, lambda point: point.states["closed"].quantities["overdrive"].low >= 1.0),
        (fading.level_ends_in_year, sure),
    ):
        if end is None:
            assert holds(aged(scenario, MOST_YEARS, ageing))
        elif end == 0.0:
            assert not holds(aged(scenario, 0.0, ageing))
        else:
            assert holds(aged(scenario, max(end - 0.01, 0.0), ageing))
            assert not holds(aged(scenario, end + 0.01, ageing))


def test_the_stages_end_in_every_way():
    """Else the test above would hold nothing: ends of either event, within and beyond the years, and at once."""
    found = [fading for query in STAGES for fading in life_of(stage(query), MOST_YEARS).laws.values()]
    for name in ("ends_in_year", "level_ends_in_year"):
        ends = [getattr(fading, name) for fading in found]
        assert None in ends
        assert any(end for end in ends)
    assert any(f.ends_in_year and f.level_ends_in_year and f.level_ends_in_year > f.ends_in_year for f in found)
    assert any(f.ends_in_year == 0.0 for f in [*found, *life_of(in_service(stage(BENCH))).laws.values()])


def test_a_law_decides_by_the_light_alone():
    """Both planning figures reach the same share of light at their ends."""
    laws = life_of(stage(BENCH), MOST_YEARS).laws
    left = [remaining(PLANS[name].loss, PLANS[name].years, laws[name].ends_in_year) for name in PLANS]
    assert left[0] == pytest.approx(left[1], rel=1e-4)
    assert laws["slow"].left == pytest.approx(remaining(0.2, 10.0, laws["slow"].years))


def test_the_law_of_the_scenario_comes_first_with_both_planning_figures():
    assert list(life_of(stage(BENCH)).laws) == ["slow", "fast"]
    assert list(life_of(stage(f"{BENCH}&ageing=fast")).laws) == ["fast", "slow"]
    own = life_of(stage(f"{BENCH}&ageing=stress"))
    assert list(own.laws) == ["stress", "slow", "fast"]
    assert own.chosen is own.laws["stress"]


def test_a_stress_test_ages_by_the_current_of_the_stage():
    """Twice the drive wears four times as fast with the square of the current."""
    paces = []
    for R1 in ("6k2", "3k05"):
        scenario = stage(f"vs=20V&r1={R1}&ageing=stress&stloss=20%25&stta=60C&stpower=2")
        fading = life_of(scenario, 10.0).chosen
        paces.append(-np.log(fading.left[-1]))
        IF = operating_point(scenario).states["closed"].quantities["IF"].value
        assert fading.left[-1] == pytest.approx(left_after_a_year(scenario.conditions, IF) ** 10.0, rel=1e-9)
    assert paces[1] / paces[0] == pytest.approx(4.0, rel=0.05)


def test_years_of_service_that_are_asked_for_do_not_shift_the_curve():
    bare, asked = life_of(stage(BENCH)), life_of(stage(f"{BENCH}&years=10"))
    assert asked.chosen.margin == pytest.approx(bare.chosen.margin, rel=1e-9)
    assert asked.scenario == bare.scenario


def test_a_part_that_does_not_age_lasts():
    fading = life_of(stage(f"{BENCH}&ageing=own&loss=0%25")).chosen
    assert fading.ends_in_year is None
    assert fading.margin == pytest.approx(np.full(len(fading.margin), fading.margin[0]))


def test_a_stage_of_which_nothing_is_asked_has_the_margin_of_its_level():
    life = life_of(stage("out=pull-up&vcc=0V&iin=0A&rl=100M"))
    assert life.measure == "level"
    assert np.isfinite(life.chosen.margin).all()


@pytest.mark.parametrize("output", OUTPUTS)
def test_every_output_side_has_a_life_and_a_reason(output):
    life = life_of(in_service(stage(f"out={output}")))
    assert life.ahead == LOOK_AHEAD
    for fading in life.laws.values():
        assert fading.because.endswith(".")
        assert fading.told in fading.because or fading.ends_in_year == 0.0
        assert (np.diff(fading.margin) <= 1e-9).all()


@pytest.mark.parametrize("years", [0.0, -1.0, 40.1, float("nan"), float("inf")])
def test_years_out_of_range_are_refused(years):
    with pytest.raises(ScenarioError, match="ahead"):
        life_of(stage(BENCH), years)


# ---------------------------------------------------------------- the note beside the findings


def noted(query):
    found = {f.code: f for f in findings_of(operating_point(stage(query)), remedies=False)}
    return found.get("service-life")


@pytest.mark.parametrize(
    ("query", "inside"),
    [
        (BENCH, "vs=20V&r1=6k2&vcc=5V&rl=6k8&logic=hct"),
        (f"{BENCH}&ageing=fast", f"{BENCH}&ageing=own&loss=1%25"),
        (f"{GATE}&if=9mA", f"{GATE}&if=16mA"),
    ],
)  # fmt: skip
def test_the_note_names_the_year_that_solving_finds(query, inside):
    note = noted(query)
    assert note.severity == "note"
    assert note.margin < 0.0
    assert note.value == pytest.approx(life_of(stage(query)).chosen.ends_in_year, abs=0.005)
    assert note.value < LONG
    assert noted(inside) is None


def test_with_a_base_resistor_the_note_is_on_the_safe_side_and_near():
    query = "coupler=with-base&rbe=1M"
    year, solved = noted(query).value, life_of(stage(query)).chosen.ends_in_year
    assert 0.85 * solved < year <= solved


@pytest.mark.parametrize("more", ["years=3", "rl=1k"])
def test_no_note_where_service_is_asked_for_or_new_parts_fail(more):
    query = BENCH.replace("rl=2k7&", "") + ("&rl=2k7&" if "rl" not in more else "&") + more
    assert noted(query) is None


def test_the_note_says_at_which_temperature():
    assert noted("vs=20V&r1=6k2&vcc=5V&rl=3k6&logic=hct&tamin=0C&tamax=60C").condition.endswith("at 60 °C")


def test_the_share_is_that_of_the_light():
    point = operating_point(stage(BENCH))
    assert share_needed(point) == pytest.approx(1.0 / point.states["closed"].quantities["overdrive"].low)


def test_the_rule_is_a_note_only():
    assert RULES["service-life"].severities == ("note",)
