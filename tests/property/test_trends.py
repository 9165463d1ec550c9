"""What a practitioner knows without a calculation: which way a figure moves."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine import ScenarioError, operating_point, scenario_from, scenario_from_query

FEW = settings(max_examples=40, deadline=None)
fixed = "r1=10k&rl=4k7"


def closed(query):
    return operating_point(scenario_from_query(query)).states["closed"].quantities


@FEW
@given(st.floats(2.0, 500.0), st.floats(1.01, 3.0))
def test_led_current_rises_with_supply(volts, times):
    assert (
        closed(f"{fixed}&vs={volts:.6f}V")["IF"].value
        < closed(f"{fixed}&vs={min(volts * times, 1000):.6f}V")["IF"].value
    )


@FEW
@given(st.floats(10.0, 900.0), st.floats(1.01, 2.0))
def test_output_falls_with_the_transfer_ratio(percent, times):
    weak, strong = (closed(f"{fixed}&ctr={p:.6f}%25")["VCE"].value for p in (percent, percent * times))
    assert strong < weak


@FEW
@given(st.floats(200.0, 1e5), st.floats(1.01, 5.0))
def test_a_larger_load_lowers_the_voltage_across_the_detector(ohms, times):
    small, large = (closed(f"r1=10k&rl={R:.3f}")["VCE"].value for R in (ohms, ohms * times))
    assert large < small


@FEW
@given(st.floats(-50.0, 140.0), st.floats(1.0, 10.0))
def test_forward_voltage_falls_and_dark_current_rises_with_temperature(celsius, warmer):
    cool, warm = (operating_point(scenario_from_query(f"{fixed}&ta={T:.3f}C")) for T in (celsius, celsius + warmer))
    assert warm.states["closed"].quantities["VF"].value < cool.states["closed"].quantities["VF"].value
    assert warm.states["open"].quantities["IC"].value > cool.states["open"].quantities["IC"].value


@pytest.mark.parametrize("more", ["tol=10%25", "vstol=20%25", "vcctol=10%25", "ctrmin=20%25", "ctrmax=500%25"])
def test_wider_tolerances_give_wider_ranges(more):
    tight = ["tol=1%25", "vstol=1%25", "vcctol=1%25"]
    loose = [text for text in tight if text.split("=")[0] != more.split("=")[0]] + [more]
    narrow, wide = closed("&".join(tight)), closed("&".join(loose))
    assert all(wide[name].low <= narrow[name].low + 1e-15 for name in ("IF", "VCE", "overdrive"))
    assert all(wide[name].high >= narrow[name].high - 1e-15 for name in ("IF", "VCE", "overdrive"))
    assert any(wide[n].high - wide[n].low > narrow[n].high - narrow[n].low for n in ("IF", "VCE", "overdrive"))


@settings(max_examples=300, deadline=None)
@given(st.lists(st.tuples(st.text(max_size=12), st.text(max_size=50)), max_size=8))
def test_any_pairs_are_a_scenario_or_a_list_of_problems(pairs):
    try:
        problems = scenario_from(pairs) and ()
    except ScenarioError as error:
        problems = error.problems or (None,)
    assert all(problem.reason and problem.accepted for problem in problems)
