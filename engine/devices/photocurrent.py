"""The light path: LED current in, photocurrent into the detector's base out.

The only thing that crosses the barrier. Its size comes from the current transfer ratio of a card.
"""

from dataclasses import dataclass

import numpy as np

from engine.numerics import MonotoneCurve

_DARK = 1e-18  # [A], LED current below which no light is counted; 1/10 of an electron charge per second


@dataclass(frozen=True, slots=True)
class PhotoLaw:
    """How much photocurrent an LED current gives.

    Attributes
    ----------
    shape : MonotoneCurve
        Logarithm of the relative CTR over the logarithm of the LED current, 0 at the reference [-].
    log_reference : float
        Natural logarithm of the reference LED current in ampere [-].
    ratio : ndarray, shape (batch,)
        Photocurrent per LED current at the reference LED current and the temperature at hand [-].
    tilt : ndarray, shape (batch,)
        What temperature adds to the slope of the curve [-].
    """

    shape: MonotoneCurve
    log_reference: float
    ratio: np.ndarray
    tilt: np.ndarray


def photocurrent(IF, law):
    """Return the photocurrent and its derivative.

    Parameters
    ----------
    IF : ndarray, shape (batch,)
        LED current; what is not positive gives no light [A].
    law : PhotoLaw
        The light path, fields of shape (batch,).

    Returns
    -------
    current : ndarray, shape (batch,)
        Photocurrent into the base [A].
    slope : ndarray, shape (batch,)
        Its derivative by `IF` [-].

    Notes
    -----
    Iph = ratio IF exp(s(ln IF) + tilt ln(IF/IF0)), with s the curve of the card. Below the lowest point of
    the card the curve goes on as a power law, so that there is no light without current.

    References
    ----------
    Derived here.
    """
    log_IF = np.log(np.maximum(IF, _DARK))
    value, slope = law.shape(log_IF)
    per_ampere = law.ratio * np.exp(value + law.tilt * (log_IF - law.log_reference))
    per_ampere *= IF > _DARK
    return IF * per_ampere, per_ampere * (1.0 + slope + law.tilt)
