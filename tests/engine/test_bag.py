"""A bag of couplers: what is drawn, and what is held against it."""

from dataclasses import replace

import numpy as np
import pytest

from engine import ScenarioError, bag_of, findings_of, operating_point, scenario_from_query
from engine.bag import SURROUNDINGS, places_in
from engine.findings import FAILING

WIDE = "ctrmin=15%25&ctrmax=300%25&rl=1k8"


def with_specimen(scenario, CTR):
    """Return the stage with every coupler of the bin alike."""
    return replace(scenario, coupling=replace(scenario.coupling, CTR=CTR, CTR_min=CTR, CTR_max=CTR))


def failing(scenario):
    point = operating_point(scenario)
    return {f.code for f in findings_of(point, remedies=False) if f.severity in FAILING}


@pytest.mark.parametrize("query", [WIDE, f"{WIDE}&tamin=-20C&tamax=70C&years=3&ageing=fast", f"{WIDE}&out=pull-down"])
def test_at_worst_a_coupler_fails_what_a_bin_of_its_like_fails(query):
    """The corners of such a bin also have the ends of VF and dark current; far from a limit that does not matter."""
    scenario = scenario_from_query(query)
    bag = bag_of(scenario, 30)
    alike = [set(one.failing) == failing(with_specimen(scenario, one.value)) for one in bag.specimens]
    assert sum(alike) >= 28
    assert 0 < bag.passing < 30


def test_what_fails_at_worst_is_no_less_than_what_fails_at_nominal_values():
    scenario = scenario_from_query(WIDE)
    nominal, worst = (bag_of(scenario, 100, 4, at) for at in SURROUNDINGS)
    assert [one.value for one in nominal.specimens] == [one.value for one in worst.specimens]
    for mild, hard in zip(nominal.specimens, worst.specimens, strict=True):
        assert set(mild.failing) <= set(hard.failing)
    assert worst.passing < nominal.passing


def test_couplers_of_a_bag_are_new_and_of_the_bin():
    scenario = scenario_from_query(f"{WIDE}&years=20&ageing=fast")
    bag = bag_of(scenario, 200)
    values = np.array([one.value for one in bag.specimens])
    assert (bag.symbol, bag.unit, bag.low, bag.high) == ("CTR", "1", 0.15, 3.0)
    assert 0.15 <= values.min() < 0.4
    assert 2.0 < values.max() <= 3.0
    # The wider half of the bin holds more: ln(1.1 / 0.15) of ln(3.0 / 0.15).
    assert np.mean(values < 1.1) == pytest.approx(0.665, abs=0.13)


def test_age_is_what_fails_at_worst():
    young, old = (bag_of(scenario_from_query(f"ctrmin=40%25&ageing=fast&years={years}"), 60) for years in ("0", "12"))
    assert young.passing > old.passing
    assert {code for one in old.specimens for code in one.failing} >= {"saturation"}


def test_drawing_again_gives_others_and_the_same_number_the_same():
    scenario = scenario_from_query("")
    first, again, next_ = (bag_of(scenario, 20, number) for number in (1, 1, 2))
    assert first == again
    assert first.specimens != next_.specimens


def test_a_bag_of_couplers_with_a_threshold():
    bag = bag_of(scenario_from_query("out=ac-load"), 60, 1, "nominal")
    IF = operating_point(scenario_from_query("out=ac-load")).states["closed"].quantities["IF"].value
    assert (bag.symbol, bag.unit) == ("threshold", "A")
    for one in bag.specimens:
        assert bag.low <= one.value <= bag.high
        # The drawn forward voltage moves the current by a few per cent.
        if abs(one.value / IF - 1) > 0.05:
            assert ("turn-on" in one.failing) == (one.value > IF)


def test_places_are_shares_of_the_bin_in_its_logarithm():
    assert places_in(0.5, 2.0, [0.5, 1.0, 2.0, 4.0]) == pytest.approx([0.0, 0.5, 1.0, 1.5])
    assert places_in(1.0, 1.0, 1.0) == 0.5


def test_a_bag_over_a_cycle():
    bag = bag_of(scenario_from_query("in=ac"), 5)
    assert bag.undrawn == ("zero-crossing",)
    assert bag.passing == 5


def test_all_that_is_wrong_is_named():
    with pytest.raises(ScenarioError, match="a whole number from 1 to 200") as caught:
        bag_of(scenario_from_query(""), 201, -1, "best")
    assert [problem.field for problem in caught.value.problems] == ["count", "seed", "at"]
