"""What is left of the light: bounds, order, inverses; published figures are held against in tests/reference."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.ageing import (
    HOURS_PER_YEAR,
    PLANS,
    StressTest,
    acceleration,
    remaining,
    remaining_from_stress,
    years_in_use,
    years_until,
    years_until_from_stress,
)

MANY = settings(max_examples=200, deadline=None)
LOSSES = st.floats(1e-3, 0.99)
SPANS = st.floats(0.1, 100.0)
TEST = StressTest(I=20e-3, T=398.15, hours=1000.0, loss=0.05, N=2.0, Ea_eV=0.43)


# ---------------------------------------------------------------- planning figures


@MANY
@given(LOSSES, SPANS, st.floats(0.0, 200.0))
def test_a_share_stays_between_all_and_nothing(loss, over, years):
    assert 0.0 <= remaining(loss, over, years) <= 1.0


@pytest.mark.parametrize("loss", [0.0, 0.2, 0.9])
def test_a_new_part_has_all_its_light_and_loses_what_was_said_in_the_time_that_was_said(loss):
    assert remaining(loss, 10.0, 0.0) == 1.0
    assert remaining(loss, 10.0, 10.0) == pytest.approx(1.0 - loss)


def test_the_same_share_is_lost_in_every_span():
    assert remaining(0.2, 10.0, 20.0) == pytest.approx(0.8 * 0.8)
    assert remaining(0.2, 10.0, 5.0) == pytest.approx(0.8**0.5)


def test_more_years_and_a_faster_plan_leave_less():
    years = np.linspace(0.0, 30.0, 61)
    left = {name: remaining(plan.loss, plan.years, years) for name, plan in PLANS.items()}
    assert all((np.diff(curve) < 0.0).all() for curve in left.values())
    assert (left["fast"][1:] < left["slow"][1:]).all()


@MANY
@given(LOSSES, SPANS, st.floats(0.01, 0.999))
def test_the_time_until_a_share_is_left_leaves_that_share(loss, over, needed):
    assert remaining(loss, over, years_until(needed, loss, over)) == pytest.approx(needed, rel=1e-9)


@pytest.mark.parametrize(
    ("needed", "loss", "years"),
    [(1.0, 0.2, 0.0), (1.7, 0.2, 0.0), (1.0, 0.0, 0.0), (0.5, 0.0, np.inf), (0.0, 0.2, np.inf), (-1.0, 0.2, np.inf)],
)
def test_ends_of_the_time_until_a_share_is_left(needed, loss, years):
    assert years_until(needed, loss, 10.0) == years


def test_arrays_go_element_by_element_and_numbers_stay_numbers():
    needed, loss = np.array([0.9, 0.5, 1.0]), np.array([0.2, 0.0, 0.2])
    assert years_until(needed, loss, 10.0).tolist() == [
        years_until(n, q, 10.0) for n, q in zip(needed, loss, strict=True)
    ]
    assert type(remaining(0.2, 10.0, 3)) is type(years_until(0.5, 0.2, 10)) is float


# ---------------------------------------------------------------- stress tests


def test_use_as_hard_as_the_stress_is_not_accelerated():
    assert acceleration(20e-3, 20e-3, 398.0, 398.0, 2.0, 0.43) == 1.0


def test_current_alone_and_temperature_alone():
    assert acceleration(20e-3, 5e-3, 350.0, 350.0, 1.5, 0.43) == pytest.approx(4.0**1.5)
    assert acceleration(20e-3, 20e-3, 400.0, 300.0, 2.0, 0.0) == 1.0
    warm = acceleration(20e-3, 20e-3, 400.0, 300.0, 2.0, 0.5)
    # 0.5 eV over 1/300 - 1/400 per kelvin with k = 86.17333 ueV/K, by hand.
    assert np.log(warm) == pytest.approx(0.5 / 86.17333e-6 / 1200.0, rel=1e-6)


def test_acceleration_falls_with_current_and_warmth_of_use():
    currents, warmth = np.linspace(1e-3, 30e-3, 30), np.linspace(250.0, 400.0, 31)
    found = acceleration(20e-3, currents[:, None], 398.0, warmth, 2.0, 0.43)
    assert found.shape == (30, 31)
    assert (np.diff(found, axis=0) < 0.0).all()
    assert (np.diff(found, axis=1) < 0.0).all()
    assert found[7, 3] == acceleration(20e-3, currents[7], 398.0, warmth[3], 2.0, 0.43)


def test_as_many_hours_of_the_same_stress_lose_the_same():
    years = TEST.hours / HOURS_PER_YEAR
    assert remaining_from_stress(TEST, TEST.I, TEST.T, years) == pytest.approx(1.0 - TEST.loss)


def test_half_the_time_lit_lasts_twice_as_long():
    whole, half = (years_in_use(TEST, 5e-3, 330.0, duty) for duty in (1.0, 0.5))
    assert half == pytest.approx(2.0 * whole)
    assert remaining_from_stress(TEST, 5e-3, 330.0, 20.0, 0.5) == pytest.approx(
        remaining_from_stress(TEST, 5e-3, 330.0, 10.0)
    )


@pytest.mark.parametrize(("I_use", "duty"), [(0.0, 1.0), (5e-3, 0.0)])
def test_what_is_never_lit_never_ages(I_use, duty):
    assert years_in_use(TEST, I_use, 330.0, duty) == np.inf
    assert remaining_from_stress(TEST, I_use, 330.0, 100.0, duty) == 1.0
    assert years_until_from_stress(TEST, I_use, 330.0, 0.5, duty) == np.inf
    assert years_until_from_stress(TEST, I_use, 330.0, 1.0, duty) == 0.0


@MANY
@given(st.floats(1e-3, 50e-3), st.floats(250.0, 400.0), st.floats(0.05, 0.999), st.floats(0.01, 1.0))
def test_both_ways_through_a_stress_test_agree(I_use, T_use, needed, duty):
    years = years_until_from_stress(TEST, I_use, T_use, needed, duty)
    assert remaining_from_stress(TEST, I_use, T_use, years, duty) == pytest.approx(needed, rel=1e-9)


def test_a_test_that_lost_nothing_foresees_no_loss():
    kept = replace(TEST, loss=0.0)
    assert remaining_from_stress(kept, 5e-3, 330.0, np.array([0.0, 50.0])).tolist() == [1.0, 1.0]
    assert years_until_from_stress(kept, 5e-3, 330.0, 0.99) == np.inf
