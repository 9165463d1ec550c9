"""Figures of a waveform that repeats: average, rms, peak, ripple, the share of the cycle above a level.

Waveforms are arrays whose last axis is the time, evenly spaced over one period without repeating the first instant.
No circuit here.
"""

from dataclasses import dataclass

import numpy as np


def phases(instants):
    """Return evenly spaced instants of one period.

    Parameters
    ----------
    instants : int
        How many; a multiple of four puts both crests and both zero crossings of a sine among them [-].

    Returns
    -------
    ndarray, shape (instants,)
        Shares of the period, from 0 up to but not including 1 [-].
    """
    return np.arange(instants) / instants


def average(x):
    """Return the average over the period.

    Parameters
    ----------
    x : ndarray, shape (..., time)
        Waveform [any].

    Returns
    -------
    ndarray, shape (...)
        Average, in the unit of `x` [any].

    Notes
    -----
    Over a whole period the plain mean is the trapezoidal rule, exact for every harmonic below the number of instants.
    """
    return x.mean(axis=-1)


def rms(x):
    """Return the root of the mean square.

    Parameters
    ----------
    x : ndarray, shape (..., time)
        Waveform [any].

    Returns
    -------
    ndarray, shape (...)
        Effective value, in the unit of `x` [any].
    """
    return np.sqrt(np.mean(x * x, axis=-1))


def peak(x):
    """Return the largest magnitude.

    Parameters
    ----------
    x : ndarray, shape (..., time)
        Waveform [any].

    Returns
    -------
    ndarray, shape (...)
        Peak, in the unit of `x` [any].
    """
    return np.abs(x).max(axis=-1)


def ripple(x):
    """Return the distance from the lowest to the highest value.

    Parameters
    ----------
    x : ndarray, shape (..., time)
        Waveform [any].

    Returns
    -------
    ndarray, shape (...)
        Peak-to-peak value, in the unit of `x` [any].
    """
    return np.ptp(x, axis=-1)


def share_above(x, level):
    """Return the share of the period that a waveform spends above a level.

    Parameters
    ----------
    x : ndarray, shape (..., time)
        Waveform [any].
    level : float or ndarray, shape (...)
        Level, in the unit of `x` [any].

    Returns
    -------
    ndarray, shape (...)
        Share from 0 to 1; times 360 degrees it is the conduction angle of the whole cycle [-].

    Notes
    -----
    Between two instants the waveform is taken as straight.
    """
    here = x - np.asarray(level)[..., None]
    there = np.roll(here, -1, axis=-1)
    high, low = np.maximum(here, there), np.minimum(here, there)
    crossing = (high > 0.0) & (low < 0.0)
    part = np.where(crossing, high / np.where(crossing, high - low, 1.0), high > 0.0)
    return part.mean(axis=-1)


@dataclass(frozen=True, slots=True)
class Stretch:
    """A part of the period during which a waveform stays on one side of a level.

    Attributes
    ----------
    start : float
        Where it begins, as a share of the period from 0 to 1 [-].
    width : float
        How long it is, as a share of the period [-].
    """

    start: float
    width: float

    @property
    def middle(self):
        """Return its middle, as a share of the period from 0 to 1."""
        return (self.start + self.width / 2) % 1.0


def crossings(x, level):
    """Return where one waveform crosses a level.

    Parameters
    ----------
    x : ndarray, shape (time,)
        Waveform [any].
    level : float
        Level, in the unit of `x` [any].

    Returns
    -------
    rising : ndarray
        Shares of the period at which it rises through the level, in order [-].
    falling : ndarray
        Shares of the period at which it falls through the level, in order [-].
    """
    here = x - level
    there = np.roll(here, -1)
    found = []
    for before, after in ((here, there), (-here, -there)):
        at = np.flatnonzero((before <= 0.0) & (after > 0.0))
        found.append((at + before[at] / (before[at] - after[at])) / len(x))
    return found[0], found[1]


def stretches_below(x, level):
    """Return the parts of the period during which one waveform is not above a level.

    Parameters
    ----------
    x : ndarray, shape (time,)
        Waveform [any].
    level : float
        Level, in the unit of `x` [any].

    Returns
    -------
    tuple of Stretch
        In the order of their beginnings; one of width 1 when it never is above, none when it always is.
    """
    rising, falling = crossings(x, level)
    if not len(rising):
        return () if x[0] > level else (Stretch(0.0, 1.0),)
    ends = rising[np.searchsorted(rising, falling, side="left") % len(rising)]
    return tuple(Stretch(float(s), float((e - s) % 1.0)) for s, e in zip(falling, ends, strict=True))
