"""Integration over time: charge is conserved, every member reaches its end, stores are taken with the batch."""

from dataclasses import replace

import numpy as np
import pytest

from engine import scenario_from_query
from engine.build import build
from engine.circuit import Capacitor, JunctionCharge, NetlistBuilder, solve, transient


def charged(v, C0=10e-12, transit=1e-9):
    one = np.ones_like(v)
    return JunctionCharge("X", "A", "return", C0 * one, transit * one, 1e-14 * one, 0.026 * one).stored(v)


def test_capacitance_is_the_derivative_of_the_charge():
    v = np.linspace(-20.0, 0.8, 400)
    step = 1e-6
    rise = (charged(v + step)[0] - charged(v - step)[0]) / (2 * step)
    assert rise == pytest.approx(charged(v)[1], rel=1e-5)
    assert (np.diff(charged(v)[0]) > 0).all()
    assert charged(np.zeros(1), transit=0.0)[1] == pytest.approx(10e-12)


def test_charge_flows_through_the_resistor_that_charges_a_junction():
    """What a resistor has carried is what the nonlinear capacitor holds, whatever the steps."""
    one = np.ones(1)
    net = NetlistBuilder(1)
    net.side("input", "return", "VS", "A")
    net.source("VS", "VS", -12.0)
    net.resistor("R", "VS", "A", 1e4)
    junction = JunctionCharge("X", "A", "return", 1e-9 * one, 0.0 * one, 1e-14 * one, 0.026 * one)
    net.store(junction)
    found = transient(net.build(), {"A": np.zeros(1)}, np.array([3e-4]), 1e-6)
    t, v = found.t[:, 0], found.voltages["A"][:, 0]
    passed = np.trapezoid((-12.0 - v) / 1e4, t)
    assert passed == pytest.approx(float(junction.stored(v[-1:])[0][0]), rel=2e-3)


@pytest.mark.parametrize("query", ["", "out=pull-down&rl=1k", "in=logic&out=indicator"])
def test_a_stage_that_is_let_go_comes_to_rest_where_the_direct_current_solution_stands(query):
    stage = build(scenario_from_query(query))
    netlist, count = stage.netlist, stage.count
    point = solve(netlist)
    to, since = np.arange(6), np.arange(6) + count
    node = "OUT" if "OUT" in netlist.nodes else "C"
    stores = (Capacitor("CL", node, "common", np.full(2 * count, 1e-9)),)
    circuit = replace(netlist, stores=stores).take(to)
    begin = {name: volts[since] for name, volts in point.voltages.items()}
    found = transient(circuit, begin, np.full(6, 1e-3))
    assert found.t[-1] == pytest.approx(np.full(6, 1e-3))
    assert found.voltages[node][-1] == pytest.approx(point.voltages[node][to], abs=5e-3)
    assert found.voltages[node][0] == pytest.approx(point.voltages[node][since])


def test_a_netlist_gives_some_of_its_circuits():
    netlist = build(scenario_from_query("")).netlist
    some = netlist.take(np.array([3, 3, 0]))
    assert some.batch == 3
    assert np.array_equal(solve(some).voltages["OUT"], solve(netlist).voltages["OUT"][[3, 3, 0]])
