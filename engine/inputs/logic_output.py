"""A push-pull logic port drives the LED, sourcing (active high) or sinking (active low) its current."""

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from engine.parameter import choice, number
from engine.quantity import AMPERE, OHM, RATIO, VOLT, WATT
from engine.supply import FROM_TOLERANCE, crossed_ends, supply_ends


@dataclass(frozen=True, slots=True, kw_only=True)
class LogicOutput:
    """Push-pull port with output resistance.

    Attributes
    ----------
    VS : float
        Supply of the port [V].
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
    R_port : float
        Output resistance of the port in either state [ohm].
    I_port : float
        Current that the port may carry [A].
    active : str
        "high" if the port lights the LED by going high, "low" if by going low.
    """

    VS: float = number("vs", "VS", VOLT, 3.3, (0.0, 1000.0))
    VS_tolerance: float = number("vstol", "VS tolerance", RATIO, 0.05, (0.0, 0.5))
    VS_min: float | str = number("vsmin", "VS min", VOLT, FROM_TOLERANCE, (0.0, 1000.0), (FROM_TOLERANCE,))
    VS_max: float | str = number("vsmax", "VS max", VOLT, FROM_TOLERANCE, (0.0, 1000.0), (FROM_TOLERANCE,))
    R1: float | str = number("r1", "R1", OHM, "auto", (1.0, 1e8), ("auto",))
    IF: float = number("if", "IF", AMPERE, 3e-3, (1e-6, 1.0))
    R1_rating: float = number("r1w", "R1 rating", WATT, 0.25, (0.05, 100.0))
    R_port: float = number("rport", "Port resistance", OHM, 40.0, (1e-2, 1e5))
    I_port: float = number("iport", "Port current limit", AMPERE, 8e-3, (1e-6, 10.0))
    active: str = choice("active", "Lit when", "high", ("high", "low"))

    kind: ClassVar[str] = "logic"
    title: ClassVar[str] = "Logic output"
    states: ClassVar[dict] = {"closed": "port on", "open": "port off"}
    switch_part: ClassVar[str] = "P1"
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

    @property
    def led(self):
        """Return the nodes of the LED's anode and cathode."""
        return ("A", "return") if self.active == "high" else ("A", "P")

    @property
    def loop(self):
        """Return the parts of the LED's loop in order, from the supply on."""
        return ("P1", "R1", "LED") if self.active == "high" else ("R1", "LED", "P1")

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
        return IF * self.R_port

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
        return np.where(closed, R1 + self.R_port, np.inf)

    def wire(self, net, closed, TA_degC, VS, R1):
        """Place the side: port, R1 and LED in the order that `active` asks for.

        Parameters
        ----------
        net : NetlistBuilder
            Where to place it.
        closed : ndarray of bool, shape (batch,)
            Whether the LED is meant to be lit.
        TA_degC : float
            Ambient temperature, which this side does not mind [degC].
        VS : ndarray, shape (batch,)
            Supply of the port [V].
        R1 : ndarray, shape (batch,)
            Series resistor [ohm].
        """
        net.side("input", self.reference, "VS", "P", "A")
        net.source("VS", "VS", VS)
        pulling, resting = np.where(closed, 1.0, 0.0) / self.R_port, np.where(closed, 0.0, 1.0) / self.R_port
        if self.active == "high":
            net.conductance("P1", "VS", "P", pulling)
            net.conductance("P1", "P", self.reference, resting)
            net.resistor("R1", "P", "A", R1)
        else:
            net.conductance("P1", "P", self.reference, pulling)
            net.conductance("P1", "VS", "P", resting)
            net.resistor("R1", "VS", "A", R1)
