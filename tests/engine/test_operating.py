"""Operating points: ranges over the corners, balances, and what is absent."""

from dataclasses import replace
from functools import cache
from itertools import product

import pytest

from engine import (
    INPUTS,
    OUTPUTS,
    STATES,
    Conditions,
    Coupling,
    Scenario,
    ScenarioError,
    load_card,
    operating_point,
    scenario_from_query,
)
from engine.inputs import ContactLow
from engine.outputs import PullDown, PullUp
from tests.each import of_each
from tests.property.scenarios import finite
from tests.stages import DRIVES, together

SOURCES = ("VS", "VCC", "VD", "VEE", "P1")
"""Parts that may deliver power: supplies, the logic before a transistor, a port with a supply of its own."""

STAGES = [f"in={inside}&out={outside}" for inside in INPUTS for outside in OUTPUTS] + [
    "ta=-55&line=1k&leak=1M",
    "ta=150&tol=50&vstol=50&vcctol=50",
    "in=logic&active=low&out=pull-down&vcc=24&logic=cmos&rl=1M",
    "vs=0&r1=1k&vcc=0",
    "vs=1000&vcc=1000&rl=100M&r1=100M",
    "coupler=wide-bin&rl=1&vcc=48&r1=100",
    *DRIVES.values(),
    *together(),
]
STILL = [query for query in STAGES if "in=ac" not in query and "out=ac" not in query]
"""Stages on direct current, whose powers are those of the instant that is shown."""


@cache
def point_of(query):
    return operating_point(scenario_from_query(query))


def solved(query, name="closed"):
    return point_of(query).states[name]


def groups(state):
    return {"quantities": state.quantities, "nodes": state.nodes, "currents": state.currents, "drops": state.drops,
            "powers": state.powers}  # fmt: skip


# ---------------------------------------------------------------- shape


@of_each(STAGES)
def test_every_number_is_finite_and_every_range_holds_its_nominal_value(query):
    point = point_of(query)
    assert finite(point)
    assert tuple(point.states) == STATES
    for state in point.states.values():
        for group in groups(state).values():
            assert group
            assert all(entry.low <= entry.value <= entry.high for entry in group.values())


@of_each(product(STAGES, STATES))
def test_every_part_has_current_drop_and_power(query, name):
    state = solved(query, name)
    assert set(state.currents) == set(state.drops) == set(state.powers)
    assert {"VS", "R1", "LED", "U1", "RL", "VCC"} <= set(state.currents)


@of_each(STAGES)
def test_nodes_inside_of_parts_are_not_shown(query):
    point = point_of(query)
    assert not {"AJ", "CI", "B", "DJ"} & set(point.sides)
    for state in point.states.values():
        assert set(state.nodes) == set(point.sides)


def test_units_are_those_of_the_quantities():
    units = {name: entry.unit for name, entry in solved("").quantities.items()}
    assert units == {
        "IF": "A", "VF": "V", "IC": "A", "VCE": "V", "IL": "A", "VOUT": "V", "IC_available": "A", "IC_needed": "A",
        "CTR_available": "1", "CTR_needed": "1", "CTR_forced": "1", "overdrive": "1",
    }  # fmt: skip


def test_what_a_stage_does_not_have_is_absent():
    dark = set(solved("", "open").quantities)
    assert not {"IC_needed", "CTR_available", "CTR_needed", "CTR_forced", "overdrive"} & dark
    assert "VOUT" in dark
    assert "VOUT" not in solved("out=indicator").quantities
    assert not {"CTR_available", "overdrive"} & set(solved("vs=0&r1=1k").quantities)
    without_supply = set(solved("vcc=0").quantities)
    assert "CTR_available" in without_supply
    assert "overdrive" not in without_supply


def test_the_scenario_and_its_resistors_are_kept():
    point = point_of("r1=12k")
    assert point.scenario == scenario_from_query("r1=12k")
    assert point.sized["R1"].chosen == 12e3
    assert point.sides["VS"] == "input"
    assert point.sides["OUT"] == "output"


def test_what_cannot_be_sized_is_refused_with_its_field():
    with pytest.raises(ScenarioError) as caught:
        operating_point(scenario_from_query("vs=1"))
    assert [problem.field for problem in caught.value.problems] == ["if"]


# ---------------------------------------------------------------- laws


@of_each(product(STILL, STATES))
def test_powers_balance(query, name):
    powers = {part: power.value for part, power in solved(query, name).powers.items()}
    taken = sum(power for power in powers.values() if power > 0)
    assert sum(powers.values()) == pytest.approx(0.0, abs=1e-6 * taken + 1e-9)
    assert all(power > -1e-9 for part, power in powers.items() if part not in SOURCES)


@of_each(STILL)
def test_power_is_voltage_times_current_where_a_part_has_two_leads(query):
    state = solved(query)
    for part in ("R1", "RL", "LED"):
        product_ = state.drops[part].value * state.currents[part].value
        assert state.powers[part].value == pytest.approx(product_, rel=1e-6, abs=1e-12)


@of_each(STAGES)
def test_quantities_are_the_readings_of_their_parts(query):
    for state in point_of(query).states.values():
        assert state.quantities["IF"] == state.currents["LED"]
        assert state.quantities["IC"] == state.currents["U1"]
        assert state.quantities["IL"] == state.currents["RL"]
        assert state.quantities["VF"] == state.drops["LED"]
        assert state.quantities["VCE"] == state.drops["U1"]
        if "VOUT" in state.quantities:
            assert state.quantities["VOUT"] == state.nodes["OUT"]


def test_ratios_are_ratios_of_the_currents():
    found = {name: entry.value for name, entry in solved("").quantities.items()}
    assert found["CTR_available"] == pytest.approx(found["IC_available"] / found["IF"])
    assert found["CTR_needed"] == pytest.approx(found["IC_needed"] / found["IF"])
    assert found["CTR_forced"] == pytest.approx(found["IC"] / found["IF"])
    assert found["overdrive"] == pytest.approx(found["IC_available"] / found["IC_needed"])
    assert found["IC_needed"] == pytest.approx((3.3 - load_card("general").VCE_sat) / 4700.0)


def test_what_the_coupler_can_give_at_its_test_point_is_its_transfer_ratio():
    exact = point_of("if=5mA").sized["R1"].exact
    scenario = Scenario(input=ContactLow(R1=exact, IF=5e-3))
    found = operating_point(scenario).states["closed"].quantities
    assert found["CTR_available"].value == pytest.approx(1.1, rel=0.05)


def test_ratings_of_the_parts():
    powers = solved("r1w=1&rlw=2&ta=90").powers
    card = load_card("general")
    assert (powers["R1"].rating, powers["RL"].rating) == pytest.approx((65 / 85, 130 / 85))
    assert powers["LED"].rating == pytest.approx(card.LED_power.at(90.0))
    assert powers["U1"].rating == pytest.approx(card.detector_power.at(90.0))
    assert powers["S1"].rating is None


# ---------------------------------------------------------------- ranges


def extremes(points, name, symbol):
    ranges = [point.states[name].quantities[symbol] for point in points]
    return min(entry.low for entry in ranges), max(entry.high for entry in ranges)


def corners_of(scenario):
    """Return the stage at every combination of extreme values, each made nominal and free of tolerance.

    What a scenario cannot pin, forward voltage and dark current, still varies within each of them.
    """
    side, load, share = scenario.input, scenario.output, scenario.conditions.tolerance

    def ends(value, tolerance):
        return value * (1 - tolerance), value * (1 + tolerance)

    def at(VS, R1, VCC, RL, CTR):
        return operating_point(
            Scenario(
                input=replace(side, VS=VS, VS_tolerance=0.0, R1=R1),
                coupling=Coupling(CTR=CTR, CTR_min=CTR, CTR_max=CTR),
                output=replace(load, VCC=VCC, VCC_tolerance=0.0, RL=RL),
                conditions=Conditions(tolerance=0.0),
            )
        )

    factors = (
        ends(side.VS, side.VS_tolerance),
        ends(side.R1, share),
        ends(load.VCC, load.VCC_tolerance),
        ends(load.RL, share),
        scenario.coupling.ratios()[1:],
    )
    return [at(*values) for values in product(*factors)]


def staged(kind, VCC, RL):
    """Return a stage without leakage at the receiver, and its corners."""
    scenario = Scenario(
        input=ContactLow(VS=24.0, VS_tolerance=0.1, R1=4700.0),
        output=kind(VCC=VCC, VCC_tolerance=0.05, RL=RL, I_leak=0.0),
        conditions=Conditions(tolerance=0.05),
    )
    return scenario, corners_of(scenario)


@pytest.fixture(params=[PullUp, PullDown], scope="module")
def saturated(request):
    return staged(request.param, 5.0, 2200.0)


@pytest.fixture(params=[PullUp, PullDown], scope="module")
def unsaturated(request):
    return staged(request.param, 24.0, 1000.0)


DRIVE = ["IF", "VF", "IC_available", "IC_needed", "overdrive"]
LOAD = ["IC", "VCE", "VOUT"]


def check_extremes(stage, name, symbol):
    scenario, corners = stage
    whole = operating_point(scenario).states[name].quantities[symbol]
    low, high = extremes(corners, name, symbol)
    assert whole.low == pytest.approx(low, rel=1e-3, abs=1e-9)
    assert whole.high == pytest.approx(high, rel=1e-3, abs=1e-9)


@pytest.mark.parametrize("symbol", [*DRIVE, *LOAD])
def test_the_extremes_are_those_of_stages_at_the_extremes(unsaturated, symbol):
    check_extremes(unsaturated, "closed", symbol)


@pytest.mark.parametrize("symbol", DRIVE)
def test_so_they_are_where_the_detector_saturates(saturated, symbol):
    check_extremes(saturated, "closed", symbol)


@pytest.mark.parametrize("symbol", LOAD)
def test_so_they_are_for_the_output_where_the_detector_saturates(saturated, symbol):
    check_extremes(saturated, "closed", symbol)


@pytest.mark.parametrize("symbol", LOAD)
def test_so_they_are_in_the_dark(unsaturated, symbol):
    check_extremes(unsaturated, "open", symbol)


def test_a_single_end_can_be_made_nominal(saturated):
    stage, _ = saturated
    largest = operating_point(stage).states["closed"].quantities["IF"].high
    side = replace(stage.input, VS=26.4, VS_tolerance=0.0, R1=4465.0)
    rigid = Scenario(input=side, output=stage.output, conditions=Conditions(tolerance=0.0))
    pinned = operating_point(rigid).states["closed"].quantities["IF"]
    assert pinned.high == pytest.approx(largest, rel=1e-9)
    assert pinned.value < pinned.high


def test_without_any_spread_of_its_own_a_supply_does_not_vary():
    found = solved("vstol=0&vcctol=0&tol=0")
    for node in ("VS", "VCC"):
        assert found.nodes[node].low == found.nodes[node].value == found.nodes[node].high


def test_a_wider_tolerance_never_narrows_a_range():
    narrow, wide = solved("tol=1&r1=15k").quantities, solved("tol=10&r1=15k").quantities
    for symbol, entry in narrow.items():
        assert wide[symbol].low <= entry.low + 1e-12
        assert wide[symbol].high >= entry.high - 1e-12


def test_both_states_are_solved_whichever_is_looked_at():
    shown = [point_of(query).states for query in ("sw=closed", "sw=open")]
    assert shown[0] == shown[1]


# ---------------------------------------------------------------- couplers of other families


def test_a_base_resistor_counts_against_what_the_coupler_can_give():
    """Where the resistor takes too much of the light, the output does not saturate, and the overdrive says so."""
    for R, saturates in (("1M", True), ("100k", False)):
        found = operating_point(scenario_from_query(f"coupler=with-base&rbe={R}")).states["closed"].quantities
        assert (found["overdrive"].value > 1.0) is saturates
        assert (found["VCE"].value < 0.3) is saturates
        assert found["IC"].value <= found["IC_available"].value * 1.05


@pytest.mark.parametrize("IF", ["1.5mA", "3mA", "12mA"])
def test_a_coupler_with_a_threshold_is_on_where_its_drive_exceeds_it(IF):
    """The class is stated on from 5 mA for every specimen, and at 2.5 mA for a typical one."""
    query = f"coupler=fast-gate&vcc=5V&vs=24V&vstol=0%25&if={IF}"
    closed = operating_point(scenario_from_query(query)).states["closed"]
    found = closed.quantities
    assert (found["IF_needed"].low, found["IF_needed"].value, found["IF_needed"].high) == (250e-6, 2.5e-3, 5e-3)
    assert found["overdrive"].value == pytest.approx(found["IF"].value / 2.5e-3, rel=1e-6)
    assert not {"IC_available", "IC_needed", "CTR_available", "CTR_forced"} & set(found)
    assert (found["VOUT"].value < 0.5) is (found["overdrive"].value >= 1.0)
    assert (found["VOUT"].high < 0.7) is (found["overdrive"].low >= 1.0)


def test_a_threshold_rises_with_temperature_as_its_card_says():
    needed = [
        operating_point(scenario_from_query(f"coupler=photo-relay&out=indicator&ta={TA}C")).states["closed"]
        for TA in (25, 85)
    ]
    cool, warm = (state.quantities["IF_needed"].value for state in needed)
    assert warm / cool == pytest.approx(1.5)
