"""The meter that a stage is measured with: what it loads the circuit with, and how far its reading may be off."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class Meter:
    """A voltmeter on its direct-voltage ranges.

    Attributes
    ----------
    kind : str
        Its name in links.
    R_in : float
        Input resistance, on the lowest range where it goes with the range [ohm].
    share : float
        What a reading may be off, as a share of itself [-].
    floor : float
        What it may be off besides, on the lowest range; on the others it goes with the range [V].
    ranges : tuple of float
        Full scale of every range, rising [V].
    per_volt : float
        Input resistance for each volt of the range, or 0 where every range has the same [ohm/V].

    Notes
    -----
    A reading is taken on the lowest range that holds it, so input resistance and error follow from the reading.
    A digital meter's `floor` is some digits: 2 of 4000 counts are 0.2 mV on a range of 400 mV.

    References
    ----------
    Common practice, no source.
    """

    kind: str
    R_in: float
    share: float
    floor: float
    ranges: tuple
    per_volt: float = 0.0

    def range_of(self, V):
        """Return full scale of the range that a reading is taken on.

        Parameters
        ----------
        V : float or ndarray
            Reading, of either sign [V].

        Returns
        -------
        ndarray
            Full scale; that of the highest range where none holds the reading [V].
        """
        scales = np.array(self.ranges)
        return scales[np.minimum(np.searchsorted(scales, np.abs(V)), len(scales) - 1)]

    def resistance(self, V):
        """Return the resistance between the leads.

        Parameters
        ----------
        V : float or ndarray
            Reading, of either sign [V].

        Returns
        -------
        ndarray
            Resistance [ohm].
        """
        return self.R_in + self.per_volt * (self.range_of(V) - self.ranges[0])

    def error(self, V):
        """Return the largest error of a reading, either way.

        Parameters
        ----------
        V : float or ndarray
            Reading, of either sign [V].

        Returns
        -------
        ndarray
            Error [V].
        """
        return self.share * np.abs(V) + self.floor * self.range_of(V) / self.ranges[0]


_COUNTED = (0.4, 4.0, 40.0, 400.0, 1000.0)
_SCALES = (2.5, 10.0, 50.0, 250.0, 1000.0)

METERS = {
    meter.kind: meter
    for meter in (
        Meter("digital", 10e6, 0.005, 2 * 0.4 / 4000, _COUNTED),
        Meter("loading", 300e3, 0.02, 3 * 0.4 / 4000, _COUNTED),
        Meter("pointer", 20e3 * 2.5, 0.0, 0.03 * 2.5, _SCALES, 20e3),
    )
}
"""Kind to meter, the usual one first: a digital one of 10 megohm (0.5 % and 2 digits of 4000 counts), the
low-impedance range of such a one (300 kilohm, 2 % and 3 digits), and a pointer of 20 kilohm per volt of its range (3 %
of full scale). Values of our own; common practice, no source."""
