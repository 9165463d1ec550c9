"""What a stage does over many samples: against laws that are known, and against the samples one by one."""

import math
from dataclasses import replace

import numpy as np
import pytest

from engine import BINS, KINDS, STATES, Plan, Run, ScenarioError, operating_point, scenario_from_query, spread_of
from engine import spread as spread_module
from engine.build import build_all
from engine.findings import judged
from engine.operating import observed
from engine.sampling import Samples
from tests.equations import Stage, Values

FIXED = "vstol=0%25&vcctol=0%25&iin=0A"
ALIKE = Plan(300)


def stages(query, count, plan):
    """Return values of samples that are drawn as a spread draws them."""
    scenario = scenario_from_query(query)
    varied = build_all((scenario,), draw=Samples(scenario, plan.seed, plan.dist).take(count)).varied
    return scenario, {name: values[1:] for name, values in varied.items()}


def test_statistics_are_those_of_stages_solved_one_by_one():
    query = "vs=24V&r1=3k9&rl=2k2&vstol=10%25&vcctol=5%25&tol=10%25&ctrmin=20%25"
    scenario, values = stages(query, 120, Plan(120))
    alone = {state: [] for state in STATES}
    for k in range(120):
        names = ("VS", "R1", "CTR", "VCC", "RL", "shift", "ICEO", "down", "up")
        changed = {name: float(values[name][k]) for name in names}
        for state in STATES:
            one = Stage(scenario, replace(Values.nominal(scenario), **changed), state == "closed")
            alone[state].append(one.by_root())
    found = spread_of(scenario, Plan(120))
    for state in STATES:
        for symbol in ("IF", "IC", "VCE", "VOUT"):
            expected = np.array([answer[symbol] for answer in alone[state]])
            one = found.states[state]["quantities"][symbol]
            solved = (one.minimum, one.p1, one.median, one.p99, one.maximum, one.mean, one.sd)
            wanted = (
                expected.min(), *np.percentile(expected, (1, 50, 99)), expected.max(), expected.mean(),
                expected.std(ddof=1),
            )  # fmt: skip
            assert solved == pytest.approx(wanted, rel=1e-6, abs=1e-12 if symbol[0] == "I" else 1e-7), (state, symbol)


@pytest.mark.parametrize("dist", ["uniform", "normal"])
def test_the_same_plan_gives_the_same_whatever_is_solved_together(monkeypatch, dist):
    scenario, plan = scenario_from_query("tamax=60C&years=4"), Plan(700, 3, dist)
    whole = spread_of(scenario, plan)
    monkeypatch.setattr(spread_module, "_CHUNK", 150)
    parts = spread_of(scenario, plan)
    assert {code: one.failing for code, one in parts.yields.items()} == {
        code: one.failing for code, one in whole.yields.items()
    }
    for state in STATES:
        for kind in KINDS:
            assert parts.states[state][kind].keys() == whole.states[state][kind].keys()
            for name, one in whole.states[state][kind].items():
                other = parts.states[state][kind][name]
                numbers = (one.minimum, one.median, one.maximum, one.mean)
                assert (other.minimum, other.median, other.maximum, other.mean) == pytest.approx(
                    numbers, rel=1e-6, abs=1e-9
                )


def test_another_number_gives_others():
    scenario = scenario_from_query("")
    one, two = (spread_of(scenario, Plan(300, seed)).states["closed"]["quantities"]["IF"] for seed in (1, 2))
    assert one.mean != two.mean


def test_ranges_beside_are_those_of_the_corners():
    scenario = scenario_from_query("tamax=50C")
    point, found = operating_point(scenario), spread_of(scenario, ALIKE)
    for state in STATES:
        for kind in KINDS:
            at_corners = getattr(point.states[state], kind)
            assert found.states[state][kind].keys() == at_corners.keys()
            for name, one in found.states[state][kind].items():
                wanted = at_corners[name]
                assert (one.value, one.low, one.high) == pytest.approx(
                    (wanted.value, wanted.low, wanted.high), rel=1e-9, abs=1e-12
                )


def test_yields_count_the_samples_that_keep_each_rule():
    query, plan = "ctrmin=20%25&il=2mA&vcctol=5%25", Plan(400, 2)
    scenario = scenario_from_query(query)
    found = spread_of(scenario, plan)
    point = observed(build_all((scenario,), draw=Samples(scenario, 2).take(400))).point()
    by_code = {f.code: f.holds[1:] for f in judged(point) if f.holds is not None}
    assert all(found.yields[code].share == 1.0 for code in found.yields.keys() - by_code.keys())
    for code, holds in by_code.items():
        assert found.yields[code].share == pytest.approx(holds.mean())
        assert found.yields[code].failing == int((~holds).sum())
    together = np.all(list(by_code.values()), axis=0)
    assert 0.0 < together.mean() < 1.0
    assert found.all.share == pytest.approx(together.mean())
    assert (found.all.failing, found.all.guaranteed) == (int((~together).sum()), False)


def test_what_holds_at_every_corner_holds_in_every_sample():
    found = spread_of(scenario_from_query(""), ALIKE)
    assert all(one.guaranteed and one.share == 1.0 for one in found.yields.values())
    assert found.all.guaranteed
    assert found.most_failing == pytest.approx(-math.log(0.05) / 300, rel=0.01)


def test_what_fails_at_a_corner_alone_may_hold_in_every_sample():
    found = spread_of(scenario_from_query("ctrmin=40%25&tol=20%25"), ALIKE).yields["saturation"]
    assert (found.share, found.guaranteed) == (1.0, False)


def test_bars_count_every_sample():
    one = spread_of(scenario_from_query(""), Plan(1234)).states["closed"]["quantities"]["VCE"]
    assert one.counts.shape == (BINS,)
    assert one.counts.sum() == 1234
    assert one.counts[0] > 0
    assert one.counts[-1] > 0
    still = spread_of(scenario_from_query(FIXED), ALIKE).states["closed"]["nodes"]["VCC"]
    assert still.minimum == still.maximum == still.value
    assert still.sd < 1e-12
    assert still.counts.sum() == 300


def test_progress_is_told_up_to_the_end():
    told = []
    spread_of(scenario_from_query(""), Plan(6000), told.append)
    assert told == sorted(set(told))
    assert len(told) > 1
    assert told[-1] == 6000


def test_work_that_is_left_off_is_not_finished():
    run = Run(scenario_from_query(""), Plan(6000))
    assert 0 < run.step() < 6000
    assert not run.finished


def test_a_ratio_that_some_samples_lack_is_told_of_none():
    found = spread_of(scenario_from_query("r1=1k&vs=1V&vsmin=0V&vsmax=1V"), Plan(5000)).states["closed"]["quantities"]
    assert "IF" in found
    assert "CTR_available" not in found


def test_over_a_cycle_what_is_judged_as_a_whole_is_in_no_yield():
    found = spread_of(scenario_from_query("in=ac"), Plan(100))
    assert found.undrawn == ("zero-crossing",)
    assert "zero-crossing" not in found.yields
    assert found.yields["led-average"].share == 1.0


def test_over_a_cycle_fewer_may_be_asked_for():
    with pytest.raises(
        ScenarioError, match="samples: every sample is solved over a whole cycle of the line; up to 5000"
    ):
        spread_of(scenario_from_query("in=ac"), Plan(5001))


@pytest.mark.parametrize("query", ["vs=0.5V", "out=indicator&vcc=1V"])
def test_a_stage_that_cannot_be_sized_is_refused(query):
    with pytest.raises(ScenarioError, match="no resistor gives"):
        spread_of(scenario_from_query(query))


def test_no_spread_without_tolerances_but_that_of_the_bin():
    found = spread_of(scenario_from_query(f"{FIXED}&tol=0%25&ctrmin=110%25&ctrmax=110%25"), ALIKE)
    shares = found.states["closed"]["quantities"]
    assert shares["CTR_available"].sd < 1e-2 * shares["CTR_available"].mean
    assert found.states["closed"]["nodes"]["VS"].sd < 1e-12


def test_limits_stand_beside_what_they_limit():
    query = "vs=24V&ctrmin=20%25"
    found, point = spread_of(scenario_from_query(query), ALIKE), operating_point(scenario_from_query(query))
    by_code = {code: (key, limit) for key, rules in found.limits.items() for code, limit in rules}
    for finding in judged(point):
        if finding.code not in by_code:
            continue
        (state, kind, name), limit = by_code[finding.code]
        one = found.states[state][kind][name]
        assert limit == finding.limit
        assert finding.value in (pytest.approx(one.low), pytest.approx(one.high)), finding.code
    assert {"saturation", "level-lit", "level-dark", "led-current", "power-r1", "detector-power"} <= by_code.keys()
