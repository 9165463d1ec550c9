"""The detector lights an indicator LED directly."""

import math
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from scipy.special import wrightomega

from engine.circuit import Junction
from engine.constants import REFERENCE_TEMPERATURE, ZERO_CELSIUS, thermal_voltage
from engine.coupler import LedModel
from engine.errors import Problem
from engine.logic import judge
from engine.parameter import choice, declared, number
from engine.quantity import AMPERE, OHM, RATIO, VOLT, WATT, as_typed, in_query
from engine.supply import FROM_TOLERANCE, crossed_ends, supply_ends

_EMISSION = 2.0  # [-], emission coefficient of visible LEDs; common practice, no source
_DRIFT = -2e-3  # [V/K], temperature coefficient of visible LEDs; common practice, no source
_DARK = 50e-6  # [A], up to which an indicator is taken to be dark unless it is said otherwise; a value of our own


def _colour(VF_1mA, VF_20mA):
    """Return the LED model that goes through two forward voltages."""
    nVT = _EMISSION * thermal_voltage(REFERENCE_TEMPERATURE)
    RS = (VF_20mA - VF_1mA - nVT * math.log(20.0)) / 19e-3
    VJ = VF_1mA - RS * 1e-3
    activation = VJ - REFERENCE_TEMPERATURE * _DRIFT - 3 * nVT / _EMISSION
    return LedModel(1e-3 / math.exp(VJ / nVT), _EMISSION, RS, activation)


COLOURS = {"red": _colour(1.75, 1.95), "yellow": _colour(1.85, 2.05), "green": _colour(1.95, 2.2),
           "blue": _colour(2.65, 3.1), "white": _colour(2.65, 3.1)}  # fmt: skip
"""Colour to LED model; values typical of the colour, of our own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Indicator:
    """Supply, load resistor, indicator and detector in series.

    Attributes
    ----------
    VCC : float
        Supply of the output side [V].
    VCC_tolerance : float
        Deviation of the supply, either way [-].
    VCC_min : float or str
        Lowest supply, or "tol" for what the tolerance gives [V].
    VCC_max : float or str
        Highest supply, or "tol" [V].
    RL : float or str
        Series resistor of the indicator, or "auto" to size it from `IL` [ohm].
    IL : float
        Indicator current that an "auto" resistor is sized for [A].
    RL_rating : float
        Power rating of that resistor [W].
    colour : str
        Colour of the indicator.
    I_lit : float
        Current from which it counts as lit [A].
    I_dark : float
        Current up to which it counts as dark [A].
    """

    VCC: float = number("vcc", "VCC", VOLT, 15.0, (0.0, 1000.0))
    VCC_tolerance: float = number("vcctol", "VCC tolerance", RATIO, 0.05, (0.0, 0.5))
    VCC_min: float | str = number("vccmin", "VCC min", VOLT, FROM_TOLERANCE, (0.0, 1000.0), (FROM_TOLERANCE,))
    VCC_max: float | str = number("vccmax", "VCC max", VOLT, FROM_TOLERANCE, (0.0, 1000.0), (FROM_TOLERANCE,))
    RL: float | str = number("rl", "RL", OHM, "auto", (1.0, 1e8), ("auto",))
    IL: float = number("il", "IL", AMPERE, 1e-3, (1e-7, 1.0))
    RL_rating: float = number("rlw", "RL rating", WATT, 0.25, (0.05, 100.0))
    colour: str = choice("colour", "Indicator", "green", COLOURS)
    I_lit: float = number("ilit", "Lit from", AMPERE, 0.5e-3, (1e-6, 1.0))
    I_dark: float = number("idark", "Dark up to", AMPERE, _DARK, (1e-9, 1.0))

    kind: ClassVar[str] = "indicator"
    title: ClassVar[str] = "Indicator LED"
    reference: ClassVar[str] = "common"
    detector: ClassVar[tuple] = ("C", "common")
    observed: ClassVar[str] = "IL"
    level_when_lit: ClassVar[str] = "lit"
    loop: ClassVar[tuple] = ("RL", "D1", "U1")
    dark_leakage: ClassVar[float] = 0.0

    @property
    def VCC_ends(self):
        """Return the lowest and the highest supply [V]."""
        return supply_ends(self.VCC, self.VCC_tolerance, self.VCC_min, self.VCC_max)

    def lit_leakage(self, down=1.0, up=1.0):
        """Return what the lit detector carries beside the indicator's current.

        Parameters
        ----------
        down : float or ndarray
            Not used: there is no receiver [-].
        up : float or ndarray
            Not used: there is no receiver [-].

        Returns
        -------
        float or ndarray
            Nothing [A].
        """
        return 0.0 * down

    def contradictions(self):
        """Yield what cannot both be: crossed ends of the supply, limits that make an indicator dark and lit at once.

        Yields
        ------
        Problem
            At the lower end; at the limit that was chosen, at the lower one if both were.
        """
        yield from crossed_ends("vccmin", "VCC", self.VCC_min, self.VCC_max)
        if self.I_dark < self.I_lit:
            return
        low, high = (declared(self)[name] for name in ("I_dark", "I_lit"))
        reason = f"{low.symbol} is not below {high.symbol}"
        if self.I_dark == _DARK:
            accepted = f"a current above {as_typed(self.I_dark, AMPERE)}"
            yield Problem(high.key, in_query(self.I_lit, AMPERE), accepted, reason)
        else:
            accepted = f"a current below {as_typed(self.I_lit, AMPERE)}"
            yield Problem(low.key, in_query(self.I_dark, AMPERE), accepted, reason)

    def wire(self, net, TA_degC, VCC, RL, leak_down, leak_up):
        """Place the side: supply, RL, indicator, detector.

        Parameters
        ----------
        net : NetlistBuilder
            Where to place it.
        TA_degC : float
            Ambient temperature [degC].
        VCC : ndarray, shape (batch,)
            Supply [V].
        RL : ndarray, shape (batch,)
            Series resistor [ohm].
        leak_down : ndarray, shape (batch,)
            Not used: there is no receiver [-].
        leak_up : ndarray, shape (batch,)
            Not used: there is no receiver [-].
        """
        led = COLOURS[self.colour]
        junction = led.junction(np.full(net.batch, TA_degC + ZERO_CELSIUS))
        net.side("output", self.reference, "VCC", "D", "DJ", "C")
        net.source("VCC", "VCC", VCC)
        net.resistor("RL", "VCC", "D", RL)
        net.resistor("D1", "D", "DJ", led.RS)
        net.device(Junction("D1", "DJ", "C", junction, junction.at_current(1e-3)))

    def verdict(self, IL, VCC):
        """Return what is seen of the indicator.

        Parameters
        ----------
        IL : ndarray, shape (corners,)
            Indicator current, the nominal one first [A].
        VCC : ndarray, shape (corners,)
            Supply of the output side, which does not matter [V].

        Returns
        -------
        Verdict
            "dark", "dim" or "lit", and whether every corner agrees.
        """
        limits = np.broadcast_to(self.I_dark, IL.shape), np.broadcast_to(self.I_lit, IL.shape)
        return judge(IL, *limits, words=("dark", "dim", "lit"))

    def needed_current(self, VCE, VCC, RL, T):
        """Return the collector current that holds a given collector-emitter voltage.

        Parameters
        ----------
        VCE : float
            Collector-emitter voltage to be held [V].
        VCC : ndarray, shape (batch,)
            Supply of the output side [V].
        RL : ndarray, shape (batch,)
            Series resistor [ohm].
        T : float
            Absolute temperature [K].

        Returns
        -------
        ndarray, shape (batch,)
            Collector current; 0 where the supply is below `VCE` [A].

        References
        ----------
        T. C. Banwell and A. Jayakumar, Electronics Letters 36(4), 2000, DOI 10.1049/el:20000301.
        """
        led = COLOURS[self.colour]
        diode = led.junction(np.full(np.shape(VCC), T))
        R, left = RL + led.RS, np.maximum(VCC - VCE, 0.0)
        scale = diode.nVT / R
        omega = wrightomega(np.log(diode.IS / scale) + (left + diode.IS * R) / diode.nVT)
        return np.maximum(scale * omega - diode.IS, 0.0)

    def drop_beside_load(self, IL, T):
        """Return what the load current meets besides RL and the detector.

        Parameters
        ----------
        IL : float
            Indicator current [A].
        T : float
            Absolute temperature [K].

        Returns
        -------
        float
            Forward voltage of the indicator [V].
        """
        return float(COLOURS[self.colour].VF(IL, T))
