"""Contacts that bounce: the pattern, what is counted, the filter and what it costs."""

from dataclasses import replace

import numpy as np
import pytest

from engine import scenario_from_query
from engine.bounce import (
    BOUNCE_ENDS,
    bounce_times,
    filter_for,
    possible_edges,
    sure_edges,
    why_unbounced,
    worst_times,
)
from engine.preferred import ladder

E6 = ladder(1e-9, 1e-3, "E6")


def of(query, **asked):
    return filter_for(scenario_from_query(query), **asked)


def case(found, C):
    (one,) = (one for one in found.cases if one.C == C)
    return one


def test_bounces_shrink_and_fill_their_time():
    times = bounce_times(5e-3, 5)
    assert len(times) == 10
    assert times.sum() == pytest.approx(5e-3)
    assert (times[::2] == times[1::2]).all()
    assert times[2::2] == pytest.approx(0.6 * times[:-2:2])
    assert worst_times(5e-3).sum(axis=1) == pytest.approx(5e-3)
    assert worst_times(5e-3)[:, 1].max() > times[1::2].max()


def test_edges_are_counted_by_the_limits():
    y = np.array([5.0, 0.2, 2.0, 0.3, 4.9, 2.4, 0.1])
    assert sure_edges(y, 1.0, 3.5) == 3
    assert possible_edges(y, 1.0, 3.5) == 5  # one threshold between 1 and 2 V sees the dent too
    assert possible_edges(np.array([5.0, 2.0, 2.001, 0.0]), 1.0, 3.5) == 1
    assert possible_edges(np.full(4, 2.0), 1.0, 3.5) == 0
    assert sure_edges(np.array([5.0, 2.0]), 1.0, 3.5) == 0


@pytest.mark.parametrize("bounces", [1, 2, 5])
def test_without_a_filter_every_bounce_is_seen(bounces):
    found = of("", bounces=bounces)
    bare = case(found, 0.0)
    for edge in ("closing", "opening"):
        assert bare.edges[edge].surely == (2 * bounces + 1,) * 2
        assert bare.edges[edge].possibly == (2 * bounces + 1,) * 2
        assert bare.worst[edge].surely == (3, 3)
        assert 5e-3 < bare.edges[edge].stable.value < 5.1e-3
    assert len(bare.waves["closing"].contact) == 2 * bounces + 1


@pytest.mark.parametrize("query", ["in=contact-high&rl=10k", "out=pull-down&rl=10k", "in=limited"])
def test_the_proposed_filter_makes_one_edge_of_a_closing_and_the_next_smaller_does_not(query):
    found = of(query)
    smaller = E6[E6.index(found.C) - 1]
    proposed = case(found, found.C)
    assert proposed.worst["closing"].clean
    assert proposed.edges["closing"].clean
    scenario = scenario_from_query(query)
    again = filter_for(replace(scenario, input=replace(scenario.input, C_filter=smaller)))
    assert not case(again, smaller).worst["closing"].clean


def test_a_filter_costs_delay_and_rate():
    found = of("")
    bare, proposed, twice = (case(found, C) for C in (0.0, found.C, 2.0 * found.C))
    for edge in ("closing", "opening"):
        assert bare.delay[edge].value < proposed.delay[edge].value < twice.delay[edge].value
    assert bare.rate.low > proposed.rate.low > twice.rate.low
    slower = max(span.high for span in proposed.delay.values())
    assert proposed.rate.low == pytest.approx(0.5 / slower)


def test_a_longer_bounce_asks_for_a_larger_capacitor():
    short, usual, long = (of("", tb=tb).C for tb in (0.5e-3, 5e-3, 50e-3))
    assert short < usual < long
    assert 50.0 < long / short < 200.0


def test_the_present_filter_is_among_the_cases():
    found = of("cf=1u")
    assert [one.C for one in found.cases] == [0.0, 1e-6, found.C, 2.0 * found.C]
    assert not case(found, 1e-6).worst["closing"].clean


def test_a_level_that_is_never_read_is_no_matter_of_a_filter():
    for query, words in (("rl=470R", "LED lit"), ("leak=10k&rl=22k", "LED dark")):
        found = of(query)
        assert found.C is None
        assert words in found.reason
        assert found.cases[0].rate.low is None


def test_a_slow_stage_needs_none_and_no_capacitor_may_do():
    assert "so slow by itself" in of("cl=100u&rl=10k", tb=0.1e-3).reason
    found = of("vs=5V&r1=39R&rl=10k", tb=BOUNCE_ENDS[1])
    assert found.C is None
    assert "No capacitor" in found.reason


def test_waveforms_begin_and_end_where_the_contact_leaves_them():
    found = of("rl=10k")
    wave = case(found, 0.0).waves["closing"]
    assert wave.contact[0] == 0.0
    assert wave.contact[-1] == pytest.approx(5e-3)
    assert wave.t[0] == 0.0
    assert wave.t[-1] > 5e-3
    assert wave.IF[-1] == pytest.approx(3e-3, rel=0.1)
    assert wave.y[-1] < wave.limits[0] < wave.limits[1] < wave.y[0]
    assert (wave.low <= wave.y + 1e-9).all()
    assert (wave.y <= wave.high + 1e-9).all()


@pytest.mark.parametrize("kind", ["logic", "sinking", "sourcing", "two-wire", "transistor", "measured", "ac"])
def test_what_is_no_contact_does_not_bounce(kind):
    scenario = scenario_from_query(f"in={kind}")
    assert why_unbounced(scenario)
    assert filter_for(scenario) is None


@pytest.mark.parametrize("asked", [{"tb": 0.0}, {"tb": 1.0}, {"bounces": 0}, {"bounces": 100}, {"bounces": 2.5}])
def test_what_is_out_of_range_is_refused(asked):
    with pytest.raises(ValueError, match="bounces"):
        of("", **asked)
