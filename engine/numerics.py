"""Numerical tools that know arrays only: shape-preserving curves.

No circuit, no text; interpolation itself is scipy's.
"""

import numpy as np
from scipy.interpolate import PchipInterpolator


class MonotoneCurve:
    """A smooth curve through given points that keeps their shape, continued by straight lines.

    Between the points it is a piecewise cubic Hermite interpolant without overshoot; beyond them it goes on with
    the slope of the outer chords, so that it is continuous everywhere.

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
        below = (0.0, 0.0, (y[1] - y[0]) / (x[1] - x[0]), y[0])
        above = (0.0, 0.0, (y[-1] - y[-2]) / (x[-1] - x[-2]), y[-1])
        self._inner = x
        self._origins = np.concatenate([x[:1], x])
        self._coefficients = np.column_stack([below, PchipInterpolator(x, y).c, above])

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
        piece = np.searchsorted(self._inner, x, side="right")
        a, b, c, d = self._coefficients[:, piece]
        along = x - self._origins[piece]
        return ((a * along + b) * along + c) * along + d, (3.0 * a * along + 2.0 * b) * along + c
