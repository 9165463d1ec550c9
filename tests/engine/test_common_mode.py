"""Steps between the grounds: charge that passes, trends, corners, limits, what is told where nothing is followed."""

from dataclasses import replace

import numpy as np
import pytest

from engine import INPUTS, OUTPUTS, common_mode_of, largest_slope, pack_card, scenario_from_query, steadied
from engine.build import Corners
from engine.circuit import Junction, JunctionCharge, NetlistBuilder, transient
from engine.circuit.injection import Injection
from engine.common_mode import STEEPEST, barrier_of, largest_slopes, why_unfollowed
from engine.devices import JunctionParams
from engine.disturbance import Barrier, Disturbed, Runs

STAGES = ["", "out=pull-down&rl=22k", "out=indicator", "out=controller", "coupler=cascade", "in=contact-high&rl=10k"]


def stage(query):
    return scenario_from_query(query)


def case(found, lit, rising):
    """Return what a step does in one state, one way."""
    (one,) = [d for d in found.disturbances if (d.lit, d.rising) == (lit, rising)]
    return one


def course(query, runs, dV, barrier=None, draw=None):
    """Return how one stage goes through steps: (lit, slope) of the nominal member."""
    scenario = stage(query)
    lit, slope = (np.array(values) for values in zip(*runs, strict=True))
    none = np.zeros(len(runs), dtype=int)
    found = Disturbed((scenario,), (barrier or barrier_of(scenario),), draw)
    return found.follow(Runs(none, lit, none, slope), dV)


# ---------------------------------------------------------------- what passes


@pytest.mark.parametrize(("dV", "slope"), [(500.0, 1e9), (1500.0, 1.5e10), (10.0, 2e6)])
def test_the_current_is_capacitance_times_slope(dV, slope):
    found = common_mode_of(stage(""), dV, slope)
    assert found.barrier.C == 0.6e-12
    assert found.current == pytest.approx(0.6e-12 * slope)
    assert found.current * found.lasting == pytest.approx(found.charge)
    assert found.charge == pytest.approx(0.6e-12 * dV)


@pytest.mark.parametrize("slope", [1e6, 1e8, 1e10, 1e12])
@pytest.mark.parametrize("way", [1.0, -1.0])
def test_all_charge_passes_whatever_the_slope(slope, way):
    """Into a junction that hardly conducts, so that its own charge tells what has arrived."""
    net = NetlistBuilder(1)
    net.side("output", "common", "B")
    one = np.ones(1)
    law = JunctionParams(1e-30 * one, 0.025 * one)
    store = JunctionCharge("U1", "B", "common", 10e-12 * one, 0.0 * one, law.IS, law.nVT)
    net.device(Junction("U1", "B", "common", law, 0.6 * one))
    charge = 0.3e-12 * 30.0
    net.device(Injection("barrier", (("common", "B"),), np.array([[way * 0.3e-12 * slope]])))
    net.store(store)
    found = transient(net.build(), {"B": np.zeros(1)}, np.array([30.0 / slope]), 1e-4)
    arrived = store.stored(found.voltages["B"][-1])[0] - store.stored(np.zeros(1))[0]
    assert arrived[0] == pytest.approx(way * charge, rel=1e-4)


def test_all_parts_of_the_current_together_are_the_charge_of_the_barrier():
    found = course("", [(True, 1e8), (False, -1e10), (False, 3e7)], 500.0)
    assert found.charge.sum(axis=1) == pytest.approx([300e-12, -300e-12, 300e-12], rel=1e-4)
    assert found.charge[:, 0] == pytest.approx([15e-12, -15e-12, 15e-12], rel=1e-4)


@pytest.mark.parametrize("query", STAGES)
def test_it_begins_at_rest_and_comes_back_to_it(query):
    found = course(query, [(lit, way * 3e9) for lit in (True, False) for way in (1.0, -1.0)], 200.0)
    swing = np.ptp(found.y[0])
    assert found.y[0, 0] == found.y[0, 1]
    assert found.y[0, 2] == found.y[0, 3]
    # A dark output without a load of its own is in no hurry once its level is read.
    assert np.abs(found.y[-1] - found.y[0]).max() < (0.1 if "controller" in query else 0.02) * swing
    assert (found.room[-1] >= 0.0).all()
    assert np.abs(found.y - found.y[0]).max() > 0.05 * swing


# ---------------------------------------------------------------- trends


def test_the_dark_state_is_turned_on_by_a_rising_ground_and_the_lit_one_off_by_a_falling_one():
    """A cascade has a small base current, so that both show; nothing lands at its collector here."""
    found = common_mode_of(stage("coupler=cascade"), 500.0, 3e8, Barrier(collector=0.0))
    assert case(found, False, True).peak.value > 5.0 * case(found, False, False).peak.value
    assert case(found, True, False).peak.value > 5.0 * case(found, True, True).peak.value


def test_a_base_resistor_takes_part_of_the_disturbance():
    peaks = [
        case(common_mode_of(stage(f"coupler=with-base&rl=22k{RBE}"), 500.0, 5e7), False, True).peak.value
        for RBE in ("", "&rbe=470k", "&rbe=100k")
    ]
    assert peaks[0] > 1.2 * peaks[1] > 1.2 * peaks[2]


def test_a_larger_step_at_the_same_slope_lasts_longer():
    times = [case(common_mode_of(stage(""), dV, 2e8), False, True).unsure.value for dV in (500.0, 1500.0, 5000.0)]
    assert times[0] > 0.0
    assert times[1] > 1.5 * times[0]
    assert times[2] > 1.5 * times[1]


def test_what_keeps_a_disturbance_small():
    peaks = {
        query: case(common_mode_of(stage(query), 500.0, 1e8), False, True).peak.value
        for query in ("rl=4k7", "rl=2k2", "rl=4k7&cl=1n")
    }
    assert peaks["rl=2k2"] < 0.8 * peaks["rl=4k7"]
    assert peaks["rl=4k7&cl=1n"] < 0.8 * peaks["rl=4k7"]


def test_a_screen_lets_steeper_steps_pass():
    plain, screened = largest_slopes([(stage(""), None), (stage(""), barrier_of(stage(""), screened=True))], 500.0)
    assert screened.slope > 5.0 * plain.slope


def test_without_a_share_for_the_base_both_ways_are_mirror_images():
    """What is left is a capacitance at the collector, which is a line's current into a linear load."""
    found = course("", [(False, 2e7), (False, -2e7)], 20.0, Barrier(base=0.0, anode=0.0, collector=1.0))
    t = np.linspace(0.0, 5e-6, 200)
    up, down = (np.interp(t, found.t[:, k], found.y[:, k] - found.y[0, k]) for k in range(2))
    assert up.max() > 0.02
    assert up == pytest.approx(-down, abs=0.05 * up.max())


@pytest.mark.parametrize(("query", "way"), [("in=contact-low", 1.0), ("in=contact-high", -1.0)])
def test_which_way_lights_an_open_led_depends_on_the_lead_that_is_left_open(query, way):
    found = course(query, [(False, 1e9 * way), (False, -1e9 * way)], 500.0)
    # Half of C dV/dt, 0.3 mA, leaves the open lead; the other half a lead that is held.
    assert found.IF[:, 0].max() == pytest.approx(0.3e-3, rel=0.1)
    assert found.IF[:, 1].max() < 1e-6
    assert found.VR[:, 1].max() > 1.0


def test_a_part_across_the_led_takes_what_would_light_it():
    open_LED, bypassed = (case(common_mode_of(stage(q), 500.0, 3e8), False, True) for q in ("", "rb=1k"))
    assert bypassed.IF_most.value < 0.1 * open_LED.IF_most.value


# ---------------------------------------------------------------- corners and limits


@pytest.mark.parametrize("query", ["", "out=pull-down&rl=22k", "coupler=with-base&rl=22k"])
def test_no_corner_is_worse_than_those_that_are_looked_at(query):
    scenario = stage(query)
    own = (part.spreads(scenario.conditions.tolerance) for part in (scenario.input, scenario.output))
    rooms = []
    for draw in (None, Corners(*own, False)):
        every = Disturbed((scenario,), (barrier_of(scenario),), draw)
        member = np.tile(np.arange(every.members), 2)
        lit = np.repeat([False, True], every.members)
        runs = Runs(np.zeros_like(member), lit, member, np.where(lit, -1e8, 1e8))
        rooms.append(every.follow(runs, 500.0, brief=True).room.min(axis=0).reshape(2, -1).min(axis=1))
    assert rooms[0] == pytest.approx(rooms[1], abs=0.03)


def test_a_batch_agrees_with_each_stage_alone():
    scenarios = [stage(f"rl={R}") for R in ("3k3", "4k7", "10k")]
    together = largest_slopes([(scenario, None) for scenario in scenarios], 500.0)
    for found, scenario in zip(together, scenarios, strict=True):
        assert found.slope == pytest.approx(largest_slope(scenario, 500.0).slope, rel=0.03)


@pytest.mark.parametrize("query", ["", "out=pull-down&rl=10k", "out=controller", "in=logic&rl=10k"])
def test_the_steepest_slope_holds_and_a_little_more_does_not(query):
    found = largest_slope(stage(query), 500.0)
    assert common_mode_of(stage(query), 500.0, found.slope).holds
    beyond = common_mode_of(stage(query), 500.0, 1.1 * found.slope)
    assert not beyond.holds
    assert beyond.disturbances[0].lit == found.lit


def test_a_small_step_is_stood_at_any_slope_and_a_stage_that_fails_at_rest_at_none():
    assert largest_slope(stage(""), 1.0).slope == np.inf
    assert common_mode_of(stage(""), 1.0, STEEPEST).holds
    lost = largest_slope(stage("rl=470R"), 500.0)
    assert (lost.slope, lost.lit) == (0.0, True)
    assert not common_mode_of(stage("rl=470R"), 500.0, 1e6).holds


def test_steeper_steps_disturb_more():
    rooms = [common_mode_of(stage(""), 500.0, slope).disturbances[0].room.low for slope in (1e6, 1e7, 1e8)]
    assert rooms == sorted(rooms, reverse=True)


@pytest.mark.parametrize("query", STAGES)
def test_figures_agree_with_one_another(query):
    found = common_mode_of(stage(query), 500.0, 1e8)
    assert found.holds == all(one.unsure.high == 0.0 for one in found.disturbances)
    assert {(one.lit, one.rising) for one in found.disturbances} == {
        (a, b) for a in (True, False) for b in (True, False)
    }
    waiting = [np.inf if one.unsure.high is None else one.unsure.high for one in found.disturbances]
    assert waiting == sorted(waiting, reverse=True)
    for one in found.disturbances:
        wave = one.wave
        assert (wave.low <= wave.nominal + 1e-9).all()
        assert (wave.nominal <= wave.high + 1e-9).all()
        assert wave.t[-1] >= found.lasting
        away = np.abs(wave.nominal - wave.nominal[0]).max()
        assert one.IF_least.value <= one.IF_rest.value <= one.IF_most.value
        assert away >= 0.6 * one.peak.value
        assert one.peak.low <= one.peak.value <= one.peak.high
        side = 1.0 if wave.rises else -1.0
        room = side * (wave.nominal - wave.limit)
        assert room.min() >= one.room.value - 1e-3 * max(abs(wave.limit), 1e-3)
        if one.unsure.value:
            below = ((room[1:] < 0.0) * np.diff(wave.t)).sum()
            assert below == pytest.approx(one.unsure.value, abs=0.03 * wave.t[-1])


# ---------------------------------------------------------------- what is not followed


@pytest.mark.parametrize("query", [*(f"in={kind}" for kind in INPUTS), *(f"out={kind}" for kind in OUTPUTS)])
def test_every_kind_is_followed_or_has_a_reason(query):
    scenario = stage(query)
    found = common_mode_of(scenario, 500.0, 1e9)
    assert bool(found.reason) != bool(found.disturbances)
    assert found.reason == why_unfollowed(scenario)
    assert found.holds is not None or (found.reason and found.CMTI is None)


def test_a_coupler_that_switches_is_judged_by_its_card():
    scenario = stage("out=gate")
    assert scenario.coupling.data.CMTI == 25e9
    assert common_mode_of(scenario, 1000.0, 20e9).holds
    assert not common_mode_of(scenario, 1000.0, 30e9).holds
    assert largest_slope(scenario, 1000.0).slope == 25e9
    assert "no CMTI" in common_mode_of(stage("out=dc-load"), 500.0, 1e9).reason
    assert largest_slope(stage("out=dc-load"), 500.0) is None


def test_a_card_says_how_much_couples():
    assert barrier_of(stage("")).C == 0.6e-12
    general = stage("")
    for C, expected in ((1e-12, 1e-12), (None, 0.6e-12)):
        own = pack_card(replace(general.coupling.data, C_io=C))
        scenario = replace(general, coupling=replace(general.coupling, card="own", own=own))
        assert common_mode_of(scenario, 500.0, 1e9).charge == pytest.approx(500.0 * expected)
    assert barrier_of(stage(""), screened=True).base < 0.2 * barrier_of(stage("")).base


def test_what_helps_is_told_with_the_figure_that_each_gives():
    found = {one.change: one for one in steadied(stage("coupler=with-base&rl=22k&r1=4k7"), 500.0)}
    assert list(found) == ["", "screen", "RL", "IF", "CL", "RBE"]
    for change in ("screen", "RL", "CL", "RBE"):
        assert found[change].steepest.slope > found[""].steepest.slope, change
    for change, one in found.items():
        if change not in ("", "screen"):
            assert one.steepest.slope == pytest.approx(largest_slope(one.scenario, 500.0).slope, rel=0.03)
    assert "RBE" not in {one.change for one in steadied(stage(""), 500.0)}
    assert steadied(stage("out=gate"), 500.0) == ()
