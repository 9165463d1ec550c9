"""A dry contact switches the LED, on its cathode's side (low) or on its anode's side (high)."""

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from engine.circuit import Junction
from engine.constants import ZERO_CELSIUS, thermal_voltage
from engine.devices import JunctionParams
from engine.inputs.drive import NONE, Drive
from engine.parameter import number
from engine.quantity import AMPERE, OHM, WATT

_LEAST_LINE = 10e-3  # [ohm], below which a line is taken for none
_BLOCKING = -1.0  # [V], where the iteration begins for a contact that leaks


@dataclass(frozen=True, slots=True, kw_only=True)
class _Contact(Drive):
    """Parameters that both positions of the contact share, beside those of `Drive`.

    Attributes
    ----------
    R1_rating : float
        Power rating of the series resistor [W].
    R_contact : float
        Resistance of the closed contact [ohm].
    R_line : float
        Resistance of the line to the contact and back; none below 10 milliohm [ohm].
    R_leak : float or str
        Leakage resistance of the open contact and its cable, or "none" [ohm].
    I_residual : float
        Current that the open contact lets through whatever the voltage, as an electronic one does [A].
    """

    R1_rating: float = number("r1w", "R1 rating", WATT, 0.5, (0.05, 100.0))
    R_contact: float = number("rc", "S1 closed", OHM, 0.1, (1e-3, 1e4))
    R_line: float = number("line", "Line", OHM, 0.0, (0.0, 1e5))
    R_leak: float | str = number("leak", "S1 open", OHM, NONE, (1e2, 1e12), (NONE,))
    I_residual: float = number("ires", "Residual current", AMPERE, 0.0, (0.0, 0.1))

    states: ClassVar[dict] = {"closed": "contact closed", "open": "contact open"}
    switch_part: ClassVar[str] = "S1"

    @property
    def has_line(self):
        """Return whether the line has a resistance to speak of."""
        return self.R_line >= _LEAST_LINE

    def drop(self, current):
        """Return what contact and line take while the contact is closed.

        Parameters
        ----------
        current : float
            Current that they carry [A].

        Returns
        -------
        float
            Voltage [V].
        """
        return current * (self.R_line * self.has_line + 1.0 / float(self._conductance(True)))

    def loop_resistance(self, closed, R1):
        """Return about the resistance of the LED's loop, infinite where it is open.

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
        leak = np.inf if self.R_leak == NONE else self.R_leak
        residual = max(self.VS, 1e-3) / self.I_residual if self.I_residual else np.inf
        return R1 + self.R_line + np.where(closed, self.R_contact, min(leak, residual))

    def _conductance(self, closed):
        """Return the contact's conductance, with the leakage that lies across it."""
        leak = 0.0 if self.R_leak == NONE else 1.0 / self.R_leak
        return np.where(closed, 1.0 / self.R_contact + leak, leak)

    def _place_contact(self, net, closed, TA_degC):
        """Place the contact, and what it lets through while open."""
        a, b = self.switched
        net.conductance("S1", a, b, self._conductance(closed))
        if self.I_residual:
            VT = np.full(net.batch, thermal_voltage(TA_degC + ZERO_CELSIUS))
            params = JunctionParams(np.where(closed, 0.0, self.I_residual), VT)
            net.device(Junction("S1", b, a, params, np.full(net.batch, _BLOCKING)))


@dataclass(frozen=True, slots=True, kw_only=True)
class ContactLow(_Contact):
    """Contact between the LED and the return; parameters as `_Contact`."""

    kind: ClassVar[str] = "contact-low"
    title: ClassVar[str] = "Contact to return"
    feed: ClassVar[str] = "VS"
    cathode: ClassVar[str] = "K"
    before: ClassVar[tuple] = ()

    @property
    def after(self):
        """Return the parts of the loop behind the LED."""
        return (*(("RW",) if self.has_line else ()), "S1")

    @property
    def switched(self):
        """Return the nodes of the contact."""
        return ("S" if self.has_line else "K"), self.reference

    def wire(self, net, closed, TA_degC, values):
        """Place the side but its LED: supply, R1 and what is around the LED, line, contact.

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
        net.side("input", self.reference, *dict.fromkeys(("VS", "K", self.switched[0])))
        net.source("VS", "VS", values["VS"])
        self.place_branch(net, TA_degC, values)
        if self.has_line:
            net.resistor("RW", "K", "S", self.R_line)
        self._place_contact(net, closed, TA_degC)


@dataclass(frozen=True, slots=True, kw_only=True)
class ContactHigh(_Contact):
    """Contact between the supply and the LED; parameters as `_Contact`."""

    kind: ClassVar[str] = "contact-high"
    title: ClassVar[str] = "Contact to supply"
    cathode: ClassVar[str] = "return"
    switched: ClassVar[tuple] = ("VS", "S")
    after: ClassVar[tuple] = ()

    @property
    def feed(self):
        """Return the node that R1 begins at."""
        return "W" if self.has_line else "S"

    @property
    def before(self):
        """Return the parts of the loop in front of R1."""
        return ("S1", *(("RW",) if self.has_line else ()))

    def wire(self, net, closed, TA_degC, values):
        """Place the side but its LED: supply, contact, line, R1 and what is around the LED.

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
        net.side("input", self.reference, *dict.fromkeys(("VS", "S", self.feed)))
        net.source("VS", "VS", values["VS"])
        self._place_contact(net, closed, TA_degC)
        if self.has_line:
            net.resistor("RW", "S", "W", self.R_line)
        self.place_branch(net, TA_degC, values)
