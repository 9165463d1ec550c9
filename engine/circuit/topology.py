"""What of a circuit does not depend on its values: which nodes are solved for, and how elements meet there.

Found once for every shape of circuit and kept; the numbers are put in by `engine.circuit.dc`.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np


@dataclass(frozen=True, slots=True)
class Chain:
    """Resistors in series, seen as one: the nodes between them are not solved for.

    This is faster, and it keeps an open element next to a small resistance exact, where a sum of conductances
    would lose the smaller one to rounding.

    Attributes
    ----------
    a : str
        Node at one end.
    b : str
        Node at the other end.
    members : tuple of (int, float, str, str)
        Index of each resistor from `a` to `b`, 1 or -1 for its direction, its node nearer to `a`, its other node.
    """

    a: str
    b: str
    members: tuple

    def joined(self, other, node):
        """Return both chains as one.

        Parameters
        ----------
        other : Chain
            A chain with an end at `node`.
        node : str
            Node that both share.

        Returns
        -------
        Chain
            From the far end of this one to the far end of the other.
        """
        first, second = (self if self.b == node else self.turned()), (other if other.a == node else other.turned())
        return Chain(first.a, second.b, first.members + second.members)

    def turned(self):
        """Return the chain from its other end.

        Returns
        -------
        Chain
            The same resistors.
        """
        return Chain(self.b, self.a, tuple((k, -sign, far, near) for k, sign, near, far in reversed(self.members)))

    def inner_potentials(self, resistances, v_a, v_b):
        """Yield name and potential of every node within the chain.

        Parameters
        ----------
        resistances : list of ndarray, shape (batch,)
            Every resistor of the circuit; infinite where it is open [ohm].
        v_a : ndarray, shape (batch,)
            Potential at `a` [V].
        v_b : ndarray, shape (batch,)
            Potential at `b` [V].

        Yields
        ------
        tuple of (str, ndarray)
            Node and its potential [V].
        """
        if len(self.members) < 2:
            return
        passed, whole = 0.0, sum(resistances[k] for k, *_ in self.members)
        with np.errstate(invalid="ignore"):
            for k, _, _, node in self.members[:-1]:
                passed = passed + resistances[k]
                yield node, v_a + np.where(np.isinf(passed), 1.0, passed / whole) * (v_b - v_a)


@dataclass(frozen=True, slots=True)
class Topology:
    """Nodes and incidence of a circuit.

    Attributes
    ----------
    chains : tuple of Chain
        The resistors.
    free : tuple of str
        Nodes that are solved for.
    nodes : tuple of str
        These, then the nodes that sources hold, then the references.
    links : ndarray, shape (chains, nodes)
        1 and -1 at the ends of each chain [-].
    branches : ndarray, shape (branches, nodes)
        The same of every device branch [-].
    controls : ndarray, shape (controls, nodes)
        The same of every controlling voltage [-].
    shunts : ndarray, shape (nodes, nodes)
        Sum of the outer products of the pairs that must not be left without any conductance [-].
    conductances : ndarray, shape (chains, nodes * nodes)
        What each chain's conductance adds to the nodal matrix [-].
    columns : tuple of (slice, slice, slice)
        Of every device: its controls, its branches, and the slots of its derivatives, branch by branch.
    control_of_slot : ndarray, shape (slots,)
        Controlling voltage of each derivative [-].
    slot_into_nodes : ndarray, shape (slots, free)
        Incidence of each derivative's branch [-].
    slot_into_matrix : ndarray, shape (slots, free * free)
        What each derivative adds to the nodal matrix [-].
    """

    chains: tuple
    free: tuple
    nodes: tuple
    links: np.ndarray
    branches: np.ndarray
    controls: np.ndarray
    shunts: np.ndarray
    conductances: np.ndarray
    columns: tuple
    control_of_slot: np.ndarray
    slot_into_nodes: np.ndarray
    slot_into_matrix: np.ndarray


def topology_of(netlist):
    """Return the topology of a circuit.

    Parameters
    ----------
    netlist : Netlist
        The circuit.

    Returns
    -------
    Topology
        Nodes and incidence.
    """
    held = tuple(node for node, _ in netlist.sources.values())
    grounds = tuple(dict.fromkeys(netlist.references.values()))
    resistors = tuple((r.a, r.b) for r in netlist.resistors)
    devices = tuple((d.controls, d.branches, d.shunts) for d in netlist.devices)
    stores = tuple((store.a, store.b) for store in netlist.stores)
    return _topology(tuple(netlist.nodes), held, grounds, resistors, devices, stores)


@lru_cache(maxsize=256)
def _topology(nodes, held, grounds, resistors, devices, stores):
    """Return the topology of a circuit that consists of names alone."""
    controls, branches, shunts = ([pair for device in devices for pair in device[k]] for k in range(3))
    chains = _chains(
        nodes, resistors, {*held, *grounds, *(node for pair in (*controls, *branches, *stores) for node in pair)}
    )
    inner = {far for chain in chains for _, _, _, far in chain.members[:-1]}
    free = tuple(node for node in nodes if node not in held and node not in inner)
    place = {node: k for k, node in enumerate(free + held + grounds)}
    links, branches, controls, shunts = (
        _incidence(pairs, place) for pairs in ([(c.a, c.b) for c in chains], branches, controls, shunts)
    )
    columns, of_branch, of_control = _slots(devices)
    slot_into_nodes = branches[of_branch, : len(free)]
    return Topology(
        chains=chains,
        free=free,
        nodes=tuple(place),
        links=links,
        branches=branches,
        controls=controls,
        shunts=shunts.T @ shunts,
        conductances=_outer(links, links),
        columns=columns,
        control_of_slot=of_control,
        slot_into_nodes=slot_into_nodes,
        slot_into_matrix=_outer(slot_into_nodes, controls[of_control, : len(free)]),
    )


def _chains(nodes, resistors, tied):
    """Return the resistors as chains between nodes that must be solved for."""
    chains = [Chain(a, b, ((k, 1.0, a, b),)) for k, (a, b) in enumerate(resistors)]
    for node in nodes:
        meeting = [chain for chain in chains if node in (chain.a, chain.b)]
        if node not in tied and len(meeting) == 2:
            chains = [chain for chain in chains if chain not in meeting] + [meeting[0].joined(meeting[1], node)]
    return tuple(chains)


def _incidence(pairs, place):
    """Return 1 and -1 at the two nodes of every pair."""
    matrix = np.zeros((len(pairs), len(place)))
    for row, (a, b) in enumerate(pairs):
        matrix[row, place[a]] += 1.0
        matrix[row, place[b]] -= 1.0
    return matrix


def _outer(rows, columns):
    """Return the outer product of every pair of rows, flattened."""
    return (rows[:, :, None] * columns[:, None, :]).reshape(len(rows), rows.shape[1] * columns.shape[1])


def _slots(devices):
    """Return every device's columns, and the branch and the control of every derivative."""
    columns, of_branch, of_control = [], [], []
    control = branch = slot = 0
    for controls, branches, _ in devices:
        ends = control + len(controls), branch + len(branches), slot + len(branches) * len(controls)
        columns.append((slice(control, ends[0]), slice(branch, ends[1]), slice(slot, ends[2])))
        of_branch += [row for row in range(branch, ends[1]) for _ in controls]
        of_control += [column for _ in branches for column in range(control, ends[0])]
        control, branch, slot = ends
    return tuple(columns), np.array(of_branch, dtype=int), np.array(of_control, dtype=int)
