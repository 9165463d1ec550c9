"""The output of a coupler that switches: a conductance that depends on whether the LED current reaches a threshold."""

from dataclasses import dataclass

import numpy as np

from engine.devices.junction import JunctionParams, junction

_WIDTH = 1e-4  # [-], e-fold of the transition in the logarithm of the LED current: far below any part's own spread
_REACH = 20.0  # [-], multiples of the width from its middle to either end
_DARK = 1e-18  # [A], LED current below which no light is counted


@dataclass(frozen=True, slots=True)
class ThresholdParams:
    """Parameters of a switched path at its temperature.

    Attributes
    ----------
    led : JunctionParams
        The LED's junction, fields of shape (batch,).
    IF_on : ndarray, shape (batch,)
        LED current from which the path is lit [A].
    G_lit : ndarray, shape (batch,)
        Conductance while lit, positive [S].
    G_dark : ndarray, shape (batch,)
        Conductance while dark, positive [S].
    """

    led: JunctionParams
    IF_on: np.ndarray
    G_lit: np.ndarray
    G_dark: np.ndarray


def threshold(v_led, v, params):
    """Return the current of a switched path and its derivatives.

    Parameters
    ----------
    v_led : ndarray, shape (batch,)
        Voltage of the LED's junction [V].
    v : ndarray, shape (batch,)
        Voltage across the path [V].
    params : ThresholdParams
        Parameters, fields of shape (batch,).

    Returns
    -------
    current : ndarray, shape (batch,)
        Current through the path [A].
    jacobian : ndarray, shape (batch, 2)
        Its derivatives by both voltages, in order [S].

    Notes
    -----
    I = G v. G is G_lit from the threshold on and G_dark up to 0.4 % below it; in between its logarithm goes over in a
    logistic curve of the logarithm of the LED current, so that the equations have one solution wherever the LED's
    current comes to lie, and Newton's method finds it. Hysteresis is not part of it.

    References
    ----------
    Derived here.
    """
    IF, conductance = junction(v_led, params.led)
    driven = IF > _DARK
    IF = np.where(driven, IF, _DARK)
    along = np.clip(np.log(IF / params.IF_on) / _WIDTH + _REACH, -2 * _REACH, 2 * _REACH)
    share = 1.0 / (1.0 + np.exp(-along))
    span = np.log(params.G_lit / params.G_dark)
    G = params.G_dark * np.exp(share * span)
    jacobian = np.empty((len(v), 2))
    jacobian[:, 0] = np.where(driven, v * G * span * share * (1.0 - share) / _WIDTH * conductance / IF, 0.0)
    jacobian[:, 1] = G
    return G * v, jacobian
