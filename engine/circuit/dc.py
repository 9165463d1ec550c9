"""Direct-current operating points: modified nodal analysis and Newton's method over a whole batch at once.

One call solves any number of circuits of the same shape. Members that have converged leave the batch, so a few
difficult ones do not hold up the rest.
"""

from dataclasses import dataclass
from functools import partial

import numpy as np

from engine.circuit.relaxed import Alone
from engine.circuit.topology import topology_of
from engine.devices import limited_step
from engine.errors import ConvergenceError

MOST_ITERATIONS = 600
_SHUNT = 1e-16  # [S], where a device asks for it: keeps the equations regular where all junctions block
_CLOSE = 1e-6  # [V], change of a control voltage whose square, over the thermal voltage, is below anything that matters
_CLOSEST = 1e-11  # [V], the same of one that a current depends on more steeply than any junction's
_ROUNDING = 1e-11  # relative to the voltage itself: what double precision leaves of a difference of large voltages
_FEW = 100  # members; a smaller batch is not worth dividing
_QUICK = 10  # iterations after which rounding is reckoned with
_RESTARTS = {60: 0.35, 110: 0.7, 255: 0.87}  # iteration at which what is left begins anew, and how fast its hold fades
_STRIDE = 0.1  # [V], how far the largest current may move a node after a restart
_NOT_HELD = 1e-12  # relative to its first strength: what is left of a hold that is dropped
_FLOOR = 1e-18  # [A], current-law residual that is as good as none
_EPSILON = 2e-15  # relative rounding error of a voltage, seen through the conductances at a node
_SEEN = 1e-12  # conductance beside the largest one of a circuit that double precision still sees
_FIRM = 2  # solutions, each held to the one before
_WILD = 1e3  # [V], beyond ten times the sources: no passive circuit gets there, so the equations hung on nothing
_LEFT = 5e-10  # [A], current-law residual that is always accepted
_LEFT_RELATIVE = 1e-7  # and relative to the largest current at the node


@dataclass(frozen=True, slots=True)
class Solution:
    """Operating points of a batch.

    Attributes
    ----------
    voltages : dict of str to ndarray, shape (batch,)
        Potential of every node against the reference of its side, references included [V].
    resistor_currents : tuple of ndarray, shape (batch,)
        Current of each resistor, in the order of the netlist, from `a` to `b` [A].
    device_currents : tuple of ndarray, shape (batch, branches)
        Branch currents of each device, in the order of the netlist [A].
    source_currents : dict of str to ndarray, shape (batch,)
        Current that each source delivers into its node [A].
    residual : dict of str to ndarray, shape (batch,)
        What Kirchhoff's current law leaves over at each node that is not held [A].
    throughput : dict of str to ndarray, shape (batch,)
        Sum of the magnitudes of the currents at each such node, to compare the residual with [A].
    iterations : int
        Newton iterations that the slowest member took [-].
    """

    voltages: dict
    resistor_currents: tuple
    device_currents: tuple
    source_currents: dict
    residual: dict
    throughput: dict
    iterations: int


class LinearPart:
    """A circuit's linear part and what its sources hold, over the batch.

    Parameters
    ----------
    netlist : Netlist
        The circuits.
    """

    def __init__(self, netlist):
        self.topology = shape = topology_of(netlist)
        n, size = len(shape.free), len(shape.nodes)
        with np.errstate(divide="ignore"):
            self.resistances = [1.0 / r.G for r in netlist.resistors]
        self.G = np.empty((netlist.batch, len(shape.chains)))
        for k, chain in enumerate(shape.chains):
            self.G[:, k] = 1.0 / sum(self.resistances[member] for member, *_ in chain.members)
        held = np.zeros((netlist.batch, size - n))
        for k, (_, volts) in enumerate(netlist.sources.values()):
            held[:, k] = volts
        full = (self.G @ shape.conductances).reshape(netlist.batch, size, size) + _SHUNT * shape.shunts
        self.linear, self.coupled = np.ascontiguousarray(full[:, :n, :n]), full[:, :n, n:]
        self.hold(held)

    def hold(self, held):
        """Let the sources hold their nodes at given potentials.

        Parameters
        ----------
        held : ndarray, shape (batch, held nodes)
            Potentials, in the order of the sources, those of the references last [V].
        """
        self.held = held
        self.drive = -np.einsum("bij,bj->bi", self.coupled, held)
        self.held_controls = held @ self.topology.controls[:, len(self.topology.free) :].T


def evaluate(topology, devices, v):
    """Return the currents of all devices and their derivatives.

    Parameters
    ----------
    topology : Topology
        How they meet.
    devices : sequence
        The devices.
    v : ndarray, shape (batch, controls)
        Controlling voltages [V].

    Returns
    -------
    currents : ndarray, shape (batch, branches)
        Branch currents [A].
    slopes : ndarray, shape (batch, slots)
        Their derivatives [S].
    """
    currents = np.empty((len(v), len(topology.branches)))
    slopes = np.empty((len(v), len(topology.control_of_slot)))
    for device, (controls, branches, slots) in zip(devices, topology.columns, strict=True):
        currents[:, branches], jacobian = device.evaluate(v[:, controls])
        slopes[:, slots] = jacobian.reshape(len(v), -1)
    return currents, slopes


def _fading(iteration):
    """Return how much of its first strength is left of what ties every node to where it was: nothing at first."""
    for start, fading in reversed(_RESTARTS.items()):
        if iteration >= start:
            left = fading ** (iteration - start)
            return left if left > _NOT_HELD else 0.0
    return 0.0


def _settled(linear, drive, x, at_nodes, matrix):
    """Return which members obey the current law as well as double precision allows."""
    left = np.abs(np.einsum("bij,bj->bi", linear, x) - drive + at_nodes)
    rounding = _EPSILON * np.einsum("bij,bj->bi", np.abs(matrix), np.abs(x))
    return (left <= _FLOOR + rounding).all(axis=1)


def _solved(matrix, source, x):
    """Return the node voltages that solve the linear equations, near the last ones where those leave them open."""
    try:
        return np.linalg.solve(matrix, source[:, :, None])[:, :, 0]
    except np.linalg.LinAlgError:
        # While the iteration is on its way, a part of a circuit may hang on nothing that double precision can see.
        held = _SEEN * np.abs(np.einsum("bii->bi", matrix)).max(axis=1)
        firm = matrix + held[:, None, None] * np.eye(matrix.shape[1])
        for _ in range(_FIRM):  # what is well tied to a source comes as near to its own voltage as if it were not held
            x = np.linalg.solve(firm, (source + held[:, None] * x)[:, :, None])[:, :, 0]
        return x


def _iterate(system, devices, batch, near):
    """Return node voltages (batch, free) and the number of iterations, by Newton's method.

    It begins where the devices ask for it, or at control voltages that are known to be near.
    """
    shape, n = system.topology, len(system.topology.free)
    controls, branches = shape.controls[:, :n].T, shape.branches[:, :n]
    everything, result = devices, np.zeros((batch, n))
    active = np.arange(batch)
    linear, drive, held = system.linear, system.drive, system.held_controls
    v = np.concatenate([d.start() for d in devices], axis=1) if near is None else near
    scale, knee = (np.concatenate(arrays, axis=1) for arrays in zip(*(d.limits() for d in devices), strict=True))
    turning = np.array([turns for d in devices for turns in d.turning], dtype=bool)
    turn = np.concatenate([getattr(d, "turns_at", np.zeros_like(d.start())) for d in devices], axis=1)
    stepped = [(k, shape.columns[k][0]) for k, d in enumerate(devices) if hasattr(d, "stopped")]
    allowance = np.where([steep for d in devices for steep in d.steep], _CLOSEST, _CLOSE)
    reach = _WILD + 10.0 * np.abs(system.held).max(axis=1, initial=0.0)[:, None]
    x, hold, free, finished = np.zeros((batch, n)), np.zeros(batch), np.zeros(batch, bool), np.zeros(batch, bool)
    wild = finished
    for iteration in range(1, MOST_ITERATIONS + 1):
        if iteration in _RESTARTS:
            x, v = np.zeros_like(x), np.minimum(held, np.maximum(knee, 0.0))
        currents, slopes = evaluate(shape, devices, v)
        into_nodes = currents @ branches
        matrix = linear + (slopes @ shape.slot_into_matrix).reshape(len(v), n, n)
        if iteration > _QUICK:
            settled = free & ~(finished | wild) & _settled(linear, drive, x, into_nodes, matrix)
            result[active[settled]] = x[settled]
            finished |= settled
        along = slopes * (v - held)[:, shape.control_of_slot]
        source = drive - into_nodes + along @ shape.slot_into_nodes
        if held_back := _fading(iteration):
            if iteration in _RESTARTS:
                hold = np.abs(currents).max(axis=1) / _STRIDE
            matrix += (held_back * hold)[:, None, None] * np.eye(n)
            source += (held_back * hold)[:, None] * x
        x = _solved(matrix, source, x)
        wild = (np.abs(x) > reach).any(axis=1)
        v_new = x @ controls + held
        close = allowance + _ROUNDING * np.abs(v_new)
        if not held_back:
            near = ~(finished | wild) & (np.abs(v_new - v) <= close).all(axis=1)
            result[active[near]] = x[near]
            finished |= near
        limited = limited_step(v_new, v, scale, knee)
        past = turning & ((limited - turn) * (v - turn) < 0.0)
        limited[past] = turn[past]
        for k, own in stepped:
            limited[:, own] = devices[k].stopped(limited[:, own], v[:, own])
        free = (np.abs(limited - v_new) <= close).all(axis=1)
        v = limited
        remaining = len(finished) - np.count_nonzero(finished)
        if not remaining:
            return result, iteration
        if remaining < 0.6 * len(active) and len(active) > _FEW:
            left = ~finished
            active, v, held, x, free, finished, wild = (a[left] for a in (active, v, held, x, free, finished, wild))
            linear, drive, scale, knee, turn, hold, reach = (
                a[left] for a in (linear, drive, scale, knee, turn, hold, reach)
            )
            devices = [d.take(left) for d in devices]
    result[active[~finished]] = x[~finished]
    lost = active[~finished][_unlawful(system, everything, result)[active[~finished]]]
    if len(lost):
        result[lost] = _relaxed(system, everything, lost)
    return result, MOST_ITERATIONS


def _unlawful(system, devices, x):
    """Return which members break the current law by more than `solve` accepts, shape (batch,)."""
    shape = system.topology
    potentials = np.concatenate([x, system.held], axis=1)
    with np.errstate(all="ignore"):
        links = system.G * (potentials @ shape.links.T)
        currents, slopes = evaluate(shape, devices, potentials @ shape.controls.T)
        leaving = (links @ shape.links + currents @ shape.branches)[:, : len(shape.free)]
        passing = np.abs(links) @ np.abs(shape.links) + np.abs(currents) @ np.abs(shape.branches)
        allowed = _LEFT + _LEFT_RELATIVE * passing[:, : len(shape.free)] + _rounding(system, potentials, slopes)
        return ~(np.abs(leaving) <= allowed).all(axis=1)


def _relaxed(system, devices, members):
    """Return the voltages of the few members that no iteration finds, shape (members, free)."""
    ask, found = partial(evaluate, system.topology), []
    with np.errstate(all="ignore"):
        for k in members:
            one = np.array([k])
            alone = Alone(ask, system, [device.take(one) for device in devices], k)
            found.append(alone.at_rest(found[-1:]))
    return np.array(found)


def solve(netlist, near=None):
    """Return the operating points of a batch of circuits.

    Parameters
    ----------
    netlist : Netlist
        The circuits; element values of shape (batch,).
    near : dict of str to ndarray, shape (batch,), or None
        Potential of every node in circuits that differ little, from which the iteration begins [V].

    Returns
    -------
    Solution
        Voltages and currents of every member.

    Raises
    ------
    ConvergenceError
        If a member is left without a solution; the elements are monotone, so this is a defect of the solver.

    Notes
    -----
    Nodal equations for the nodes that no source holds. Every device is linearised at its control voltages, which
    are limited on their own, and stop at zero where a current's curve turns there, so that the linear part of the
    circuit always takes the full step. The few members that run in circles begin anew with every node tied to its
    last voltage by a conductance that fades, which is implicit integration in a pseudo-time towards the steady
    state. What is left even then is integrated for good, member by member (`engine.circuit.relaxed`). A conductance
    of 0.1 fS across every junction's blocking path keeps the equations regular; it carries 0.1 pA at 1 kV. None lies
    between base and collector, where the detector would amplify it.

    References
    ----------
    C. W. Ho, A. E. Ruehli and P. A. Brennan, "The modified nodal approach to network analysis", IEEE Trans.
    Circuits and Systems 22(6), 1975; L. W. Nagel, UCB/ERL M520, 1975. From memory.
    """
    system = LinearPart(netlist)
    if near is not None:
        near = np.stack([near[node] for node in system.topology.nodes], axis=1) @ system.topology.controls.T
    x, iterations = _iterate(system, netlist.devices, netlist.batch, near)
    return _solution(netlist, system, x, iterations)


def _solution(netlist, system, x, iterations):
    """Return the record for solved node voltages, with every current taken from the device equations."""
    shape = system.topology
    potentials = np.concatenate([x, system.held], axis=1)
    voltages = {node: potentials[:, k] for k, node in enumerate(shape.nodes)}
    through_links = system.G * (potentials @ shape.links.T)
    through_devices, slopes = evaluate(shape, netlist.devices, potentials @ shape.controls.T)
    leaving = through_links @ shape.links + through_devices @ shape.branches
    passing = np.abs(through_links) @ np.abs(shape.links) + np.abs(through_devices) @ np.abs(shape.branches)
    allowed = _LEFT_RELATIVE * passing[:, : len(shape.free)] + _rounding(system, potentials, slopes)
    _check(shape.free, leaving[:, : len(shape.free)], allowed, iterations)
    currents = [None] * len(netlist.resistors)
    for k, chain in enumerate(shape.chains):
        voltages.update(chain.inner_potentials(system.resistances, voltages[chain.a], voltages[chain.b]))
        for member, sign, _, _ in chain.members:
            currents[member] = sign * through_links[:, k]
    return Solution(
        voltages=voltages,
        resistor_currents=tuple(currents),
        device_currents=tuple(through_devices[:, branches] for _, branches, _ in shape.columns),
        source_currents={part: leaving[:, len(shape.free) + k] for k, part in enumerate(netlist.sources)},
        residual={node: leaving[:, k] for k, node in enumerate(shape.free)},
        throughput={node: passing[:, k] for k, node in enumerate(shape.free)},
        iterations=iterations,
    )


def _rounding(system, potentials, slopes):
    """Return what rounding of the voltages leaves of the current law at every free node."""
    shape, sizes = system.topology, np.abs(potentials)
    through_links = (system.G * (sizes @ np.abs(shape.links).T)) @ np.abs(shape.links)
    at_controls = (sizes @ np.abs(shape.controls).T)[:, shape.control_of_slot]
    through_devices = (np.abs(slopes) * at_controls) @ np.abs(shape.slot_into_nodes)
    return _EPSILON * (through_links[:, : len(shape.free)] + through_devices)


def _check(nodes, leaving, allowed, iterations):
    """Raise if Kirchhoff's current law does not hold at a node, or a voltage is not a number."""
    residual = np.abs(leaving)
    wrong = ~(residual <= _LEFT + allowed)
    if wrong.any():
        node = int(wrong.any(axis=0).argmax())
        raise ConvergenceError(iterations, float(residual[wrong[:, node], node].max()), nodes[node])
