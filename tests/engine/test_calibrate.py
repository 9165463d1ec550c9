"""Calibrated cards meet their own lines, measured on a small test circuit through the solver."""

import math

import numpy as np
import pytest

from engine.circuit import Detector, Junction, LightPath, NetlistBuilder, solve
from engine.constants import ZERO_CELSIUS
from engine.coupler import calibrated, card_names
from engine.devices import detector_guess, photocurrent
from engine.errors import CardError

CARDS = card_names("phototransistor")
STIFF = 10e3  # [V], a source behind a resistor that is as good as a current source


def measure(model, IF, *, VCE=None, IC=None, TA=25.0, CTR=None, ICEO=None):
    """Return VF, VCE and IC with the LED fed a current and the collector held at a voltage or fed a current."""
    card = model.card
    IF, TA = np.broadcast_arrays(np.atleast_1d(np.asarray(IF, dtype=float)), np.asarray(TA, dtype=float))
    T = TA + ZERO_CELSIUS
    batch = len(IF)
    led = model.led.junction(T)
    law = model.transfer(np.full(batch, card.CTR_typ if CTR is None else CTR), T)
    params = model.detector(T, np.full(batch, card.ICEO if ICEO is None else ICEO))
    knee = led.at_current(IF)
    demand = np.full(batch, np.inf if IC is None else IC)
    guess = detector_guess(photocurrent(IF, law)[0], demand, np.full(batch, VCE or 1.0), params)
    net = NetlistBuilder(batch)
    net.side("input", "return", "VS", "A", "AJ")
    net.side("output", "common", "C", "CI", "B")
    net.source("VS", "VS", STIFF)
    net.conductance("R1", "VS", "A", IF / (STIFF - 1.2))
    net.resistor("LED", "A", "AJ", model.led.RS)
    net.device(Junction("LED", "AJ", "return", led, knee))
    if VCE is None:
        net.side("output", "common", "VCC")
        net.source("VCC", "VCC", STIFF)
        net.conductance("RL", "VCC", "C", IC / STIFF)
    else:
        net.source("VCC", "C", VCE)
    net.device(LightPath("U1", "AJ", "return", "CI", "B", led, law, knee))
    net.device(Detector("U1", "C", "CI", "B", "common", params, guess))
    solution = solve(net.build())
    return solution.voltages["A"], solution.voltages["C"], solution.source_currents["VCC"]


@pytest.fixture(params=CARDS)
def model(request):
    return calibrated(request.param)


def test_forward_voltage_points(model):
    IF, VF = np.array(model.card.VF_points).T
    measured, *_ = measure(model, IF, VCE=5.0)
    assert measured == pytest.approx(VF, abs=20e-3)


def test_forward_voltage_drift(model):
    measured, *_ = measure(model, model.card.VF_IF, VCE=5.0, TA=[15.0, 35.0])
    assert (measured[1] - measured[0]) / 20.0 == pytest.approx(model.card.VF_drift, abs=0.1e-3)


def test_forward_voltage_limits_hold_the_typical_value(model):
    card = model.card
    measured, *_ = measure(model, card.VF_IF, VCE=5.0)
    assert card.VF_min < measured[0] < card.VF_max


def test_transfer_ratio_at_the_test_point(model):
    card = model.card
    for CTR in (card.CTR_min, card.CTR_typ, card.CTR_max):
        *_, IC = measure(model, card.CTR_IF, VCE=card.CTR_VCE, CTR=CTR)
        assert IC[0] == pytest.approx(CTR * card.CTR_IF, rel=0.05)


def test_transfer_ratio_over_current(model):
    card = model.card
    IF, relative = np.array(card.CTR_shape).T
    *_, IC = measure(model, IF, VCE=card.CTR_VCE)
    assert IC == pytest.approx(card.CTR_typ * relative * IF, rel=0.05)


def test_transfer_ratio_over_temperature(model):
    card = model.card
    for IF, points in card.CTR_temperature:
        TA, relative = np.array(points).T
        *_, IC = measure(model, np.full(len(TA), IF), VCE=card.CTR_VCE, TA=TA)
        *_, at_25 = measure(model, IF, VCE=card.CTR_VCE)
        assert IC / at_25 == pytest.approx(relative, rel=0.05)


def test_saturation_voltage(model):
    card = model.card
    _, VCE, IC = measure(model, card.VCE_sat_IF, IC=card.VCE_sat_IC)
    assert IC[0] == pytest.approx(card.VCE_sat_IC, rel=1e-4)
    assert VCE[0] == pytest.approx(card.VCE_sat, abs=20e-3)


def test_bend_of_the_output_family(model):
    IF, VCE, wanted = model.card.knee
    *_, IC = measure(model, IF, VCE=VCE)
    assert IC[0] == pytest.approx(wanted, rel=0.05)


def test_dark_current_and_its_doubling(model):
    card = model.card
    times = np.array([-1.0, 0.0, 1.0, 3.0])
    *_, IC = measure(model, np.zeros(4), VCE=card.ICEO_VCE, TA=25.0 + times * card.ICEO_doubling)
    assert IC == pytest.approx(card.ICEO * 2.0**times, rel=0.05)


def test_largest_dark_current(model):
    card = model.card
    *_, IC = measure(model, 0.0, VCE=card.ICEO_VCE, ICEO=card.ICEO_max)
    assert IC[0] == pytest.approx(card.ICEO_max, rel=0.05)


# ---------------------------------------------------------------- what no line states, yet must hold


def test_output_current_rises_with_voltage_from_nothing(model):
    IC = [measure(model, 5e-3, VCE=VCE)[2][0] for VCE in (0.0, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 20.0)]
    assert IC[0] == pytest.approx(0.0, abs=1e-6)
    assert all(np.diff(IC) > 0)


def test_output_current_never_falls_with_drive(model):
    *_, IC = measure(model, np.geomspace(1e-7, 10e-3, 60), VCE=5.0)
    assert all(np.diff(IC) > 0)


def test_a_shifted_led_has_that_much_more_forward_voltage_at_the_reference_temperature(model):
    at_25 = np.array([298.15])
    plain, shifted = (model.led.junction(at_25, shift).at_current(5e-3)[0] for shift in (0.0, 0.1))
    assert shifted - plain == pytest.approx(0.1, abs=1e-6)


def test_parameters_are_of_the_order_that_such_parts_have(model):
    assert 1.0 <= model.led.n < 2.5
    assert 0 < model.led.RS < 10.0
    assert 1e-2 < model.RC < 1e3
    assert 1.0 < model.gain < 10 * model.card.beta


def test_an_unknown_card_is_refused():
    with pytest.raises(CardError, match="there is no such card"):
        calibrated("other")


def test_calibration_is_made_once():
    assert calibrated("general") is calibrated("general")
    assert math.isclose(calibrated("general").card.CTR_typ, 1.1)
