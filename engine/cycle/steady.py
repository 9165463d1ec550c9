"""The periodic steady state of capacitors: every instant of one period solved at once.

Running a circuit until it repeats takes as many cycles as its slowest time constant asks for. Here the period is
closed from the start: the last instant stands before the first, and Newton's method finds all instants together,
over a whole batch.
"""

import numpy as np
from scipy.linalg import solve_banded

from engine.errors import ConvergenceError

_MOST_ITERATIONS = 80
_ENOUGH = 1e-9  # [-], current left over, relative to the largest one that flows
_FLOOR = 1e-15  # [A], current left over that is as good as none
_EPSILON = 4e-15  # [-], rounding error of a difference of voltages, through three of them
_ACCEPTED = 1e-6  # [-], what is accepted when rounding ends the iteration
_UNDAMPED = 40  # iterations in which whole steps are taken
_HALVINGS = 12  # times that a Newton step may be halved afterwards


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
    may grow meanwhile; only after many of them is a step halved that does not bring it down, for each member alone.

    References
    ----------
    C. W. Gear, Numerical Initial Value Problems in Ordinary Differential Equations, 1971 (the formula; from memory);
    the closed period derived here.
    """
    weights = capacities / (2.0 * step[:, None])
    x, everyone = start.copy(), np.arange(len(start))
    left, size, slopes = _residual(rates, weights, x, everyone)
    active = everyone
    for iteration in range(1, _MOST_ITERATIONS + 1):
        norm = np.abs(left).max(axis=(1, 2))
        busy = norm > _FLOOR + _ENOUGH * size + _rounding(weights, x)[active]
        active, left, size, slopes, norm = (a[busy] for a in (active, left, size, slopes, norm))
        if not len(active):
            return x, iteration - 1
        change = -_solved(weights[active], slopes, left)
        halvings = _HALVINGS if iteration > _UNDAMPED else 0
        kept = _stepped(rates, weights[active], (x[active], change, norm), (active, halvings))
        x[active], left, size, slopes, stuck = kept
        if halvings and stuck.all():
            break
    norm = np.abs(left).max(axis=(1, 2))
    bad = ~(norm <= _FLOOR + _ACCEPTED * size + 10.0 * _rounding(weights, x)[active])
    if bad.any():
        raise ConvergenceError(iteration, float(norm[bad].max()), "a capacitor over the cycle")
    return x, iteration


def _rounding(weights, x):
    """Return what double precision leaves of the current into the capacitors of each member [A]."""
    return _EPSILON * (weights[:, None, :] * np.abs(x)).max(axis=(1, 2))


def _residual(rates, weights, x, members):
    """Return what the current law leaves over, the largest current of each member, and the slopes."""
    current, slopes = rates(x, members)
    stored = weights[:, None, :] * (3.0 * x - 4.0 * np.roll(x, 1, axis=1) + np.roll(x, 2, axis=1))
    return stored - current, np.abs(current).max(axis=(1, 2)), slopes


def _stepped(rates, weights, newton, members):
    """Return the voltages after a step, halved while it leaves more over than before, with what belongs to them."""
    (x, change, norm), (indices, halvings) = newton, members
    share = np.ones(len(x))
    for halving in range(halvings + 1):
        trial = x + share[:, None, None] * change
        left, size, slopes = _residual(rates, weights, trial, indices)
        worse = ~(np.abs(left).max(axis=(1, 2)) < norm)
        if halving == halvings or not worse.any():
            return trial, left, size, slopes, worse
        share = np.where(worse, share / 2.0, share)


def _solved(weights, slopes, right):
    """Return the solution of the linear equations of one Newton step.

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
        band[above, :, :, column] += 3.0 * weights[:, None, column]
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
