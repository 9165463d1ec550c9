"""The periodic steady state of capacitors: every instant of one period solved at once.

Running a circuit until it repeats takes as many cycles as its slowest time constant asks for. Here the period is
closed from the start: the last instant stands before the first, and Newton's method finds all instants together,
over a whole batch.
"""

import numpy as np
from scipy.linalg import solve_banded

from engine.errors import ConvergenceError

_MOST_ITERATIONS = 300
_ENOUGH = 1e-9  # [-], current left over, relative to the largest one that flows
_FLOOR = 1e-15  # [A], current left over that is as good as none
_LEFT = 1e-12  # [A], current left over that is always accepted in the end
_EPSILON = 4e-15  # [-], rounding error of a difference of voltages, through three of them
_ACCEPTED = 1e-6  # [-], what is accepted of the few that take long
_WHOLE = 40  # iterations with whole steps, before what is left is held back
_STRIDE = 0.1  # [V], how far the largest current may move a voltage to begin with then
_WORTH, _POOR, _GOOD = 1e-3, 0.25, 0.75  # [-], of what a step promises: to be taken at all, to hold more, or less
_TIGHTER, _LOOSER = 8.0, 0.25  # [-], by which a hold changes
_NOT_HELD = 1e-9  # [-], of the first hold, below which it falls no further


def periodic(rates, capacities, start, step):
    """Return the voltages of capacitors over one period that repeats.

    Parameters
    ----------
    rates : callable
        From voltages of shape (batch, time, states) and the indices of the members they belong to, the currents
        into the capacitors, the same shape, and their derivatives by the voltages at the same instant, shape
        (batch, time, states, states).
    capacities : ndarray, shape (batch, states)
        Capacitances [F].
    start : ndarray, shape (batch, time, states)
        Voltages to begin with [V].
    step : ndarray, shape (batch,)
        Time from one instant to the next [s].

    Returns
    -------
    voltages : ndarray, shape (batch, time, states)
        Voltages of the steady state [V].
    iterations : int
        Newton iterations of the slowest member [-].

    Raises
    ------
    ConvergenceError
        If a member is left without a solution; passive circuits have one, so this is a defect.

    Notes
    -----
    C (3 v(k) - 4 v(k-1) + v(k-2)) / (2 h) = i(v(k)), the second backward difference formula. It is stiffly stable,
    so a time constant far below the step does no harm, and with the period closed it needs no other formula to
    begin with. Its sum over the period vanishes: the charge of a capacitor balances exactly. The currents are nearly
    straight on both sides of a knee, so Newton's whole steps find the sides in a few iterations, though the residual
    may grow meanwhile. The few members that run in circles go on with every voltage tied to its last value by a
    conductance: implicit integration in a pseudo-time towards the steady state. A step is taken then only where less
    is left over, and the conductance follows from how far the step keeps what the straight lines promise. More
    current flows into no capacitor at a higher voltage, and the formula takes energy from no waveform, so a step that
    is held enough always leaves less.

    References
    ----------
    C. W. Gear, Numerical Initial Value Problems in Ordinary Differential Equations, 1971 (the formula; from memory);
    the closed period derived here.
    """
    weights = capacities / (2.0 * step[:, None])

    def left_over(x, members):
        return _residual(rates, weights[members], x, members)

    def correction(slopes, left, held, members):
        return _solved(weights[members], slopes, left, held)

    return converged(left_over, correction, start, weights)


def converged(left_over, correction, start, weights):
    """Return the voltages at which nothing is left over of the current law, at all instants of a stretch of time.

    Parameters
    ----------
    left_over : callable
        From voltages of shape (batch, time, states) and the indices of the members they belong to, what the current
        law leaves over, the same shape, the largest current of each member, and the slopes of the currents.
    correction : callable
        From slopes, what is left over, a conductance that holds each member back and the members, the Newton step.
    start : ndarray, shape (batch, time, states)
        Voltages to begin with [V].
    weights : ndarray, shape (batch, states)
        Capacitance over twice the step [S].

    Returns
    -------
    voltages : ndarray, shape (batch, time, states)
        The solution [V].
    iterations : int
        Newton iterations of the slowest member [-].

    Raises
    ------
    ConvergenceError
        If a member is left without a solution.
    """
    x, active = start.copy(), np.arange(len(start))
    left, size, slopes = left_over(x, active)
    hold = np.zeros(len(start))
    for iteration in range(1, _MOST_ITERATIONS + 1):
        norm = np.abs(left).max(axis=(1, 2))
        enough = _ENOUGH if iteration < _WHOLE else _ACCEPTED
        busy = norm > _FLOOR + enough * size + _rounding(weights, x)[active]
        active, left, size, slopes = (a[busy] for a in (active, left, size, slopes))
        if not len(active):
            return x, iteration - 1
        if iteration == _WHOLE:
            hold[active] = size / _STRIDE
            least = _NOT_HELD * hold
        change = correction(slopes, left, hold[active], active)
        found = left_over(x[active] - change, active)
        taken = np.ones(len(active), dtype=bool)
        if iteration >= _WHOLE:
            kept = _promise_kept(left, found[0], hold[active, None, None] * change)
            taken = kept > _WORTH
            hold[active] *= np.select([kept < _POOR, kept > _GOOD], [_TIGHTER, _LOOSER], 1.0)
            np.maximum(hold, least, out=hold)
        x[active[taken]] -= change[taken]
        for now, then in zip((left, size, slopes), found, strict=True):
            now[taken] = then[taken]
    norm = np.abs(left).max(axis=(1, 2))
    bad = ~(norm <= _LEFT + _ACCEPTED * size + 10.0 * _rounding(weights, x)[active])
    if bad.any():
        raise ConvergenceError(iteration, float(norm[bad].max()), "a capacitor over the cycle")
    return x, iteration


def _promise_kept(before, after, promised):
    """Return how much less a step leaves over, beside what it would if all were straight, of each member."""
    was, became, meant = (np.linalg.norm(left.reshape(len(left), -1), axis=1) for left in (before, after, promised))
    return (was - became) / np.maximum(was - meant, np.finfo(float).tiny)


def _rounding(weights, x):
    """Return what double precision leaves of the current into the capacitors of each member [A]."""
    return _EPSILON * (weights[:, None, :] * np.abs(x)).max(axis=(1, 2))


def _residual(rates, weights, x, members):
    """Return what the current law leaves over, the largest current of each member, and the slopes."""
    current, slopes = rates(x, members)
    stored = weights[:, None, :] * (3.0 * x - 4.0 * np.roll(x, 1, axis=1) + np.roll(x, 2, axis=1))
    return stored - current, np.abs(current).max(axis=(1, 2)), slopes


def _solved(weights, slopes, right, held):
    """Return the solution of the linear equations of one Newton step, with a conductance that holds it back.

    The matrix is banded but for the two instants before the first. Those are carried along as unknowns of their
    own: one banded solution for the right side, one for each of them, and a small system that closes the period.
    """
    batch, time, states = right.shape
    below, above = 2 * states, states - 1
    rows = batch * time * states
    band = np.zeros((below + above + 1, batch, time, states))
    for column in range(states):
        for row in range(states):
            band[above + row - column, :, :, column] -= slopes[:, :, row, column]
        band[above, :, :, column] += 3.0 * weights[:, None, column] + held[:, None]
        band[above + states, :, :-1, column] -= 4.0 * weights[:, None, column]
        band[above + 2 * states, :, :-2, column] += weights[:, None, column]
    columns = np.zeros((batch, time, states, 1 + 2 * states))
    columns[..., 0] = right
    for state in range(states):
        columns[:, 0, state, 1 + state] = 4.0 * weights[:, state]
        columns[:, 1, state, 1 + state] = -weights[:, state]
        columns[:, 0, state, 1 + states + state] = -weights[:, state]
    flat = solve_banded(
        (below, above), band.reshape(below + above + 1, rows), columns.reshape(rows, -1),
        overwrite_ab=True, overwrite_b=True, check_finite=False,
    ).reshape(batch, time, states, -1)  # fmt: skip
    ends = np.concatenate([flat[:, -1], flat[:, -2]], axis=1)
    closing = np.eye(2 * states) - ends[:, :, 1:]
    before = np.linalg.solve(closing, ends[:, :, :1])
    return flat[..., 0] + (flat[..., 1:] @ before[:, None])[..., 0]
