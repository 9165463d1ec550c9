"""Sizing of the resistors, held against the solved stage."""

from dataclasses import replace

import pytest

from engine import (
    AMPERE,
    INPUTS,
    OUTPUTS,
    Conditions,
    Coupling,
    Scenario,
    ScenarioError,
    as_typed,
    operating_point,
    scenario_from_query,
    size,
)
from engine.inputs import ContactHigh, ContactLow, LogicOutput, MeasuredDriver
from engine.outputs import Indicator, PullDown, PullUp
from engine.preferred import preferred
from engine.sizing import LEAST, MOST, series_resistance
from tests.stages import DRIVES, alone, kinds, together

SIDES = [
    ContactLow(IF=3e-3),
    ContactLow(IF=20e-3, VS=24.0, R_contact=50.0, R_line=120.0),
    ContactLow(IF=10e-6, VS=5.0),
    ContactHigh(IF=5e-3, VS=110.0, R_line=1e3),
    ContactHigh(IF=1e-6, VS=12.0),
    LogicOutput(IF=3e-3),
    LogicOutput(IF=5e-3, VS=5.0, active="low", R_port=200.0),
    LogicOutput(IF=0.5, VS=5.0, R_port=0.01),
]


def problems_of(scenario):
    with pytest.raises(ScenarioError) as caught:
        size(scenario)
    return caught.value.problems


@pytest.mark.parametrize("TA", [-40.0, 25.0, 85.0])
@pytest.mark.parametrize("side", SIDES)
def test_the_exact_series_resistor_gives_the_wanted_current(side, TA):
    scenario = Scenario(input=side, conditions=Conditions(TA=TA))
    exact = size(scenario)["R1"].exact
    IF = operating_point(replace(scenario, input=replace(side, R1=exact))).states["closed"].quantities["IF"].value
    assert IF == pytest.approx(side.IF, rel=1e-6, abs=0)


@pytest.mark.parametrize("query", [q for q in (*DRIVES.values(), *alone(), *together()) if "limited" not in q])
def test_the_exact_series_resistor_heeds_all_that_stands_around_the_led(query):
    """Within 1 %: of a switch the drop is the one at the drive current, also where it carries more than that."""
    scenario = scenario_from_query(query)
    exact = size(scenario)["R1"].exact
    side = replace(scenario.input, R1=exact)
    IF = operating_point(replace(scenario, input=side)).states["closed"].quantities["IF"].value
    assert IF == pytest.approx(side.IF, rel=1e-2)


def test_the_series_resistor_of_a_limited_input_leaves_the_limiter_its_dropout_voltage():
    closed = operating_point(scenario_from_query("in=limited&r1=auto&vdo=4V&series=E192")).states["closed"]
    assert 4.0 < closed.drops["B2"].value < 4.0 + 0.05 * 36.0
    assert 0.95 * 3e-3 < closed.quantities["IF"].value < 3e-3


@pytest.mark.parametrize("output", [PullUp(RL="auto"), PullDown(RL="auto", VCC=5.0, IL=1e-3), Indicator()])
def test_the_exact_load_resistor_gives_the_wanted_current_at_the_saturation_voltage(output):
    scenario = Scenario(output=output)
    sized = size(scenario)["RL"]
    fitted = replace(scenario, output=replace(output, RL=sized.exact))
    needed = operating_point(fitted).states["closed"].quantities["IC_needed"].value
    assert needed == pytest.approx(output.IL, rel=1e-6, abs=0)


def test_the_load_resistor_by_hand():
    # (5 V - 0.1 V of the saturated detector) / 1 mA
    assert size(Scenario(output=PullUp(VCC=5.0, RL="auto", IL=1e-3)))["RL"].exact == pytest.approx(4900.0)
    low_drive = Scenario(coupling=Coupling(card="low-drive"), output=PullUp(VCC=5.0, RL="auto", IL=1e-3))
    assert size(low_drive)["RL"].exact == pytest.approx(4880.0)


def test_the_series_resistor_heeds_what_else_is_in_series():
    bare = size(Scenario(input=ContactLow(R_contact=0.1)))["R1"].exact
    long = size(Scenario(input=ContactLow(R_contact=10.1, R_line=90.0)))["R1"].exact
    assert bare - long == pytest.approx(100.0)


@pytest.mark.parametrize("series", ["E3", "E12", "E24", "E96"])
@pytest.mark.parametrize("rounding", ["nearest", "up", "down"])
@pytest.mark.parametrize("kind", INPUTS.values())
def test_an_automatic_resistor_is_the_preferred_one(kind, series, rounding):
    R1 = size(Scenario(input=kind(R1="auto"), conditions=Conditions(series=series, rounding=rounding)))["R1"]
    assert R1.chosen == preferred(R1.exact, series, rounding)
    assert (R1.automatic, R1.series, R1.rounding) == (True, series, rounding)
    if rounding == "up":
        assert R1.chosen >= R1.exact
    if rounding == "down":
        assert R1.chosen <= R1.exact


@pytest.mark.parametrize("kind", OUTPUTS.values())
def test_a_given_resistor_is_fitted_as_it_is(kind):
    sized = size(Scenario(input=ContactLow(R1=12345.0), coupling=usual_of(kind), output=kind(RL=4321.0)))
    assert (sized["R1"].chosen, sized["RL"].chosen) == (12345.0, 4321.0)
    assert not sized["R1"].automatic
    assert not sized["RL"].automatic
    VF = float(usual_of(kind).model.led.VF(3e-3, 298.15))
    assert sized["R1"].exact == pytest.approx((48.0 - VF) / 3e-3, rel=1e-3)


def usual_of(kind):
    """Return the coupler that is usual with an output side."""
    return Coupling(card=kind.usual_coupler)


def test_a_given_resistor_serves_where_no_exact_one_is_possible():
    sized = size(Scenario(input=ContactLow(VS=0.5, R1=100.0), output=PullUp(VCC=0.05)))
    assert (sized["R1"].exact, sized["R1"].chosen) == (None, 100.0)
    assert (sized["RL"].exact, sized["RL"].chosen) == (None, 4700.0)


# ---------------------------------------------------------------- what cannot be


@pytest.mark.parametrize("kind", [kind for kind in kinds() if kind != "measured"])
def test_a_supply_below_the_led_names_the_drive_current(kind):
    side = INPUTS[kind](VS=1.0, R1="auto")
    (problem,) = problems_of(Scenario(input=side))
    current = as_typed(side.IF, AMPERE)
    assert (problem.field, problem.given) == ("if", current)
    assert f"no resistor gives {current} from VS = 1 V" in problem.reason
    assert "already take" in problem.reason
    assert problem.accepted.startswith("a smaller current, a higher supply")


@pytest.mark.parametrize("kind", OUTPUTS.values())
def test_a_supply_below_the_detector_names_the_load_current(kind):
    (problem,) = problems_of(Scenario(coupling=usual_of(kind), output=kind(VCC=0.05, RL="auto", IL=1e-3)))
    assert (problem.field, problem.given) == ("il", "1 mA")
    assert "no resistor gives 1 mA from VCC = " in problem.reason


def test_a_driver_whose_table_does_not_reach_the_current_names_it():
    (problem,) = problems_of(Scenario(input=MeasuredDriver(IF=20e-3)))
    assert (problem.field, problem.given) == ("if", "20 mA")
    assert "no resistor gives 20 mA from VS = 24 V" in problem.reason


def test_a_current_that_asks_for_too_much_resistance():
    (problem,) = problems_of(Scenario(input=ContactLow(VS=1000.0, IF=1e-6)))
    assert (problem.field, problem.given) == ("if", "1 µA")
    assert problem.reason == "1 µA from VS = 1 kV asks for more than 100 MΩ"
    assert problem.accepted.startswith("a larger current")


def test_a_current_that_asks_for_too_little_resistance():
    (problem,) = problems_of(Scenario(output=PullUp(VCC=1.0, RL="auto", IL=1.0)))
    assert (problem.field, problem.given) == ("il", "1 A")


def test_both_impossible_currents_are_named_at_once():
    problems = problems_of(Scenario(input=ContactLow(VS=1.0), output=PullUp(VCC=0.0, RL="auto")))
    assert [problem.field for problem in problems] == ["if", "il"]


@pytest.mark.parametrize("rounding", ["up", "down"])
def test_rounding_stays_within_what_may_be_fitted(rounding):
    conditions = Conditions(series="E3", rounding=rounding)
    least = size(Scenario(output=PullUp(VCC=1.2, RL="auto", IL=1.0), conditions=conditions))["RL"]
    assert LEAST <= least.exact < 2.2
    assert least.chosen == {"up": 2.2, "down": 1.0}[rounding]
    most = size(Scenario(output=PullUp(VCC=9.6, RL="auto", IL=1e-7), conditions=conditions))["RL"]
    assert 47e6 < most.exact <= MOST
    assert most.chosen == {"up": 100e6, "down": 47e6}[rounding]


def test_series_resistance_is_what_is_left_over_current():
    assert series_resistance(12.0, 1.5, 10e-3) == pytest.approx(1050.0)
    assert series_resistance(1.0, 1.5, 10e-3) < 0
