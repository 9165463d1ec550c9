"""A push-pull logic port drives the LED, sourcing (active high) or sinking (active low) its current."""

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from engine.circuit import Junction
from engine.constants import ZERO_CELSIUS, thermal_voltage
from engine.devices import JunctionParams
from engine.errors import Problem
from engine.inputs.drive import NONE, Drive
from engine.parameter import choice, number
from engine.quantity import AMPERE, COUNT, OHM, RATIO, VOLT, as_typed, in_query

RAIL = "rail"
_SOFTNESS = 2.0  # [-], multiples of the thermal voltage by which the drop below the rail rises with each e-fold
_BLOCKING = -1.0  # [V], where the iteration begins for a port that pulls low


@dataclass(frozen=True, slots=True, kw_only=True)
class LogicOutput(Drive):
    """Push-pull port with output resistance; parameters beside those of `Drive`.

    Attributes
    ----------
    VS : float
        Supply of the port [V].
    VS_tolerance : float
        Deviation of the supply, either way [-].
    R_port : float
        Output resistance of the port in either state [ohm].
    VOH : float or str
        High level of the port, at the drive current where that flows, or "rail" for the LED's supply. A port that
        lights the LED by going low may have a higher supply than the LED, and then reverses it while off [V].
    I_port : float
        Current that the port may carry [A].
    pins : float
        Pins of the package that carry as much at the same time [-].
    I_package : float or str
        Current that all of them together may carry, or "none" [A].
    active : str
        "high" if the port lights the LED by going high, "low" if by going low.
    """

    VS: float = number("vs", "VS", VOLT, 3.3, (0.0, 1000.0))
    VS_tolerance: float = number("vstol", "VS tolerance", RATIO, 0.05, (0.0, 0.5))
    R_port: float = number("rport", "Port resistance", OHM, 40.0, (1e-2, 1e5))
    VOH: float | str = number("voh", "VOH", VOLT, RAIL, (0.0, 1000.0), (RAIL,))
    I_port: float = number("iport", "Port current limit", AMPERE, 8e-3, (1e-6, 10.0))
    pins: float = number("pins", "Pins lit at once", COUNT, 1.0, (1.0, 256.0))
    I_package: float | str = number("ipack", "Package current limit", AMPERE, NONE, (1e-6, 100.0), (NONE,))
    active: str = choice("active", "Lit when", "high", ("high", "low"))

    by_value: ClassVar[frozenset] = Drive.by_value - {"IF", "VS", "VS_tolerance", "VS_min", "VS_max"}
    kind: ClassVar[str] = "logic"
    title: ClassVar[str] = "Logic output"
    states: ClassVar[dict] = {"closed": "port on", "open": "port off"}
    switch_part: ClassVar[str] = "P1"

    @property
    def free(self):
        """Return the fields that are wired by way of `values` alone; not the supply where the high level is given."""
        usual = Drive.by_value if self.VOH == RAIL else self.by_value
        return usual if self.VZ == NONE else usual - {"IF"}

    @property
    def feed(self):
        """Return the node that R1 begins at."""
        return "P" if self.active == "high" else "VS"

    @property
    def cathode(self):
        """Return the node of the LED's cathode."""
        return self.reference if self.active == "high" else "P"

    @property
    def switched(self):
        """Return the nodes between which the port conducts while the LED is lit."""
        return ("VS", "P") if self.active == "high" else ("P", self.reference)

    @property
    def before(self):
        """Return the parts of the loop in front of R1."""
        return ("P1",) if self.active == "high" else ()

    @property
    def after(self):
        """Return the parts of the loop behind the LED."""
        return () if self.active == "high" else ("P1",)

    @property
    def V_by_hand(self):
        """Return what the port's high level lacks to its supply, where it lights the LED [V]."""
        return self._lacks if self.active == "high" else 0.0

    @property
    def _lacks(self):
        """Return how far the high level lies below the supply; negative for a port of a higher supply [V]."""
        return 0.0 if self.VOH == RAIL else self.VS - self.VOH

    def contradictions(self):
        """Yield what cannot both be, as `Drive`, and a high level above its own supply, a part of a pin.

        Yields
        ------
        Problem
            At the field that was chosen.
        """
        yield from Drive.contradictions(self)
        if self.VOH != RAIL and self.VOH > self.VS and self.active == "high":
            reason = f"VOH is above VS = {as_typed(self.VS, VOLT)}"
            yield Problem("voh", in_query(self.VOH, VOLT), f"up to {as_typed(self.VS, VOLT)}, or rail", reason)
        if self.pins != int(self.pins):
            yield Problem("pins", in_query(self.pins, COUNT), "a whole number", "there are no parts of pins")

    def drop(self, current):
        """Return what the port takes while it lights the LED.

        Parameters
        ----------
        current : float
            Current that it carries [A].

        Returns
        -------
        float
            Voltage [V].
        """
        return self.V_by_hand + current * self.R_port

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
        return np.where(closed, R1 + self.R_port, np.inf)

    def wire(self, net, closed, TA_degC, values):
        """Place the side but its LED: port, R1 and what is around the LED, in the order that `active` asks for.

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
        net.side("input", self.reference, "VS", "P")
        net.source("VS", "VS", values["VS"])
        high = closed if self.active == "high" else ~closed
        G = 1.0 / self.R_port
        up, down = np.where(high, G, 0.0), np.where(high, 0.0, G)
        top = "VS"
        if self._lacks:
            top = "PJ"
            net.side("input", self.reference, top)
            self._place_level(net, high, TA_degC, values["VS"])
        first, second = ((top, "P", up), ("P", self.reference, down))
        for part in (first, second) if self.active == "high" else (second, first):
            net.conductance("P1", *part)
        self.place_branch(net, TA_degC, values)

    def _place_level(self, net, high, TA_degC, VS):
        """Place what holds a high level that is not the supply's.

        A port that lights the LED by going high lacks a voltage that rises with the current. One that lights it by
        going low has a supply of its own, lower or higher than the LED's, and holds its level either way while it is
        off.
        """
        if self.active == "low":
            net.source("P1", "PJ", np.maximum(VS - self._lacks, 0.0))
            return
        nVT = np.full(net.batch, _SOFTNESS * thermal_voltage(TA_degC + ZERO_CELSIUS))
        params = JunctionParams(np.where(high, self.IF, 0.0), nVT, np.full(net.batch, self._lacks))
        net.device(Junction("P1", "VS", "PJ", params, np.where(high, self._lacks, _BLOCKING)))
