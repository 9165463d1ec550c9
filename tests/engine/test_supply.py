"""A supply as a range: both ends hold at once."""

import pytest

from engine import (
    INPUTS,
    OUTPUTS,
    ScenarioError,
    declared,
    findings_of,
    operating_point,
    query_from,
    scenario_from_query,
)
from engine.supply import crossed_ends, supply_ends


@pytest.mark.parametrize(
    ("given", "ends"),
    [
        ((12.0, 0.1, "tol", "tol"), (10.8, 13.2)),
        ((12.0, 0.1, 5.0, 15.0), (5.0, 15.0)),
        ((12.0, 0.0, 5.0, "tol"), (5.0, 12.0)),
        ((12.0, 0.1, 14.0, 15.0), (12.0, 15.0)),
        ((12.0, 0.1, 5.0, 9.0), (5.0, 12.0)),
        ((0.0, 0.5, "tol", "tol"), (0.0, 0.0)),
    ],
)
def test_ends_are_given_or_follow_from_the_tolerance_and_never_exclude_the_usual_value(given, ends):
    assert supply_ends(*given) == pytest.approx(ends)


def test_ends_the_wrong_way_round_are_a_problem_of_the_lower_one():
    (problem,) = crossed_ends("vsmin", "VS", 15.0, 5.0)
    assert (problem.field, problem.given, problem.reason) == ("vsmin", "15V", "VS min is above VS max")
    assert not list(crossed_ends("vsmin", "VS", 5.0, 15.0))
    assert not list(crossed_ends("vsmin", "VS", "tol", 5.0))


def having(key):
    """Return the kinds of input side with a parameter."""
    return [kind for kind, side in INPUTS.items() if key in {parameter.key for parameter in declared(side).values()}]


@pytest.mark.parametrize("query", [f"in={kind}&vsmin=15V&vsmax=5V" for kind in having("vsmin")])
def test_no_input_side_takes_crossed_ends(query):
    with pytest.raises(ScenarioError) as caught:
        scenario_from_query(query)
    assert [problem.field for problem in caught.value.problems] == ["vsmin"]


@pytest.mark.parametrize("query", [f"out={kind}&vccmin=4V&vccmax=3V" for kind in OUTPUTS])
def test_no_output_side_takes_crossed_ends(query):
    with pytest.raises(ScenarioError) as caught:
        scenario_from_query(query)
    assert [problem.field for problem in caught.value.problems] == ["vccmin"]


@pytest.mark.parametrize("kind", having("vs"))
def test_the_range_of_a_current_is_that_of_the_stage_at_either_end(kind):
    fixed = f"in={kind}&r1=1k&tol=0%25&vstol=0%25"
    wide = operating_point(scenario_from_query(f"{fixed}&vs=12V&vsmin=5V&vsmax=15V")).states["closed"]
    weak, usual, strong = (
        operating_point(scenario_from_query(f"{fixed}&vs={volts}V")).states["closed"] for volts in (5, 12, 15)
    )
    assert wide.quantities["IF"].value == pytest.approx(usual.quantities["IF"].value)
    assert wide.quantities["IF"].low == pytest.approx(weak.quantities["IF"].low)
    assert wide.quantities["IF"].high == pytest.approx(strong.quantities["IF"].high)
    assert (wide.nodes["VS"].low, wide.nodes["VS"].high) == (5.0, 15.0)


@pytest.mark.parametrize("kind", OUTPUTS)
def test_the_output_supply_has_its_range_too(kind):
    point = operating_point(scenario_from_query(f"out={kind}&vcc=5V&vccmin=4V&vccmax=30V&rl=1k"))
    nodes, crest = point.states["open"].nodes, 2**0.5 if point.scenario.output.on_line else 1.0
    assert (nodes["VCC"].low, nodes["VCC"].value, nodes["VCC"].high) == pytest.approx(
        (4.0 * crest, 5.0 * crest, 30.0 * crest)
    )


def test_one_resistor_for_a_wide_range_fails_at_one_end_or_the_other_until_it_fits_both():
    """Lit from 5 V up to 30 V: what gives enough at 5 V overloads a quarter-watt resistor at 30 V."""

    def failing(query):
        point = operating_point(scenario_from_query(f"vs=12V&vsmin=5V&vsmax=30V&rl=10k&{query}"))
        return {f.code for f in findings_of(point) if f.severity in ("stop", "caution")}

    assert failing("r1=820R&r1w=250mW") == {"power-r1"}
    assert failing("r1=22k&r1w=250mW") == {"saturation", "level-lit"}
    assert failing("r1=3k9&r1w=250mW") == set()


def test_ends_stand_in_the_link():
    query = "vs=12V&vsmin=5V&vsmax=15V&vccmin=3V"
    assert query_from(scenario_from_query(query)) == query
