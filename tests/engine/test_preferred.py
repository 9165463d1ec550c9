"""Preferred numbers and rounding to them; the published tables are held against in tests/reference."""

import math
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.preferred import ROUNDINGS, SERIES, TOLERANCE, ladder, preferred

MANY = settings(max_examples=150, deadline=None)
POSITIVE = st.floats(1e-9, 1e12)
NAMES = st.sampled_from(list(SERIES))


@pytest.mark.parametrize("name", SERIES)
def test_a_series_rises_through_one_decade(name):
    members = SERIES[name]
    assert len(members) == int(name[1:])
    assert members[0] == 100
    assert members[-1] < 1000
    assert list(members) == sorted(set(members))


@pytest.mark.parametrize(
    ("coarse", "fine"), [("E3", "E6"), ("E6", "E12"), ("E12", "E24"), ("E48", "E96"), ("E96", "E192")]
)
def test_a_coarse_series_is_part_of_the_next(coarse, fine):
    assert set(SERIES[coarse]) < set(SERIES[fine])


@pytest.mark.parametrize("name", SERIES)
def test_neighbours_are_about_as_far_apart_as_the_tolerance_asks(name):
    members = (*SERIES[name], 1000)
    largest_step = max(high / low for low, high in pairwise(members))
    assert largest_step < (1 + TOLERANCE[name]) / (1 - TOLERANCE[name]) * 1.05


@pytest.mark.parametrize(
    ("value", "series", "nearest", "up", "down"),
    [
        (1050.0, "E24", 1000.0, 1100.0, 1000.0),
        (1051.0, "E24", 1100.0, 1100.0, 1000.0),
        (4699.0, "E12", 4700.0, 4700.0, 3900.0),
        (4701.0, "E12", 4700.0, 5600.0, 4700.0),
        (4700.0, "E12", 4700.0, 4700.0, 4700.0),
        (9.99, "E24", 10.0, 10.0, 9.1),
        (999.0, "E3", 1000.0, 1000.0, 470.0),
        (0.5, "E24", 0.51, 0.51, 0.47),
        (9.2e6, "E192", 9.2e6, 9.2e6, 9.2e6),
        (1e8, "E96", 1e8, 1e8, 1e8),
    ],
)
def test_rounding(value, series, nearest, up, down):
    assert [preferred(value, series, r) for r in ("nearest", "up", "down")] == [nearest, up, down]


def test_what_is_preferred_but_for_rounding_errors_stays():
    assert preferred(4700.0 * (1 + 1e-12), "E24", "up") == 4700.0
    assert preferred(4700.0 * (1 - 1e-12), "E24", "down") == 4700.0


@MANY
@given(POSITIVE, NAMES)
def test_rounding_brackets_the_value(value, series):
    low, high = preferred(value, series, "down"), preferred(value, series, "up")
    assert low <= value * (1 + 1e-8)
    assert high >= value * (1 - 1e-8)
    assert preferred(value, series, "nearest") in (low, high)
    assert abs(preferred(value, series, "nearest") - value) <= min(value - low, high - value) + 1e-8 * value


@MANY
@given(POSITIVE, NAMES, st.sampled_from(ROUNDINGS))
def test_rounding_twice_changes_nothing_more(value, series, rounding):
    once = preferred(value, series, rounding)
    assert all(preferred(once, series, again) == once for again in ROUNDINGS)


@MANY
@given(st.integers(-9, 9), NAMES, st.data())
def test_every_member_of_every_decade_is_kept_to_the_last_bit(power, series, data):
    member = data.draw(st.sampled_from(SERIES[series]))
    value = float(f"{member}e{power}")
    assert preferred(value, series) == value


@pytest.mark.parametrize("value", [0.0, -1.0, math.nan, math.inf])
def test_only_positive_finite_numbers_are_rounded(value):
    with pytest.raises(ValueError, match="positive finite"):
        preferred(value)


def test_an_unknown_series_or_rounding_is_named():
    with pytest.raises(ValueError, match="unknown series E25; known are E3, E6"):
        preferred(1.0, "E25")
    with pytest.raises(ValueError, match="unknown rounding sideways; known are nearest, up, down"):
        preferred(1.0, "E24", "sideways")


def test_a_ladder_holds_both_its_ends():
    assert ladder(100.0, 1000.0, "E3") == (100.0, 220.0, 470.0, 1000.0)
    assert ladder(0.9, 2.3, "E3") == (1.0, 2.2)


def test_a_ladder_without_any_rung_is_empty():
    assert ladder(101.0, 109.0, "E24") == ()


@MANY
@given(st.floats(1e-3, 1e6), st.floats(1.0, 1e3), NAMES)
def test_a_ladder_rises_without_gaps(low, ratio, series):
    rungs = ladder(low, low * ratio, series)
    for rung, above in pairwise(rungs):
        assert preferred(rung * 1.00001, series, "up") == above
    if rungs:
        assert rungs[0] == preferred(low, series, "up")
        assert rungs[-1] == preferred(low * ratio, series, "down")


def test_a_ladder_needs_a_positive_start():
    with pytest.raises(ValueError, match="positive finite"):
        ladder(0.0, 10.0)
