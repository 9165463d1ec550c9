"""The transfer ratio of a real unit from its readings, against closed forms and known specimens."""

import pytest

from engine import (
    LIT,
    METERS,
    MeasuredRatio,
    Unmeasured,
    measured_ratio,
    operating_point,
    probes_of,
    scenario_from_query,
)
from engine.probing import probe_across
from tests.bench import collector_current

PLAIN = "vs=24V&r1=10k&rl=1k"


def across(query, volts, part_to_point=(("R1", "r1"), ("RL", "rl"))):
    """Return what is measured of a stage with the voltages across R1 and RL."""
    readings = {(point, LIT): v for (_, point), v in zip(part_to_point, volts, strict=True)}
    return measured_ratio(scenario_from_query(query), readings)


def test_ratio_is_load_current_over_led_current():
    found = across(PLAIN, (20.0, 1.5))
    assert found.IF == pytest.approx(2e-3)
    assert found.CTR == pytest.approx((1.5 / 1e3) / (20.0 / 10e3))
    assert not found.saturated


def test_error_is_that_of_both_readings_and_of_the_current_that_the_meter_takes():
    meter = METERS["digital"]
    found = across(PLAIN, (20.0, 1.5))
    # 0.5 % and 2 digits of 40 V and of 4 V at 4000 counts; 10k and 1k beside 10 megohm.
    shares = 0.005 + 0.02 / 20.0 + 10e3 / 10e6, 0.005 + 0.002 / 1.5 + 1e3 / 10e6
    assert meter.R_in == 10e6
    assert found.error == pytest.approx(0.75 * sum(shares), rel=2e-3)  # what leaks beside the coupler is in it
    assert across(f"{PLAIN}&meter=pointer", (20.0, 1.5)).error > 3 * found.error


def test_tolerance_of_both_resistors_is_told_apart():
    found = across(f"{PLAIN}&tol=1%25", (20.0, 1.5))
    assert found.tolerance == pytest.approx(0.75 * 0.02)
    assert found.off == pytest.approx(found.error + found.tolerance)


@pytest.mark.parametrize("IF", [1e-3, 2e-3, 5e-3])
def test_limits_are_those_of_the_card_on_its_test_circuit_at_that_current(IF):
    found = across("vs=80V&r1=10k&rl=100R&vcc=12V", (IF * 10e3, IF * 100.0))
    card = scenario_from_query("").coupling.data
    for limit, CTR in ((found.low, card.CTR_min), (found.high, card.CTR_max)):
        IC = collector_current("general", IF=IF, VCE=card.CTR_VCE, CTR=CTR)
        assert limit == pytest.approx(IC / IF, rel=1e-3)


@pytest.mark.parametrize(
    "query", [PLAIN, "out=pull-down&rl=470R", "out=indicator&rl=470R", "coupler=cascade&rl=47R", "in=logic&rl=470R"]
)
def test_readings_of_a_known_specimen_give_what_flows_in_it(query):
    scenario = scenario_from_query(query)
    state = operating_point(scenario).states[LIT]
    readings = {(probe_across(scenario, part).id, LIT): state.drops[part].value for part in ("R1", "RL")}
    found = measured_ratio(scenario, readings)
    true = state.currents["U1"].value / state.currents["LED"].value
    assert abs(found.CTR - abs(true)) <= found.error
    assert found.verdict == "within"


def test_a_weak_unit_is_below_and_a_strong_one_above():
    assert across(PLAIN, (20.0, 0.9)).verdict == "below"
    assert across("vs=24V&r1=10k&rl=1k&vcc=12V", (20.0, 5.0)).verdict == "above"


def test_what_the_errors_leave_open_is_not_called_below():
    found = across(PLAIN, (20.0, 1.5))
    barely = found.low * 2.0 * 0.97
    assert across(PLAIN, (20.0, barely)).verdict == "within"


def test_a_saturated_output_gives_a_lower_bound_only():
    found = across("vs=24V&r1=10k&rl=4k7", (20.0, 3.15))
    assert found.saturated
    assert (found.CTR < found.low, found.verdict) == (True, "open")


def test_a_reading_of_VCE_decides_on_saturation():
    scenario = scenario_from_query("out=pull-down&vs=24V&r1=10k&rl=470R")
    readings = {("r1", LIT): 20.0, ("out", LIT): 0.8}
    assert not measured_ratio(scenario, readings).saturated
    assert measured_ratio(scenario, readings | {("u1", LIT): 0.1}).saturated


@pytest.mark.parametrize(
    ("query", "volts", "reason"),
    [
        ("in=ac", (20.0, 1.0), "alternating"),
        ("out=dc-load&if=10mA", (20.0, 1.0), "no transfer ratio"),
        ("rb=1k&rl=470R", (20.0, 1.0), "through R1"),
        (PLAIN, (20.0, 0.0), "takes the voltages"),
        (PLAIN, (1e-5, 1.0), "too small"),
        ("r1=10R&r1w=5W&vs=5V&if=5mA&rl=1k", (2000.0, 1.0), "above 1 A"),
    ],
)
def test_what_gives_no_ratio_is_told(query, volts, reason):
    found = across(query, volts)
    assert isinstance(found, Unmeasured)
    assert reason in found.reason


def test_the_probe_across_a_part_is_found_under_the_name_of_what_shares_its_nodes():
    scenario = scenario_from_query("out=pull-down&rl=470R")
    assert probe_across(scenario, "RL").id == "out"
    assert probe_across(scenario, "R1") in probes_of(scenario)
    assert probe_across(scenario, "K1") is None


def test_the_ratio_does_not_depend_on_how_the_leads_were_put():
    scenario = scenario_from_query(PLAIN)
    turned = measured_ratio(scenario, {("r1", LIT): -20.0, ("rl", LIT): 1.5})
    assert isinstance(turned, MeasuredRatio)
    assert turned.CTR == pytest.approx(0.75)
