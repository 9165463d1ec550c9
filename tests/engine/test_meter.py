"""Meters: resistance and error of every kind, over their ranges."""

import numpy as np
import pytest

from engine import METERS


def test_digital_meter_has_the_same_resistance_on_every_range():
    meter = METERS["digital"]
    assert meter.resistance(np.array([0.0, 0.3, 5.0, -900.0])).tolist() == [10e6] * 4


@pytest.mark.parametrize(
    ("V", "range_", "R"),
    [(0.0, 2.5, 50e3), (2.5, 2.5, 50e3), (-2.6, 10.0, 200e3), (48.0, 50.0, 1e6), (900, 1000, 20e6)],
)
def test_pointer_takes_the_lowest_range_that_holds_the_reading(V, range_, R):
    meter = METERS["pointer"]
    assert float(meter.range_of(V)) == range_
    assert float(meter.resistance(V)) == pytest.approx(R)
    assert float(meter.error(V)) == pytest.approx(0.03 * range_)


@pytest.mark.parametrize(("V", "digit"), [(0.39, 0.1e-3), (3.9, 1e-3), (-39.0, 10e-3), (390.0, 0.1)])
def test_error_of_a_digital_meter_is_its_share_and_two_digits_of_4000(V, digit):
    assert float(METERS["digital"].error(V)) == pytest.approx(0.005 * abs(V) + 2 * digit)


def test_beyond_the_highest_range_a_reading_counts_on_that_range():
    for meter in METERS.values():
        assert float(meter.range_of(5e3)) == 1000.0
        assert np.isfinite(meter.error(np.array([5e3, -5e3]))).all()


def test_kinds_are_their_own_names_and_the_digital_one_is_the_usual_one():
    assert [meter.kind for meter in METERS.values()] == list(METERS)
    assert next(iter(METERS)) == "digital"
    assert METERS["loading"].R_in < METERS["digital"].R_in / 20
