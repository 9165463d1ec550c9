"""Direct-current operating points: modified nodal analysis and Newton's method over a whole batch at once.

One call solves any number of circuits of the same shape. Members that have converged leave the batch, so a few
difficult ones do not hold up the rest.
"""

from dataclasses import dataclass

import numpy as np

from engine.devices import limited_step
from engine.errors import ConvergenceError

MOST_ITERATIONS = 600
_SHUNT = 1e-16  # [S], where a device asks for it: keeps the equations regular where all junctions block
_CLOSE = 1e-9  # [V], change of a control voltage below which an iteration has converged
_ROUNDING = 1e-11  # relative to the voltage itself: what double precision leaves of a difference of large voltages
_QUICK = 10  # iterations after which rounding is reckoned with
_RESTARTS = {60: 0.35, 110: 0.7, 255: 0.87}  # iteration at which what is left begins anew, and how fast its hold fades
_STRIDE = 0.1  # [V], how far the largest current may move a node after a restart
_NOT_HELD = 1e-12  # relative to its first strength: what is left of a hold that is dropped
_FLOOR = 1e-18  # [A], current-law residual that is as good as none
_EPSILON = 2e-15  # relative rounding error of a voltage, seen through the conductances at a node
_LEFT = 1e-10  # [A], current-law residual that is always accepted
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


class _Chain:
    """Resistors in series, seen as one: the nodes between them are not solved for.

    This is faster, and it keeps an open element next to a small resistance exact, where a sum of conductances
    would lose the smaller one to rounding.
    """

    def __init__(self, a, b, R, members):
        self.a, self.b, self.R, self.members = a, b, R, members

    def joined(self, other, node):
        """Return both chains as one through a node that they share."""
        first, second = (self if self.b == node else self.turned()), (other if other.a == node else other.turned())
        return _Chain(first.a, second.b, first.R + second.R, first.members + second.members)

    def turned(self):
        """Return the chain from its other end."""
        return _Chain(self.b, self.a, self.R, [(k, -sign, far, near) for k, sign, near, far in reversed(self.members)])

    def inner_potentials(self, resistances, v_a, v_b):
        """Yield name and potential of every node within the chain."""
        passed = np.zeros_like(v_a)
        for k, _, _, node in self.members[:-1]:
            passed = passed + resistances[k]
            with np.errstate(invalid="ignore"):
                share = np.where(np.isinf(passed), 1.0, passed / self.R)
            yield node, v_a + np.where(self.R > 0, share, 0.0) * (v_b - v_a)


def _chains(netlist, resistances, tied):
    """Return the resistors of a netlist as chains between nodes that must be solved for."""
    chains = [
        _Chain(r.a, r.b, R, [(k, 1.0, r.a, r.b)])
        for k, (r, R) in enumerate(zip(netlist.resistors, resistances, strict=True))
    ]
    for node in netlist.nodes:
        meeting = [chain for chain in chains if node in (chain.a, chain.b)]
        if node not in tied and len(meeting) == 2 and meeting[0] is not meeting[1]:
            chains = [chain for chain in chains if chain not in meeting] + [meeting[0].joined(meeting[1], node)]
    return chains


class _System:
    """Incidence of a netlist, split into nodes that are solved for and nodes that are held."""

    def __init__(self, netlist):
        held = [node for node, _ in netlist.sources.values()]
        grounds = list(dict.fromkeys(netlist.references.values()))
        pairs = [pair for d in netlist.devices for pair in (*d.branches, *d.controls)]
        with np.errstate(divide="ignore"):
            self.resistances = [1.0 / r.G for r in netlist.resistors]
        self.chains = _chains(netlist, self.resistances, {*held, *grounds, *(n for pair in pairs for n in pair)})
        inner = {far for chain in self.chains for _, _, _, far in chain.members[:-1]}
        self.free = [node for node in netlist.nodes if node not in held and node not in inner]
        self.nodes = self.free + held + grounds
        self.count = len(self.free)
        place = {node: k for k, node in enumerate(self.nodes)}
        self.held = np.zeros((netlist.batch, len(held) + len(grounds)))
        for k, (_, volts) in enumerate(netlist.sources.values()):
            self.held[:, k] = volts
        self.links = self._incidence([(chain.a, chain.b) for chain in self.chains], place)
        self.branches = self._incidence([pair for d in netlist.devices for pair in d.branches], place)
        self.controls = self._incidence([pair for d in netlist.devices for pair in d.controls], place)
        shunts = self._incidence([pair for d in netlist.devices for pair in d.shunts], place)
        self.G = np.stack([1.0 / chain.R for chain in self.chains], axis=1)
        outer = self.links[:, :, None] * self.links[:, None, :]
        full = (self.G @ outer.reshape(len(outer), -1)).reshape(netlist.batch, len(place), len(place))
        full += _SHUNT * shunts.T @ shunts
        self.linear = full[:, : self.count, : self.count]
        self.drive = -np.einsum("bij,bj->bi", full[:, : self.count, self.count :], self.held)
        self.held_controls = self.held @ self.controls[:, self.count :].T
        self.scatter = self.branches[:, None, : self.count, None] * self.controls[None, :, None, : self.count]

    @staticmethod
    def _incidence(pairs, place):
        matrix = np.zeros((len(pairs), len(place)))
        for row, (a, b) in enumerate(pairs):
            matrix[row, place[a]] += 1.0
            matrix[row, place[b]] -= 1.0
        return matrix


def _evaluate(devices, v):
    """Return all branch currents (batch, branches) and the jacobian (batch, branches, controls)."""
    first_control = first_branch = 0
    currents = np.empty((len(v), sum(len(d.branches) for d in devices)))
    jacobian = np.zeros((*currents.shape, v.shape[1]))
    for device in devices:
        controls = slice(first_control, first_control + len(device.controls))
        branches = slice(first_branch, first_branch + len(device.branches))
        currents[:, branches], jacobian[:, branches, controls] = device.evaluate(v[:, controls])
        first_control, first_branch = controls.stop, branches.stop
    return currents, jacobian


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


def _iterate(system, devices, batch):
    """Return node voltages (batch, free) and the number of iterations, by Newton's method."""
    n, controls = system.count, system.controls[:, : system.count].T
    scatter = system.scatter.reshape(-1, n * n)
    into_nodes = system.branches[:, :n]
    result = np.zeros((batch, n))
    active = np.arange(batch)
    linear, drive, held = system.linear, system.drive, system.held_controls
    v = np.concatenate([d.start() for d in devices], axis=1)
    scale, knee = (np.concatenate(arrays, axis=1) for arrays in zip(*(d.limits() for d in devices), strict=True))
    x, hold, free, finished = np.zeros((batch, n)), np.zeros(batch), np.zeros(batch, bool), np.zeros(batch, bool)
    for iteration in range(1, MOST_ITERATIONS + 1):
        if iteration in _RESTARTS:
            x, v = np.zeros_like(x), held.copy()
        currents, jacobian = _evaluate(devices, v)
        matrix = linear + (jacobian.reshape(len(v), -1) @ scatter).reshape(len(v), n, n)
        if iteration > _QUICK:
            settled = free & ~finished & _settled(linear, drive, x, currents @ into_nodes, matrix)
            result[active[settled]] = x[settled]
            finished |= settled
        offset = currents - np.einsum("bij,bj->bi", jacobian, v - held)
        source = drive - offset @ into_nodes
        if held_back := _fading(iteration):
            if iteration in _RESTARTS:
                hold = np.abs(currents).max(axis=1) / _STRIDE
            matrix += (held_back * hold)[:, None, None] * np.eye(n)
            source += (held_back * hold)[:, None] * x
        x = np.linalg.solve(matrix, source[:, :, None])[:, :, 0]
        v_new = x @ controls + held
        close = _CLOSE + _ROUNDING * np.abs(v_new)
        if not held_back:
            near = ~finished & (np.abs(v_new - v) <= close).all(axis=1)
            result[active[near]] = x[near]
            finished |= near
        limited = limited_step(v_new, v, scale, knee)
        free = (np.abs(limited - v_new) <= close).all(axis=1)
        v = limited
        remaining = len(finished) - np.count_nonzero(finished)
        if not remaining:
            return result, iteration
        if remaining < 0.6 * len(active):
            left = ~finished
            active, v, held, x, free, finished = (a[left] for a in (active, v, held, x, free, finished))
            linear, drive, scale, knee, hold = (a[left] for a in (linear, drive, scale, knee, hold))
            devices = [d.take(left) for d in devices]
    result[active[~finished]] = x[~finished]
    return result, MOST_ITERATIONS


def solve(netlist):
    """Return the operating points of a batch of circuits.

    Parameters
    ----------
    netlist : Netlist
        The circuits; element values of shape (batch,).

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
    are limited on their own, so that the linear part of the circuit always takes the full step. The few members
    that run in circles begin anew with every node tied to its last voltage by a conductance that fades, which is
    implicit integration in a pseudo-time towards the steady state. A conductance of 0.1 fS across every junction's
    blocking path keeps the equations regular; it carries 0.1 pA at 1 kV. None lies between base and collector,
    where the detector would amplify it.

    References
    ----------
    C. W. Ho, A. E. Ruehli and P. A. Brennan, "The modified nodal approach to network analysis", IEEE Trans.
    Circuits and Systems 22(6), 1975; L. W. Nagel, UCB/ERL M520, 1975. From memory.
    """
    system = _System(netlist)
    x, iterations = _iterate(system, netlist.devices, netlist.batch)
    solution = _solution(netlist, system, x, iterations)
    _check(solution)
    return solution


def _solution(netlist, system, x, iterations):
    """Return the record for solved node voltages, with every current taken from the device equations."""
    potentials = np.concatenate([x, system.held], axis=1)
    voltages = {node: potentials[:, k] for k, node in enumerate(system.nodes)}
    through_links = system.G * (potentials @ system.links.T)
    through_devices, _ = _evaluate(netlist.devices, potentials @ system.controls.T)
    leaving = through_links @ system.links + through_devices @ system.branches
    passing = np.abs(through_links) @ np.abs(system.links) + np.abs(through_devices) @ np.abs(system.branches)
    currents = [None] * len(netlist.resistors)
    for k, chain in enumerate(system.chains):
        voltages.update(chain.inner_potentials(system.resistances, voltages[chain.a], voltages[chain.b]))
        for member, sign, _, _ in chain.members:
            currents[member] = sign * through_links[:, k]
    split = np.cumsum([len(d.branches) for d in netlist.devices])[:-1]
    return Solution(
        voltages=voltages,
        resistor_currents=tuple(currents),
        device_currents=tuple(np.split(through_devices, split, axis=1)),
        source_currents={part: leaving[:, system.count + k] for k, part in enumerate(netlist.sources)},
        residual={node: leaving[:, k] for k, node in enumerate(system.free)},
        throughput={node: passing[:, k] for k, node in enumerate(system.free)},
        iterations=iterations,
    )


def _check(solution):
    """Raise if Kirchhoff's current law does not hold at a node, or a voltage is not a number."""
    for node, residual in solution.residual.items():
        wrong = ~(np.abs(residual) <= _LEFT + _LEFT_RELATIVE * solution.throughput[node])
        if wrong.any():
            raise ConvergenceError(solution.iterations, float(np.abs(residual[wrong]).max()), node)
