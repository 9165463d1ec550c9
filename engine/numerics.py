"""Numerical tools that know arrays only: shape-preserving curves.

No circuit, no text. Many curves are made at once, as making one takes longer than reading it.
"""

import numpy as np


def monotone_cubics(x, y):
    """Return the cubics of curves through given points that keep their shape.

    Parameters
    ----------
    x : ndarray, shape (..., points)
        Abscissae, rising, at least two [-].
    y : ndarray, shape (..., points)
        Ordinates; one row of `x` may be that of many curves [-].

    Returns
    -------
    ndarray, shape (4, ..., points - 1)
        Coefficients of the third power of the way from the beginning of each interval, of the second, the first and
        none [-].

    References
    ----------
    F. N. Fritsch and J. Butland, "A method for constructing local monotone piecewise cubic interpolants",
    SIAM J. Sci. Stat. Comput. 5(2), 1984. At the ends the slope of the parabola through three points, kept from
    overshooting: common practice, no source.
    """
    return hermite_cubics(x, y, _monotone_slopes(x, y))


def hermite_cubics(x, y, slopes):
    """Return the cubics through given points with given slopes.

    Parameters
    ----------
    x : ndarray, shape (..., points)
        Abscissae, rising [-].
    y : ndarray, shape (..., points)
        Ordinates [-].
    slopes : ndarray, shape (..., points)
        Slopes [-].

    Returns
    -------
    ndarray, shape (4, ..., points - 1)
        As of `monotone_cubics` [-].
    """
    h = np.diff(x)
    chords, begin, end = np.diff(y) / h, slopes[..., :-1], slopes[..., 1:]
    bend = (begin + end - 2.0 * chords) / h
    return np.stack([bend / h, (chords - begin) / h - bend, begin, y[..., :-1]])


def refined(x, y, parts):
    """Return curves through given points that keep their shape, at more abscissae.

    Parameters
    ----------
    x : ndarray, shape (..., points)
        Abscissae, rising, at least two [-].
    y : ndarray, shape (..., points)
        Ordinates [-].
    parts : int
        Into how many equal ones each interval is parted [-].

    Returns
    -------
    x : ndarray, shape (..., (points - 1) parts + 1)
        Abscissae [-].
    y : ndarray, same shape
        Ordinates [-].
    """
    along = np.diff(x)[..., None] * (np.arange(parts) / parts)
    a, b, c, d = monotone_cubics(x, y)[..., None]
    shape = (*x.shape[:-1], -1)
    finer = (x[..., :-1, None] + along).reshape(shape), (((a * along + b) * along + c) * along + d).reshape(shape)
    return tuple(np.concatenate([inner, given[..., -1:]], axis=-1) for inner, given in zip(finer, (x, y), strict=True))


def monotone(x, y, at):
    """Return a curve through given points that keeps their shape.

    Parameters
    ----------
    x : ndarray, shape (points,)
        Abscissae, rising, at least two [-].
    y : ndarray, shape (points,)
        Ordinates [-].
    at : ndarray
        Where, any shape; beyond the ends the outer cubics go on [-].

    Returns
    -------
    ndarray
        Ordinates, shape of `at` [-].
    """
    piece = np.clip(x.searchsorted(at, side="right") - 1, 0, len(x) - 2)
    a, b, c, d = monotone_cubics(x, y).take(piece, axis=1)
    along = at - x.take(piece)
    return ((a * along + b) * along + c) * along + d


def _monotone_slopes(x, y):
    """Return the slopes at the points with which cubics keep their shape."""
    h = np.diff(x)
    chords = np.diff(y) / h
    if chords.shape[-1] == 1:
        return np.repeat(chords, 2, axis=-1)
    before, after = chords[..., :-1], chords[..., 1:]
    first, second = h[..., 1:] + 2.0 * h[..., :-1], 2.0 * h[..., 1:] + h[..., :-1]
    level = np.sign(before) * np.sign(after) <= 0.0
    inverse = (second / np.where(level, 1.0, before) + first / np.where(level, 1.0, after)) / (first + second)
    inner = np.where(level, 0.0, 1.0 / inverse)
    ends = [
        _end_slope(*(h[..., k] for k in places), *(chords[..., k] for k in places)) for places in ((0, 1), (-1, -2))
    ]
    return np.concatenate([ends[0][..., None], inner, ends[1][..., None]], axis=-1)


def _end_slope(h, h_next, chord, chord_next):
    """Return the slope at an end: that of a parabola, unless the curve would overshoot."""
    slope = ((2.0 * h + h_next) * chord - h * chord_next) / (h + h_next)
    slope = np.where(np.sign(slope) == np.sign(chord), slope, 0.0)
    turns = np.sign(chord) != np.sign(chord_next)
    return np.where(turns & (np.abs(slope) > 3.0 * np.abs(chord)), 3.0 * chord, slope)


class MonotoneCurve:
    """A smooth curve through given points that keeps their shape, continued by straight lines.

    Between the points it is a piecewise cubic Hermite interpolant without overshoot; at the ends it has the slope
    of the outer chords and goes on with it, so that curve and slope are continuous everywhere.

    Parameters
    ----------
    x : sequence of float
        Abscissae, rising, at least two [-].
    y : sequence of float
        Ordinates [-].

    References
    ----------
    F. N. Fritsch and J. Butland, "A method for constructing local monotone piecewise cubic interpolants",
    SIAM J. Sci. Stat. Comput. 5(2), 1984.
    """

    __slots__ = ("_coefficients", "_inner", "_origins")

    def __init__(self, x, y):
        x, y = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
        slopes = _monotone_slopes(x, y)
        slopes[[0, -1]] = (np.diff(y) / np.diff(x))[[0, -1]]
        ends = [np.array([[0.0], [0.0], [slopes[k]], [y[k]]]) for k in (0, -1)]
        self._inner = x
        self._origins = np.concatenate([x[:1], x])
        self._coefficients = np.hstack([ends[0], hermite_cubics(x, y, slopes), ends[1]])

    def __call__(self, x):
        """Return value and slope of the curve.

        Parameters
        ----------
        x : ndarray
            Where to evaluate, any shape [-].

        Returns
        -------
        value : ndarray
            Ordinates, shape of `x` [-].
        slope : ndarray
            Derivative, shape of `x` [-].
        """
        piece = self._inner.searchsorted(x, side="right")
        a, b, c, d = self._coefficients.take(piece, axis=1)
        along = x - self._origins.take(piece)
        steep = a * along
        return ((steep + b) * along + c) * along + d, (3.0 * steep + 2.0 * b) * along + c
