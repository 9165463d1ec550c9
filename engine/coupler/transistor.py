"""Device models of couplers with a transistor for detector: what meets a card, and how it is placed in a circuit."""

import math
from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np
from scipy.optimize import least_squares

from engine.circuit import Detector, LightPath, NetlistBuilder, solve
from engine.constants import REFERENCE_TEMPERATURE, SILICON_BAND_GAP, ZERO_CELSIUS, thermal_voltage
from engine.coupler.families import TransistorCard
from engine.coupler.led import LedModel, VF_shifts, fit_led
from engine.devices import DetectorParams, PhotoLaw, detector_guess, photocurrent
from engine.devices.junction import saturation_current
from engine.errors import CardError
from engine.numerics import MonotoneCurve

_IS = 5e-14  # [A], transport current that puts VBE near 0.62 V at 1 mA; common textbook order of magnitude
_IS_FIRST = 5e-16  # [A], of the first of two in cascade, which carries a hundredth of the current
_BETA_R = 8.0  # [-], reverse gain; typical of the class, no source
_GAMMA = 1e-10  # [-], doping factor that a fit begins with, and that of a cascade, whose last collector never floods
_BENT = 0.55  # [V], base-emitter voltage that a base resistor is reckoned with, for a guess
_FAINT = 1e-15  # [A], least photocurrent of a guess
_TRIALS = 100  # of a fit; shipped cards take about a dozen
_WORST = math.log(1.35)  # [-], misfit of a current from which its line cannot be met
_AT_BOUND = math.log(1.05)  # [-], the same where a parameter is at the end of what is plausible
_ENDS = (1e-2, 1e4), (1e-14, 1e-6), (1e-22, 1e-8), (2.0, 1e10)
"""What RC [ohm], gamma [-], IS [A] and gain [-] may be."""


@dataclass(frozen=True, slots=True)
class TransistorModel:
    """A card and the device parameters that meet it.

    Attributes
    ----------
    card : TransistorCard
        The card.
    led : LedModel
        The LED.
    shape : MonotoneCurve
        ln(relative CTR) over ln(IF) [-].
    warmth : tuple of (float, MonotoneCurve)
        LED current and ln(relative CTR) over temperature in degC [A, -].
    RC : float
        Collector resistance [ohm].
    gamma : float
        Doping factor of the collector at 25 degC [-].
    IS : float
        Transport saturation current of the transistor that carries the load, at 25 degC [A].
    gain : float
        Collector current per photocurrent at the CTR test point [-].
    """

    card: TransistorCard
    led: LedModel
    shape: MonotoneCurve
    warmth: tuple
    RC: float
    gamma: float
    IS: float
    gain: float

    terminals: ClassVar[tuple] = ("collector", "emitter")
    """What `place` takes as nodes of the output, in order."""

    fitted: ClassVar[tuple] = ("RC", "gamma", "gain")
    """Parameters that are found from CTR test, saturation test and knee together."""

    def spread(self):
        """Return what differs from specimen to specimen.

        Returns
        -------
        dict of str to tuple of (float, float, float)
            Nominal value, that of the weakest and that of the strongest specimen: "CTR" and "ICEO" [-, A].
        """
        card = self.card
        return {"CTR": (card.CTR_typ, card.CTR_min, card.CTR_max), "ICEO": (card.ICEO, card.ICEO, card.ICEO_max)}

    @property
    def V_lit(self):
        """Return the typical voltage between the terminals while the output is on [V]."""
        return self.card.VCE_sat

    def VF_shifts(self):
        """Return how far the forward voltages of the bin lie from the typical one.

        Returns
        -------
        low : float
            Of the specimen with the smallest forward voltage, negative [V].
        high : float
            Of the specimen with the largest [V].
        """
        return VF_shifts(self.card, self.led)

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
        return self._params(T, self.IS, self.card.beta, ICEO / self._amplified(self.card.beta, self.card.ICEO_VCE))

    def place(self, net, led, out, T, values):
        """Place the coupler.

        Parameters
        ----------
        net : NetlistBuilder
            Where to place it; the nodes are declared.
        led : tuple of str
            Anode and cathode.
        out : tuple of str
            Nodes of the `terminals`.
        T : ndarray, shape (batch,)
            Absolute temperature [K].
        values : dict of str to ndarray, shape (batch,)
            The specimen: "shift" of the forward voltage and the keys of `spread`. For a guess: "IF", the LED current
            expected, "VCC", the voltage at hand, "demand", the collector current of a saturated detector. "RBE",
            where there is one, the resistor from base to emitter, an array or one for all [V, ..., A, V, A, ohm].
        """
        params, knee = self.led.place(net, led, T, values)
        law = self.transfer(values["CTR"], T)
        light = photocurrent(np.maximum(values["IF"], 0.0), law)[0]
        net.inside(out[0], "CI", "B")
        net.device(LightPath("U1", "AJ", led[1], "CI", "B", params, law, knee))
        if self.card.input == "pair":
            knee = self.led.place_second(net, led[1], params)
            net.device(LightPath("U1", led[1], "AJ", "CI", "B", params, law, knee))
        if (RBE := values.get("RBE")) is not None:
            net.resistor("RBE", "B", out[1], RBE)
            values = values | {"most": RBE * light}
            light = np.maximum(light - _BENT / RBE, _FAINT)
        self.place_detector(net, out, T, values | {"light": light})

    def place_detector(self, net, out, T, values):
        """Place the output side alone, between the nodes of the `terminals`, "CI" and "B".

        Parameters
        ----------
        net : NetlistBuilder
            Where to place it.
        out : tuple of str
            Collector and emitter.
        T : ndarray, shape (batch,)
            Absolute temperature [K].
        values : dict of str to ndarray, shape (batch,)
            As of `place`, and "light", the photocurrent expected; where there is a base resistor, also "most", the
            voltage that the light alone can make across it [V].
        """
        params = self.detector(T, values["ICEO"])
        guess = detector_guess(values["light"], values["demand"], values["VCC"], params)
        guess = _shut(guess, values, params.I_dark)
        net.device(Detector("U1", out[0], "CI", "B", out[1], params, guess))

    def _amplified(self, beta, VCE):
        """Return what a dark current of the collector junction becomes."""
        return 1.0 + beta * (1.0 + VCE / self.card.VA)

    def _params(self, T, IS, beta, I_dark):
        whole = np.ones_like(T)
        at_T = saturation_current(IS, T, SILICON_BAND_GAP, 1.0)
        doublings = (T - REFERENCE_TEMPERATURE) / self.card.ICEO_doubling
        return DetectorParams(
            IS=at_T,
            VT=thermal_voltage(T),
            beta_F=beta * whole,
            beta_R=_BETA_R * whole,
            VA=self.card.VA * whole,
            RC=self.RC * whole,
            gamma=self.gamma * at_T / IS,
            I_dark=I_dark * 2.0**doublings * whole,
        )


@dataclass(frozen=True, slots=True)
class CascadeModel(TransistorModel):
    """Two transistors, collectors together: the first takes the light, its emitter drives the second's base.

    So the collector stays a base-emitter voltage above the emitter even when the first one is saturated.
    """

    fitted: ClassVar[tuple] = ("RC", "IS", "gain")

    def _first(self, T, ICEO):
        """Return the parameters of the transistor that takes the light; arguments as of `detector`."""
        card = self.card
        amplified = self._amplified(card.beta, card.ICEO_VCE) * self._amplified(card.beta_output, card.ICEO_VCE)
        return self._params(T, _IS_FIRST, card.beta, ICEO / amplified)

    def detector(self, T, ICEO):
        """Return the parameters of the transistor that carries the load; the dark current is all the first one's."""
        return self._params(T, self.IS, self.card.beta_output, 0.0 * ICEO)

    def place_detector(self, net, out, T, values):
        """Place both transistors; arguments as of `TransistorModel.place_detector`."""
        first, second = self._first(T, values["ICEO"]), self.detector(T, values["ICEO"])
        share = values["demand"] / self.card.beta_output
        left = np.maximum(values["VCC"] - _BENT, _BENT)
        guess = _shut(detector_guess(values["light"], share, left, first), values, first.I_dark)
        carried = np.minimum(values["demand"], self.gain * (values["light"] + first.I_dark))
        v_be = second.VT * np.log1p(carried / second.IS)
        v_bc = guess[:, 2] - guess[:, 0]
        v_bi = np.minimum(v_bc + carried * self.RC, 0.5 * v_be)
        net.inside(out[0], "C2J", "B2J")
        net.device(Detector("U1", out[0], "CI", "B", "B2J", first, guess))
        net.device(Detector("U1", out[0], "C2J", "B2J", out[1], second, np.stack((v_be, v_bi, v_bc), axis=1)))


def _shut(guess, values, I_dark):
    """Return control voltages to begin with, a detector shut where its base resistor takes all that feeds the base."""
    if values.get("RBE") is None:
        return guess
    most = values["most"] + values["RBE"] * I_dark
    blocked = np.stack((most, most - values["VCC"], most - values["VCC"]), axis=1)
    return np.where((most < guess[:, 0])[:, None], blocked, guess)


@dataclass(frozen=True, slots=True)
class _Light:
    """A fixed photocurrent, for calibration without an LED."""

    current: np.ndarray
    controls = ()
    shunts = ()
    turning = ()
    steep = ()
    branches = (("CI", "B"),)

    def start(self):
        return np.empty((len(self.current), 0))

    def evaluate(self, v):
        return self.current[:, None], np.zeros((len(v), 1, 0))

    def limits(self):
        return self.start(), self.start()

    def take(self, index):
        return _Light(self.current[index])


def _currents(model, light, VCE):
    """Return collector currents at given photocurrents (batch,) and collector voltages (batch,)."""
    batch = len(VCE)
    net = NetlistBuilder(batch)
    net.side("output", "E", "C", "CI", "B")
    net.source("VCE", "C", VCE)
    net.conductance("none", "C", "E", 0.0)
    values = {"light": light, "demand": np.full(batch, np.inf), "VCC": VCE, "ICEO": np.full(batch, model.card.ICEO)}
    model.place_detector(net, ("C", "E"), np.full(batch, REFERENCE_TEMPERATURE), values)
    net.device(_Light(light))
    return solve(net.build()).source_currents["VCE"]


def _fitted(model):
    """Return the model with collector and gain that meet CTR test, saturation test and knee at once."""
    card, lines = model.card, ("CTR.typ", "detector.VCE_sat", "detector.knee")
    knee_IF, knee_VCE, knee_IC = card.knee
    IF = np.array([card.CTR_IF, card.VCE_sat_IF, knee_IF])
    VCE = np.array([card.CTR_VCE, card.VCE_sat, knee_VCE])
    wanted = np.array([card.CTR_typ * card.CTR_IF, card.VCE_sat_IC, knee_IC])
    reach = card.CTR_typ * IF * np.exp(model.shape(np.log(IF))[0])
    for line, current, most in zip(lines[1:], wanted[1:], reach[1:], strict=True):
        if current >= most:
            raise CardError(card.name, line, "its IC is above the current that the CTR gives there")

    def trial(logs):
        return replace(model, **dict(zip(model.fitted, np.exp(logs).tolist(), strict=True)))

    def misfit(logs):
        candidate = trial(logs)
        return np.log(np.maximum(_currents(candidate, reach / candidate.gain, VCE), 1e-12) / wanted)

    ends = dict(zip(("RC", "gamma", "IS", "gain"), _ENDS, strict=True))
    bounds = np.log([ends[name] for name in model.fitted]).T
    start = np.clip(np.log([getattr(model, name) for name in model.fitted]), *bounds)
    found = least_squares(misfit, start, bounds=bounds, xtol=1e-12, ftol=1e-12, gtol=1e-12, max_nfev=_TRIALS)
    worst = int(np.abs(found.fun).argmax())
    if np.abs(found.fun[worst]) > (_AT_BOUND if found.active_mask.any() else _WORST):
        raise CardError(card.name, lines[worst], "no detector of this family meets it together with the other lines")
    return trial(found.x)


def fit_transistor(card, kind, gain):
    """Return the model of a card.

    Parameters
    ----------
    card : TransistorCard
        The card.
    kind : type
        `TransistorModel` or `CascadeModel`.
    gain : float
        Collector current per photocurrent that the fit begins with [-].

    Returns
    -------
    TransistorModel
        The model.

    Raises
    ------
    CardError
        If the lines contradict one another.

    Notes
    -----
    Collector resistance, doping factor (of a cascade: the saturation current of its second transistor) and photocurrent
    gain together from the CTR test, the saturation test and the bend of the IC-VCE family.

    References
    ----------
    Derived here, on the device equations of `engine.devices`.
    """
    currents, ratios = np.array(card.CTR_shape).T
    shape = MonotoneCurve(np.log(currents), np.log(ratios))
    offset = float(shape(np.log(np.array([card.CTR_IF])))[0][0])
    if abs(offset) > 1e-6:
        raise CardError(card.name, "CTR.shape", "the point at the test current is not 100 %")
    warmth = tuple(
        (IF, MonotoneCurve([T for T, _ in curve], [math.log(factor) for _, factor in curve]))
        for IF, curve in card.CTR_temperature
    )
    _, VCE, IC = card.knee
    return _fitted(kind(card, fit_led(card), shape, warmth, 0.8 * VCE / IC, _GAMMA, _IS, gain))
