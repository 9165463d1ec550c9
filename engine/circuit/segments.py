"""Circuits that are led from one state to the other and back: every segment begins with the charges of the one before.

A batch holds every circuit twice, in one state and then in the other, as the solver of rest has it.
"""

from dataclasses import dataclass

import numpy as np

from engine.circuit.dc import solve
from engine.circuit.transient import Course, transient

_DEPTH = 3  # periods that an extrapolation looks back on
_BEYOND = 0.05  # [V], that an extrapolation may lead a store beyond where it has been or rests
_STILL = 1e-15  # [C], charge of a side that counts as none
_FLAT = 1e-9  # [-], weight that keeps periods apart which hardly differ


@dataclass(frozen=True, slots=True)
class Trail:
    """How a batch went through its segments.

    Attributes
    ----------
    t : ndarray, shape (steps, batch)
        Time, from 0 on; repeated where a member waited for others [s].
    voltages : dict of str to ndarray, shape (steps, batch)
        Potential of every node against the reference of its side [V].
    ends : list of int
        For every segment, the place of its last step.
    """

    t: np.ndarray
    voltages: dict
    ends: list


class Switched:
    """A batch of circuits with both of their states.

    Parameters
    ----------
    netlist : Netlist
        The circuits in the one state, then in the other, with what they store.
    accuracy : float
        Error that a step may make, as a share of the largest source [-].
    rest : dict of str to ndarray, shape (2 batch,) or None
        Potential of every node at rest; solved for if None [V].
    loose : tuple of str
        Parts that store so little that it is not carried over when the input side jumps.
    """

    def __init__(self, netlist, accuracy, rest=None, loose=()):
        self.netlist, self.accuracy = netlist, accuracy
        zeros = np.zeros(netlist.batch)
        self.rest = dict.fromkeys(netlist.references.values(), zeros)
        self.rest |= solve(netlist).voltages if rest is None else rest
        self.batch = netlist.batch // 2
        nodes = netlist.nodes
        self.stores = [s for s in netlist.stores if s.part not in loose]
        self._kept = [s for s in self.stores if nodes.get(s.a) == "input" or nodes.get(s.b) == "input"]

    def at_rest(self, first):
        """Return the potentials of every node at rest.

        Parameters
        ----------
        first : ndarray of bool, shape (batch,)
            Whether a circuit is in the one state, else in the other.

        Returns
        -------
        dict of str to ndarray, shape (batch,)
            Potentials [V].
        """
        index = self._index(first)
        return {node: volts[index] for node, volts in self.rest.items()}

    def _index(self, first):
        return np.arange(self.batch) + np.where(first, 0, self.batch)

    def _jumped(self, circuit, volts, index, moved):
        """Return the potentials just after the state has changed: what stores nothing on the input side has jumped."""
        start, placed = dict(volts), set()
        for node, side in circuit.nodes.items():
            if side == "input":
                start[node] = np.where(moved, self.rest[node][index], volts[node])
        for store in self._kept:
            across = volts[store.a] - volts[store.b]
            if store.a not in placed and circuit.nodes.get(store.a) == "input":
                start[store.a] = start[store.b] + across
            elif store.b not in placed and circuit.nodes.get(store.b) == "input":
                start[store.b] = start[store.a] - across
            placed |= {store.a, store.b}
        return start

    def segment(self, volts, before, first, until):
        """Return how the batch goes on in one segment.

        Parameters
        ----------
        volts : dict of str to ndarray, shape (batch,)
            Potentials to begin with [V].
        before : ndarray of bool, shape (batch,)
            Whether a circuit has been in the one state.
        first : ndarray of bool, shape (batch,)
            Whether it is in it now.
        until : ndarray, shape (batch,)
            How long it is; 0 where it has none [s].

        Returns
        -------
        Course
            Times from 0 on, and the potentials of all nodes.
        """
        some = np.flatnonzero(until > 0.0)
        part = {node: v[some] for node, v in volts.items()}
        index = self._index(first)[some]
        circuit = self.netlist.take(index)
        start = self._jumped(circuit, part, index, (first != before)[some])
        course = transient(circuit, start, until[some], self.accuracy)
        steps = len(course.t)
        t, nodes = np.zeros((steps, self.batch)), {}
        t[:, some] = course.t
        for node, v in volts.items():
            nodes[node] = np.repeat(v[None], steps, axis=0)
            nodes[node][:, some] = course.voltages.get(node, start[node])
        return Course(t, nodes, {}, course.iterations)

    def follow(self, volts, before, segments):
        """Return how the batch goes through segments.

        Parameters
        ----------
        volts : dict of str to ndarray, shape (batch,)
            Potentials to begin with [V].
        before : ndarray of bool, shape (batch,)
            Whether a circuit has been in the one state.
        segments : sequence of tuple of (ndarray of bool, ndarray), shape (batch,)
            Whether each circuit is in the one state, and for how long [s].

        Returns
        -------
        Trail
            The whole way.
        """
        passed, times, courses, ends = np.zeros(self.batch), [], [], []
        volts = {node: at[: self.batch] for node, at in self.rest.items()} | volts
        for first, until in segments:
            course = self.segment(volts, before, first, until)
            before = np.where(until > 0.0, first, before)
            times.append(passed + course.t)
            courses.append(course.voltages)
            ends.append(sum(len(t) for t in times) - 1)
            volts = {node: v[-1] for node, v in course.voltages.items()}
            passed = passed + until
        nodes = {node: np.concatenate([course[node] for course in courses]) for node in courses[0]}
        return Trail(np.concatenate(times), nodes, ends)

    def stored(self, voltages):
        """Return the charge of every store that is carried over, in the order of `stores`.

        Parameters
        ----------
        voltages : dict of str to ndarray, shape (steps, batch)
            Potentials [V].

        Returns
        -------
        ndarray, shape (stores, steps, batch)
            Charges [C].
        """
        half = [store.take(np.arange(self.batch)) for store in self.stores]
        return np.array([store.stored(voltages[store.a] - voltages[store.b])[0] for store in half])


@dataclass(frozen=True, slots=True)
class Steady:
    """The steady state of a batch that is switched over and over.

    Attributes
    ----------
    trail : Trail
        One period of it: the one state, then the other.
    astray : ndarray, shape (batch,)
        What the stores of a side hold more or less at the end than at the beginning, over the charge that was moved
        there; the larger of both sides [-].
    periods : int
        Periods that were followed [-].
    """

    trail: Trail
    astray: np.ndarray
    periods: int


def steady_state(switched, halves, start, tolerance, most):
    """Return the periodic steady state of circuits that are switched to and fro.

    Parameters
    ----------
    switched : Switched
        The circuits.
    halves : tuple of (ndarray, ndarray), shape (batch,)
        How long each stays in the one state, and in the other [s].
    start : dict of str to ndarray, shape (batch,)
        Potentials to begin with, of the other state [V].
    tolerance : float
        Charge by which a period may miss its beginning, over the charge that it moves [-].
    most : int
        Periods after which the state is taken as it is [-].

    Returns
    -------
    Steady
        The last period that was followed.

    Notes
    -----
    A period is a map of the potentials at its beginning to those at its end. Its fixed point is extrapolated from the
    last few periods, so that slow parts do not take as many periods as they have time constants.

    References
    ----------
    D. G. Anderson, "Iterative procedures for nonlinear integral equations", J. ACM 12(4), 1965. From memory.
    """
    one, other = np.ones(switched.batch, dtype=bool), np.zeros(switched.batch, dtype=bool)
    nodes, pasts = list(switched.rest), []
    volts = {node: v[: switched.batch] for node, v in switched.rest.items()} | start
    for periods in range(1, most + 1):
        trail = switched.follow(volts, other, [(one, halves[0]), (other, halves[1])])
        astray = _astray(switched, volts, trail)
        if (astray <= tolerance).all() or periods == most:
            break
        begun, ended = (np.array([v[node] for node in nodes]) for v in (volts, _last(trail)))
        pasts = [*pasts[1 - _DEPTH :], (_across(switched, ended) - _across(switched, begun), ended)]
        volts = dict(zip(nodes, _extrapolated(switched, pasts, trail, astray <= tolerance), strict=True))
    return Steady(trail, astray, periods)


def _last(trail):
    """Return the potentials at the end."""
    return {node: volts[-1] for node, volts in trail.voltages.items()}


def _astray(switched, begun, trail):
    """Return by how much the charge at the end misses that at the beginning, over what was moved, of the worse side."""
    q = switched.stored(trail.voltages)
    q_begun = switched.stored({node: volts[None] for node, volts in begun.items()})[:, 0]
    nodes = switched.netlist.nodes
    sides = np.array([nodes.get(s.a, nodes.get(s.b)) for s in switched.stores])
    found = np.zeros(switched.batch)
    for side in np.unique(sides):
        part = q[sides == side]
        moved = (part.max(axis=1) - part.min(axis=1)).max(axis=0)
        missed = np.abs(part[:, -1] - q_begun[sides == side]).max(axis=0)
        found = np.maximum(found, missed / np.maximum(moved, _STILL))
    return found


def _across(switched, volts):
    """Return the voltages that the stores lie at, shape (stores, batch)."""
    nodes = dict(zip(switched.rest, range(len(switched.rest)), strict=True))
    return np.array([volts[nodes[s.a]] - volts[nodes[s.b]] for s in switched.stores])


def _extrapolated(switched, pasts, trail, done):
    """Return where the potentials go, from the last periods: (nodes, batch)."""
    last = pasts[-1][1]
    if len(pasts) < 2:
        return last
    # The last few differences of misses and of ends, per member: (batch, stores, differences).
    misses = np.array([miss for miss, _ in pasts]).transpose(2, 1, 0)
    ends = np.array([end for _, end in pasts]).transpose(2, 1, 0)
    change, moved = np.diff(misses, axis=2), np.diff(ends, axis=2)
    across = change.transpose(0, 2, 1)
    normal, one = across @ change, np.eye(change.shape[2])
    normal = normal + (_FLAT * np.trace(normal, axis1=1, axis2=2) + 1e-30)[:, None, None] * one
    weights = np.linalg.solve(normal, across @ misses[:, :, -1:])
    step = -(moved @ weights)[:, :, 0].T
    return last + np.where(done, 0.0, _trusted(switched, step, last, trail)) * step


def _trusted(switched, step, last, trail):
    """Return which share of a step each member takes, shape (batch,).

    No store is led far beyond where it has been or rests in either state: charge goes with the exponential of voltage.
    """
    share, half = np.ones(switched.batch), switched.batch
    nodes = dict(zip(switched.rest, range(len(switched.rest)), strict=True))
    for store in switched.stores:
        a, b = nodes[store.a], nodes[store.b]
        ahead, now = step[a] - step[b], last[a] - last[b]
        rests = switched.rest[store.a] - switched.rest[store.b]
        been = np.vstack([trail.voltages[store.a] - trail.voltages[store.b], rests[:half], rests[half:]])
        high, low = been.max(axis=0) + _BEYOND, been.min(axis=0) - _BEYOND
        with np.errstate(divide="ignore", invalid="ignore"):
            room = np.where(ahead > 0.0, (high - now) / ahead, np.where(ahead < 0.0, (low - now) / ahead, 1.0))
        share = np.minimum(share, room)
    return np.clip(share, 0.0, 1.0)
