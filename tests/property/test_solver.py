"""What must hold of every scenario, wild ones included: it is solved, and the laws of circuits hold."""

import numpy as np
from hypothesis import given, settings

from engine import findings_of, operating_point, query_from, reasoning_of, scenario_from_query
from engine.build import build
from engine.circuit import solve
from tests.property.scenarios import finite, scenarios, seeded

FEW = settings(max_examples=70, deadline=None)
FEWER = settings(max_examples=25, deadline=None)
"""Where the seeded scenarios go over the same ground; these shrink."""


def left_over(solution):
    """Return what the current law leaves over, relative to 1 nA and 1 ppm of the current at the node."""
    return max(
        float((np.abs(residual) / (1e-9 + 1e-6 * solution.throughput[node])).max())
        for node, residual in solution.residual.items()
    )


def imbalance(netlist, solution):
    """Return delivered less taken power, relative to 1 ppm of it and to 1 nA at the highest voltage."""
    v = solution.voltages
    taken = sum((v[r.a] - v[r.b]) * i for r, i in zip(netlist.resistors, solution.resistor_currents, strict=True))
    for device, currents in zip(netlist.devices, solution.device_currents, strict=True):
        taken = taken + sum((v[a] - v[b]) * i for (a, b), i in zip(device.branches, currents.T, strict=True))
    delivered = [v[node] * solution.source_currents[part] for part, (node, _) in netlist.sources.items()]
    highest = max(float(np.abs(volts).max()) for volts in v.values())
    return float((np.abs(sum(delivered) - taken) / (1e-9 * (1 + highest) + 1e-6 * sum(map(np.abs, delivered)))).max())


def obeys_the_laws(scenario):
    """Hold a solved scenario against the laws of circuits."""
    netlist = build(scenario).netlist
    solution = solve(netlist)
    assert all(np.isfinite(v).all() for v in solution.voltages.values()), query_from(scenario)
    assert left_over(solution) < 1, query_from(scenario)
    assert imbalance(netlist, solution) < 1, query_from(scenario)


@FEWER
@given(scenarios())
def test_every_scenario_is_solved_and_obeys_the_laws(scenario):
    obeys_the_laws(scenario)


def test_seeded_scenarios_are_solved_and_obey_the_laws():
    for scenario in seeded(300, seed=20):
        obeys_the_laws(scenario)


@FEW
@given(scenarios())
def test_every_answer_is_finite_and_in_order(scenario):
    point = operating_point(scenario)
    assert finite(point)
    for state in point.states.values():
        for ranges in (state.quantities, state.nodes, state.currents, state.drops, state.powers):
            assert all(r.low <= r.value <= r.high for r in ranges.values())
    for finding in findings_of(point, slow=False):
        assert np.isfinite([finding.value, finding.limit, finding.margin]).all()
    for name in point.states:
        for loop in reasoning_of(point, name).loops:
            assert abs(loop.left) <= 1e-9 * (1 + abs(loop.volts))


@FEW
@given(scenarios())
def test_a_scenario_survives_its_query_string(scenario):
    again = scenario_from_query(query_from(scenario))
    assert again == scenario
    assert query_from(again) == query_from(scenario)
