"""From card to device model: parameters that make the device equations meet the lines of a data sheet.

Temperature, spread and ageing act here on parameters; nothing is ever multiplied onto a result.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.optimize import least_squares, nnls

from engine.circuit import Detector, NetlistBuilder, solve
from engine.constants import REFERENCE_TEMPERATURE, SILICON_BAND_GAP, ZERO_CELSIUS, thermal_voltage
from engine.coupler.card import Card, load_card
from engine.devices import DetectorParams, JunctionParams, PhotoLaw, detector_guess
from engine.devices.junction import saturation_current
from engine.errors import CardError
from engine.numerics import MonotoneCurve

_DETECTOR_IS = 5e-14  # [A], transport current that puts VBE near 0.62 V at 1 mA; common textbook order of magnitude
_BETA_R = 8.0  # [-], reverse gain; typical of the class, no source
_VT = thermal_voltage(REFERENCE_TEMPERATURE)


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


@dataclass(frozen=True, slots=True)
class CouplerModel:
    """A card and the device parameters that meet it.

    Attributes
    ----------
    card : Card
        The card.
    led : LedModel
        The LED.
    RC : float
        Collector resistance [ohm].
    gamma : float
        Doping factor of the collector at 25 degC [-].
    gain : float
        Collector current per photocurrent at the CTR test point [-].
    shape : MonotoneCurve
        ln(relative CTR) over ln(IF) [-].
    warmth : tuple of (float, MonotoneCurve)
        LED current and ln(relative CTR) over temperature in degC [A, -].
    """

    card: Card
    led: LedModel
    RC: float
    gamma: float
    gain: float
    shape: MonotoneCurve
    warmth: tuple

    def transfer(self, CTR, T):
        """Return the light path.

        Parameters
        ----------
        CTR : ndarray, shape (batch,)
            Current transfer ratio of the specimen at the card's test point and 25 degC [-].
        T : ndarray, shape (batch,)
            Absolute temperature [K].

        Returns
        -------
        PhotoLaw
            Parameters, fields of shape (batch,).
        """
        (IF_low, low), (IF_high, high) = self.warmth[0], self.warmth[-1]
        at_low, at_high = low(T - ZERO_CELSIUS)[0], high(T - ZERO_CELSIUS)[0]
        tilt = (at_high - at_low) / math.log(IF_high / IF_low)
        return PhotoLaw(self.shape, math.log(self.card.CTR_IF), CTR * np.exp(at_high) / self.gain, tilt)

    def VF_shifts(self):
        """Return how far the forward voltages of the bin lie from the typical one.

        Returns
        -------
        low : float
            Of the specimen with the smallest forward voltage, negative [V].
        high : float
            Of the specimen with the largest [V].
        """
        typical = float(self.led.VF(self.card.VF_IF, REFERENCE_TEMPERATURE))
        return self.card.VF_min - typical, self.card.VF_max - typical

    def detector(self, T, ICEO):
        """Return the detector's parameters.

        Parameters
        ----------
        T : ndarray, shape (batch,)
            Absolute temperature [K].
        ICEO : ndarray, shape (batch,)
            Dark current of the specimen at the card's test voltage and 25 degC [A].

        Returns
        -------
        DetectorParams
            Parameters, fields of shape (batch,).
        """
        card = self.card
        IS = saturation_current(_DETECTOR_IS, T, SILICON_BAND_GAP, 1.0)
        amplified = 1.0 + card.beta * (1.0 + card.ICEO_VCE / card.VA)
        doublings = (T - REFERENCE_TEMPERATURE) / card.ICEO_doubling
        whole = np.ones_like(T)
        return DetectorParams(
            IS=IS,
            VT=thermal_voltage(T),
            beta_F=card.beta * whole,
            beta_R=_BETA_R * whole,
            VA=card.VA * whole,
            RC=self.RC * whole,
            gamma=self.gamma * IS / _DETECTOR_IS,
            I_dark=ICEO / amplified * 2.0**doublings,
        )


def _fit_led(card):
    """Return the LED that goes through the card's VF points best, with resistance not below zero."""
    IF, VF = np.array(card.VF_points).T
    equations = np.stack([np.log(IF), np.ones_like(IF), IF], axis=1)
    (nVT, offset, RS), _ = nnls(equations, VF)
    if not nVT > 0:
        raise CardError(card.name, "LED.VF", "the forward voltage does not rise with current")
    n = nVT / _VT
    VJ = nVT * math.log(card.VF_IF) + offset
    activation = VJ - REFERENCE_TEMPERATURE * card.VF_drift - 3 * _VT
    return LedModel(math.exp(-offset / nVT), n, max(RS, 1e-3), activation)


def _bench(card, params, photocurrents, VCE):
    """Return collector currents at given photocurrents (batch,) and collector voltages (batch,)."""
    batch = len(VCE)
    net = NetlistBuilder(batch)
    net.side("output", "E", "C", "CI", "B")
    net.source("VCE", "C", VCE)
    guess = detector_guess(photocurrents, np.full(batch, np.inf), VCE, params)
    net.conductance("none", "C", "E", 0.0)
    net.device(Detector("U1", "C", "CI", "B", "E", params, guess))
    net.device(_Light(photocurrents))
    return solve(net.build()).source_currents["VCE"]


@dataclass(frozen=True, slots=True)
class _Light:
    """A fixed photocurrent, for calibration without an LED."""

    current: np.ndarray
    controls = ()
    shunts = ()
    turning = ()
    branches = (("CI", "B"),)

    def start(self):
        return np.empty((len(self.current), 0))

    def evaluate(self, v):
        return self.current[:, None], np.zeros((len(v), 1, 0))

    def limits(self):
        return self.start(), self.start()

    def take(self, index):
        return _Light(self.current[index])


def _trial(card, RC, gamma):
    """Return detector parameters for a trial collector, three at a time."""
    ones = np.ones(3)
    return DetectorParams(
        _DETECTOR_IS * ones, _VT * ones, card.beta * ones, _BETA_R * ones, card.VA * ones, RC * ones, gamma * ones,
        card.ICEO / (1.0 + card.beta * (1.0 + card.ICEO_VCE / card.VA)) * ones,
    )  # fmt: skip


def _fit_collector(card, shape):
    """Return RC, gamma and gain: CTR test, saturation test and the bend of the IC-VCE family met at once."""
    knee_IF, knee_VCE, knee_IC = card.knee
    IF = np.array([card.CTR_IF, card.VCE_sat_IF, knee_IF])
    VCE = np.array([card.CTR_VCE, card.VCE_sat, knee_VCE])
    wanted = np.array([card.CTR_typ * card.CTR_IF, card.VCE_sat_IC, knee_IC])
    reach = card.CTR_typ * IF * np.exp(shape(np.log(IF))[0])
    if knee_IC >= reach[2]:
        raise CardError(card.name, "detector.knee", "it is above the current that the CTR gives there")

    def misfit(logs):
        RC, gamma, gain = np.exp(logs)
        return np.log(np.maximum(_bench(card, _trial(card, RC, gamma), reach / gain, VCE), 1e-12) / wanted)

    start = np.log([0.8 * knee_VCE / knee_IC, 1e-10, 1.0 + card.beta])
    bounds = (np.log([1e-2, 1e-14, 2.0]), np.log([1e4, 1e-6, 1e6]))
    found = least_squares(misfit, start, bounds=bounds, xtol=1e-12, ftol=1e-12, gtol=1e-12)
    return np.exp(found.x)


@lru_cache(maxsize=64)
def calibrated(name):
    """Return the device model of a shipped card.

    Parameters
    ----------
    name : str
        One of `card_names`.

    Returns
    -------
    CouplerModel
        The calibrated model.

    Raises
    ------
    CardError
        If there is no such card, or its lines contradict one another.

    Notes
    -----
    LED: least squares through the VF points, activation voltage from the temperature coefficient. Detector:
    collector resistance, doping factor and photocurrent gain together from the CTR test, the saturation test and
    the bend of the IC-VCE family.

    References
    ----------
    Derived here, on the device equations of `engine.devices`.
    """
    card = load_card(name)
    currents, ratios = np.array(card.CTR_shape).T
    shape = MonotoneCurve(np.log(currents), np.log(ratios))
    offset = float(shape(np.log(np.array([card.CTR_IF])))[0][0])
    if abs(offset) > 1e-6:
        raise CardError(name, "CTR.shape", "the point at the test current is not 100 %")
    RC, gamma, gain = _fit_collector(card, shape)
    warmth = tuple(
        (IF, MonotoneCurve([T for T, _ in points], [math.log(factor) for _, factor in points]))
        for IF, points in card.CTR_temperature
    )
    return CouplerModel(card, _fit_led(card), float(RC), float(gamma), float(gain), shape, warmth)
