"""The scale on which readings are compared."""

import numpy as np
import pytest

from engine.decades import Scale

SCALE = Scale(0.003, 2000.0)
VOLTS = np.array([-1500.0, -24.0, -1e-4, 0.0, 2e-5, 0.003, 1.1, 48.0, 2000.0])


def test_a_place_leads_back_to_its_reading():
    assert SCALE.back(SCALE.of(VOLTS)) == pytest.approx(VOLTS, rel=1e-9, abs=1e-15)


def test_next_to_nothing_the_scale_is_straight():
    assert SCALE.of(2e-5) == pytest.approx(2e-5, rel=1e-4)


def test_far_above_every_decade_is_as_long():
    steps = np.diff(SCALE.of(np.array([0.3, 3.0, 30.0, 300.0])))
    assert steps == pytest.approx(0.003 * np.log(10.0), rel=1e-4)


def test_order_is_kept():
    assert (np.diff(SCALE.of(VOLTS)) > 0.0).all()


def test_an_error_goes_as_far_as_the_scale_is_steep():
    error, little = np.full(VOLTS.shape, 1e-6), 1e-6
    along = (SCALE.of(VOLTS + little) - SCALE.of(VOLTS - little)) / (2.0 * little)
    assert SCALE.error(VOLTS, error) == pytest.approx(error * along, rel=1e-4)


def test_what_lies_beyond_every_reading_is_the_largest_one():
    assert SCALE.back(1e6) == pytest.approx(2000.0)
    assert SCALE.back(-1e6) == pytest.approx(-2000.0)
