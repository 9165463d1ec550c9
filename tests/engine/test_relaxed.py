"""Circuits that Newton's method does not find come to rest all the same."""

import numpy as np
import pytest

import engine.circuit.dc as dc
from engine import scenario_from_query
from engine.build import build
from engine.circuit import solve

STAGES = (
    "",
    "in=logic&out=indicator",
    "coupler=with-base&rbe=100k&out=relay&il=1mA",
    "coupler=cascade&out=pull-down&rl=1k",
)


@pytest.mark.parametrize("query", STAGES)
def test_what_no_iteration_finds_is_integrated_to_the_same_voltages(query, monkeypatch):
    whole = build(scenario_from_query(query)).netlist
    # Each member is integrated by itself: the nominal one and some corners, closed and open.
    netlist = whole.take(np.arange(0, whole.batch, whole.batch // 6))
    expected = solve(netlist).voltages
    monkeypatch.setattr(dc, "MOST_ITERATIONS", 2)
    relaxed = solve(netlist)
    assert relaxed.iterations == 2
    for node, volts in expected.items():
        assert relaxed.voltages[node] == pytest.approx(volts, rel=1e-6, abs=1e-5), node


def test_a_stage_on_which_newtons_method_runs_in_circles_is_solved():
    query = "coupler=with-base&ctr=12%25&ctrmin=2000%25&ctrmax=2000%25&rbe=70k2688&out=relay&vcctol=50%25&vccmin=0V"
    solution = solve(build(scenario_from_query(f"{query}&rl=45M3237&vk=296.63V&rk=1M&r3=8k82534&sw=open")).netlist)
    assert all(np.isfinite(volts).all() for volts in solution.voltages.values())
