"""The enhancement MOSFET as a switch: smooth from off over saturation to its on-resistance."""

from dataclasses import dataclass

import numpy as np

_NEAR = 1.0  # [-], drain voltage over 2 nVT below which a difference of logarithms is taken as one
_LARGEST = 300.0  # [-], argument beyond which ln(1 + exp(x)) is x


@dataclass(frozen=True, slots=True)
class MosfetParams:
    """Parameters of a MOSFET at its temperature.

    Attributes
    ----------
    Vth : ndarray, shape (batch,)
        Threshold voltage [V].
    K : ndarray, shape (batch,)
        Transconductance parameter: the slope of the on-conductance over the gate voltage [A/V^2].
    nVT : ndarray, shape (batch,)
        Slope factor times thermal voltage [V].
    """

    Vth: np.ndarray
    K: np.ndarray
    nVT: np.ndarray

    @classmethod
    def from_on_resistance(cls, Vth, R_on, VGS, nVT):
        """Return the parameters that give an on-resistance at a gate voltage.

        Parameters
        ----------
        Vth : ndarray, shape (batch,)
            Threshold voltage, below `VGS` [V].
        R_on : ndarray, shape (batch,)
            On-resistance at small drain voltage [ohm].
        VGS : float
            Gate voltage that it is stated at [V].
        nVT : ndarray, shape (batch,)
            Slope factor times thermal voltage [V].

        Returns
        -------
        MosfetParams
            The parameters.
        """
        x = (VGS - Vth) / (2.0 * nVT)
        slope = 2.0 * nVT * _soft(x) * _share(x)
        return cls(Vth, 1.0 / (R_on * slope), nVT)


def _soft(x):
    """Return ln(1 + exp(x))."""
    return np.logaddexp(0.0, x)


def _share(x):
    """Return the derivative of `_soft`."""
    return 1.0 / (1.0 + np.exp(-np.clip(x, -_LARGEST, _LARGEST)))


def mosfet(v_gs, v_ds, params):
    """Return drain current and its derivatives.

    Parameters
    ----------
    v_gs : ndarray, shape (batch,)
        Gate against source [V].
    v_ds : ndarray, shape (batch,)
        Drain against source [V].
    params : MosfetParams
        Parameters, fields of shape (batch,).

    Returns
    -------
    current : ndarray, shape (batch,)
        From drain to source [A].
    by_gate : ndarray, shape (batch,)
        Its derivative by the gate voltage [S].
    by_drain : ndarray, shape (batch,)
        Its derivative by the drain voltage [S].

    Notes
    -----
    I = 2 K nVT^2 (F^2(s) - F^2(d)), F(x) = ln(1 + exp(x)), s = (VGS - Vth) / 2 nVT, d = s - VDS / 2 nVT: exponential
    below the threshold, K (VGS - Vth)^2 / 2 in saturation, K (VGS - Vth) VDS at small drain voltages. The body diode
    is not part of it.

    References
    ----------
    C. C. Enz, F. Krummenacher and E. A. Vittoz, Analog Integrated Circuits and Signal Processing 8, 1995; from memory.
    """
    nVT = params.nVT
    s, across = (v_gs - params.Vth) / (2.0 * nVT), v_ds / (2.0 * nVT)
    d = s - across
    Fs, Fd = _soft(s), _soft(d)
    # Far above the threshold both are large and nearly alike at a small drain voltage.
    near = np.abs(across) < _NEAR
    less = np.where(near, np.log1p(_share(d) * np.expm1(np.where(near, across, 0.0))), Fs - Fd)
    scale = 2.0 * params.K * nVT**2
    slope_s, slope_d = scale * Fs * _share(s) / nVT, scale * Fd * _share(d) / nVT
    return scale * less * (Fs + Fd), slope_s - slope_d, slope_d
