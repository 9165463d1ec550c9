"""Keeping up: what is missed at the slowest corner, and up to which resistor a stage does keep up."""

from dataclasses import replace

import pytest

from engine import ladder, scenario_from_query, timing_of
from engine.pace import EDGE_RATE, EDGE_TIME, Pace, followed, last_kept, rate_of, transition_of, upper_end

STAGE = scenario_from_query("rl=4k7")


def with_RL(RL):
    return replace(STAGE, output=replace(STAGE.output, RL=float(RL)))


@pytest.fixture(scope="module")
def timing():
    return timing_of(STAGE)


def test_what_is_asked_is_held_against_the_slowest_corner(timing):
    rate, time = rate_of(timing), transition_of(timing)
    assert rate == timing.max_rate.low < timing.max_rate.value
    assert time == max(timing.edges[name].transition.high for name in ("on", "off"))
    assert Pace(rate, time).missed(timing) == ()
    assert Pace(1.01 * rate, time).missed(timing) == (EDGE_RATE,)
    assert Pace(rate, 0.99 * time).missed(timing) == (EDGE_TIME,)
    assert Pace(1.01 * rate, 0.99 * time).missed(timing) == (EDGE_RATE, EDGE_TIME)


def test_nothing_is_missed_where_nothing_is_asked(timing):
    assert not Pace().asked
    assert Pace().missed(timing) == Pace().missed(None) == ()
    assert Pace(1e3, 1e-3).without((EDGE_RATE,)) == Pace(None, 1e-3)
    assert Pace(1e3, 1e-3).names == (EDGE_RATE, EDGE_TIME)


def test_a_level_that_is_never_sure_keeps_up_with_nothing():
    (found,) = followed([with_RL(470)])
    assert rate_of(found) is None
    assert Pace(1e-3).missed(found) == (EDGE_RATE,)


def test_edges_that_are_not_followed_keep_up_with_nothing():
    assert followed([scenario_from_query("in=ac")]) == [None]
    assert Pace(1e-3).kept([scenario_from_query("in=ac"), with_RL(10e3)]) == [False, True]


def test_the_last_that_is_kept_is_the_last_of_all():
    values, pace = ladder(2e3, 20e3, "E12"), Pace(8e3)
    does = [value for value in values if pace.kept([with_RL(value)])[0]]
    assert last_kept(pace, with_RL, values) == does[-1]
    assert does[0] == values[0]
    assert last_kept(pace, with_RL, ladder(50e3, 500e3, "E12")) is None
    assert last_kept(pace, with_RL, ()) is None


def test_the_upper_end_is_kept_and_a_little_more_is_not():
    pace = Pace(8e3)
    holds, fails = upper_end(pace, with_RL, 2e3, 200e3, 5e-3)
    assert holds < fails <= holds * 1.005
    assert pace.kept([with_RL(holds * 0.998), with_RL(fails * 1.002)]) == [True, False]
    assert upper_end(pace, with_RL, 50e3, 200e3, 5e-3)[0] is None
    assert upper_end(Pace(1.0), with_RL, 4e3, 10e3, 5e-3) == (pytest.approx(10e3), None)
