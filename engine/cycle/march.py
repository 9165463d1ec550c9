"""An LED's loop from the instant at which its line is switched: marched cycle by cycle, not closed over the period.

The same equations and the same implicit steps as those of the steady state, which the march runs into.
"""

import numpy as np
from scipy.linalg import solve_banded

from engine.cycle.loop import light, rates_in
from engine.cycle.steady import converged
from engine.cycle.waveform import phases
from engine.errors import ConvergenceError

_SHORTEST = 8  # [-], instants that are not found in parts any more
_FIRST = 2  # [-], steps of the first order after a switch, whose jump a formula over two steps would carry on


def march(rates, capacities, before, guess, step, fresh):
    """Return the voltages of capacitors over a stretch of time that begins with given ones.

    Parameters
    ----------
    rates : callable
        As that of `steady.periodic`.
    capacities : ndarray, shape (batch, states)
        Capacitances [F].
    before : ndarray, shape (batch, 2, states)
        Voltages at the two instants before the first, the later one last [V].
    guess : ndarray, shape (batch, time, states)
        Voltages to begin with [V].
    step : ndarray, shape (batch,)
        Time from one instant to the next [s].
    fresh : bool
        Whether something was switched at the last instant before.

    Returns
    -------
    ndarray, shape (batch, time, states)
        Voltages [V].

    Raises
    ------
    ConvergenceError
        If a member is left without a solution, which is a defect.

    Notes
    -----
    The second backward difference formula, as in `steady.periodic`; after a switch the first one for two steps. All
    instants are found together by Newton's method, so that a batch costs few calls.
    """
    try:
        return _at_once(rates, capacities / (2.0 * step[:, None]), before, guess, fresh)
    except ConvergenceError:
        if guess.shape[1] < _SHORTEST:
            raise
    # Few instants at a time are found where many together run in circles.
    time, found = guess.shape[1], []
    half = time // 2
    for part in (slice(0, half), slice(half, None)):
        some = np.repeat(before[:, -1:], guess[:, part].shape[1], axis=1)
        x = march(_within(rates, time, part), capacities, before, some, step, fresh and not found)
        found.append(x)
        before = x[:, -2:]
    return np.concatenate(found, axis=1)


def _within(rates, time, part):
    """Return the rates at some of the instants."""

    def some(x, members):
        whole = np.zeros((len(x), time, x.shape[2]))
        whole[:, part] = x
        currents, slopes = rates(whole, members)
        return currents[:, part], slopes[:, part]

    return some


def _at_once(rates, weights, before, guess, fresh):
    """Return the voltages at all instants, found together."""
    time = guess.shape[1]
    a = np.tile(np.array([[3.0], [-4.0], [1.0]]), (1, time))
    if fresh:
        a[:, :_FIRST] = np.array([[2.0], [-2.0], [0.0]])

    def left_over(x, members):
        current, slopes = rates(x, members)
        whole = np.concatenate([before[members], x], axis=1)
        sums = a[0][:, None] * x + a[1][:, None] * whole[:, 1:-1] + a[2][:, None] * whole[:, :-2]
        return weights[members][:, None, :] * sums - current, np.abs(current).max(axis=(1, 2)), slopes

    def correction(slopes, left, held, members):
        return _solved(weights[members], a, slopes, left, held)

    return converged(left_over, correction, guess, weights)[0]


def _solved(weights, a, slopes, right, held):
    """Return the solution of the linear equations of one Newton step: a band, each member by itself."""
    batch, time, states = right.shape
    below, above, rows = 2 * states, states - 1, right.size
    band = np.zeros((below + above + 1, batch, time, states))
    for column in range(states):
        w = weights[:, None, column]
        for row in range(states):
            band[above + row - column, :, :, column] -= slopes[:, :, row, column]
        band[above, :, :, column] += a[0] * w + held[:, None]
        band[above + states, :, :-1, column] += a[1, 1:] * w
        band[above + 2 * states, :, :-2, column] += a[2, 2:] * w
    return solve_banded(
        (below, above), band.reshape(below + above + 1, rows), right.reshape(rows),
        overwrite_ab=True, check_finite=False,
    ).reshape(batch, time, states)  # fmt: skip


def after_switching(loop, phase, start, instants):
    """Yield one cycle of the line after the other, from the instant at which a loop is switched.

    Parameters
    ----------
    loop : AcLoop
        The loops as they are from then on.
    phase : ndarray, shape (batch,)
        Where in its cycle the line is switched, as a share of the period from its rising zero crossing on [-].
    start : ndarray, shape (batch, states)
        Voltages of the capacitors at that instant, CD before CS [V].
    instants : int
        Instants per cycle [-].

    Yields
    ------
    x : ndarray, shape (batch, instants, states)
        Voltages of the capacitors from one step after the beginning of the cycle on [V].
    IF : ndarray, shape (batch, instants)
        Current through an LED that gives light [A].

    Raises
    ------
    ConvergenceError
        If the march fails, which is a defect.

    References
    ----------
    Derived here.
    """
    turns = phase[:, None] + phases(instants) + 1.0 / instants
    v = loop.crest[:, None] * np.sin(2.0 * np.pi * turns)
    if not loop.capacities.shape[1]:
        IF = light(loop, v, np.zeros((*v.shape, 0)))
        while True:
            yield np.zeros((*v.shape, 0)), IF
    rates, step = rates_in(loop, v), 1.0 / (loop.f * instants)
    before = np.repeat(start[:, None, :], 2, axis=1)
    guess, fresh = np.repeat(start[:, None, :], instants, axis=1), True
    while True:
        x = march(rates, loop.capacities, before, guess, step, fresh)
        yield x, light(loop, v, x)
        guess, fresh = x + (x[:, -1:] - before[:, -1:]), False
        before = x[:, -2:]
