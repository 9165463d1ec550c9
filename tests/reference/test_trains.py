"""Trains of edges against closed forms of linear circuits, and a nonlinear stage against a general integrator."""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from engine import scenario_from_query
from engine.circuit import Capacitor, NetlistBuilder
from engine.circuit.segments import Switched, steady_state
from engine.train import square, utmost_rate
from tests.reference.test_edges import Stage

R, C, V = 10e3, 10e-9, 5.0
TAU = R * C


def switched(copies, accuracy=1e-7):
    """Return a resistor and a capacitor behind a source of 5 V that is switched to 0 V, several times."""
    net = NetlistBuilder(2 * copies)
    net.side("input", "return", "VS", "A")
    net.source("VS", "VS", np.repeat([V, 0.0], copies))
    net.resistor("R", "VS", "A", R)
    net.store(Capacitor("C", "A", "return", np.full(2 * copies, C)))
    return Switched(net.build(), accuracy, {"VS": np.repeat([V, 0.0], copies), "A": np.repeat([V, 0.0], copies)})


@pytest.mark.no_source("closed form: the peaks are V/(1 + exp(-T/2RC)) and what is left of that half a period later")
def test_a_capacitor_on_a_square_wave_comes_to_its_closed_form():
    periods = TAU * np.array([0.05, 0.5, 2.0, 10.0, 50.0])
    found = steady_state(switched(5), (periods / 2, periods / 2), {"VS": np.zeros(5), "A": np.zeros(5)}, 1e-6, 60)
    volts, middle = found.trail.voltages["A"], found.trail.ends[0]
    upper = V / (1.0 + np.exp(-periods / (2.0 * TAU)))
    assert (found.astray <= 1e-6).all()
    assert volts[middle] == pytest.approx(upper, rel=1e-4)
    lower = upper * np.exp(-periods / (2.0 * TAU))
    assert (np.abs(volts[-1] - lower) <= 1e-4 * upper).all()


@pytest.mark.no_source("closed form of unequal halves: V (1 - a)/(1 - ab) with a and b what a half leaves")
def test_a_pulse_of_unequal_halves():
    lit, dark = 0.3 * TAU, 1.7 * TAU
    ends = {"VS": np.zeros(1), "A": np.zeros(1)}
    found = steady_state(switched(1), (np.array([lit]), np.array([dark])), ends, 1e-7, 60)
    a, b = math.exp(-lit / TAU), math.exp(-dark / TAU)
    assert found.trail.voltages["A"][found.trail.ends[0], 0] == pytest.approx(V * (1 - a) / (1 - a * b), rel=1e-4)


@pytest.mark.no_source("closed form: each segment is an exponential from where the last one ended")
def test_segments_begin_where_the_last_one_ended():
    lengths, states = (0.3, 0.5, 0.2, 1.1), (True, False, True, False)
    one = np.array([True])
    segments = [(one & state, np.array([length * TAU])) for length, state in zip(lengths, states, strict=True)]
    trail = switched(1).follow({"VS": np.zeros(1), "A": np.zeros(1)}, ~one, segments)
    exact = 0.0
    for length, state, place in zip(lengths, states, trail.ends, strict=True):
        goal = V if state else 0.0
        exact = goal + (exact - goal) * math.exp(-length)
        assert trail.voltages["A"][place, 0] == pytest.approx(exact, rel=1e-4)


@pytest.mark.no_source("the same physical equations, written anew and integrated by a general method")
@pytest.mark.parametrize("query", ["iin=0A&rc=1mR&rl=10k&cl=100p", "iin=0A&rc=1mR&rl=22k&r1=7k5"])
def test_a_stage_on_a_square_wave_agrees_with_a_general_integrator(query):
    """Several periods from rest in the dark, at the utmost rate and at twice that, until they repeat themselves."""
    scenario = scenario_from_query(query)
    utmost = utmost_rate(scenario).value
    for found in square(scenario, [utmost, 2.0 * utmost]):
        half, stages = 0.5 / found.rate, (Stage(scenario, True), Stage(scenario, False))
        state = stages[1].course([0.0, 0.3, scenario.output.VCC, scenario.output.VCC], 20.0).y[:, -1]
        for _ in range(6):
            courses, before = [], state
            for stage in stages:
                way = solve_ivp(stage.rates, (0.0, half), state, "Radau", rtol=1e-6, atol=1e-10, dense_output=True)
                courses.append(way)
                state = way.y[:, -1]
            if np.abs(state - before).max() < 1e-5:
                break
        assert found.settled
        swing = scenario.output.VCC
        for level, course in zip(("lit", "dark"), courses, strict=True):
            assert found.at_end[level].value == pytest.approx(course.y[3, -1], abs=0.01 * swing)
        times = np.linspace(0.0, half, 20001)
        output = np.concatenate([course.sol(times)[3] for course in courses])
        low, high = found.limits
        for level, share in (("lit", (output <= low).mean()), ("dark", (output >= high).mean())):
            assert found.held[level].value == pytest.approx(2.0 * half * share, abs=0.01 * 2.0 * half)
