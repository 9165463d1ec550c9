"""The switched path: derivatives, limits, and a decision that the solver finds however close the current comes."""

import numpy as np
import pytest

from engine.circuit import Junction, NetlistBuilder, ThresholdPath, solve
from engine.coupler import calibrated
from engine.coupler.bench import Wiring, measure
from engine.devices import JunctionParams, ThresholdParams, threshold

VT = 0.02569
ON, G_LIT, G_DARK = 5e-3, 0.05, 1e-9


def params(batch, on=ON):
    led = JunctionParams(np.full(batch, 1e-17), np.full(batch, 1.5 * VT))
    return ThresholdParams(led, np.full(batch, on), np.full(batch, G_LIT), np.full(batch, G_DARK))


def at_current(IF):
    IF = np.atleast_1d(np.asarray(IF, dtype=float))
    return params(len(IF)).led.at_current(IF)


def test_conductance_on_either_side_of_the_threshold():
    IF = ON * np.array([0.0, 1e-6, 0.5, 0.995, 1.0, 1.005, 2.0, 1e3])
    current, jacobian = threshold(at_current(IF), np.full(8, 2.0), params(8))
    assert current[:4] == pytest.approx(2.0 * G_DARK, rel=1e-6)
    assert current[4:] == pytest.approx(2.0 * G_LIT, rel=1e-6)
    assert jacobian[:, 1] == pytest.approx(current / 2.0)


def test_conductance_rises_with_the_led_current_without_a_step():
    IF = ON * np.linspace(0.99, 1.001, 4001)
    current, _ = threshold(at_current(IF), np.ones(4001), params(4001))
    assert (np.diff(current) >= -1e-15).all()
    assert np.diff(np.log(current)).max() < 0.2


@pytest.mark.parametrize("v", [-3.0, 0.0, 0.7])
def test_derivatives(v):
    IF = ON * np.array([1e-3, 0.9, 0.9975, 0.998, 0.9985, 1.0, 1.5])
    v_led, step = at_current(IF), 1e-9
    _, jacobian = threshold(v_led, np.full(7, v), params(7))

    def current(shift):
        return threshold(v_led + shift, np.full(7, v), params(7))[0]

    by_led = (8 * (current(step) - current(-step)) - current(2 * step) + current(-2 * step)) / (12 * step)
    assert jacobian[:, 0] == pytest.approx(by_led, rel=1e-4, abs=1e-6)
    more, less = (threshold(v_led, np.full(7, v + d), params(7))[0] for d in (1e-3, -1e-3))
    assert jacobian[:, 1] == pytest.approx((more - less) / 2e-3, rel=1e-6)


def test_no_light_and_reverse_voltage_are_dark_and_finite():
    with np.errstate(all="raise", under="ignore"):
        current, jacobian = threshold(np.array([-1e3, -1.0, 0.0, 0.3]), np.full(4, 5.0), params(4))
    assert current == pytest.approx(5.0 * G_DARK)
    assert np.isfinite(jacobian).all()


def stage(IF, load=1e3, more=()):
    """Return a solved LED with its supply, and a path that pulls a load resistor down, near a threshold."""
    batch = len(IF)
    made = params(batch)
    knee = made.led.at_current(np.full(batch, 1e-3))
    net = NetlistBuilder(batch)
    net.side("input", "return", "VS", "A")
    net.side("output", "common", "VCC", "O")
    net.source("VS", "VS", 48.0)
    R1 = (48.0 - made.led.at_current(IF)) / IF
    net.resistor("R1", "VS", "A", R1)
    net.device(Junction("LED", "A", "return", made.led, knee))
    net.source("VCC", "VCC", 5.0)
    net.resistor("RL", "VCC", "O", load)
    net.device(ThresholdPath("U1", "A", "return", "O", "common", made, knee))
    for device in more:
        net.device(device)
    return solve(net.build())


@pytest.mark.parametrize("load", [1.0, 1e3, 1e7])
def test_currents_next_to_the_threshold_are_solved(load):
    """From a part in ten thousand down to the last digit, where the path is anywhere between dark and lit."""
    near = np.concatenate([np.linspace(-5e-3, 2e-3, 701), 0.998 - 1 + np.geomspace(1e-15, 1e-4, 200), [0.0, 1e-16]])
    solution = stage(ON * (1.0 + near), load)
    VO = solution.voltages["O"]
    assert (np.diff(VO[:701]) <= 1e-9).all()
    assert VO[0] == pytest.approx(5.0 / (1 + load * G_DARK), rel=1e-6)
    assert VO[700] == pytest.approx(5.0 / (1 + load * G_LIT), rel=1e-6)
    assert solution.iterations < 60


def test_a_path_beside_a_junction_that_clamps_it_is_solved():
    clamp = Junction("RX", "O", "VCC", JunctionParams(np.full(701, 1e-9), np.full(701, VT)), np.full(701, -1.0))
    solution = stage(ON * (1.0 + np.linspace(-5e-3, 2e-3, 701)), 1e6, [clamp])
    assert (np.diff(solution.voltages["O"]) <= 1e-9).all()


def test_members_leave_a_large_batch_with_their_own_values():
    IF = np.tile(ON * np.array([0.2, 0.9979, 0.998, 0.9981, 3.0]), 200)
    VO = stage(IF).voltages["O"].reshape(200, 5)
    assert np.ptp(VO, axis=0) == pytest.approx(0.0, abs=1e-9)
    assert (np.diff(VO[0]) < 0).all()


@pytest.mark.parametrize("name", ["fast-gate", "push-pull", "photo-relay", "triac-random"])
def test_every_family_is_solved_next_to_its_threshold(name):
    model = calibrated(name)
    IF = model.card.IF_typ * (1.0 + np.linspace(-6e-3, 2e-3, 401))
    VCC = model.card.supply[1] if "supply" in model.terminals else 5.0
    across = measure(model, IF, Wiring(feed=0.0 if name == "push-pull" else 1e-6, VCC=VCC)).VO
    rising = np.diff(across) if name == "push-pull" else -np.diff(across)
    assert (rising >= -1e-9 * np.abs(across).max()).all()
    assert np.ptp(across) > 0.3
