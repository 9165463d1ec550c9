"""Readings on a scale on which they are about normal, from next to nothing to many volts.

A tolerance moves a reading by a share of it, and what leaks, or flows through a junction that hardly conducts, spreads
over decades: the logarithm of either is about normal. Near nothing the error of a meter is all there is, and the
reading itself is. Nothing here knows what is read.
"""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class Scale:
    """The inverse hyperbolic sine of readings: straight near nothing, a logarithm far above.

    Attributes
    ----------
    bend : float
        Reading at which straight turns to logarithm [V].
    most : float
        Largest reading that there is, either way [V].
    """

    bend: float
    most: float

    def of(self, volts):
        """Return where readings lie on the scale.

        Parameters
        ----------
        volts : float or ndarray
            Readings [V].

        Returns
        -------
        float or ndarray
            Place; that of a reading next to nothing is the reading itself [V].

        Examples
        --------
        >>> [float(round(y, 6)) for y in Scale(0.01, 2e3).of(np.array([1e-4, 1.0, 10.0]))]
        [0.0001, 0.052983, 0.076009]
        """
        return self.bend * np.arcsinh(np.asarray(volts) / self.bend)

    def back(self, place):
        """Return the reading at a place of the scale, or the largest one where it lies beyond that.

        Parameters
        ----------
        place : float or ndarray
            Place [V].

        Returns
        -------
        float or ndarray
            Reading [V].
        """
        most = self.of(self.most)
        return self.bend * np.sinh(np.clip(place, -most, most) / self.bend)

    def error(self, volts, error):
        """Return how far an error of readings goes on the scale.

        Parameters
        ----------
        volts : ndarray
            Readings [V].
        error : ndarray
            Error of each [V].

        Returns
        -------
        ndarray
            The same on the scale [V].
        """
        return error / np.hypot(1.0, volts / self.bend)
