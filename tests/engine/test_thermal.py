"""Junction temperatures and falling ratings: bounds, order, limits; published figures are in tests/reference."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.coupler.lines import Derating
from engine.thermal import (
    TwoSources,
    derated,
    half_way_power,
    implied_resistance,
    junction_temperature,
    limiting_current,
    resistor_rating,
)

MANY = settings(max_examples=200, deadline=None)
RESISTANCES = st.floats(1.0, 1000.0)
POWERS = st.floats(0.0, 1.0)
TEMPERATURES = np.array([-55.0, 25.0, 55.0, 56.0, 90.0, 124.0, 125.0, 126.0, 200.0])


# ---------------------------------------------------------------- ratings


def test_a_rating_over_many_temperatures_is_that_of_each():
    rating = Derating(50e-3, 55.0, 125.0)
    found = rating.at(TEMPERATURES)
    assert found.tolist() == [rating.at(float(TA)) for TA in TEMPERATURES]
    assert rating.at(TEMPERATURES.reshape(3, 3)).shape == (3, 3)
    assert found[[0, 2, 4, 6, 8]] == pytest.approx([50e-3, 50e-3, 25e-3, 0.0, 0.0])


@pytest.mark.parametrize("TA", [-40, 25.0, 90.0, np.float64(90.0), 125.0, 500.0])
def test_a_rating_at_one_temperature_is_a_float(TA):
    assert type(Derating(50e-3, 55.0, 125.0).at(TA)) is float


def test_a_rating_that_ends_where_it_begins_to_fall():
    assert Derating(50e-3, 0.0, 0.0).at(np.array([-1.0, 0.0, 1.0])).tolist() == [50e-3, 50e-3, 0.0]


@MANY
@given(st.floats(-100.0, 300.0), st.floats(1e-3, 1.0), st.floats(0.0, 100.0), st.floats(0.5, 100.0))
def test_a_rating_is_never_negative_nor_above_its_limit(TA, limit, knee, span):
    assert 0.0 <= derated(limit, knee, knee + span, TA) <= limit


def test_a_film_resistor():
    assert resistor_rating(0.25, 25.0) == resistor_rating(0.25, 70.0) == 0.25
    assert resistor_rating(0.25, 112.5) == pytest.approx(0.125)
    assert resistor_rating(0.25, 155.0) == resistor_rating(0.25, 300.0) == 0.0
    both = resistor_rating(np.array([0.25, 1.0]), np.array([112.5, 25.0]))
    assert both.tolist() == [resistor_rating(0.25, 112.5), 1.0]
    assert (np.diff(resistor_rating(0.25, np.linspace(71.0, 154.0, 50))) < 0.0).all()


# ---------------------------------------------------------------- junctions


def test_a_part_on_its_derating_line_has_its_junction_at_the_end_of_the_line():
    Rth = implied_resistance(150e-3, 25.0, 125.0)
    TA = np.linspace(25.0, 125.0, 11)
    assert junction_temperature(TA, derated(150e-3, 25.0, 125.0, TA), Rth) == pytest.approx(np.full(11, 125.0))


def test_no_power_leaves_the_junctions_at_ambient():
    assert junction_temperature(40.0, 0.0, 330.0) == 40.0
    assert TwoSources(300.0, 130.0, 190.0).junctions(40.0, 0.0, 0.0) == (40.0, 40.0)


def test_the_limiting_current_warms_the_junction_to_its_limit():
    current = limiting_current(150.0, 40.0, 200.0, 5.0)
    assert junction_temperature(40.0, current * 5.0, 200.0) == pytest.approx(150.0)
    assert limiting_current(150.0, np.array([150.0, 160.0]), 200.0, 5.0).tolist() == [0.0, 0.0]


@MANY
@given(RESISTANCES, RESISTANCES, RESISTANCES, RESISTANCES)
def test_a_network_warms_as_its_nodes_say(LC, LD, DC, CA):
    """The triangle and the case solved as three nodes, in place of the closed form."""
    G = np.array(
        [
            [1 / LC + 1 / LD, -1 / LD, -1 / LC],
            [-1 / LD, 1 / LD + 1 / DC, -1 / DC],
            [-1 / LC, -1 / DC, 1 / LC + 1 / DC + 1 / CA],
        ]
    )
    rise = np.linalg.solve(G, np.array([0.1, 0.3, 0.0]))
    found = TwoSources.of_network(LC, LD, DC, CA).junctions(25.0, 0.1, 0.3)
    assert found == pytest.approx(25.0 + rise[:2], rel=1e-6)


@MANY
@given(RESISTANCES, RESISTANCES, RESISTANCES, RESISTANCES, POWERS)
def test_the_part_that_is_heated_is_the_warmer_one(LC, LD, DC, CA, power):
    body = TwoSources.of_network(LC, LD, DC, CA)
    LED, detector = body.junctions(25.0, power, 0.0)
    assert LED >= detector >= 25.0
    LED, detector = body.junctions(25.0, 0.0, power)
    assert detector >= LED >= 25.0


def test_junctions_over_many_powers():
    body, powers = TwoSources(300.0, 130.0, 190.0), np.array([0.0, 0.02, 0.1])
    LED, detector = body.junctions(25.0, powers, 0.1)
    assert LED.tolist() == pytest.approx([body.junctions(25.0, P, 0.1)[0] for P in powers.tolist()])
    assert (np.diff(LED) > np.diff(detector)).all()


def test_no_drop_takes_more_than_half_of_the_supply():
    V = np.linspace(0.0, 5.0, 101)
    power = V * (5.0 - V) / 1e3
    assert power.max() == pytest.approx(half_way_power(5.0, 1e3))
    assert V[power.argmax()] == 2.5


def test_just_above_the_knee_rounding_takes_nothing_over_the_limit():
    limit = 0.08403495935905188
    assert derated(limit, 0.0, 48.7578125, 3.4702204687720493e-100) == limit
