"""The LED of a coupler: its forward voltage over current and temperature, from the lines of a card."""

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import nnls

from engine.circuit import Junction
from engine.constants import REFERENCE_TEMPERATURE, thermal_voltage
from engine.devices import JunctionParams
from engine.devices.junction import saturation_current
from engine.errors import CardError

_VT = thermal_voltage(REFERENCE_TEMPERATURE)
_LEAST_RESISTANCE = 1e-3  # [ohm], so that the LED's terminal is a node of its own
_STEEPEST, _FLATTEST = 0.5, 20.0  # [-], emission coefficients beyond which no LED is; a stack of LEDs has several
_WORST_MISFIT = 0.15  # [V], of a VF point, from which the points are those of no LED
_LARGEST_EXPONENT = 300.0  # [-], what double precision holds of exp() with room for temperature and spread
_IDLE = 1e-6  # [A], current that the iteration begins with in an LED that is meant to block


@dataclass(frozen=True, slots=True)
class LedModel:
    """Calibrated LED.

    Attributes
    ----------
    IS : float
        Saturation current at 25 degC [A].
    n : float
        Emission coefficient [-].
    RS : float
        Series resistance [ohm].
    activation : float
        Activation voltage of the saturation current that meets the card's temperature coefficient [V].
    """

    IS: float
    n: float
    RS: float
    activation: float

    def junction(self, T, shift=0.0):
        """Return the junction's parameters.

        Parameters
        ----------
        T : ndarray, shape (batch,)
            Absolute temperature [K].
        shift : float or ndarray
            Forward voltage of this specimen above the typical one, at every temperature [V].

        Returns
        -------
        JunctionParams
            Parameters, fields of shape (batch,).
        """
        nVT = self.n * thermal_voltage(T)
        return JunctionParams(saturation_current(self.IS, T, self.activation, self.n) * np.exp(-shift / nVT), nVT)

    def VF(self, IF, T):
        """Return the forward voltage.

        Parameters
        ----------
        IF : float or ndarray
            Forward current [A].
        T : float or ndarray
            Absolute temperature [K].

        Returns
        -------
        float or ndarray
            Terminal voltage of a typical specimen [V].
        """
        return self.junction(T).at_current(IF) + self.RS * IF

    def place(self, net, nodes, T, values):
        """Place one LED: its resistance to the inner node "AJ", its junction from there on.

        Parameters
        ----------
        net : NetlistBuilder
            Where to place it.
        nodes : tuple of str
            Anode and cathode.
        T : ndarray, shape (batch,)
            Absolute temperature [K].
        values : dict of str to ndarray, shape (batch,)
            "IF", the current to begin with, and "shift", the forward voltage above the typical one [A, V].

        Returns
        -------
        params : JunctionParams
            The junction.
        knee : ndarray, shape (batch,)
            Junction voltage that the iteration begins with [V].
        """
        anode, cathode = nodes
        params = self.junction(T, values["shift"])
        knee = params.at_current(values["IF"])
        net.inside(anode, "AJ")
        net.resistor("LED", anode, "AJ", self.RS)
        net.device(Junction("LED", "AJ", cathode, params, knee))
        return params, knee

    def place_second(self, net, cathode, params):
        """Place an LED the other way round beside the first; one of the two carries current at a time.

        Parameters
        ----------
        net : NetlistBuilder
            Where to place it.
        cathode : str
            Cathode of the first.
        params : JunctionParams
            Junction of the first.

        Returns
        -------
        ndarray, shape (batch,)
            Junction voltage that the iteration begins with [V].
        """
        knee = params.at_current(_IDLE)
        net.device(Junction("LED", cathode, "AJ", params, knee))
        return knee


def fit_led(card):
    """Return the LED of a card.

    Parameters
    ----------
    card : Card
        The card.

    Returns
    -------
    LedModel
        The LED that goes through the card's VF points best, its resistance not below zero.

    Raises
    ------
    CardError
        If no LED comes near the points.

    References
    ----------
    Derived here: least squares on VF = n VT ln(IF/IS) + RS IF; the activation voltage follows from the drift.
    """
    IF, VF = np.array(card.VF_points).T
    equations = np.stack([np.log(IF), np.ones_like(IF), IF], axis=1)
    (nVT, offset, RS), _ = nnls(equations, VF)
    if not nVT > 0:
        raise CardError(card.name, "LED.VF", "the forward voltage does not rise with current")
    n = nVT / _VT
    misfit = np.abs(equations @ (nVT, offset, RS) - VF).max()
    if not _STEEPEST <= n <= _FLATTEST or misfit > _WORST_MISFIT or offset > _LARGEST_EXPONENT * nVT:
        raise CardError(card.name, "LED.VF", "no LED has these points")
    VJ = nVT * math.log(card.VF_IF) + offset
    activation = VJ - REFERENCE_TEMPERATURE * card.VF_drift - 3 * _VT
    return LedModel(math.exp(-offset / nVT), n, max(RS, _LEAST_RESISTANCE), activation)


def VF_shifts(card, led):
    """Return how far the forward voltages of the bin lie from the typical one.

    Parameters
    ----------
    card : Card
        The card.
    led : LedModel
        Its LED.

    Returns
    -------
    low : float
        Of the specimen with the smallest forward voltage, negative [V].
    high : float
        Of the specimen with the largest [V].
    """
    typical = float(led.VF(card.VF_IF, REFERENCE_TEMPERATURE))
    return card.VF_min - typical, card.VF_max - typical
