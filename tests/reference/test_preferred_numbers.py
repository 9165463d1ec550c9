"""Preferred numbers against IEC 60063."""

import math

import pytest

from engine.preferred import SERIES, TOLERANCE, preferred

G4USP = "qsl.net/g4usp, Component preferred values, citing IEC 60063"


def decade(series):
    return [value / 10 for value in SERIES[series]]


@pytest.mark.source(G4USP)
@pytest.mark.parametrize(
    ("series", "values"),
    [
        ("E6", "10 15 22 33 47 68"),
        ("E12", "10 12 15 18 22 27 33 39 47 56 68 82"),
        ("E24", "10 11 12 13 15 16 18 20 22 24 27 30 33 36 39 43 47 51 56 62 68 75 82 91"),
    ],
)
def test_members_of_the_two_digit_series(series, values):
    assert decade(series) == [float(value) for value in values.split()]


@pytest.mark.source(G4USP)
def test_e24_differs_from_the_geometric_progression_in_eight_members():
    calculated = [round(10 * 10 ** (k / 24)) for k in range(24)]
    differing = {c: s for c, s in zip(calculated, decade("E24"), strict=True) if c != s}
    assert differing == {26: 27, 29: 30, 32: 33, 35: 36, 38: 39, 42: 43, 46: 47, 83: 82}


@pytest.mark.source(G4USP)
def test_e96_is_the_rounded_geometric_progression_and_e48_every_second_of_it():
    assert list(SERIES["E96"]) == [round(100 * 10 ** (k / 96)) for k in range(96)]
    assert SERIES["E48"] == SERIES["E96"][::2]
    assert SERIES["E96"][:8] == (100, 102, 105, 107, 110, 113, 115, 118)


@pytest.mark.from_memory
def test_e192_has_one_exception():
    calculated = [round(100 * 10 ** (k / 192)) for k in range(192)]
    assert {c: s for c, s in zip(calculated, SERIES["E192"], strict=True) if c != s} == {919: 920}
    assert len(set(SERIES["E192"])) == 192


@pytest.mark.source("wikisum copy of Wikipedia, E series of preferred numbers: tolerances")
def test_tolerances_of_the_series():
    expected = {"E6": 0.20, "E12": 0.10, "E24": 0.05, "E48": 0.02, "E96": 0.01, "E192": 0.005}
    assert {series: TOLERANCE[series] for series in expected} == expected


@pytest.mark.source(G4USP)
@pytest.mark.parametrize(("value", "neighbours"), [(12e3, (11.8e3, 12.1e3)), (33e3, (32.4e3, 33.2e3))])
def test_e24_values_are_not_a_subset_of_e96(value, neighbours):
    assert preferred(value, "E24") == value
    assert (preferred(value, "E96", "down"), preferred(value, "E96", "up")) == neighbours


@pytest.mark.source(G4USP)
@pytest.mark.parametrize("series", SERIES)
def test_a_step_is_at_most_its_series_tolerance_both_ways(series):
    # That is what the series are made for: neighbouring bands meet. Rounding to two or three digits adds a little.
    steps = [b / a for a, b in zip(SERIES[series], (*SERIES[series][1:], SERIES[series][0] * 10), strict=True)]
    assert max(steps) < (1 + TOLERANCE[series]) / (1 - TOLERANCE[series]) * 1.05
    assert math.prod(steps) == pytest.approx(10)
