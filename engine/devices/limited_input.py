"""The input of a programmable controller: nothing up to a threshold, then a resistance, then a limited current."""

from dataclasses import dataclass

import numpy as np

_SOFT = 0.15  # [V], over which the input begins to conduct; a value of our own
_BEND = 4  # [-], how sharply the resistance goes over into the limit; a value of our own
_LARGEST = 300.0  # [-], argument beyond which ln(1 + exp(x)) is x
_LEAK = 1e-9  # [S], what is left below the threshold


@dataclass(frozen=True, slots=True)
class LimitedInputParams:
    """Parameters of an input.

    Attributes
    ----------
    V_on : ndarray, shape (batch,)
        Voltage at which it begins to conduct [V].
    R : ndarray, shape (batch,)
        Resistance above that [ohm].
    I_limit : ndarray, shape (batch,)
        Current that it does not exceed [A].
    """

    V_on: np.ndarray
    R: np.ndarray
    I_limit: np.ndarray


def limited_input(v, params):
    """Return current and conductance of an input.

    Parameters
    ----------
    v : ndarray, shape (batch,)
        Voltage across it [V].
    params : LimitedInputParams
        Parameters, fields of shape (batch,).

    Returns
    -------
    current : ndarray, shape (batch,)
        Its current [A].
    conductance : ndarray, shape (batch,)
        Derivative of the current by the voltage, always positive [S].

    Notes
    -----
    With u = s ln(1 + exp((V - V_on)/s)) / R, the current of a resistance behind a soft threshold, it is
    u / (1 + (u/I_limit)^4)^(1/4), and a nanosiemens beside it.

    References
    ----------
    Derived here: a smooth and monotone curve of the kind that makers of such inputs print.
    """
    x = (v - params.V_on) / _SOFT
    u = _SOFT * np.logaddexp(0.0, x) / params.R
    slope = 1.0 / (1.0 + np.exp(-np.clip(x, -_LARGEST, _LARGEST))) / params.R
    bent = 1.0 + (u / params.I_limit) ** _BEND
    return u * bent ** (-1.0 / _BEND) + _LEAK * v, slope * bent ** (-1.0 / _BEND - 1.0) + _LEAK


def voltage_at(current, params):
    """Return the voltage at which an input takes a current.

    Parameters
    ----------
    current : float or ndarray, shape (batch,)
        The current, positive [A].
    params : LimitedInputParams
        Parameters, fields of shape (batch,).

    Returns
    -------
    ndarray, shape (batch,)
        The voltage; infinite for a current that the limit does not let through [V].

    Notes
    -----
    The inverse of `limited_input` without its nanosiemens.
    """
    share = (current / params.I_limit) ** _BEND
    with np.errstate(divide="ignore", invalid="ignore"):
        u = current / np.maximum(1.0 - share, 0.0) ** (1.0 / _BEND)
        x = u * params.R / _SOFT
        # ln(exp(x) - 1), which is x for all but the smallest arguments.
        across = params.V_on + _SOFT * (x + np.log(-np.expm1(-np.minimum(x, _LARGEST))))
    return np.where(share < 1.0, across, np.inf)
