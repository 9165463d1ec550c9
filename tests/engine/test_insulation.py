"""Distances along insulation, and what is found of a coupler's barrier."""

from dataclasses import replace

import pytest

from engine import findings_of, load_card, operating_point, pack_card, scenario_from_query
from engine.insulation import CATEGORIES, DEGREES, GRADES, rated_impulse, required_clearance, required_creepage


def found(query):
    return {f.code: f for f in findings_of(operating_point(scenario_from_query(query)))}


@pytest.mark.parametrize("degree", DEGREES)
@pytest.mark.parametrize("group", ["I", "II", "IIIa", "IIIb"])
def test_distances_never_fall_with_the_voltage(degree, group):
    distances = [required_creepage(volts, degree, group) for volts in range(5, 1001, 5)]
    assert distances == sorted(distances)
    assert min(distances) > 0


def test_worse_surroundings_and_material_take_more():
    for volts in (60, 230, 690):
        by_degree = [required_creepage(volts, degree, "II") for degree in DEGREES]
        by_group = [required_creepage(volts, "2", group) for group in ("I", "II", "IIIa")]
        assert by_degree == sorted(by_degree)
        assert by_group == sorted(by_group)


def test_a_voltage_between_steps_takes_the_next_one():
    assert required_creepage(230, "2", "II") == required_creepage(250, "2", "II")
    assert required_creepage(250, "2", "II") < required_creepage(250.1, "2", "II")


def test_beyond_the_table_there_is_no_distance():
    assert required_creepage(1250.1, "2", "I") is None
    assert required_creepage(1001, "3", "I") is None


def test_nothing_is_found_where_nothing_is_asked():
    assert not {"working-voltage", "creepage"} & found("").keys()


def test_a_barrier_within_its_figures_passes():
    at_230 = found("vb=230V")
    assert at_230["working-voltage"].severity == at_230["creepage"].severity == "pass"
    assert at_230["working-voltage"].value == pytest.approx(230 * 2**0.5)


@pytest.mark.parametrize(("query", "code"), [("vb=700V", "working-voltage"), ("vb=900V&ins=reinforced", "creepage"),
                                             ("vb=5kV", "creepage")])  # fmt: skip
def test_a_barrier_beyond_its_figures_stops(query, code):
    finding = found(query)[code]
    assert finding.severity == "stop"
    assert finding.margin < 0
    assert "qualified person" in finding.reason
    assert finding.mend is None


def test_impulses_and_clearances_never_fall():
    for category in CATEGORIES:
        impulses = [rated_impulse(volts, category) for volts in range(10, 1001, 10)]
        assert impulses == sorted(impulses)
    for volts in (48, 230, 690):
        impulses = [rated_impulse(volts, category) for category in CATEGORIES]
        assert impulses == sorted(impulses)
    for degree in DEGREES:
        distances = [required_clearance(kV * 1e3, degree) for kV in (0.1, 0.33, 0.6, 1, 1.5, 2, 4, 5, 7, 12)]
        assert distances == sorted(distances)
        for impulse in (500.0, 2500.0, 8000.0):
            basic, reinforced = (required_clearance(impulse, degree, grade) for grade in GRADES)
            assert reinforced >= basic


def test_beyond_the_tables_there_is_none():
    assert rated_impulse(1001.0, "2") is None
    assert required_clearance(12001.0) is None


@pytest.mark.parametrize(("category", "severity"), [("1", "pass"), ("3", "pass"), ("4", "stop")])
def test_clearance_of_a_coupler_by_category(category, severity):
    assert found(f"vb=300V&ins=reinforced&oc={category}")["clearance"].severity == severity


def test_a_card_that_states_no_clearance_is_not_asked_for_it():
    own = pack_card(replace(load_card("general"), clearance=None))
    assert "clearance" not in found(f"vb=230V&coupler=own&card={own}")
