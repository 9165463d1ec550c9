"""Transfer curves, and room over transfer ratio and threshold."""

from dataclasses import replace

import numpy as np
import pytest

from engine import (
    ENOUGH,
    INPUTS,
    ScenarioError,
    as_built,
    operating_point,
    room_over,
    room_parameter,
    room_span,
    scenario_from_query,
    supply_of,
    transfer_of,
    transfer_span,
)


def at_supply(scenario, volts):
    """Return the stage, as it is built, at a supply that is exact."""
    built = as_built(scenario)
    side = replace(built.input, VS=volts, VS_tolerance=0.0, VS_min="tol", VS_max="tol")
    return operating_point(replace(built, input=side)).states["closed"].verdict


@pytest.mark.parametrize(
    "query", ["", "in=logic", "in=contact-high&vs=24V&out=pull-down", "out=indicator", "out=relay", "out=dc-load",
              "tamin=-20C&tamax=70C&years=10", "in=limited", "coupler=fast-gate&vcc=5V"]
)  # fmt: skip
def test_readings_are_sure_up_to_and_from_the_supplies_that_are_told(query):
    scenario = scenario_from_query(query)
    found, load = transfer_of(scenario, points=41), scenario.output
    step = found.sweep.x[-1] / 1000.0
    assert found.dark_to < found.supply[1]
    for volts in (found.dark_to, found.dark_to / 2):
        assert (at_supply(scenario, volts).level, at_supply(scenario, volts).sure) == (load.level_when_dark, True)
    assert not at_supply(scenario, found.dark_to + 2 * step).sure
    if found.lit_from is not None:
        for volts in (found.lit_from, 0.5 * (found.lit_from + found.sweep.x[-1])):
            assert (at_supply(scenario, volts).level, at_supply(scenario, volts).sure) == (load.level_when_lit, True)
        assert not at_supply(scenario, found.lit_from - 2 * step).sure


def test_a_transfer_curve_takes_its_supply_as_exact_and_its_resistors_as_fitted():
    scenario = scenario_from_query("vs=24V&vstol=20%25")
    found = transfer_of(scenario, 0.0, 48.0, 5)
    point = operating_point(replace(as_built(scenario), input=replace(as_built(scenario).input, VS_tolerance=0.0)))
    VOUT = point.states["closed"].quantities["VOUT"]
    series = found.sweep.series("closed", "VOUT")
    assert (series.value[2], series.low[2], series.high[2]) == pytest.approx((VOUT.value, VOUT.low, VOUT.high))
    assert found.supply == pytest.approx((24.0, 19.2, 28.8))
    assert found.limits == (0.8, 2.0)


def test_nothing_is_surely_read_of_a_stage_that_hangs_between():
    found = transfer_of(scenario_from_query("vs=5V&r1=100k"), points=21)
    assert found.lit_from is None
    never_dark = transfer_of(scenario_from_query("rl=100M"), points=21)
    assert never_dark.dark_to is None


def test_supplies_of_every_side():
    for kind in INPUTS:
        scenario = scenario_from_query(f"in={kind}")
        if kind == "measured":
            assert supply_of(scenario) is None
            with pytest.raises(ScenarioError, match="known by its table"):
                transfer_of(scenario)
            continue
        low, high = transfer_span(scenario)
        found = transfer_of(scenario, points=5)
        assert (found.sweep.key, found.sweep.x[0], found.sweep.x[-1]) == (supply_of(scenario), low, high)
        assert high > found.supply[2]


def test_room_over_the_transfer_ratio_is_that_of_such_couplers():
    scenario = scenario_from_query("")
    found = room_over(scenario, 0.5, 2.0, 5)
    for k, ratio in enumerate(found.x):
        exact = replace(scenario, coupling=replace(scenario.coupling, CTR=ratio, CTR_min=ratio, CTR_max=ratio))
        times = operating_point(exact).states["closed"].quantities["overdrive"]
        there = found.overdrive.value[k], found.overdrive.low[k], found.overdrive.high[k]
        assert there == pytest.approx((times.value, times.low, times.high))
    assert found.bin == (0.8, 1.6)
    assert found.specimen == scenario.coupling.ratios()[0]
    assert list(found.level) == sorted(found.level)


def test_overdrive_is_just_enough_at_the_ratio_that_is_told():
    scenario = scenario_from_query("rl=1500R")
    nominal, worst = room_over(scenario).enough
    assert nominal < worst
    for ratio, which in ((nominal, "value"), (worst, "low")):
        exact = replace(scenario, coupling=replace(scenario.coupling, CTR=ratio, CTR_min=ratio, CTR_max=ratio))
        times = operating_point(exact).states["closed"].quantities["overdrive"]
        assert getattr(times, which) == pytest.approx(ENOUGH, rel=2e-3)
    assert room_over(scenario_from_query("rl=47k")).enough == (None, None)


def test_ageing_takes_room():
    new, old = (room_over(scenario_from_query(query), 0.5, 2.0, 3) for query in ("", "years=10"))
    assert old.overdrive.value == pytest.approx(new.overdrive.value)
    assert np.array(old.overdrive.low) == pytest.approx(0.8 * np.array(new.overdrive.low), rel=1e-6)


@pytest.mark.parametrize(
    "query", ["out=gate", "out=dc-load&tamin=0C&tamax=60C", "out=ac-load&if=15mA", "out=gate&years=10"]
)
def test_room_over_a_threshold_is_that_of_the_stage_at_its_ends(query):
    scenario = scenario_from_query(query)
    times = operating_point(scenario).states["closed"].quantities["overdrive"]
    (low, high), specimen = room_over(scenario).bin, room_over(scenario).specimen
    card = scenario.coupling.data
    assert (low, specimen, high) == (card.IF_off, card.IF_typ, card.IF_on)
    assert room_over(scenario, specimen, high, 2).overdrive.value[0] == pytest.approx(times.value)
    assert room_over(scenario, specimen, high, 2).overdrive.low[-1] == pytest.approx(times.low)
    assert room_over(scenario, low, high, 2).overdrive.high[0] == pytest.approx(times.high)


@pytest.mark.parametrize("query", ["", "coupler=wide-bin", "ctr=1000%25", "out=gate", "coupler=cascade"])
def test_the_span_holds_the_bin_and_the_specimen(query):
    scenario = scenario_from_query(query)
    low, high = room_span(scenario)
    found, parameter = room_over(scenario, points=3), room_parameter(scenario)
    assert (found.x[0], found.x[-1]) == (low, high)
    assert parameter.low <= low <= min(found.bin[0], found.specimen)
    assert max(found.bin[1], found.specimen) <= high <= parameter.high


def test_a_span_that_cannot_be_is_refused():
    for low, high, points in ((2.0, 1.0, 5), (0.5, 1.0, 1), (0.5, 1.0, 500), (-1.0, 1.0, 5)):
        with pytest.raises(ScenarioError):
            room_over(scenario_from_query(""), low, high, points)
