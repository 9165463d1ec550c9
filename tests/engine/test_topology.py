"""What of a circuit does not depend on its values."""

import numpy as np
import pytest

from engine.circuit import Junction, NetlistBuilder
from engine.circuit.topology import topology_of
from engine.devices import JunctionParams


def row_of(*resistors, source="in", load=None, ground="0"):
    """Return a netlist of resistors between the named nodes."""
    nodes = dict.fromkeys(node for _, a, b in resistors for node in (a, b) if node != ground)
    net = NetlistBuilder(1)
    net.side("input", ground, *nodes)
    net.source("V", source, 1.0)
    for name, a, b in resistors:
        net.resistor(name, a, b, 100.0)
    if load:
        params = JunctionParams(np.array([1e-12]), np.array([0.026]))
        net.device(Junction("D", *load, params, np.zeros(1)))
    return net.build()


def test_resistors_in_a_row_are_one_chain():
    shape = topology_of(row_of(("R1", "in", "a"), ("R2", "a", "b"), ("R3", "b", "0")))
    (chain,) = shape.chains
    assert {chain.a, chain.b} == {"in", "0"}
    assert [k for k, *_ in chain.members] in ([0, 1, 2], [2, 1, 0])
    assert shape.free == ()


def test_a_chain_ends_where_three_elements_meet_or_a_device_does():
    shape = topology_of(row_of(("R1", "in", "a"), ("R2", "a", "b"), ("R3", "b", "0"), ("R4", "b", "0")))
    assert shape.free == ("b",)
    assert len(shape.chains) == 3
    tied = topology_of(row_of(("R1", "in", "a"), ("R2", "a", "b"), ("R3", "b", "0"), load=("a", "0")))
    assert tied.free == ("a",)
    assert len(tied.chains) == 2


def test_a_chain_keeps_the_direction_of_every_member():
    shape = topology_of(row_of(("R1", "in", "a"), ("R2", "b", "a"), ("R3", "b", "0")))
    (chain,) = shape.chains
    signs = {k: sign for k, sign, _, _ in chain.members}
    assert signs[0] == signs[2] == -signs[1]


def test_nodes_come_solved_then_held_then_grounded():
    shape = topology_of(row_of(("R1", "in", "a"), ("R2", "a", "0"), load=("a", "0")))
    assert shape.nodes == ("a", "in", "0")


def test_incidence_sums_to_nothing_along_every_element():
    shape = topology_of(row_of(("R1", "in", "a"), ("R2", "a", "0"), load=("a", "0")))
    for matrix in (shape.links, shape.branches, shape.controls):
        assert matrix.sum(axis=1) == pytest.approx(0.0)
        assert np.abs(matrix).sum(axis=1) == pytest.approx(2.0)


def test_inner_potentials_divide_by_resistance_and_stop_at_an_open_member():
    shape = topology_of(row_of(("R1", "in", "a"), ("R2", "a", "b"), ("R3", "b", "0")))
    (chain,) = shape.chains
    if chain.a != "in":
        chain = chain.turned()
    top, bottom = np.array([12.0]), np.array([0.0])
    halves = dict(chain.inner_potentials([np.array([R]) for R in (100.0, 200.0, 300.0)], top, bottom))
    assert (halves["a"][0], halves["b"][0]) == pytest.approx((10.0, 6.0))
    cut = dict(chain.inner_potentials([np.array([R]) for R in (100.0, np.inf, 300.0)], top, bottom))
    assert (cut["a"][0], cut["b"][0]) == pytest.approx((12.0, 0.0))


def test_circuits_of_the_same_shape_share_their_topology():
    first, second = (topology_of(row_of(("R1", "in", "a"), ("R2", "a", "0"), load=("a", "0"))) for _ in range(2))
    assert first is second
