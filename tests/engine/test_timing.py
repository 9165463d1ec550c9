"""How fast a stage is: trends, where edges end, corners, batches, and the rate that is promised."""

from dataclasses import replace

import numpy as np
import pytest

from engine import OUTPUTS, ladder, largest_RL, scenario_from_query, timing_of, timings_of, why_untimed
from engine.build import Corners, build_all
from engine.circuit import Capacitor, solve, transient
from engine.coupler.charges import charges_of, stores_of
from engine.edges import edges_of

AROUND = ["line=33R&nd=1", "nd=2&vz=3V&lamp=red&ri=100R&tamin=-20C&tamax=70C", "in=sinking", "in=measured&lamp=red"]
"""What stands around the LED and stores nothing by itself."""
STAGES = ["", "out=pull-down&rl=10k", "out=indicator", "in=logic&rl=10k&cl=100p"]


def timing(query):
    return timing_of(scenario_from_query(query))


def test_a_larger_load_resistor_slows_the_edge_into_the_dark_and_hardly_the_other():
    found = [timing(f"rl={R}") for R in ("3k3", "4k7", "10k", "22k")]
    offs, ons = ([t.edges[name].valid.value for t in found] for name in ("off", "on"))
    assert offs == sorted(offs)
    assert offs[-1] > 2.0 * offs[0]
    assert max(ons) < 1.6 * min(ons)


def test_more_load_capacitance_slows_both_transitions():
    found = [timing(f"cl={C}") for C in ("0", "1n", "10n", "100n")]
    for name in ("on", "off"):
        times = [t.edges[name].transition.value for t in found]
        assert times == sorted(times)
    rise = found[-1].edges["off"].transition.value
    assert rise == pytest.approx(np.log(9.0) * 4700.0 * 100e-9, rel=0.05)


def test_more_light_means_more_storage_and_a_quicker_start():
    weak, strong = timing("r1=30k"), timing("r1=7k5")
    assert strong.edges["off"].delay.value > 1.3 * weak.edges["off"].delay.value
    assert strong.edges["on"].valid.value < weak.edges["on"].valid.value


def test_a_filter_capacitor_delays_the_light():
    plain, filtered = timing(""), timing("cf=100n")
    assert filtered.edges["on"].delay.value > plain.edges["on"].delay.value + 5e-6


def test_an_input_that_limits_its_current_is_followed_through_a_leap_of_its_voltage():
    """Nothing holds the output of a photo-relay but the current that the controller's input takes at any voltage."""
    cold, warm = (
        timing_of(scenario_from_query(f"in=measured&coupler=photo-relay&out=controller&vcc=96V&rl=1R{more}"))
        for more in ("&tamin=-3.9C", "")
    )
    for name in ("on", "off"):
        assert cold.edges[name].valid.value == pytest.approx(warm.edges[name].valid.value, rel=1e-4)


def test_a_junction_that_begins_far_above_its_knee_is_followed():
    """An indicator in front of an empty CF has the whole supply across it at first, which R1 and RI then take."""
    filtered, bare = (timing_of(scenario_from_query(f"r1=1R&lamp=red&ri=291R{more}")) for more in ("&cf=70p", ""))
    for name in ("on", "off"):
        assert filtered.edges[name].valid.value == pytest.approx(bare.edges[name].valid.value, rel=0.01)


@pytest.mark.parametrize("query", STAGES)
def test_edges_begin_and_end_at_rest(query):
    scenario = scenario_from_query(query)
    (edges,) = edges_of((scenario,))
    for on, off in zip(edges.on, edges.off, strict=True):
        swing = abs(on.end - off.end)
        assert on.y[0] == pytest.approx(off.end, abs=1e-3 * swing)
        assert on.y[-1] == pytest.approx(on.end, abs=0.011 * swing)
        assert off.y[-1] == pytest.approx(off.end, abs=0.011 * swing)


def test_a_batch_agrees_with_each_stage_alone():
    scenarios = [scenario_from_query(f"rl={R}") for R in ("3k3", "4k7", "15k")]
    for together, scenario in zip(timings_of(scenarios), scenarios, strict=True):
        alone = timing_of(scenario)
        for name in ("on", "off"):
            assert together.edges[name].valid.value == pytest.approx(alone.edges[name].valid.value, rel=1e-3)
            assert together.edges[name].valid.high == pytest.approx(alone.edges[name].valid.high, rel=1e-3)


@pytest.mark.parametrize("query", ["", "rl=10k&vs=24V", "out=pull-down&rl=22k", "logic=hct&vcc=5V&rl=10k"])
def test_no_corner_is_slower_than_those_that_are_looked_at(query):
    """All corners of every tolerance, solved over time, against the few."""
    scenario = scenario_from_query(query)
    own = (part.spreads(scenario.conditions.tolerance) for part in (scenario.input, scenario.output))
    (every,), (few,) = edges_of((scenario,), Corners(*own, False)), edges_of((scenario,))
    for name in ("on", "off"):
        slowest, looked_at = (max(course.valid() for course in getattr(one, name)) for one in (every, few))
        assert len(getattr(every, name)) > 2 * len(getattr(few, name))
        assert looked_at == pytest.approx(slowest, rel=0.02)


@pytest.mark.parametrize("query", ["", "out=pull-down&rl=22k&logic=hct&vcc=5V"])
def test_at_the_highest_rate_both_levels_are_reached_in_every_period(query):
    """Three periods at the rate that is promised of the nominal stage, each half begun where the last one ended."""
    scenario = scenario_from_query(query)
    rate = timing_of(scenario).max_rate.value
    stage = build_all((scenario,))
    net, count = stage.netlist, stage.count
    CL = Capacitor("CL", "OUT", "common", np.full(net.batch, scenario.output.C_load))
    net = replace(net, stores=(*stores_of(net, charges_of(scenario.coupling.model)), CL))
    begin = {node: volts[[count]] for node, volts in solve(net).voltages.items()}
    VIL, VIH = (float(limit[0]) for limit in scenario.output.limits(stage.VCC))
    for half in range(6):
        course = transient(net.take(np.array([0 if half % 2 == 0 else count])), begin, np.array([0.5 / rate]), 3e-4)
        begin = {node: volts[-1] for node, volts in course.voltages.items()}
        low = (half % 2 == 0) == (scenario.output.level_when_lit == "low")
        end = float(begin["OUT"][0])
        assert end <= VIL * 1.02 if low else end >= VIH * 0.98


def test_figures_agree_with_one_another():
    found = timing("")
    on, off = found.edges["on"], found.edges["off"]
    assert on.total.value == pytest.approx(on.delay.value + on.transition.value)
    assert found.tPHL.value == on.half.value  # pulled up, so the lit output falls
    assert found.tPLH.value == off.half.value
    assert found.distortion.value == pytest.approx(abs(found.tPLH.value - found.tPHL.value))
    slower = max(on.valid.high, off.valid.high)
    assert found.narrowest_pulse.high == pytest.approx(slower)
    assert found.max_rate.low == pytest.approx(0.5 / slower)
    assert found.max_rate.low <= found.max_rate.value <= found.max_rate.high


def test_what_limits_is_told():
    assert "storage" in timing("rl=22k&r1=7k5").limited_by
    assert "load capacitance" in timing("rl=22k&cl=10n").limited_by
    assert "not surely read" in timing("rl=470R").limited_by
    assert timing("rl=470R").max_rate.value is None


def test_the_largest_load_resistor_for_a_rate_holds_it_and_the_next_does_not():
    scenario = scenario_from_query("rl=47k")
    values = ladder(1000.0, 47000.0, "E24")
    RL = largest_RL(scenario, 8e3, values)
    above = values[values.index(RL) + 1]
    for R, holds in ((RL, True), (above, False)):
        rate = timing_of(replace(scenario, output=replace(scenario.output, RL=R))).max_rate.low
        assert (rate >= 8e3) == holds
    assert largest_RL(scenario, 1e9, values) is None


@pytest.mark.parametrize("query", [*(f"out={kind}" for kind in OUTPUTS), "in=ac", "coupler=fast-gate"])
def test_what_is_not_followed_is_told_why(query):
    scenario = scenario_from_query(query)
    found, why = timing_of(scenario), why_untimed(scenario)
    assert (found is None) == bool(why)
    assert not why or why.endswith(".")


@pytest.mark.parametrize("name", ["general", "low-drive", "two-way", "wide-bin", "with-base", "cascade"])
def test_every_card_with_a_transistor_is_followed(name):
    found = timing(f"coupler={name}&rl=22k&vcc=5V&logic=hct")
    assert 0.0 < found.edges["on"].delay.value < found.edges["off"].total.value


@pytest.mark.parametrize("query", AROUND)
def test_parts_around_the_led_hardly_matter_to_the_edge_into_the_dark(query):
    assert timing(query).edges["off"].delay.value == pytest.approx(timing("").edges["off"].delay.value, rel=0.1)


def test_temperature_widens_the_range():
    cool, warm = timing(""), timing("tamin=-20C&tamax=70C")
    assert warm.edges["off"].valid.high > cool.edges["off"].valid.high
    assert warm.max_rate.low < cool.max_rate.low
