"""From readings to what is wrong."""

import numpy as np
import pytest

from engine import STATES, ScenarioError, diagnose, scenario_from_query
from engine.build import build_all
from engine.diagnosis import information
from engine.hypotheses import Looks, hypotheses_of, mistaken, simulated
from engine.meter import METERS
from engine.sampling import Samples

USUAL = scenario_from_query("vs=24V")


def of(found, fault):
    (one,) = [one for one in found.ranking if one.fault.id == fault]
    return one


def specimens(scenario, count, seed=11):
    """Return readings of fresh stages with every fault, the meter's error in them: (faults, specimens, readings)."""
    known, meter = hypotheses_of(scenario), METERS[scenario.conditions.meter]
    stage = build_all((scenario,), draw=Samples(scenario, seed).take(count))
    volts = simulated(stage, known.faults, known.probes, meter)[..., 1:]
    volts += np.random.default_rng(seed).uniform(-1.0, 1.0, volts.shape) * meter.error(volts)
    return known, volts.reshape(len(known.faults), -1, count).transpose(0, 2, 1)


def sheet(known, volts):
    return [(*place, float(value)) for place, value in zip(known.places, volts, strict=True)]


def found_in(known, volts, most, found):
    """Return the diagnosis after as many suggested readings at the most, from the one without any on."""
    scenario, readings = found.scenario, []
    while found.next is not None and len(readings) < most:
        place = found.next.point, found.next.state
        readings.append((*place, float(volts[known.places[place]])))
        found = diagnose(scenario, readings)
    return found


# ---------------------------------------------------------------- single cases


def test_without_readings_everything_is_as_likely_as_beforehand():
    known, found = hypotheses_of(USUAL), diagnose(USUAL, [])
    prior = {fault.id: share for fault, share in zip(known.faults, known.prior, strict=True)}
    assert {one.fault.id: one.probability for one in found.ranking} == pytest.approx(prior)
    assert found.explained
    assert found.ruled_out == ()
    assert found.next.gain > 1.0


def test_no_voltage_at_the_supply_is_a_missing_supply():
    found = diagnose(USUAL, [("vs", "closed", 0.0)])
    assert found.ranking[0].fault.id == "vs-missing"
    assert found.ranking[0].probability > 0.99


def test_whole_supply_across_R1_and_a_dark_output_leave_what_stops_the_light_on_the_input():
    found = diagnose(USUAL, [("r1", "closed", 23.2), ("out", "closed", 3.3), ("led", "closed", 0.0)])
    likely = {one.fault.id for one in found.ranking if one.probability > 0.2}
    assert likely == {"r1-open", "led-short"}
    assert of(found, "led-open").probability < 1e-3


def test_what_is_ruled_out_names_the_reading_that_is_farthest_off():
    found = diagnose(USUAL, [("vs", "closed", 24.0), ("led", "closed", 24.0)])
    (short,) = [one for one in found.ruled_out if one.fault.id == "led-short"]
    assert (short.point, short.state, short.together) == ("led", "closed", False)
    assert short.expected == pytest.approx(0.0, abs=0.01)
    assert short.sigmas > 100.0
    missing = [one for one in found.ruled_out if one.fault.id == "vs-missing"]
    assert missing


def test_bridged_barrier_and_nothing_wrong_are_never_told_apart():
    known, volts = specimens(USUAL, 1)
    found = diagnose(USUAL, sheet(known, volts[0, 0]))
    assert "barrier-bridged" in {fault.id for fault in of(found, "good").same_readings_as}
    assert of(found, "good").probability > of(found, "barrier-bridged").probability


def test_faults_that_another_reading_tells_apart_are_named_as_such():
    found = diagnose(USUAL, [("out", "closed", 3.3), ("out", "open", 3.3)])
    so_far = {fault.id for fault in of(found, "r1-open").same_so_far_as}
    assert {"led-open", "led-short", "vs-missing"} <= so_far
    assert not so_far & {fault.id for fault in of(found, "r1-open").same_readings_as}


def test_two_faults_at_once_are_not_explained():
    dead_both = [("vs", "closed", 24.0), ("led", "closed", 24.0), ("vcc", "closed", 0.0), ("out", "closed", 0.0)]
    found = diagnose(USUAL, dead_both)
    assert not found.explained
    assert found.chance < 1e-6
    assert diagnose(USUAL, dead_both[:2]).explained


def test_next_reading_is_one_that_was_not_taken_and_ends():
    known, volts = specimens(USUAL, 1)
    readings = sheet(known, volts[0, 0])
    assert diagnose(USUAL, readings).next is None
    found = diagnose(USUAL, readings[:3])
    assert found.next is None or (found.next.point, found.next.state) not in {r[:2] for r in readings[:3]}


def test_order_of_the_readings_does_not_matter():
    readings = [("vs", "closed", 24.0), ("led", "closed", 1.1), ("out", "closed", 3.2)]
    forwards, backwards = diagnose(USUAL, readings), diagnose(USUAL, readings[::-1])
    for one in forwards.ranking:
        assert of(backwards, one.fault.id).probability == pytest.approx(one.probability, abs=1e-9)


def test_switch_state_that_is_shown_does_not_matter():
    assert hypotheses_of(USUAL.showing("open")) is hypotheses_of(USUAL)


def test_meter_that_loads_the_circuit_reads_less_of_an_open_one():
    loading = scenario_from_query("vs=24V&meter=loading")
    rank = [of(diagnose(s, [("s1", "open", 20.0)]), "good").probability for s in (USUAL, loading)]
    assert len(set(rank)) == 2


# ---------------------------------------------------------------- refused


@pytest.mark.parametrize(
    ("readings", "reason"),
    [
        ([("nowhere", "closed", 1.0)], "there is no point"),
        ([("vs", "ajar", 1.0)], "there is no state"),
        ([("vs", "closed", float("nan"))], "is no reading"),
        ([("vs", "closed", float("inf"))], "is no reading"),
        ([("vs", "closed", -2001.0)], "is no reading"),
        ([("vs", "closed", 1.0), ("vs", "closed", 1.0)], "given twice"),
    ],
)
def test_readings_that_cannot_be_are_refused(readings, reason):
    with pytest.raises(ScenarioError, match=reason):
        diagnose(USUAL, readings)


def test_all_refused_readings_are_told_at_once():
    with pytest.raises(ScenarioError) as caught:
        diagnose(USUAL, [("x", "closed", 1.0), ("vs", "y", 1.0), ("out", "open", 1e9)])
    assert [problem.field for problem in caught.value.problems] == ["r.x.closed", "r.vs.y", "r.out.open"]


# ---------------------------------------------------------------- the numbers behind it


def test_information_of_two_choices_goes_from_nothing_to_one_bit():
    def between(distance):
        mean, deviation = np.array([[0.0], [distance]]), np.ones((2, 1))
        return float(information(np.array([0.5, 0.5]), np.array([0, 1]), mean, deviation)[0])

    assert between(0.0) == pytest.approx(0.0, abs=1e-12)
    assert between(20.0) == pytest.approx(1.0, abs=1e-9)
    # Two normal distributions two deviations apart, by numerical integration of the definition.
    x = np.linspace(-10.0, 12.0, 200_001)
    f, g = (np.exp(-0.5 * (x - m) ** 2) / np.sqrt(2.0 * np.pi) for m in (0.0, 2.0))
    middle = 0.5 * (f + g)
    exact = 0.5 * np.trapezoid(f * np.log2(f / middle) + g * np.log2(g / middle), x)
    assert between(2.0) == pytest.approx(exact, abs=2e-3)


def test_two_looks_of_one_fault_tell_nothing_of_the_fault():
    mean, deviation = np.array([[0.0], [50.0]]), np.ones((2, 1))
    assert information(np.array([0.3, 0.7]), np.array([4, 4]), mean, deviation)[0] == pytest.approx(0.0, abs=1e-12)


def test_mistaken_is_one_half_for_the_same_and_nothing_for_the_far():
    rng = np.random.default_rng(1)
    mean, covariance = np.array([[0.0], [0.0], [99.0]]), np.ones((3, 1, 1))
    seen = mean[:, :, None] + rng.normal(size=(3, 1, 500))
    found = mistaken(seen, Looks(np.arange(3), np.ones(3), mean, covariance))
    assert found[0, 1] == pytest.approx(0.5)
    assert found[0, 2] == pytest.approx(0.0, abs=1e-12)


def test_faults_of_the_output_leave_the_readings_of_the_input():
    known = hypotheses_of(USUAL)
    there = [place for (point, _), place in known.places.items() if point in ("vs", "r1", "led", "s1")]
    weighted = known.looks.share[:, None] * known.looks.mean
    mean = {fault.id: weighted[known.looks.owner == k].sum(axis=0) for k, fault in enumerate(known.faults)}
    for fault in ("vcc-missing", "rl-open", "u1-open"):
        assert mean[fault][there] == pytest.approx(mean["good"][there], abs=1e-9)
    assert known.scale.back(mean["r1-open"][known.places["out", "closed"]]) > 3.0


# ---------------------------------------------------------------- how often it is right


@pytest.mark.parametrize(
    "query",
    [
        "",
        "vs=24V&rb=2k2&ap=diode",
        "in=sinking&out=pull-down",
        "in=logic&vs=12V&active=low&out=indicator",
        "in=two-wire&out=controller&coupler=cascade",
        "in=transistor&out=relay",
        "out=gate&coupler=push-pull&if=10mA",
        "meter=pointer",
    ],
)
def test_faults_of_fresh_stages_are_found(query):
    scenario = scenario_from_query(query)
    known, volts = specimens(scenario, 3)
    whole, four, explained, begun = [], [], [], diagnose(scenario, [])
    for fault, of_fault in zip(known.faults, volts, strict=True):
        for one in of_fault:
            found = diagnose(scenario, sheet(known, one))
            explained.append(found.explained)
            for right, tops in ((whole, found.ranking[0]), (four, found_in(known, one, 4, begun).ranking[0])):
                right.append(fault in (tops.fault, *tops.same_readings_as))
    assert np.mean(whole) >= 0.95
    assert np.mean(four) >= 0.85
    assert np.mean(explained) >= 0.98


def test_every_point_of_the_sheet_is_a_reading():
    known = hypotheses_of(USUAL)
    assert set(known.places) == {(probe.id, state) for probe in known.probes for state in STATES}
