"""Distributions that samples are drawn from, and that what is drawn depends on nothing else."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from engine import Plan, ScenarioError, scenario_from_query
from engine.build import build_all
from engine.sampling import Samples

MANY = 20_000
RARELY = 1e-4  # significance at which a distribution counts as another one; draws are always the same


def drawn(query, name, *, dist="uniform", count=MANY, seed=5):
    """Return the values of one quantity, without the nominal one, and its triple."""
    scenario = scenario_from_query(query)
    samples = Samples(scenario, seed, dist)
    stage = build_all((scenario,), draw=samples.take(count))
    corners = build_all((scenario,)).varied[name]
    return stage.varied[name][1:], (corners[0], corners.min(), corners.max())


def matches(values, law):
    return stats.kstest(values, law.cdf).pvalue > RARELY


@pytest.mark.parametrize("name", ["VS", "R1", "VCC", "RL"])
def test_tolerances_are_even_between_their_ends(name):
    values, (_, low, high) = drawn("vstol=10%25&tol=5%25&vcctol=5%25", name)
    assert low < high
    assert matches(values, stats.uniform(low, high - low))


@pytest.mark.parametrize("name", ["VS", "R1", "VCC", "RL"])
def test_tolerances_are_normal_where_that_is_asked_for(name):
    values, (nominal, low, high) = drawn("vstol=10%25&tol=5%25&vcctol=5%25", name, dist="normal")
    sigma = (high - low) / 6
    assert matches(values, stats.truncnorm(-3, 3, nominal, sigma))
    assert values.std() == pytest.approx(sigma, rel=0.03)


def split(middle, low, high):
    """Return the distribution function of a normal one of two halves that join without a step, cut off at three."""
    before = (middle - low) / (high - low)
    halves = stats.truncnorm(0, 3, 0, (middle - low) / 3), stats.truncnorm(0, 3, 0, (high - middle) / 3)

    def below(values):
        left, right = halves[0].sf(middle - values), halves[1].cdf(values - middle)
        return np.where(values < middle, before * left, before + (1 - before) * right)

    return below


def follows(values, below):
    return stats.kstest(values, below).pvalue > RARELY


def test_a_supply_that_is_not_in_the_middle_of_its_range_is_most_often_near_its_nominal_value():
    values, _ = drawn("vs=24V&vsmin=20V&vsmax=40V", "VS", dist="normal")
    assert np.mean(values < 24.0) == pytest.approx(0.2, abs=0.012)
    assert follows(values, split(24.0, 20.0, 40.0))


def test_halves_of_a_distribution_join_without_a_step():
    values, _ = drawn("vs=24V&vsmin=20V&vsmax=40V", "VS", dist="normal", count=200_000)
    near = [np.mean((values > start) & (values < start + 0.2)) for start in (23.8, 24.0)]
    assert near[0] == pytest.approx(near[1], rel=0.05)


def test_forward_voltage_is_normal_about_the_typical_one():
    values, (_, low, high) = drawn("", "shift")
    assert follows(values, split(0.0, low, high))


def test_transfer_ratio_is_log_normal_about_the_typical_one_whatever_the_specimen():
    values, _ = drawn("ctr=95%25&ctrmin=50%25&ctrmax=300%25", "CTR")
    assert follows(np.log(values), split(math.log(1.1), math.log(0.5), math.log(3.0)))


@pytest.mark.parametrize(("ends", "typical"), [((1.5, 3.0), 1.5), ((0.4, 0.8), 0.8)])
def test_transfer_ratio_of_a_bin_beside_the_typical_one_is_most_often_near_that_end(ends, typical):
    values, _ = drawn(f"ctrmin={ends[0]:.0%}25&ctrmax={ends[1]:.0%}25", "CTR")
    away = np.abs(np.log(values / typical))
    assert matches(away, stats.truncnorm(0, 3, 0, math.log(2.0) / 3))


def test_dark_current_is_even_in_the_logarithm_and_not_tied_to_the_ratio():
    values, (_, low, high) = drawn("", "ICEO")
    assert (low, high) == (2e-9, 100e-9)
    assert matches(np.log(values), stats.uniform(math.log(low), math.log(high / low)))
    CTR, _ = drawn("", "CTR")
    assert abs(np.corrcoef(np.log(values), np.log(CTR))[0, 1]) < 4 / math.sqrt(MANY)


def test_age_takes_light_for_a_time_that_is_even_over_the_service():
    new, _ = drawn("", "CTR")
    aged, _ = drawn("years=5&ageing=fast", "CTR")
    years = -5 * np.log2(aged / new)
    assert matches(years, stats.uniform(0, 5))


def test_age_raises_a_threshold():
    new, _ = drawn("out=dc-load", "threshold")
    aged, _ = drawn("out=dc-load&years=5&ageing=fast", "threshold")
    assert matches(np.log2(aged / new), stats.uniform(0, 1))


def test_temperature_is_even_between_its_ends_even_where_tolerances_are_normal():
    values, _ = drawn("tamin=-20C&tamax=80C", "TA", dist="normal")
    assert matches(values, stats.uniform(-20, 100))


def test_a_receiver_leaks_either_way():
    into, _ = drawn("", "down")
    out, _ = drawn("", "up")
    assert (np.minimum(into, out) == 0).all()
    assert matches(into - out, stats.uniform(-1, 2))


def test_what_does_not_vary_is_nominal():
    values, (nominal, *_) = drawn("vstol=0%25&tol=0%25", "VS")
    assert (values == nominal).all()


@pytest.mark.parametrize("dist", ["uniform", "normal"])
@pytest.mark.parametrize(
    "query", ["", "in=limited&limtol=30%25", "out=relay", "out=gate&years=9", "out=controller", "rb=2k2", "out=ac-load"]
)
def test_nothing_is_drawn_beyond_the_ends_of_the_corners(query, dist):
    scenario = scenario_from_query(query)
    ends = build_all((scenario,)).varied
    values = build_all((scenario,), draw=Samples(scenario, 3, dist).take(3000)).varied
    for name, corner in ends.items():
        assert corner.min() <= values[name].min(), name
        assert values[name].max() <= corner.max(), name
        assert values[name][0] == corner[0], name


def test_samples_do_not_depend_on_how_many_are_drawn_at_a_time():
    scenario = scenario_from_query("years=3&tamax=60C")
    at_once = build_all((scenario,), draw=Samples(scenario, 9).take(1000)).varied
    samples = Samples(scenario, 9)
    parts = [build_all((scenario,), draw=samples.take(count)).varied for count in (1, 299, 700)]
    for name, values in at_once.items():
        assert np.array_equal(np.concatenate([part[name][1:] for part in parts]), values[1:]), name


def test_samples_of_one_quantity_do_not_depend_on_what_else_varies():
    alone, _ = drawn("r1=10k&tol=5%25&vstol=0%25", "R1", count=100)
    beside, _ = drawn("r1=10k&tol=5%25&vstol=20%25&rb=2k2&tamax=90C", "R1", count=100)
    assert np.array_equal(alone, beside)


def test_another_number_draws_others():
    one, _ = drawn("", "CTR", seed=1)
    two, _ = drawn("", "CTR", seed=2)
    assert abs(np.corrcoef(one, two)[0, 1]) < 4 / math.sqrt(MANY)


def test_no_two_quantities_go_together():
    scenario = scenario_from_query("rb=2k2&vcctol=5%25&tamax=60C")
    varied = build_all((scenario,), draw=Samples(scenario, 1).take(MANY)).varied
    names = ("VS", "R1", "shift", "CTR", "ICEO", "VCC", "RL", "RB", "TA", "down")
    apart = np.corrcoef([varied[name][1:] for name in names]) - np.eye(len(names))
    assert np.abs(apart).max() < 4.5 / math.sqrt(MANY)


def test_what_is_not_asked_for_stays_nominal():
    scenario = scenario_from_query("years=5&ageing=fast")
    varied = build_all((scenario,), draw=Samples(scenario, 1, only=("CTR",)).take(50)).varied
    assert {name for name, values in varied.items() if np.ptp(values) > 0} == {"CTR", "ICEO"}
    new = replace(scenario, conditions=replace(scenario.conditions, years=0.0))
    assert np.array_equal(varied["CTR"], build_all((new,), draw=Samples(new, 1).take(50)).varied["CTR"])


def test_a_plan_names_all_that_is_wrong_with_it():
    with pytest.raises(ScenarioError, match="a whole number from 100 to 200000") as caught:
        Plan(samples=99, seed=-1, dist="square")
    assert [problem.field for problem in caught.value.problems] == ["samples", "seed", "dist"]
