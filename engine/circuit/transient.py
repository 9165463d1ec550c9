"""Circuits over time: implicit integration that conserves charge, every member of a batch at its own pace.

The equations are those of `engine.circuit.dc` with the currents of what is stored beside them. Charge, not voltage, is
what is differenced, so none is lost however long the steps are.
"""

from dataclasses import dataclass

import numpy as np

from engine.circuit.dc import LinearPart, evaluate
from engine.circuit.stores import Coil, together
from engine.devices import limited_step
from engine.errors import ConvergenceError

MOST_STEPS = 4000
"""Steps after which an integration is given up, which is a defect."""

_MOST_NEWTON, _MOST_AT_FIRST = 12, 200  # iterations of one step, of the first one
_WHOLE = 4  # iterations of one step that pass where a curve turns; those that are left go round there, and stop on it
_MOST_WORK = 12_000  # iterations after which an integration is given up: some seconds
_CLOSE = 0.02  # [-], share of the allowed error that an iteration may leave
_NEAR, _LINEAR = (
    1.0,
    0.15,
)  # [-], error left after squaring over the allowed one; voltage over which a curve is straight
_FIRST = 1e-9  # [s], first step, unless the span asks for a shorter one
_SHORTEST = 1e-15  # [s], step that is taken whatever its error
_GROW, _SHRINK, _STUCK = 2.5, 0.2, 0.25  # [-], most and least change of a step; after an iteration that fails
_SAFETY = 0.85  # [-], how far below the allowed error is aimed
_LEFT_OVER = np.array((0.5, 1.0 / 3.0, 2.0 / 11.0))  # [-], error over a corrector's difference, by steps taken
_EASED = 1e-6  # [-], error below which a step grows no faster


@dataclass(frozen=True, slots=True)
class Course:
    """How a batch went over time; every member at times of its own, repeated where it waited for others.

    Attributes
    ----------
    t : ndarray, shape (steps, batch)
        Time, from 0 on [s].
    voltages : dict of str to ndarray, shape (steps, batch)
        Potential of every node that is solved for against the reference of its side [V].
    coils : dict of str to ndarray, shape (steps, batch)
        Current of every coil, by part [A].
    iterations : int
        Newton iterations in all [-].
    """

    t: np.ndarray
    voltages: dict
    coils: dict
    iterations: int


class _Stored:
    """What the circuit stores, and how it meets the nodes."""

    def __init__(self, netlist, system):
        shape = system.topology
        self.n, self.batch = len(shape.free), netlist.batch
        charges = [store for store in netlist.stores if not isinstance(store, Coil)]
        self.coils = [store for store in netlist.stores if isinstance(store, Coil)]
        self.groups = together(charges)
        self.pairs, self.windings = (self._incidence(of, shape.nodes) for of in (charges, self.coils))
        self.free, self.free_coils = self.pairs[:, : self.n], self.windings[:, : self.n]
        self.outer, self.turns = _outer(self.free), _outer(self.free_coils)
        # A junction's charge follows the control voltage that its current is limited by.
        control = [
            next((k for k, row in enumerate(shape.controls) if np.array_equal(row, pair)), -1) for pair in self.pairs
        ]
        self.tied = [k for k, control in enumerate(control) if control >= 0]
        self.tied_to = [control for control in control if control >= 0]
        self.hold(system.held)

    def hold(self, held):
        """Let the sources hold their nodes at other potentials."""
        self.held = held @ self.pairs[:, self.n :].T
        self.held_coils = held @ self.windings[:, self.n :].T

    @staticmethod
    def _incidence(stores, nodes):
        rows = np.zeros((len(stores), len(nodes)))
        for row, store in zip(rows, stores, strict=True):
            row[nodes.index(store.a)] += 1.0
            row[nodes.index(store.b)] -= 1.0
        return rows

    def across(self, x, controls):
        """Return the voltages that charges lie at: those of their controls where they have one."""
        volts = x @ self.free.T + self.held
        volts[:, self.tied] = controls[:, self.tied_to]
        return volts

    def charge(self, volts):
        """Return charges and capacitances, shape (batch, stores)."""
        q, c = np.empty_like(volts), np.empty_like(volts)
        for columns, stores in self.groups:
            q[:, columns], c[:, columns] = stores.stored(volts[:, columns])
        return q, c

    def flux(self):
        """Return flux to begin with, inductances and resistances of the windings, shape (batch, coils)."""
        if not self.coils:
            return (np.zeros((self.batch, 0)),) * 3
        L, R, start = (np.stack([getattr(coil, name) for coil in self.coils], axis=1) for name in ("L", "R", "start"))
        return L * start, L, R


def _outer(rows):
    """Return the outer product of every row with itself, flattened."""
    return np.einsum("ki,kj->kij", rows, rows).reshape(len(rows), rows.shape[1] ** 2)


class _Course:
    """One integration on its way."""

    def __init__(self, netlist, start, accuracy, sources):
        self.system = system = LinearPart(netlist)
        self.shape, self.devices, self.batch = system.topology, netlist.devices, netlist.batch
        self.n = len(self.shape.free)
        self.stored = _Stored(netlist, system)
        self.into_controls, self.branches = self.shape.controls[:, : self.n].T, self.shape.branches[:, : self.n]
        limits = [device.limits() for device in self.devices] or [(np.zeros((self.batch, 0)),) * 2]
        self.scale, self.knee = (np.concatenate(arrays, axis=1) for arrays in zip(*limits, strict=True))
        self.turning = np.array([turns for device in self.devices for turns in device.turning], dtype=bool)
        turns = [getattr(device, "turns_at", np.zeros_like(device.start())) for device in self.devices]
        self.turn = np.concatenate([np.zeros((self.batch, 0)), *turns], axis=1)
        span = np.maximum(np.abs(system.held).max(axis=1, initial=0.0), 1.0)
        self.allowed = accuracy * span[:, None]
        # An iteration squares what is off, in voltages over which currents grow e-fold.
        squared = np.minimum(np.sqrt(2.0 * _NEAR * self.allowed * self.scale), _LINEAR * self.scale)
        self.close = np.maximum(_CLOSE * self.allowed, squared)
        self.x = np.stack([np.broadcast_to(start[node], (self.batch,)) for node in self.shape.free], axis=1).astype(
            float
        )
        self.before, self.earlier = self.x.copy(), self.x.copy()
        self.Q = self._charge_at(self.x) @ self.stored.free
        self.Q_before = self.Q.copy()
        self.flux, self.L, self.R = self.stored.flux()
        self.flux_before = self.flux.copy()
        self.age = np.zeros(self.batch, dtype=int)
        self.iterations = 0

        self.sources = [(k, sources[part]) for k, part in enumerate(netlist.sources) if part in (sources or {})]

    def hold(self, t):
        """Let sources that change with time hold their nodes where they have them at a time."""
        if self.sources:
            held = self.system.held.copy()
            for k, source in self.sources:
                held[:, k] = source(t)
            self.system.hold(held)
            self.stored.hold(held)

    @property
    def windings(self):
        """Return the current of every coil, shape (batch, coils)."""
        return self.flux / self.L

    def _controls(self, x):
        return x @ self.into_controls + self.system.held_controls

    def _charge_at(self, x):
        return self.stored.charge(self.stored.across(x, self._controls(x)))[0]

    def extrapolated(self, h, steps):
        """Return where the last three points lead, and what of that a corrector's difference leaves as error [-]."""
        last, before = steps
        rise = (self.x - self.before) / last[:, None]
        bend = (rise - (self.before - self.earlier) / before[:, None]) / (last + before)[:, None]
        found = self.x + np.where((self.age > 0)[:, None], rise * h[:, None], 0.0)
        found += np.where((self.age > 1)[:, None], bend * (h * (h + last))[:, None], 0.0)
        return found, _LEFT_OVER[np.minimum(self.age, 2)]

    def corrected(self, guess, h, last, idle):
        """Return the voltages a step later by Newton's method, whether they were found, charge at nodes and flux there.

        The second backward difference for unequal steps, the first one for the first step.
        """
        w = np.where(self.age > 0, h / last, 0.0)
        a0, a2 = (1.0 + 2.0 * w) / (1.0 + w), w * w / (1.0 + w)
        a1, per = -(a0 + a2), a0 / h
        history = (a1[:, None] * self.Q + a2[:, None] * self.Q_before) / h[:, None]
        past = a1[:, None] * self.flux + a2[:, None] * self.flux_before
        G = 1.0 / (per[:, None] * self.L + self.R)  # of every coil, and beside it a current
        kept = -past / h[:, None] * G
        system, stored, n = self.system, self.stored, self.n
        linear = system.linear + (G @ stored.turns).reshape(self.batch, n, n)
        drive = system.drive - (kept + G * stored.held_coils) @ stored.free_coils - history
        # What jumped may begin with a junction far above its knee, from where iterations would come down bit by bit.
        here = self._controls(self.x)
        here = np.where((self.age > 0)[:, None], here, np.minimum(here, self.knee))
        v = limited_step(self._controls(guess), here, self.scale, self.knee)
        x, found = guess, idle
        # At first what stores nothing jumps to where the other state has it.
        for iteration in range(_MOST_NEWTON if self.age.all() else _MOST_AT_FIRST):
            self.iterations += 1
            currents, slopes = evaluate(self.shape, self.devices, v)
            volts = stored.across(x, v)
            q, c = stored.charge(volts)
            C = per[:, None] * c
            added = slopes @ self.shape.slot_into_matrix + C @ stored.outer
            along = (slopes * (v - system.held_controls)[:, self.shape.control_of_slot]) @ self.shape.slot_into_nodes
            along += (C * (volts - stored.held) - per[:, None] * q) @ stored.free
            source = drive - currents @ self.branches + along
            x = np.linalg.solve(linear + added.reshape(self.batch, n, n), source[:, :, None])[:, :, 0]
            reached = self._controls(x)
            found = idle | (np.abs(reached - v) <= self.close).all(axis=1)
            if found.all():
                break
            before, v = v, limited_step(reached, v, self.scale, self.knee)
            if iteration >= _WHOLE:
                v = np.where(self.turning & ((v - self.turn) * (before - self.turn) < 0.0), self.turn, v)
        # The charge that the equations were solved with, so that none is lost.
        Q = (q + c * (stored.across(x, reached) - volts)) @ stored.free
        flux = self.L * ((x @ stored.free_coils.T + stored.held_coils) * G + kept)
        return x, found, Q, flux

    def advance(self, which, x, Q, flux):
        """Take a step for some members."""
        row = which[:, None]
        self.earlier, self.before = np.where(row, self.before, self.earlier), np.where(row, self.x, self.before)
        self.x = np.where(row, x, self.x)
        self.Q_before = np.where(row, self.Q, self.Q_before)
        self.Q = np.where(row, Q, self.Q)
        self.flux_before, self.flux = np.where(row, self.flux, self.flux_before), np.where(row, flux, self.flux)
        self.age = self.age + which


def transient(netlist, start, until, accuracy=1e-3, sources=None, longest=np.inf):
    """Return how a batch of circuits goes on from voltages that are known.

    Parameters
    ----------
    netlist : Netlist
        The circuits, with what they store.
    start : dict of str to ndarray, shape (batch,)
        Potential of every node to begin with; those of a `Solution` will do [V].
    until : ndarray, shape (batch,)
        When each of them ends [s].
    accuracy : float
        Error that a step may make, as a share of the largest source [-].
    sources : dict of str to callable, or None
        Part to the potential of a source that changes, from time, shape (batch,); the others stay [s to V].
    longest : float or ndarray, shape (batch,)
        Longest step, so that no change of a source is missed [s].

    Returns
    -------
    Course
        Times and voltages, the beginning first.

    Raises
    ------
    ConvergenceError
        If a member does not reach its end, which is a defect.

    Notes
    -----
    Second backward difference of charge and flux with steps of unequal length; the difference from the parabola
    through the last three points tells the error of a step. Every member goes at its own pace.

    References
    ----------
    C. W. Gear, "Simultaneous numerical solution of differential-algebraic equations", IEEE Trans. Circuit Theory
    18(1), 1971. From memory.
    """
    course = _Course(netlist, start, accuracy, sources)
    t, done = np.zeros(netlist.batch), until <= 0.0
    h = np.minimum(_FIRST, 1e-4 * until)
    last, before = h.copy(), h.copy()
    times, points, windings = [t], [course.x], [course.windings]
    for _ in range(MOST_STEPS):
        if done.all() or course.iterations > _MOST_WORK:
            break
        h = np.where(done, last, np.minimum(np.minimum(h, longest), until - t))
        course.hold(t + h)
        guess, left = course.extrapolated(h, (last, before))
        x, found, Q, flux = course.corrected(guess, h, last, done)
        error = left * (np.abs(x - guess) / course.allowed).max(axis=1)
        if (~found & (h <= _SHORTEST)).any():
            break  # a shorter step there is none, and the same one would fail again
        taken = found & ((error <= 1.0) | (course.age < 1) | (h <= _SHORTEST)) & ~done
        course.advance(taken, x, Q, flux)
        t = np.where(taken, t + h, t)
        before, last = np.where(taken, last, before), np.where(taken, h, last)
        done = done | (t >= until * (1.0 - 1e-12))
        change = _SAFETY * np.maximum(error, _EASED) ** np.where(course.age > 2, -1.0 / 3.0, -0.5)
        h = np.maximum(h * np.where(found, np.clip(change, _SHRINK, _GROW), _STUCK), _SHORTEST)
        times.append(t)
        points.append(course.x)
        windings.append(course.windings)
    if not done.all():
        raise ConvergenceError(len(times), float(t[~done].min()), "time")
    points, windings = np.array(points), np.array(windings)
    voltages = {node: points[:, :, k] for k, node in enumerate(course.shape.free)}
    coils = {coil.part: windings[:, :, k] for k, coil in enumerate(course.stored.coils)}
    return Course(np.array(times), voltages, coils, course.iterations)
