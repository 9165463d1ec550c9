"""Alternating-current inputs against worked figures."""

import numpy as np
import pytest

from engine.cycle import AcLoop, Diode, impedance, in_series, over_the_cycle, reactance, value_for_current
from engine.cycle.waveform import average, peak, rms, share_above
from engine.devices import JunctionParams

KUPHALDT_AC = "T. R. Kuphaldt, Lessons in Electric Circuits, vol. II AC, ch. 4, Series resistor-capacitor circuits"
KUPHALDT_LED = "T. R. Kuphaldt, Lessons in Electric Circuits, vol. III Semiconductors, ch. 3, Light-emitting diodes"


def steep(volts, current):
    """Return a diode so steep that its drop is as good as constant near a current."""
    return Diode(JunctionParams(np.array([current * np.exp(-200.0)]), np.array([volts / 200.0])), np.zeros(1))


def loop(form, V, R1, VF, f=50.0, CD=None):
    """Return a loop whose LED drops a constant voltage."""
    led, silicon = steep(VF, 1e-3), steep(0.7, 1e-3)
    C = None if CD is None else np.array([CD])
    return AcLoop(form, np.array([V]), np.array([f]), np.array([R1]), led, silicon, CD=C)


@pytest.mark.source(KUPHALDT_LED + ": 20 mA in all is 10 mA on average in each; half the resistance gives each 20 mA")
def test_a_pair_shares_the_current_of_both_half_cycles():
    R = value_for_current(lambda R: average(over_the_cycle(loop("pair", 120.0, R, 1.6)).IF)[0], 20e-3, 5e3, (1, 1e6))
    whole = over_the_cycle(loop("pair", 120.0, R, 1.6)).i[0]
    assert average(np.maximum(whole, 0.0)) == pytest.approx(10e-3, rel=1e-6)
    assert average(np.maximum(-whole, 0.0)) == pytest.approx(10e-3, rel=1e-6)
    halved = over_the_cycle(loop("pair", 120.0, R / 2, 1.6)).i[0]
    assert average(np.maximum(halved, 0.0)) == pytest.approx(20e-3, rel=0.005)


@pytest.mark.source(KUPHALDT_AC + ": 100 uF at 60 Hz and at 2500 Hz; 40 ohm and 30 ohm make 50 ohm")
def test_reactance_and_impedance():
    assert reactance(100e-6, 60.0) == pytest.approx(26.5258, abs=0.00005)
    assert reactance(100e-6, 2500.0) == pytest.approx(0.6366, abs=0.00005)
    assert reactance(88.42e-6, 60.0) == pytest.approx(30.0, abs=0.005)
    assert impedance(40.0, 88.42e-6, 60.0) == pytest.approx(50.0, abs=0.005)


@pytest.mark.source(KUPHALDT_AC + ": 5 ohm and 100 uF at 60 Hz; its 26.993 ohm and 370.5 mA at 10 V derived from it")
def test_current_of_resistor_and_capacitor():
    assert impedance(5.0, 100e-6, 60.0) == pytest.approx(26.993, abs=0.0005)
    # With an LED of next to no voltage the loop solved over the cycle is the linear circuit.
    cycle = over_the_cycle(loop("pair", 10.0, 5.0, 1e-3, f=60.0, CD=100e-6))
    assert rms(cycle.i)[0] == pytest.approx(370.5e-3, rel=1e-3)


@pytest.mark.source("Electronics questions and answers, a/201242 (community answer: a check of arithmetic only)")
def test_two_resistors_before_an_antiparallel_pair():
    # 200 to 250 V rms; two resistors of 0.25 W must be 125 kohm together, which loads them fully.
    assert in_series(250 * np.sqrt(2), 500.0, 250.0**2 / 125e3, 0.25) == 2
    assert in_series(250 * np.sqrt(2), 500.0, 250.0**2 / 124e3, 0.25) == 3
    # 2 x 68 kohm, 5 % high, at the lowest voltage: the printed 1.39 mA divides rms volts, so it is an rms current.
    cycle = over_the_cycle(loop("pair", 200.0, 2 * 68e3 * 1.05, 1.65))
    assert rms(cycle.i)[0] == pytest.approx(1.39e-3, abs=0.005e-3)
    assert 0.34 * 1.39e-3 == pytest.approx(0.47e-3, abs=0.005e-3)
    assert average(cycle.IF)[0] < 0.9 * 1.39e-3  # what the light averages is less


@pytest.mark.source("Electronics questions and answers, 33042 (community answer: a check of arithmetic only)")
def test_lit_in_ninety_percent_of_each_half_cycle():
    V = 230.0 * 0.94
    # The source takes 325 V for the crest; the resistor it finds lets 1 mA flow from 9 degrees on.
    at_angle = 325.0 * 0.94 * np.sin(np.radians(9.0))
    assert at_angle == pytest.approx(47.8, abs=0.05)
    cycle = over_the_cycle(loop("pair", V, 46.1e3, 1.65), 360)
    assert cycle.IF[0, 9] == pytest.approx(1e-3, rel=0.003)
    assert share_above(cycle.IF, [1e-3])[0] == pytest.approx(0.90, abs=0.001)
    assert share_above(over_the_cycle(loop("pair", V, 39e3, 1.65)).IF, [1e-3])[0] > 0.90


@pytest.mark.source(
    "Electronics questions and answers, 16939, translated (community answer: a check of arithmetic only)"
)
def test_half_wave_sense_of_120_volts():
    # The half cycle that lights the LED; the source has a series diode, so the other one heats nothing.
    cycle = over_the_cycle(loop("diode", 120.0, 82e3, 1.2, f=60.0))
    assert peak(cycle.v)[0] == pytest.approx(170.0, abs=0.5)
    assert peak(cycle.IF)[0] == pytest.approx(2e-3, abs=0.1e-3)
    assert 82e3 * rms(cycle.IF)[0] ** 2 == pytest.approx(90e-3, rel=0.05)
    assert 82e3 * rms(cycle.IF)[0] ** 2 == pytest.approx(87.8e-3, rel=0.02)  # V^2 / 2R, derived, without the LED


@pytest.mark.no_source("derived: 230 V, 50 Hz, 0.47 uF into a short circuit")
def test_capacitor_dropper():
    assert reactance(0.47e-6, 50.0) == pytest.approx(6773.0, abs=0.5)
    cycle = over_the_cycle(loop("bridge", 230.0, 1.0, 1e-2, CD=0.47e-6), 1024)
    assert rms(cycle.i)[0] == pytest.approx(33.96e-3, rel=0.006)
    assert 230.0 / impedance(0.0, 0.47e-6, 50.0) == pytest.approx(33.96e-3, abs=0.005e-3)
