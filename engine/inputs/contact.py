"""A dry contact switches the LED, on its cathode's side (low) or on its anode's side (high)."""

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from engine.parameter import number
from engine.quantity import AMPERE, OHM, RATIO, VOLT, WATT
from engine.supply import FROM_TOLERANCE, crossed_ends, supply_ends


@dataclass(frozen=True, slots=True, kw_only=True)
class _Contact:
    """Parameters that both positions of the contact share.

    Attributes
    ----------
    VS : float
        Supply voltage [V].
    VS_tolerance : float
        Deviation of the supply, either way [-].
    VS_min : float or str
        Lowest supply, or "tol" for what the tolerance gives [V].
    VS_max : float or str
        Highest supply, or "tol" [V].
    R1 : float or str
        Series resistor, or "auto" to size it from `IF` [ohm].
    IF : float
        Drive current that an "auto" resistor is sized for [A].
    R1_rating : float
        Power rating of the series resistor [W].
    R_contact : float
        Resistance of the closed contact [ohm].
    R_line : float
        Resistance of the line to the contact and back [ohm].
    R_leak : float or str
        Leakage resistance of the open contact and its cable, or "none" [ohm].
    """

    VS: float = number("vs", "VS", VOLT, 48.0, (0.0, 1000.0))
    VS_tolerance: float = number("vstol", "VS tolerance", RATIO, 0.1, (0.0, 0.5))
    VS_min: float | str = number("vsmin", "VS min", VOLT, FROM_TOLERANCE, (0.0, 1000.0), (FROM_TOLERANCE,))
    VS_max: float | str = number("vsmax", "VS max", VOLT, FROM_TOLERANCE, (0.0, 1000.0), (FROM_TOLERANCE,))
    R1: float | str = number("r1", "R1", OHM, "auto", (1.0, 1e8), ("auto",))
    IF: float = number("if", "IF", AMPERE, 3e-3, (1e-6, 1.0))
    R1_rating: float = number("r1w", "R1 rating", WATT, 0.5, (0.05, 100.0))
    R_contact: float = number("rc", "S1 closed", OHM, 0.1, (1e-3, 1e4))
    R_line: float = number("line", "Line", OHM, 0.0, (0.0, 1e5))
    R_leak: float | str = number("leak", "S1 open", OHM, "none", (1e2, 1e12), ("none",))

    states: ClassVar[dict] = {"closed": "contact closed", "open": "contact open"}
    switch_part: ClassVar[str] = "S1"
    reference: ClassVar[str] = "return"
    drop_by_hand: ClassVar[float] = 0.0

    @property
    def VS_ends(self):
        """Return the lowest and the highest supply [V]."""
        return supply_ends(self.VS, self.VS_tolerance, self.VS_min, self.VS_max)

    def contradictions(self):
        """Yield what cannot both be: ends of the supply the wrong way round.

        Yields
        ------
        Problem
            At the lower end.
        """
        yield from crossed_ends("vsmin", "VS", self.VS_min, self.VS_max)

    def drop(self, IF):
        """Return what the lit loop takes besides R1 and the LED.

        Parameters
        ----------
        IF : float
            LED current [A].

        Returns
        -------
        float
            Voltage [V].
        """
        return IF * (self.R_line + 1.0 / float(self._contact_conductance(True)))

    def loop_resistance(self, closed, R1):
        """Return the resistance of the LED's loop, infinite where it is open.

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
        leak = np.inf if self.R_leak == "none" else self.R_leak
        return R1 + self.R_line + np.where(closed, self.R_contact, leak)

    def _contact_conductance(self, closed):
        leak = 0.0 if self.R_leak == "none" else 1.0 / self.R_leak
        return np.where(closed, 1.0 / self.R_contact + leak, leak)


@dataclass(frozen=True, slots=True, kw_only=True)
class ContactLow(_Contact):
    """Contact between the LED and the return; parameters as `_Contact`."""

    kind: ClassVar[str] = "contact-low"
    title: ClassVar[str] = "Contact to return"
    led: ClassVar[tuple] = ("A", "K")

    @property
    def loop(self):
        """Return the parts of the LED's loop in order, from the supply on."""
        return ("R1", "LED", *(("RW",) if self.R_line > 0 else ()), "S1")

    def wire(self, net, closed, TA_degC, VS, R1):
        """Place the side: supply, R1, LED, line, contact, return.

        Parameters
        ----------
        net : NetlistBuilder
            Where to place it.
        closed : ndarray of bool, shape (batch,)
            Whether the LED is meant to be lit.
        TA_degC : float
            Ambient temperature, which this side does not mind [degC].
        VS : ndarray, shape (batch,)
            Supply voltage [V].
        R1 : ndarray, shape (batch,)
            Series resistor [ohm].
        """
        far = "S" if self.R_line > 0 else "K"
        net.side("input", self.reference, *dict.fromkeys(("VS", "A", "K", far)))
        net.source("VS", "VS", VS)
        net.resistor("R1", "VS", "A", R1)
        if self.R_line > 0:
            net.resistor("RW", "K", "S", self.R_line)
        net.conductance("S1", far, self.reference, self._contact_conductance(closed))


@dataclass(frozen=True, slots=True, kw_only=True)
class ContactHigh(_Contact):
    """Contact between the supply and the LED; parameters as `_Contact`."""

    kind: ClassVar[str] = "contact-high"
    title: ClassVar[str] = "Contact to supply"
    led: ClassVar[tuple] = ("A", "return")

    @property
    def loop(self):
        """Return the parts of the LED's loop in order, from the supply on."""
        return ("S1", *(("RW",) if self.R_line > 0 else ()), "R1", "LED")

    def wire(self, net, closed, TA_degC, VS, R1):
        """Place the side: supply, contact, line, R1, LED, return.

        Parameters
        ----------
        net : NetlistBuilder
            Where to place it.
        closed : ndarray of bool, shape (batch,)
            Whether the LED is meant to be lit.
        TA_degC : float
            Ambient temperature, which this side does not mind [degC].
        VS : ndarray, shape (batch,)
            Supply voltage [V].
        R1 : ndarray, shape (batch,)
            Series resistor [ohm].
        """
        far = "W" if self.R_line > 0 else "S"
        net.side("input", self.reference, *dict.fromkeys(("VS", "S", far, "A")))
        net.source("VS", "VS", VS)
        net.conductance("S1", "VS", "S", self._contact_conductance(closed))
        if self.R_line > 0:
            net.resistor("RW", "S", "W", self.R_line)
        net.resistor("R1", far, "A", R1)
