"""Derating lines, junction temperatures and limiting currents as data sheets print them."""

import numpy as np
import pytest

from engine import operating_point, scenario_from_query
from engine.coupler.lines import Derating
from engine.thermal import TwoSources, half_way_power, implied_resistance, junction_temperature, limiting_current

TOSHIBA = "Toshiba TLP291-4 data sheet, 2011-09-08, absolute maximum ratings: "
SHARP = "Sharp PC817X Series data sheet, D2-A03101EN, Fig. 1 to 4 (graphs, +/-3 % of their height): "
DRIVER = "Avago HCPL-3120 data sheet, Fig. 28: "
READ = 0.03  # of a rating, what a reading off the graphs may be out by

# ---------------------------------------------------------------- derating


@pytest.mark.source(
    TOSHIBA + "50 mA less 0.67 mA/K above 50 degC, 100 mW less 1.0 mW/K and 170 mW less 1.7 mW/K above 25 degC; "
    "26.6 mA, 40 mW and 68 mW at 85 degC are derived from them"
)
@pytest.mark.parametrize(
    ("limit", "slope", "knee", "left", "digit"),
    [(50e-3, 0.67e-3, 50.0, 26.6e-3, 0.1e-3), (0.1, 1.0e-3, 25.0, 40e-3, 1e-3), (0.17, 1.7e-3, 25.0, 68e-3, 1e-3)],
)
def test_what_slopes_leave_of_ratings(limit, slope, knee, left, digit):
    rating = Derating(limit, knee, knee + limit / slope)
    assert rating.at(85.0) == pytest.approx(left, abs=digit / 2)
    assert rating.at(np.array([knee - 1.0, knee])).tolist() == [limit, limit]


@pytest.mark.source(TOSHIBA + "100 mW less 1.0 mW/K, 170 mW less 1.7 mW/K, junction at 125 degC at most")
@pytest.mark.parametrize(("limit", "slope"), [(0.1, 1.0e-3), (0.17, 1.7e-3)])
def test_power_ratings_end_at_the_junctions_limit(limit, slope):
    assert 1.0 / implied_resistance(limit, 25.0, 125.0) == pytest.approx(slope)


@pytest.mark.source(
    SHARP + "50 mA and 70 mW to 55 degC, 18 mA and 25 mW at 100 degC; 150 mW and 200 mW to 25 degC, 36 mW and 50 mW at "
    "100 degC; that all of them end at 125 degC is inferred"
)
@pytest.mark.parametrize(
    ("limit", "knee", "left"),
    [(50e-3, 55.0, 18e-3), (70e-3, 55.0, 25e-3), (150e-3, 25.0, 36e-3), (200e-3, 25.0, 50e-3)],
)
def test_derating_curves(limit, knee, left):
    assert Derating(limit, knee, 125.0).at(100.0) == pytest.approx(left, abs=READ * limit)


@pytest.mark.source(
    "Fairchild MOC3052-M data sheet, 2004, and Texas Instruments SOES025A, 1998: 330 mW less 4.4 mW/K, 100 mW less "
    "1.33 mW/K, 300 mW less 4.0 mW/K above 25 degC, up to 100 degC"
)
@pytest.mark.parametrize(("limit", "slope", "digit"), [(330, 4.4, 0.1), (100, 1.33, 0.01), (300, 4.0, 0.1)])
def test_ratings_of_triac_couplers_end_at_100_degrees(limit, slope, digit):
    assert 1.0 / implied_resistance(limit, 25.0, 100.0) == pytest.approx(slope, abs=digit / 2)
    assert Derating(limit, 25.0, 100.0).at(26.0) == pytest.approx(limit - slope, abs=digit / 2)


@pytest.mark.source(
    "Isocom MOC304x data sheet: 250 mW less 2.94 mW/K, 120 mW less 1.41 mW/K, 150 mW less 1.76 mW/K above 25 degC; "
    "that they end at 110 degC is derived"
)
@pytest.mark.parametrize(("limit", "slope"), [(250, 2.94), (120, 1.41), (150, 1.76)])
def test_three_ratings_of_one_coupler_end_at_one_temperature(limit, slope):
    assert 1.0 / implied_resistance(limit, 25.0, 110.0) == pytest.approx(slope, abs=0.005)


# ---------------------------------------------------------------- junctions


@pytest.mark.source(
    "Avago HCPL-3150 data sheet, page 16: 45 mW and 250 mW at 70 degC, 230, 49 and 104 K/W to the case, 83 K/W from "
    "there to ambient: LED 117 degC, detector 123 degC"
)
def test_junctions_of_two_sources():
    body = TwoSources.in_case(230.0, 49.0, 104.0, 83.0)
    assert (body.LED, body.mutual, body.detector) == (313.0, 132.0, 187.0)
    LED, detector = body.junctions(70.0, 45e-3, 250e-3)
    assert LED == pytest.approx(117.1, abs=0.05)
    assert detector == pytest.approx(122.7, abs=0.05)


@pytest.mark.source(DRIVER + "467, 442, 126 and 83 K/W; coefficients 339, 140 and 194 K/W are derived from them")
def test_coefficients_of_a_thermal_network():
    body = TwoSources.of_network(LC=467.0, LD=442.0, DC=126.0, CA=83.0)
    assert (body.LED, body.mutual, body.detector) == pytest.approx((339.0, 140.0, 194.0), abs=0.5)


@pytest.mark.from_memory
def test_junctions_of_a_thermal_network():
    """120 degC and 125 degC at 45 mW, 250 mW and 70 degC: the text beside the network, quoted without it at hand."""
    body = TwoSources.of_network(LC=467.0, LD=442.0, DC=126.0, CA=83.0)
    assert body.junctions(70.0, 45e-3, 250e-3) == pytest.approx((120.0, 125.0), abs=0.5)


@pytest.mark.source(
    "Texas Instruments ISO7220x data sheet, SLLS755P, 2018, section 6.8: 170 degC, 25 degC, 212 K/W; 124 mA at 5.5 V, "
    "190 mA at 3.6 V"
)
def test_safety_limiting_currents():
    found = limiting_current(170.0, 25.0, 212.0, np.array([5.5, 3.6]))
    assert found * 1e3 == pytest.approx([124.0, 190.0], abs=0.5)


@pytest.mark.source("Osram/Infineon LD 271 data sheet, 2001-02-22: 330 K/W, 220 mW, junction at 100 degC at most")
def test_junction_of_an_emitter_at_its_rating():
    """97.6 degC, derived: the printed rating lies just inside of what resistance and limit allow."""
    assert junction_temperature(25.0, 0.22, 330.0) == pytest.approx(97.6, abs=0.05)
    assert 330.0 <= implied_resistance(0.22, 25.0, 100.0) < 1.05 * 330.0


# ---------------------------------------------------------------- power of the detector in a stage

HALVED = "out=pull-up&vcc=10V&vcctol=0%25&tol=0%25&rl=250R&rlw=1W&vs=24V&r1w=1W&if=10mA&iin=0A&logic=cmos"


def detector(CTR):
    """Return what a stage leaves to its detector, whose ratio is CTR: power and voltage."""
    closed = operating_point(scenario_from_query(f"{HALVED}&ctr={CTR * 100:.4g}%25")).states["closed"]
    return closed.powers["U1"].value, closed.quantities["VCE"].value


@pytest.mark.no_source("derived: a resistor leaves most where it takes half of the supply, VCC^2 / 4 RL")
def test_the_detector_is_warmest_half_way():
    """A scan over the transfer ratio, dark to saturated: 100 mW at 5 V of 10 V through 250 ohm."""
    scanned = [detector(CTR) for CTR in np.linspace(0.2, 6.0, 59)]
    powers = np.array([power for power, _ in scanned])
    warmest = int(powers.argmax())
    assert 0 < warmest < len(powers) - 1
    assert powers[warmest] == pytest.approx(half_way_power(10.0, 250.0), rel=0.01)
    assert scanned[warmest][1] == pytest.approx(5.0, abs=0.5)


@pytest.mark.source(
    "Sharp PC817X Series data sheet, D2-A03101EN: VCE(sat) 0.2 V at most at IF 20 mA and IC 1 mA, so 0.2 mW"
)
def test_a_saturated_detector_stays_cool():
    query = "coupler=wide-bin&vcc=10V&vcctol=0%25&rl=9k9&tol=0%25&series=E192&vs=24V&r1w=1W&if=20mA&iin=0A&logic=cmos"
    closed = operating_point(scenario_from_query(query)).states["closed"]
    assert closed.quantities["IC"].value == pytest.approx(1e-3, rel=0.02)
    assert closed.powers["U1"].high <= 0.2 * 1e-3
    assert closed.powers["U1"].high < 0.1 * half_way_power(10.0, 9.9e3)
