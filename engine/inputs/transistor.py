"""A transistor driven by logic switches the LED: in series with it on the low side, or across it."""

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from engine.constants import ZERO_CELSIUS
from engine.errors import Problem
from engine.inputs.drive import Drive
from engine.parameter import choice, number
from engine.quantity import COUNT, OHM, RATIO, VOLT, as_typed, in_query
from engine.transistors import place_mosfet, place_npn, saturation_voltage

_EXPECTED = 1e-3  # [A], collector current that the iteration begins with
_SATURATED = 0.1  # [V], collector-emitter voltage of a saturated small transistor on paper; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class TransistorDrive(Drive):
    """Transistor that logic drives; parameters beside those of `Drive`.

    Attributes
    ----------
    VS : float
        Supply of the LED's loop [V].
    VS_tolerance : float
        Deviation of the supply, either way [-].
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
    gain: float = number("hfe", "Current gain", COUNT, 150.0, (1.0, 2000.0))
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
        return saturation_voltage(current, into_base, self.gain)

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
        nodes = self.switched[0], "G", self.reference
        if self.transistor == "mosfet":
            place_mosfet(net, "Q1", nodes, (self.Vth, self.R_on, self.VD), T)
        else:
            place_npn(net, "Q1", nodes, self.gain, T, (np.where(conducts, _EXPECTED, 0.0), values["VS"]))
