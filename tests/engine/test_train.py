"""Stages on square waves: charge, levels, rates, what is refused."""

import numpy as np
import pytest

from engine import scenario_from_query, timing_of
from engine.train import FASTEST, MOST_RATES, Train, _steady, square, time_above, trains_of, utmost_rate, why_unfollowed

STAGES = ["", "out=pull-down&rl=22k&logic=hct&vcc=5V", "out=indicator", "in=contact-high&rl=10k&cl=1n", "cf=100n"]


@pytest.mark.parametrize("query", STAGES)
def test_no_store_gains_charge_over_a_period(query):
    scenario = scenario_from_query(query)
    rate = timing_of(scenario).max_rate.low
    train = Train(scenario, 2)
    steady = _steady(train, train.of([rate, 3.0 * rate]), 3e-5)
    charges = train.switched.stored(steady.trail.voltages)
    moved = charges.max(axis=1) - charges.min(axis=1)
    gained = np.abs(charges[:, -1] - charges[:, 0])
    assert (moved.max(axis=0) > 1e-13).all()
    assert (gained <= 1e-4 * moved.max(axis=0)).all()
    assert steady.periods < 40


def test_half_the_sure_rate_shows_both_levels_and_thrice_the_utmost_does_not():
    scenario = scenario_from_query("rl=10k")
    utmost = utmost_rate(scenario)
    slow, fast = square(scenario, [0.5 * utmost.sure_worst, 3.0 * utmost.value])
    assert slow.sees == (True, True)
    assert fast.sees == (False, False)
    for level in ("lit", "dark"):
        assert 0.0 < slow.held[level].low <= slow.held[level].value <= slow.held[level].high < 1.0 / slow.rate
    assert min(fast.held[level].value for level in ("lit", "dark")) == 0.0


@pytest.mark.parametrize("query", ["", "rl=22k&r1=7k5", "out=pull-down&rl=10k"])
def test_the_utmost_rate_lies_at_the_sure_one_or_above_and_holds_where_it_is_told(query):
    scenario = scenario_from_query(query)
    timing = timing_of(scenario)
    found = utmost_rate(scenario, timing)
    assert found.sure == timing.max_rate.value
    assert found.sure_worst == timing.max_rate.low
    assert found.value >= found.sure
    assert found.value >= found.worst >= found.sure_worst
    rates = [0.97 * found.value, 1.04 * found.value, 0.97 * found.worst, 1.04 * found.worst]
    below, above, all_below, not_all = square(scenario, rates)
    assert below.sees[0]
    assert not above.sees[0]
    assert all_below.sees[1]
    assert not not_all.sees[1]


def test_a_quick_look_agrees_with_a_close_one():
    scenario = scenario_from_query("rl=10k")
    timing = timing_of(scenario)
    rate = timing.max_rate.low
    (quick,), utmost = trains_of(scenario, [rate], timing)
    (close,) = square(scenario, [rate])
    assert utmost == utmost_rate(scenario, timing)
    assert quick.width_out.value == pytest.approx(close.width_out.value, rel=0.01)
    assert quick.at_end["dark"].value == pytest.approx(close.at_end["dark"].value, abs=0.02)


def test_a_slow_square_wave_ends_at_rest_and_changes_its_pulses_by_both_delays():
    scenario = scenario_from_query("")
    timing = timing_of(scenario)
    (found,) = square(scenario, [100.0])
    assert found.width_in == pytest.approx(5e-3)
    later = timing.edges["off"].half.value - timing.edges["on"].half.value
    assert found.width_out.value - found.width_in == pytest.approx(later, rel=0.05)
    assert found.t[-1] == pytest.approx(10e-3)
    assert found.nominal[0] == pytest.approx(found.at_end["dark"].value, abs=1e-3)
    assert (found.low <= found.nominal + 1e-9).all()
    assert (found.nominal <= found.high + 1e-9).all()
    assert found.IF[len(found.t) // 4] == pytest.approx(timing.IF, rel=1e-3)
    assert found.IF[-10] == pytest.approx(0.0, abs=1e-6)


def test_far_beyond_its_rate_a_stage_stands_still():
    (found,) = square(scenario_from_query("cl=100n"), [2e5])
    assert found.settled
    assert np.ptp(found.nominal) < 0.1
    assert found.width_out.value is None


def test_a_stage_that_never_reaches_a_level_has_no_rate():
    found = utmost_rate(scenario_from_query("rl=470R"))
    assert found.value is None
    assert found.worst is None
    assert square(scenario_from_query("rl=470R"), [10.0])[0].sees == (False, False)


def test_where_a_corner_fails_the_nominal_stage_has_its_rate():
    scenario = scenario_from_query("rl=1k2")
    timing = timing_of(scenario)
    assert timing.max_rate.value
    assert timing.max_rate.low is None
    found = utmost_rate(scenario, timing)
    assert found.worst is None
    assert found.value >= found.sure


@pytest.mark.parametrize("query", ["in=ac", "out=relay", "out=ac-load"])
def test_what_is_not_followed_is_told(query):
    scenario = scenario_from_query(query)
    assert why_unfollowed(scenario)
    assert square(scenario, [1e3]) is None
    assert utmost_rate(scenario) is None


@pytest.mark.parametrize("rates", [[0.0], [-1.0], [FASTEST * 2], [1e3] * (MOST_RATES + 1)])
def test_rates_out_of_range_are_refused(rates):
    with pytest.raises(ValueError, match="rates between"):
        square(scenario_from_query(""), rates)


def test_time_above_a_limit_goes_by_straight_lines():
    t, y = np.array([0.0, 1.0, 2.0, 4.0]), np.array([0.0, 2.0, 0.0, 0.0])
    assert time_above(t, y, 1.0) == pytest.approx(1.0)
    assert time_above(t, y, 0.0) == pytest.approx(4.0)
    assert time_above(t, y, 3.0) == 0.0
    assert time_above(t, -y, -1.0) == pytest.approx(3.0)
