"""Device equations: derivatives, limits, and the step that keeps an iteration safe."""

import math

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from engine.constants import REFERENCE_TEMPERATURE, thermal_voltage
from engine.coupler import calibrated, card_names
from engine.devices import (
    JunctionParams,
    MosfetParams,
    TabledParams,
    detector,
    detector_guess,
    junction,
    limited_step,
    mosfet,
    photocurrent,
    tabled,
)
from engine.devices.junction import saturation_current

MANY = settings(max_examples=150, deadline=None)
TEMPERATURES = [218.15, 298.15, 423.15]


def slope_of(function, x, step):
    """Return a central difference of the fourth order."""
    near, far = function(x + step) - function(x - step), function(x + 2 * step) - function(x - 2 * step)
    return (8 * near - far) / (12 * step)


# ---------------------------------------------------------------- junction


@pytest.fixture(params=TEMPERATURES)
def led(request):
    return calibrated("general").led.junction(np.full(1, request.param))


def test_junction_current_and_conductance_are_those_of_the_equation(led):
    v = led.nVT * np.array([-40.0, -1.0, 0.0, 1.0, 20.0])
    current, conductance = junction(v, led)
    assert current == pytest.approx(led.IS * (np.exp(v / led.nVT) - 1), rel=1e-6)
    assert conductance == pytest.approx(slope_of(lambda u: junction(u, led)[0], v, 1e-3 * led.nVT), rel=1e-6)


def test_junction_rises_blocks_and_passes_through_zero(led):
    v = np.linspace(-1.5, 1.5, 301)
    current, conductance = junction(v, led)
    assert (np.diff(current) >= 0).all()
    assert (np.diff(current[150:]) > 0).all()
    assert (conductance > 0).all()
    assert junction(np.zeros(1), led)[0] == 0
    assert junction(np.array([-50.0]), led)[0] == pytest.approx(-led.IS)


def test_junction_never_overflows(led):
    with np.errstate(all="raise", under="ignore"):
        current, conductance = junction(np.array([-1e4, 1e2, 1e6]), led)
    assert np.isfinite(current).all()
    assert np.isfinite(conductance).all()


@MANY
@given(st.floats(-12, 2))
def test_voltage_at_a_current_carries_that_current(power):
    params = calibrated("general").led.junction(np.array([300.0]))
    current = np.array([10.0**power])
    assert junction(params.at_current(current), params)[0] == pytest.approx(current, rel=1e-9)


def test_saturation_current_is_its_own_at_the_reference_and_rises_with_temperature():
    assert saturation_current(1e-14, REFERENCE_TEMPERATURE, 1.12, 1.0) == pytest.approx(1e-14, rel=1e-14)
    warm = saturation_current(1e-14, np.linspace(218.0, 423.0, 100), 1.12, 1.0)
    assert (np.diff(warm) > 0).all()
    # for silicon with n = 1: (308.15/298.15)^3 exp(1.12 e/k (1/298.15 - 1/308.15))
    assert saturation_current(1.0, 308.15, 1.12, 1.0) == pytest.approx(
        (308.15 / 298.15) ** 3 * math.exp(1.12 * 1.602176634e-19 / 1.380649e-23 * (1 / 298.15 - 1 / 308.15))
    )


# ---------------------------------------------------------------- step limit


def step(v_new, v_old, scale=0.05, knee=1.0):
    arrays = (np.array([float(x)]) for x in (v_new, v_old, scale, knee))
    return float(limited_step(*arrays)[0])


@MANY
@given(st.floats(-1e9, 1e9), st.floats(-1e3, 1.5), st.floats(1e-3, 1.0), st.floats(0.0, 1.2))
@example(v_new=1.125, v_old=1.25, scale=0.125, knee=0.0)
def test_a_limited_step_stays_finite_and_between_its_ends(v_new, v_old, scale, knee):
    """Falling it may pass the voltage asked for, until the current has fallen to a twentieth."""
    moved = step(v_new, v_old, scale, knee)
    low = min(v_new, v_old - scale * math.log(20.0)) if v_new < v_old else v_old
    assert low - 1e-9 <= moved <= max(v_new, v_old) + 1e-9


def test_a_rising_step_grows_with_the_logarithm_only():
    assert step(1e12, 1.1) < 1.1 + 0.05 * math.log(1e14)
    assert step(1e12, 1.1) > 1.1
    params = JunctionParams(np.array([1e-15]), np.array([0.05]))
    assert np.isfinite(junction(np.array([step(1e300, 1.1)]), params)[0]).all()


def test_a_rising_step_up_to_the_knee_is_free():
    assert step(0.99, -1e3) == 0.99
    assert step(0.5, 0.1) == 0.5


def test_a_falling_step_where_nothing_is_exponential_is_free():
    assert step(-400.0, 0.1) == -400.0


@pytest.mark.parametrize("direction", [1, -1])
def test_a_small_step_is_the_plain_step_to_second_order(direction):
    differences = []
    for share in (0.2, 0.1, 0.05):
        plain = 1.2 + direction * share * 0.05
        differences.append(abs(step(plain, 1.2) - plain))
    assert differences[0] / differences[1] == pytest.approx(4.0, rel=0.2)
    assert differences[1] / differences[2] == pytest.approx(4.0, rel=0.1)
    assert differences[2] == pytest.approx(0.05 * 0.05**2 / 2, rel=0.05)


def test_a_logarithmic_step_ends_where_the_linearised_current_is():
    params = JunctionParams(np.array([1e-15]), np.array([0.05]))
    current, conductance = junction(np.array([1.2]), params)
    wanted = current + conductance * 0.6
    assert junction(np.array([step(1.8, 1.2)]), params)[0] == pytest.approx(wanted, rel=1e-6)


def test_no_step_stays():
    assert step(1.2, 1.2) == 1.2


# ---------------------------------------------------------------- light


@pytest.fixture(params=card_names("phototransistor", "photodarlington"))
def model(request):
    return calibrated(request.param)


@pytest.mark.parametrize("T", TEMPERATURES)
def test_photocurrent_slope(model, T):
    IF = np.geomspace(1e-9, 0.2, 137)
    law = model.transfer(np.full(len(IF), 1.0), np.full(len(IF), T))
    _, slope = photocurrent(IF, law)
    log_slope = slope_of(lambda u: photocurrent(np.exp(u), law)[0], np.log(IF), 1e-4)
    assert slope == pytest.approx(log_slope / IF, rel=1e-4)


def test_photocurrent_vanishes_without_current(model):
    IF = np.array([-1.0, 0.0, 1e-30, 1e-15])
    law = model.transfer(np.ones(4), np.full(4, 298.15))
    light, slope = photocurrent(IF, law)
    assert (light[:3] == 0).all()
    assert (slope[:3] == 0).all()
    assert 0 < light[3] < 1e-15


def test_photocurrent_is_proportional_to_the_transfer_ratio(model):
    CTR = np.array([0.5, 1.0, 2.0])
    light, _ = photocurrent(np.full(3, 2e-3), model.transfer(CTR, np.full(3, 298.15)))
    assert light / light[0] == pytest.approx([1.0, 2.0, 4.0])


def test_photocurrent_is_continuous_and_rises_over_the_useful_currents(model):
    IF = np.geomspace(1e-12, 10e-3, 4000)
    light, _ = photocurrent(IF, model.transfer(np.ones(4000), np.full(4000, 298.15)))
    steps = np.diff(np.log(light))
    assert (steps > 0).all()
    assert steps.max() < 3 * np.log(IF[1] / IF[0])


# ---------------------------------------------------------------- detector


@pytest.fixture(params=TEMPERATURES)
def params(request, model):
    return model.detector(np.full(1, request.param), np.full(1, model.card.ICEO))


def conducting(params, current):
    """Return the base-emitter voltage at which a current is transported."""
    return float(params.VT[0] * np.log1p(current / params.IS[0]))


def grid(params):
    """Return control voltages from blocking to deep saturation."""
    on = conducting(params, 10e-3)
    v_be = np.array([-5.0, 0.0, 0.5 * on, on])
    v_bi = np.array([-70.0, -5.0, 0.0, 0.5 * on, 0.98 * on])
    v_bc = np.array([-70.0, -1.0, 0.3 * on, 0.95 * on])
    return [axis.ravel() for axis in np.meshgrid(v_be, v_bi, v_bc)]


@pytest.mark.parametrize("control", [0, 1, 2])
def test_detector_derivatives(params, control):
    v = grid(params)
    _, jacobian = detector(*v, params)

    def moved(u):
        return detector(*(u if k == control else w for k, w in enumerate(v)), params)[0].T

    estimate = slope_of(moved, v[control], 1e-3 * params.VT[0]).T
    currents = np.abs(detector(*v, params)[0])
    rounding = 1e-12 * currents / (1e-3 * params.VT[0]) + 1e-12 * (np.abs(v[control])[:, None] / params.RC + 1e-6)
    assert (np.abs(jacobian[:, :, control] - estimate) <= 1e-5 * np.abs(estimate) + rounding).all()


def test_every_branch_rises_with_its_own_voltage(params):
    _, jacobian = detector(*grid(params), params)
    assert (jacobian[:, 0, 0] >= 0).all()
    assert (jacobian[:, 1, 0] >= 0).all()
    assert (jacobian[:, 2, 1] >= 0).all()
    assert (jacobian[:, 3, 1] > 0).all()
    assert (jacobian[:, 3, 2] < 0).all()


def test_no_voltage_no_current(params):
    zero = np.zeros(1)
    currents, _ = detector(zero, zero, zero, params)
    assert currents == pytest.approx(np.zeros((1, 4)), abs=1e-24)


def test_blocked_junctions_leave_the_dark_current_only(params):
    _, base_emitter, base_inner, _ = detector(np.array([-5.0]), np.array([-60.0]), np.array([-60.0]), params)[0][0]
    assert base_emitter == pytest.approx(-(params.IS / params.beta_F)[0])
    assert base_inner == pytest.approx(-(params.IS / params.beta_R + params.I_dark)[0], rel=1e-6)


def test_in_the_active_region_the_current_gain_is_that_of_the_card(params):
    on = np.array([conducting(params, 1e-3)])
    currents, _ = detector(on, np.full(1, -1e-9), np.full(1, -1e-9), params)
    transported = params.IS * (np.exp(on / params.VT) - 1.0)
    assert currents[0, 0] == pytest.approx(transported[0], rel=1e-6)
    assert currents[0, 0] / currents[0, 1] == pytest.approx(params.beta_F[0], rel=1e-6)


def test_the_early_effect_raises_the_current_in_proportion(params):
    on, VA = np.array([conducting(params, 1e-3)]), params.VA[0]
    at_5, at_25 = (detector(on, np.array([-v]), np.array([-v]), params)[0][0, 0] for v in (5.0, 25.0))
    assert at_25 / at_5 == pytest.approx((1 + 25.0 / VA) / (1 + 5.0 / VA))


def test_the_collector_region_is_a_resistance_where_nothing_floods_it(params):
    currents, _ = detector(np.zeros(1), np.array([-5.0]), np.array([-5.5]), params)
    assert currents[0, 3] == pytest.approx(0.5 / params.RC[0], rel=1e-9)


def test_the_collector_region_conducts_better_when_flooded(params):
    on = conducting(params, 10e-3)
    flooded, _ = detector(np.array([on]), np.array([on]), np.array([on - 0.01]), params)
    assert flooded[0, 3] > 1.05 * 0.01 / params.RC[0]


def test_a_guess_is_near_the_balance_of_the_base_where_the_light_suffices(params):
    light, demand = np.array([50e-6]), np.array([1e-3])
    guess = detector_guess(light, demand, np.array([5.0]), params)
    currents, _ = detector(*guess.T, params)
    supply = (light + params.I_dark)[0]
    assert 0.5 * supply < currents[0, 1] + currents[0, 2] + params.I_dark[0] < 2.0 * supply
    assert currents[0, 0] == pytest.approx(demand[0], rel=0.05)
    assert 0.0 < guess[0, 0] - guess[0, 2] < 1.0


def test_a_guess_is_active_where_the_light_is_too_weak(params):
    guess = detector_guess(np.array([1e-6]), np.array([1.0]), np.array([5.0]), params)
    assert guess[0, 0] - guess[0, 1] == pytest.approx(5.0, rel=0.01)
    assert detector(*guess.T, params)[0][0, 1] == pytest.approx(1e-6 + params.I_dark[0], rel=0.05)


def test_thermal_voltage_at_the_reference():
    assert thermal_voltage(298.15) == pytest.approx(25.6926e-3, rel=1e-6)


# ---------------------------------------------------------------- junction with an offset


def breakdown(volts=12.0, current=3e-3):
    """Return a junction that carries a current at a voltage, as the breakdown of a zener diode does."""
    return JunctionParams(np.array([current]), np.array([0.0514]), np.array([volts]))


def test_a_breakdown_carries_nothing_without_voltage_and_its_own_current_at_its_own():
    params = breakdown()
    assert junction(np.zeros(1), params)[0] == 0.0
    assert junction(params.at_current(np.array([3e-3])), params)[0] == pytest.approx(3e-3, rel=1e-9)
    assert params.at_current(np.array([3e-3])) == pytest.approx(12.0, abs=1e-9)
    assert junction(np.array([11.0]), params)[0] < 1e-10


@MANY
@given(st.floats(1.0, 500.0), st.floats(-30.0, 0.0))
def test_a_breakdown_has_a_voltage_at_every_current(volts, power):
    V = float(breakdown(volts).at_current(np.array([10.0**power]))[0])
    # straight from V = VZ + nVT ln(I / IZ), which holds as soon as the current is above IZ exp(-VZ / nVT)
    expected = volts + 0.0514 * math.log(10.0**power / 3e-3)
    assert V == pytest.approx(max(expected, 0.0), abs=0.05)
    assert V >= 0.0


@pytest.mark.parametrize("volts", [1.0, 3.3, 12.0, 500.0])
def test_a_breakdown_rises_and_has_the_slope_of_its_curve(volts):
    params = breakdown(volts)
    v = volts + np.array([-5.0, -0.5, -0.1, 0.0, 0.05, 0.3])
    current, conductance = junction(v, params)
    assert (np.diff(current) >= 0).all()
    slope = slope_of(lambda u: junction(u, params)[0], v, 1e-4)
    assert conductance == pytest.approx(slope, rel=1e-5, abs=1e-12)


# ---------------------------------------------------------------- MOSFET

STATED = 3.3  # [V], gate voltage of the on-resistance


@pytest.fixture(params=TEMPERATURES)
def fet(request):
    nVT = 1.5 * thermal_voltage(np.array([request.param]))
    return MosfetParams.from_on_resistance(np.array([1.5]), np.array([2.0]), STATED, nVT)


def plane():
    """Return gate and drain voltages from off to fully on, drain and source exchanged too."""
    return [axis.ravel() for axis in np.meshgrid(np.linspace(-2.0, 5.0, 29), np.linspace(-1.0, 20.0, 43))]


def test_mosfet_derivatives(fet):
    gs, ds = plane()
    _, by_gate, by_drain = mosfet(gs, ds, fet)
    for analytic, function, at in (
        (by_gate, lambda u: mosfet(u, ds, fet)[0], gs),
        (by_drain, lambda u: mosfet(gs, u, fet)[0], ds),
    ):
        assert analytic == pytest.approx(slope_of(function, at, 1e-4), rel=1e-6, abs=1e-9)


def test_mosfet_rises_with_gate_and_drain(fet):
    gs, ds = plane()
    _, by_gate, by_drain = mosfet(gs, ds, fet)
    assert (by_gate[ds >= 0] >= 0).all()
    assert (by_drain >= 0).all()


def test_mosfet_has_its_on_resistance_at_the_stated_gate_voltage(fet):
    current, _, conductance = mosfet(np.array([STATED]), np.array([1e-4]), fet)
    assert conductance == pytest.approx(0.5, rel=1e-3)
    assert current == pytest.approx(0.5e-4, rel=1e-3)


def test_mosfet_limits(fet):
    """No drain voltage, no current; off below the threshold; in saturation K (VGS - Vth)^2 / 2, whatever VDS is."""
    assert mosfet(np.array([3.3]), np.zeros(1), fet)[0] == 0.0
    assert 0.0 <= mosfet(np.zeros(1), np.array([20.0]), fet)[0] < 1e-8
    saturated = [float(mosfet(np.array([3.3]), np.array([VDS]), fet)[0][0]) for VDS in (5.0, 20.0)]
    assert saturated[0] == pytest.approx(saturated[1], rel=1e-6)
    assert saturated[1] == pytest.approx(float(fet.K[0]) * 1.8**2 / 2, rel=1e-3)


def test_mosfet_never_overflows(fet):
    with np.errstate(all="raise", under="ignore"):
        found = mosfet(np.array([-1e3, 0.0, 1e3]), np.array([-1e3, 1e3, 0.0]), fet)
    assert all(np.isfinite(array).all() for array in found)


# ---------------------------------------------------------------- source known by its table

POINTS = TabledParams((0.0, 6.0, 12.0, 15.0), (10e-3, 8e-3, 5e-3, 0.0), np.ones(1), np.ones(1))


def test_tabled_source_passes_its_points_and_is_straight_between():
    v = np.array([0.0, 6.0, 9.0, 12.0, 13.5, 15.0])
    assert tabled(v, POINTS)[0] == pytest.approx([-10e-3, -8e-3, -6.5e-3, -5e-3, -2.5e-3, 0.0])


def test_tabled_source_derivative_is_that_of_its_lines():
    v = np.array([-3.0, 1.0, 5.0, 7.0, 11.0, 13.0, 14.0, 16.0])
    slope = slope_of(lambda u: tabled(u, POINTS)[0], v, 1e-3)
    assert tabled(v, POINTS)[1] == pytest.approx(slope, rel=1e-9, abs=1e-15)


def test_tabled_source_never_delivers_more_as_its_voltage_rises():
    v = np.linspace(-100.0, 100.0, 4001)
    current, conductance = tabled(v, POINTS)
    assert (np.diff(current) >= -1e-18).all()
    assert (conductance >= 0).all()
    assert current[0] == -10e-3
    assert current[-1] == 0.0


def test_tabled_source_stretched_and_switched_off():
    strong = TabledParams(POINTS.volts, POINTS.amperes, np.array([1.2]), np.ones(1))
    assert tabled(np.array([1.2 * 9.0]), strong)[0] == pytest.approx(-6.5e-3)
    off = TabledParams(POINTS.volts, POINTS.amperes, np.ones(1), np.zeros(1))
    assert [float(array[0]) for array in tabled(np.array([9.0]), off)] == [0.0, 0.0]
