"""Curves through points: through them, between them, and straight on."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine import card_names, load_card
from engine.numerics import MonotoneCurve

X, Y = [0.0, 1.0, 3.0, 4.0, 7.0], [0.0, 2.0, 2.5, 1.0, 0.5]
CURVE = MonotoneCurve(X, Y)


def test_it_goes_through_its_points():
    assert CURVE(np.array(X))[0] == pytest.approx(Y, abs=1e-12)


def test_it_stays_between_neighbouring_points():
    for k in range(len(X) - 1):
        inside = CURVE(np.linspace(X[k], X[k + 1], 200))[0]
        assert min(Y[k], Y[k + 1]) - 1e-12 <= inside.min()
        assert inside.max() <= max(Y[k], Y[k + 1]) + 1e-12


def test_it_goes_on_straight_along_the_outer_chords():
    below, above = np.array([-10.0, -1.0]), np.array([8.0, 20.0])
    assert CURVE(below)[0] == pytest.approx(2.0 * below)
    assert CURVE(above)[0] == pytest.approx(0.5 - (above - 7.0) / 6.0)
    assert CURVE(below)[1] == pytest.approx([2.0, 2.0])
    assert CURVE(above)[1] == pytest.approx([-1 / 6, -1 / 6])


def test_value_and_slope_are_continuous():
    for x in X:
        (left, right), (slope_left, slope_right) = CURVE(np.array([x - 1e-9, x + 1e-9]))
        assert left == pytest.approx(right, abs=1e-8)
        assert slope_left == pytest.approx(slope_right, abs=1e-6)


def test_slope_is_the_derivative():
    x = np.linspace(-2.0, 9.0, 333)
    numeric = (CURVE(x + 1e-6)[0] - CURVE(x - 1e-6)[0]) / 2e-6
    assert CURVE(x)[1] == pytest.approx(numeric, abs=1e-5)


def test_shape_of_the_argument_is_kept():
    value, slope = CURVE(np.zeros((2, 3)))
    assert value.shape == slope.shape == (2, 3)


def test_two_points_make_a_line():
    assert MonotoneCurve([0.0, 2.0], [1.0, 5.0])(np.array([-1.0, 1.0, 4.0]))[0] == pytest.approx([-1.0, 3.0, 9.0])


@settings(max_examples=100, deadline=None)
@given(st.lists(st.floats(0.01, 5.0), min_size=2, max_size=8), st.data())
def test_rising_points_make_a_rising_curve(steps, data):
    rises = data.draw(st.lists(st.just(0.0) | st.floats(1e-6, 3.0), min_size=len(steps), max_size=len(steps)))
    curve = MonotoneCurve(np.cumsum([0.0, *steps]), np.cumsum([0.0, *rises]))
    values = curve(np.linspace(-1.0, sum(steps) + 1.0, 400))[0]
    assert (np.diff(values) >= -1e-12).all()


@pytest.mark.parametrize("name", card_names("phototransistor", "photodarlington"))
def test_the_transfer_ratio_of_a_card_never_overshoots_its_points(name):
    IF, share = np.array(load_card(name).CTR_shape).T
    curve = MonotoneCurve(np.log(IF), np.log(share))
    between = np.exp(curve(np.linspace(np.log(IF[0]), np.log(IF[-1]), 500))[0])
    assert between.max() <= share.max() + 1e-12
    assert between.min() >= share.min() - 1e-12
