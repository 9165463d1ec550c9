"""Numerical tools that know arrays only: shape-preserving curves.

No circuit, no text; interpolation itself is scipy's.
"""

import numpy as np
from scipy.interpolate import CubicHermiteSpline, PchipInterpolator


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
    SIAM J. Sci. Stat. Comput. 5(2), 1984, as implemented in scipy.
    """

    __slots__ = ("_coefficients", "_inner", "_origins")

    def __init__(self, x, y):
        x, y = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
        slopes = PchipInterpolator(x, y).derivative()(x)
        slopes[[0, -1]] = (np.diff(y) / np.diff(x))[[0, -1]]
        ends = [np.array([[0.0], [0.0], [slopes[k]], [y[k]]]) for k in (0, -1)]
        self._inner = x
        self._origins = np.concatenate([x[:1], x])
        self._coefficients = np.hstack([ends[0], CubicHermiteSpline(x, y, slopes).c, ends[1]])

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
