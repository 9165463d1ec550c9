"""The ratio that readings imply, against specimens whose ratio is known."""

from dataclasses import replace

import pytest

from engine import Readings, ScenarioError, implied_CTR, operating_point, scenario_from_query
from tests.bench import collector_current
from tests.equations import Stage, Values
from tests.stages import DRIVES

EXACT = 1e-3


def read(query, CTR):
    """Return the voltages across R1 and RL of a stage with a known specimen."""
    scenario = scenario_from_query(query)
    specimen = replace(scenario, coupling=replace(scenario.coupling, CTR=CTR))
    drops = operating_point(specimen).states["closed"].drops
    return scenario, abs(drops["R1"].value), abs(drops["RL"].value)


@pytest.mark.parametrize("drive", DRIVES.values())
def test_readings_in_any_drive_give_the_specimen(drive):
    for CTR in (0.9, 1.4):
        scenario, R1, RL = read(f"{drive}&rl=330R", CTR)
        found = implied_CTR(scenario, Readings(R1, RL, EXACT))
        assert found.value == pytest.approx(CTR, rel=2e-3)
        assert found.low < CTR < found.high


@pytest.mark.parametrize(
    "query",
    ["rl=470R&ta=60C", "out=pull-down&rl=470R", "out=indicator&rl=470R", "coupler=cascade&rl=47R", "rb=1k&rl=470R"],
)
def test_readings_at_any_output_give_the_specimen(query):
    scenario, R1, RL = read(query, 1.2)
    assert implied_CTR(scenario, Readings(R1, RL, EXACT)).value == pytest.approx(1.2, rel=2e-3)


def test_readings_of_a_stage_solved_by_other_equations_give_its_specimen():
    scenario = scenario_from_query("vs=24V&r1=10k&rl=1k&iin=0A")
    answer = Stage(scenario, replace(Values.nominal(scenario), CTR=0.95), True).by_root()
    readings = Readings(answer["IF"] * 10e3, answer["IL"] * 1e3, EXACT)
    assert implied_CTR(scenario, readings).value == pytest.approx(0.95, rel=1e-3)


def test_another_supply_does_not_matter_to_what_is_read_across_R1():
    scenario, _, _ = read("vs=24V&r1=10k&rl=1k", 1.0)
    _, R1, RL = read("vs=20V&r1=10k&rl=1k", 1.0)
    assert implied_CTR(scenario, Readings(R1, RL, EXACT)).value == pytest.approx(1.0, rel=1e-3)


@pytest.mark.parametrize("VCE", [2.0, 5.0, 20.0])
def test_currents_on_the_bench_give_the_specimen(VCE):
    IC = collector_current("general", IF=3e-3, VCE=VCE, CTR=1.3, celsius=25.0)
    found = implied_CTR(scenario_from_query(""), Readings(3e-3, IC, EXACT, VCE))
    assert found.value == pytest.approx(1.3, rel=1e-3)
    assert found.place == pytest.approx(0.7004, abs=2e-3)  # ln(1.3 / 0.8) / ln(1.6 / 0.8)


def test_at_the_test_point_the_ratio_is_the_quotient():
    found = implied_CTR(scenario_from_query(""), Readings(5e-3, 5.5e-3, 0.01, 5.0))
    assert found.value == pytest.approx(1.1, rel=1e-3)
    # Both readings off by one per cent against each other, and the CTR curve falling with current.
    assert found.low == pytest.approx(1.1 * 0.99 / 1.01, rel=2e-3)
    assert found.high == pytest.approx(1.1 * 1.01 / 0.99, rel=2e-3)


@pytest.mark.parametrize("CTR", [0.5, 1.1, 4.0])
def test_a_saturated_output_gives_a_lower_bound_alone(CTR):
    scenario, R1, RL = read("rl=22k", CTR)
    found = implied_CTR(scenario, Readings(R1, RL, 0.01))
    assert found.saturated
    assert (found.value, found.high) == (None, None)
    assert 0.01 < found.low < CTR


def test_specimens_beside_the_bin_are_beside_it():
    for CTR, beside in ((0.4, "below"), (3.0, "above")):
        scenario, R1, RL = read("rl=100R", CTR)
        place = implied_CTR(scenario, Readings(R1, RL, EXACT)).place
        assert (place < 0) == (beside == "below")
        assert (place > 1) == (beside == "above")


@pytest.mark.parametrize(
    ("query", "readings", "field"),
    [
        ("", Readings(20.0, 30.0, 0.01), "response"),
        ("", Readings(5e-3, 10.0, 0.01, 5.0), "response"),
        ("in=limited", Readings(800.0, 1.0, 0.01), "drive"),
        ("in=ac", Readings(5.0, 1.0, 0.01), "drive"),
        ("out=ac-load", Readings(5.0, 1.0, 0.01), "drive"),
    ],
)
def test_readings_that_cannot_be_are_refused(query, readings, field):
    with pytest.raises(ScenarioError) as caught:
        implied_CTR(scenario_from_query(query), readings)
    assert [problem.field for problem in caught.value.problems] == [field]
