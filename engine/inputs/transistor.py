"""A transistor driven by logic switches the LED: in series with it on the low side, or across it."""

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from engine.circuit import Detector, Mosfet
from engine.constants import REFERENCE_TEMPERATURE, SILICON_BAND_GAP, ZERO_CELSIUS, thermal_voltage
from engine.devices import DetectorParams, MosfetParams
from engine.devices.junction import saturation_current
from engine.errors import Problem
from engine.inputs.drive import Drive
from engine.parameter import choice, number
from engine.quantity import OHM, RATIO, VOLT, as_typed, in_query

_IS = 2e-14  # [A], transport current that puts VBE near 0.63 V at 1 mA; common textbook order of magnitude
_BETA_R, _VA, _RC = 4.0, 80.0, 2.0  # [-, V, ohm], a small switching transistor; values of our own
_DARK = 10e-9  # [A], collector leakage of a small transistor; value of our own
_SLOPE = 1.5  # [-], slope factor of a MOSFET below its threshold; common textbook value
_SATURATED = 0.1  # [V], collector-emitter voltage of a saturated small transistor on paper; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class TransistorDrive(Drive):
    """Transistor that logic drives; parameters beside those of `Drive`.

    Attributes
    ----------
    VS : float
        Supply of the LED's loop [V].
    transistor : str
        "npn" or "mosfet" (n channel, enhancement).
    lies : str
        "series" for a transistor between LED and return, which lights the LED by conducting; "across" for one that
        lies across the LED and lights it by blocking.
    VD : float
        High level of the driving logic; low is 0 V [V].
    R_base : float
        Resistor in the base or gate lead [ohm].
    gain : float
        Current gain of the npn transistor [-].
    Vth : float
        Threshold voltage of the MOSFET [V].
    R_on : float
        On-resistance of the MOSFET at the logic's high level [ohm].
    """

    VS: float = number("vs", "VS", VOLT, 15.0, (0.0, 1000.0))
    VS_tolerance: float = number("vstol", "VS tolerance", RATIO, 0.05, (0.0, 0.5))
    transistor: str = choice("q", "Transistor", "npn", ("npn", "mosfet"))
    lies: str = choice("qat", "Transistor lies", "series", ("series", "across"))
    VD: float = number("vd", "VD", VOLT, 3.3, (0.1, 30.0))
    R_base: float = number("r2", "R2", OHM, 10e3, (1.0, 1e7))
    gain: float = number("hfe", "Current gain", RATIO, 150.0, (1.0, 2000.0))
    Vth: float = number("vth", "Threshold", VOLT, 1.5, (0.1, 20.0))
    R_on: float = number("ron", "On-resistance", OHM, 2.0, (1e-3, 1e5))

    kind: ClassVar[str] = "transistor"
    title: ClassVar[str] = "Transistor drive"
    switch_part: ClassVar[str] = "Q1"
    feed: ClassVar[str] = "VS"
    before: ClassVar[tuple] = ()

    @property
    def states(self):
        """Return the states in words: across the LED the transistor lights it by blocking."""
        on, off = "transistor on", "transistor off"
        return {"closed": on, "open": off} if self.lies == "series" else {"closed": off, "open": on}

    @property
    def cathode(self):
        """Return the node of the LED's cathode."""
        return "K" if self.lies == "series" else self.reference

    @property
    def switched(self):
        """Return the nodes of the transistor's collector or drain and emitter or source."""
        return ("K" if self.lies == "series" else "A"), self.reference

    @property
    def after(self):
        """Return the parts of the loop behind the LED."""
        return ("Q1",) if self.lies == "series" else ()

    @property
    def V_by_hand(self):
        """Return the drop of the transistor that conducts [V]."""
        return _SATURATED if self.transistor == "npn" and self.lies == "series" else 0.0

    def contradictions(self):
        """Yield what cannot both be, as `Drive`, and a threshold that the logic does not reach.

        Yields
        ------
        Problem
            At the field that was chosen.
        """
        yield from Drive.contradictions(self)
        if self.transistor == "mosfet" and self.Vth >= self.VD:
            reason = f"the on-resistance is stated at VD = {as_typed(self.VD, VOLT)}, which is not above the threshold"
            yield Problem("vth", in_query(self.Vth, VOLT), f"a voltage below {as_typed(self.VD, VOLT)}", reason)

    def drop(self, current):
        """Return about what the transistor takes while it conducts in series with the LED.

        Parameters
        ----------
        current : float
            Current that it carries [A].

        Returns
        -------
        float
            Voltage [V].
        """
        if self.lies == "across":
            return 0.0
        if self.transistor == "mosfet":
            return current * self.R_on
        into_base = max(self.VD - 0.7, 0.0) / self.R_base
        if self.gain * into_base <= current:
            return _SATURATED
        # Saturated: the ratio of forced to full gain sets the voltage between the junctions.
        VT, forced = thermal_voltage(REFERENCE_TEMPERATURE), current / into_base
        alpha = _BETA_R / (1.0 + _BETA_R)
        return VT * float(np.log((1.0 / alpha + forced / _BETA_R) / (1.0 - forced / self.gain))) + current * _RC

    def loop_resistance(self, closed, R1):
        """Return about the resistance of the LED's loop, infinite where it is dark.

        Parameters
        ----------
        closed : ndarray of bool, shape (batch,)
            Whether the LED is meant to be lit.
        R1 : ndarray, shape (batch,)
            Series resistor [ohm].

        Returns
        -------
        ndarray, shape (batch,)
            Resistance [ohm].
        """
        return np.where(closed, R1, np.inf)

    def wire(self, net, closed, TA_degC, values):
        """Place the side but its LED: supply, R1 and what is around the LED, the transistor and what drives it.

        Parameters
        ----------
        net : NetlistBuilder
            Where to place it.
        closed : ndarray of bool, shape (batch,)
            Whether the LED is meant to be lit.
        TA_degC : float
            Ambient temperature [degC].
        values : dict of str to ndarray, shape (batch,)
            "VS", "R1" and what `spreads` names, in SI units.
        """
        net.side("input", self.reference, *dict.fromkeys(("VS", self.switched[0], "A", "VD", "G")))
        net.source("VS", "VS", values["VS"])
        conducts = closed if self.lies == "series" else ~closed
        net.source("VD", "VD", np.where(conducts, self.VD, 0.0))
        self.place_branch(net, TA_degC, values)
        net.resistor("R2", "VD", "G", self.R_base)
        T = np.full(net.batch, TA_degC + ZERO_CELSIUS)
        if self.transistor == "mosfet":
            params = MosfetParams.from_on_resistance(
                np.full(net.batch, self.Vth), np.full(net.batch, self.R_on), self.VD, _SLOPE * thermal_voltage(T)
            )
            net.device(Mosfet("Q1", self.switched[0], "G", self.reference, params))
            return
        net.side("input", self.reference, "QJ")
        params, guess = self._npn(T, conducts, values["VS"])
        net.device(Detector("Q1", self.switched[0], "QJ", "G", self.reference, params, guess))

    def _npn(self, T, conducts, VS):
        """Return the npn transistor's parameters, and control voltages to begin with."""
        whole = np.ones_like(T)
        IS = saturation_current(_IS, T, SILICON_BAND_GAP, 1.0)
        params = DetectorParams(
            IS, thermal_voltage(T), self.gain * whole, _BETA_R * whole, _VA * whole, _RC * whole,
            1e-12 * IS / _IS, _DARK / (1.0 + self.gain) * whole,
        )  # fmt: skip
        V_be = np.where(conducts, params.VT * np.log1p(1e-3 / IS), 0.0)
        V_bc = np.where(conducts, V_be - 0.1, -np.maximum(VS, 0.0))
        return params, np.stack((V_be, V_bc, V_bc), axis=1)
