"""Junctions and a resistance in series: the current that a voltage drives through them, in closed form.

The branches of an alternating-current loop are of this kind: a dropper resistor, the diodes of a bridge, the LED.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import wrightomega

from engine.devices import JunctionParams

_POLISH = 12  # Newton steps after the closed form, at most; two are the rule
_CLOSE = 1e-13  # [-], relative change of the current that ends them
_NOTHING = 1e-30  # [V or A], what is as good as none and still has a logarithm


@dataclass(frozen=True, slots=True)
class Diode:
    """A diode of any kind: its junction and the resistance in series with it.

    Attributes
    ----------
    junction : JunctionParams
        Parameters, fields of shape (batch,).
    R : ndarray, shape (batch,)
        Resistance [ohm].
    """

    junction: JunctionParams
    R: np.ndarray

    def twice(self):
        """Return two alike in series, which carry one current and so act as one with twice the voltage.

        Returns
        -------
        Diode
            Both together.
        """
        return Diode(JunctionParams(self.junction.IS, 2.0 * self.junction.nVT), 2.0 * self.R)

    def drop(self, current):
        """Return the forward voltage.

        Parameters
        ----------
        current : ndarray, shape (batch, time)
            Current, not negative [A].

        Returns
        -------
        ndarray, shape (batch, time)
            Voltage [V].
        """
        return series(0.0, self).voltage(current)

    def taken(self, index):
        """Return the diodes of some members of the batch.

        Parameters
        ----------
        index : ndarray
            Indices or mask along the batch axis [-].

        Returns
        -------
        Diode
            These diodes.
        """
        return Diode(JunctionParams(self.junction.IS[index], self.junction.nVT[index]), self.R[index])


def series(R, *diodes):
    """Return a resistor and diodes in series.

    Parameters
    ----------
    R : float or ndarray, shape (batch,)
        Resistance beside that of the diodes [ohm].
    *diodes : Diode
        The diodes, all in one direction.

    Returns
    -------
    Branch
        All in series.
    """
    return Branch(R + sum(diode.R for diode in diodes), tuple(diode.junction for diode in diodes))


@dataclass(frozen=True, slots=True)
class Branch:
    """Junctions in series, all in the same direction, with a resistance.

    Attributes
    ----------
    R : ndarray, shape (batch,)
        Resistance, above zero [ohm].
    junctions : tuple of JunctionParams
        The junctions in series, fields of shape (batch,).
    """

    R: np.ndarray
    junctions: tuple

    def voltage(self, current):
        """Return the voltage across the branch.

        Parameters
        ----------
        current : ndarray, shape (batch, time)
            Current in the direction of the junctions, above their saturation currents' negative [A].

        Returns
        -------
        ndarray, shape (batch, time)
            Voltage [V].
        """
        across = self.R[:, None] * current
        for one in self.junctions:
            across = across + one.nVT[:, None] * np.log1p(current / one.IS[:, None])
        return across

    def current(self, volts):
        """Return the current through the branch and its derivative.

        Parameters
        ----------
        volts : ndarray, shape (batch, time)
            Voltage across the branch [V].

        Returns
        -------
        current : ndarray, shape (batch, time)
            Current [A].
        conductance : ndarray, shape (batch, time)
            Its derivative by the voltage [S].

        Notes
        -----
        A junction and a resistance: I = (nVT/R) omega(ln(IS R/nVT) + (V + IS R)/nVT) - IS, with Wright's omega,
        which does not overflow. Several junctions are, far above their saturation currents, one junction with the
        sum of their nVT; that closed form is then polished by Newton's method in the logarithm of the current.
        Backwards a single junction leaks its saturation current; several let nothing through.

        References
        ----------
        T. C. Banwell and A. Jayakumar, Electronics Letters 36(4), 2000, DOI 10.1049/el:20000301; the rest derived
        here.
        """
        if len(self.junctions) == 1:
            return self._single(volts)
        return self._several(volts)

    def _single(self, volts):
        (one,) = self.junctions
        IS, nVT, R = one.IS[:, None], one.nVT[:, None], self.R[:, None]
        omega = wrightomega(np.log(IS * R / nVT) + (volts + IS * R) / nVT)
        return nVT / R * omega - IS, omega / (R * (1.0 + omega))

    def _several(self, volts):
        R = self.R[:, None]
        IS = [one.IS[:, None] for one in self.junctions]
        nVT = [one.nVT[:, None] for one in self.junctions]
        whole = sum(nVT)
        offset = sum(v * np.log(i) for v, i in zip(nVT, IS, strict=True))
        forward = np.maximum(volts, _NOTHING)
        omega = wrightomega(np.log(R / whole) + (forward + offset) / whole)
        # A junction takes some voltage, and never more than its resistance at zero volts would.
        most = np.log(forward / R)
        least = np.log(forward / (R + sum(v / i for v, i in zip(nVT, IS, strict=True))))
        x = np.clip(np.log(np.maximum(whole / R * omega, _NOTHING)), least, most)
        for _ in range(_POLISH):
            current = np.exp(x)
            across = R * current + sum(v * np.log1p(current / i) for v, i in zip(nVT, IS, strict=True))
            steep = R * current + sum(v * current / (current + i) for v, i in zip(nVT, IS, strict=True))
            # Far off, where the branch is nearly a resistance, the step in the voltage's logarithm lands at once.
            ratio = forward / across
            near = (ratio > 0.5) & (ratio < 2.0)
            step = np.where(near, ratio - 1.0, np.log(ratio)) * across / steep
            x = np.clip(x + step, least, most)
            if np.abs(step).max(initial=0.0) <= _CLOSE:
                break
        current = np.exp(x)
        conductance = 1.0 / (R + sum(v / (current + i) for v, i in zip(nVT, IS, strict=True)))
        passes = volts > 0.0
        return np.where(passes, current, 0.0), np.where(passes, conductance, 0.0)
