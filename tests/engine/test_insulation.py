"""Distances along insulation, and what is found of a coupler's barrier."""

import pytest

from engine import findings_of, operating_point, scenario_from_query
from engine.insulation import DEGREES, required_creepage


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
