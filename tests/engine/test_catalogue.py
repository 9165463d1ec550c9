"""The list of stages that the diagnosis is measured on."""

from engine import INPUTS, OUTPUTS, scenario_from_query
from engine.pairing import cards_for
from tests.catalogue import stages, unmeasured


def test_every_choice_and_every_part_that_may_be_left_out_is_measured():
    assert unmeasured() == set()


def test_every_side_and_every_coupler_that_goes_with_it_is_measured():
    scenarios = [scenario_from_query(query) for query in stages()]
    direct = {name for name, side in OUTPUTS.items() if not side.on_line}
    assert {scenario.input.kind for scenario in scenarios} == set(INPUTS) - {"ac"}
    found = {(scenario.output.kind, scenario.coupling.card) for scenario in scenarios}
    assert found >= {(kind, card) for kind in direct for card in cards_for(kind)}


def test_no_stage_is_measured_twice():
    scenarios = [scenario_from_query(query) for query in stages()]
    assert len(set(scenarios)) == len(scenarios)
