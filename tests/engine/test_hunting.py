"""Every reading of a stage with every fault: the healthy one is that of the solver, signs, barrier, what is visible."""

import numpy as np
import pytest

from engine import all_readings, operating_point, scenario_from_query
from engine.faults import GOOD, faults_of
from engine.meter import METERS

QUERIES = ["", "in=sinking&vs=24V&out=relay", "in=two-wire&out=controller", "out=gate", "coupler=with-base&rbe=100k"]


@pytest.fixture(params=QUERIES)
def scenario(request):
    return scenario_from_query(request.param)


def test_every_fault_has_a_figure_at_every_pair_of_points(scenario):
    found = all_readings(scenario)

    assert found.faults == (GOOD, *faults_of(scenario))
    assert found.values.shape == (len(found.faults), 2, len(found.pairs))
    assert np.isfinite(found.values).all()
    points = [len(points) for points in found.leads.values()]
    assert len(found.pairs) == sum(n * (n - 1) // 2 for n in points)


def test_with_nothing_wrong_the_meter_shows_what_is_solved(scenario):
    found, point = all_readings(scenario), operating_point(scenario)
    for state in ("closed", "open"):
        supply = point.states[state].nodes["VCC"].value
        assert found.of(state, "VCC", found.leads["output"][-1])[0] == pytest.approx(supply, rel=1e-6)


def test_exchanged_leads_show_the_same_with_the_other_sign(scenario):
    found = all_readings(scenario)
    for red, black in found.pairs:
        assert np.array_equal(found.of("open", black, red), -found.of("open", red, black))
        assert not found.of("open", red, red).any()


def test_leads_on_both_sides_of_the_barrier_show_nothing(scenario):
    leads = all_readings(scenario).leads

    assert all(all_readings(scenario).of("closed", a, b) is None for a in leads["input"] for b in leads["output"])


def test_an_unknown_point_or_state_is_an_error():
    found = all_readings(scenario_from_query(""))
    with pytest.raises(KeyError):
        found.of("closed", "nowhere", "VCC")
    with pytest.raises(KeyError):
        found.of("ajar", "VCC", "OUT")


def test_nothing_wrong_and_a_bridged_barrier_cannot_be_seen_by_a_meter_and_most_faults_can(scenario):
    found = all_readings(scenario)
    unseen = {fault.kind for fault, seen in zip(found.faults, found.visible(), strict=True) if not seen}

    assert {"good", "bridged"} <= unseen
    assert found.visible().mean() > 0.8


def test_a_missing_supply_reads_nothing():
    found = all_readings(scenario_from_query(""))
    names = [fault.id for fault in found.faults]
    supply = found.of("closed", "VCC", found.leads["output"][-1])

    assert supply[names.index("vcc-missing")] == 0.0
    assert supply[names.index("vcc-polarity")] == pytest.approx(-supply[0])


def test_what_the_meter_shows_within_its_error_is_explained_and_beyond_it_is_not():
    found = all_readings(scenario_from_query(""))
    value = found.of("closed", "VCC", found.leads["output"][-1])[:1]
    error = float(METERS["digital"].error(value)[0])

    assert found.explained(value[0] + error, value).all()
    assert not found.explained(value[0] + 1.2 * error, value).any()


def test_the_meter_of_the_stage_loads_it():
    light = all_readings(scenario_from_query("sw=open"))
    points = ("open", "OUT", light.leads["output"][-1])
    heavy = all_readings(scenario_from_query("sw=open&meter=loading"))

    assert heavy.of(*points)[0] < 0.999 * light.of(*points)[0]


@pytest.mark.parametrize("query", ["nd=20&lamp=white&out=ac-load", "nd=20&lamp=white"])
def test_more_points_of_one_side_than_are_read_at_once_are_read(query):
    scenario = scenario_from_query(query)
    found = all_readings(scenario)
    assert {side for side, points in found.leads.items() if points} == {"input", "output"}
    assert np.isfinite(found.values).all()


def test_alternating_readings_mind_no_order_of_the_leads():
    found = all_readings(scenario_from_query("in=ac&vac=24V"))
    assert found.coupling("VS", "return") == found.coupling("return", "VS") == "ac"
    assert (found.of("closed", "VS", "return") == found.of("closed", "return", "VS")).all()
    assert found.coupling("OUT", "common") == "dc"
    assert (found.of("open", "OUT", "common") == -found.of("open", "common", "OUT")).all()


def test_points_that_say_nothing_take_no_lead():
    leads = all_readings(scenario_from_query("in=ac&vac=24V&co=1uF")).leads
    assert leads["output"] == ("VCC", "common")
