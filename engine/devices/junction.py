"""The pn junction: Shockley's equation, its temperature, and the step limit that keeps Newton's method safe.

Used for light-emitting diodes, for the junctions of the detector and for the leakage of a receiver's input.
"""

from dataclasses import dataclass

import numpy as np

from engine.constants import REFERENCE_TEMPERATURE, thermal_voltage

_HIGHEST = 600.0  # [-], exponent that double precision still holds; only a junction without current gets near it
_EXPONENTIAL = 5.0  # [-], multiples of nVT above which the current is as good as purely exponential
_SMALL = 0.01  # [-], multiple of nVT below which a step is taken as it is
_MOST_DECREASE = 0.95  # [-], share of its current that a junction may lose in one step
_PLUNGE = 2.0  # [-], multiple of nVT from which a step leaves the exponential for good


@dataclass(frozen=True, slots=True)
class JunctionParams:
    """Parameters of a junction at its temperature.

    Attributes
    ----------
    IS : ndarray, shape (batch,)
        Saturation current [A].
    nVT : ndarray, shape (batch,)
        Emission coefficient times thermal voltage [V].
    offset : float or ndarray, shape (batch,)
        Voltage that the junction's own counts from: 0, or what a breakdown begins at [V].
    """

    IS: np.ndarray
    nVT: np.ndarray
    offset: np.ndarray | float = 0.0

    def at_current(self, current):
        """Return the junction voltage that carries a current.

        Parameters
        ----------
        current : ndarray
            Forward current, not negative [A].

        Returns
        -------
        ndarray
            Junction voltage [V].
        """
        # A sum in logarithms, as beside a current exp(-offset / nVT) may be too small for a number of its own.
        with np.errstate(divide="ignore"):
            share = np.log(current / self.IS)
        return self.offset + self.nVT * np.logaddexp(share, -self.offset / self.nVT)


def junction(v, params):
    """Return current and conductance of a junction.

    Parameters
    ----------
    v : ndarray, shape (batch,)
        Junction voltage, anode against cathode [V].
    params : JunctionParams
        Parameters, fields of shape (batch,).

    Returns
    -------
    current : ndarray, shape (batch,)
        Current into the anode [A].
    conductance : ndarray, shape (batch,)
        Derivative of the current by the voltage [S].

    Notes
    -----
    I = IS (exp((V - offset) / nVT) - exp(-offset / nVT)), nothing without voltage. Valid for both signs; reverse
    breakdown is not part of it, it is a junction of its own with an offset.

    References
    ----------
    W. Shockley, "The theory of p-n junctions in semiconductors and p-n junction transistors",
    Bell System Technical Journal 28(3), 1949.
    """
    x = np.minimum((v - params.offset) / params.nVT, _HIGHEST)
    return params.IS * (np.expm1(x) - np.expm1(-params.offset / params.nVT)), params.IS / params.nVT * np.exp(x)


def saturation_current(IS, T, activation, n):
    """Return the saturation current at another temperature.

    Parameters
    ----------
    IS : float or ndarray
        Saturation current at 298.15 K [A].
    T : float or ndarray
        Absolute temperature [K].
    activation : float
        Activation energy over the elementary charge: the band gap, or the value that meets a card's
        temperature coefficient [V].
    n : float
        Emission coefficient [-].

    Returns
    -------
    float or ndarray
        Saturation current at `T` [A].

    Notes
    -----
    IS(T) = IS (T/T0)^(3/n) exp((Eg/n) (1/VT0 - 1/VT)).

    References
    ----------
    S. M. Sze, Physics of Semiconductor Devices, 2nd ed. 1981, section 2.4 (temperature dependence of the
    saturation current); from memory.
    """
    ratio = T / REFERENCE_TEMPERATURE
    rise = activation / n * (1 / thermal_voltage(REFERENCE_TEMPERATURE) - 1 / thermal_voltage(T))
    return IS * ratio ** (3 / n) * np.exp(rise)


def limited_step(v_new, v_old, scale, knee):
    """Return a junction voltage that Newton's method may safely move to.

    Parameters
    ----------
    v_new : ndarray, shape (batch,)
        Voltage the linearised circuit asks for [V].
    v_old : ndarray, shape (batch,)
        Voltage of the last linearisation [V].
    scale : ndarray, shape (batch,)
        Voltage over which the current grows e-fold [V].
    knee : ndarray, shape (batch,)
        Voltage that a rising step may always reach [V].

    Returns
    -------
    ndarray, shape (batch,)
        Voltage for the next linearisation [V].

    Notes
    -----
    Where the current is exponential the step is taken in the logarithm of the current instead of in the voltage:
    the linearised circuit fixes the current I + g dV well even when the voltage is far off, and the junction
    voltage for that current is V + nVT ln(1 + dV/nVT). To second order this is Newton's own step, so convergence
    stays quadratic; the exponential can never overflow. Downwards, where Newton's own steps would all be close
    to nVT, the current may fall to a twentieth; a step beyond twice nVT asks for a junction that blocks. Steps
    below a hundredth of nVT, and steps that do not reach into the exponential, are taken as they are.

    References
    ----------
    L. W. Nagel, UCB/ERL M520, 1975 (junction voltage limiting); the two-sided logarithmic step derived here.
    """
    if (np.abs(v_new - v_old) <= _SMALL * scale).all():
        return v_new
    safe = np.maximum(np.maximum(v_old, knee), 0.0)
    rising = v_new > safe
    start = np.where(rising, safe, v_old)
    step = (v_new - start) / scale
    falling = (v_old > _EXPONENTIAL * scale) & (step < -_SMALL) & (step > -_PLUNGE)
    logarithmic = (rising & (step > _SMALL)) | falling
    bounded = np.maximum(np.where(logarithmic, step, 0.0), -_MOST_DECREASE)
    return np.where(logarithmic, start + scale * np.log1p(bounded), v_new)
