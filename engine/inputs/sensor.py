"""A three-wire sensor switches the LED: its transistor sinks the current to return or sources it from the supply."""

import math
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from engine.circuit import Junction
from engine.constants import ZERO_CELSIUS, thermal_voltage
from engine.devices import JunctionParams
from engine.parameter import number
from engine.quantity import AMPERE, OHM, RATIO, VOLT, WATT
from engine.supply import FROM_TOLERANCE, crossed_ends, supply_ends

_SOFTNESS = 2.0  # [-], multiples of the thermal voltage by which the drop rises with each e-fold of the current
_BLOCKING = -1.0  # [V], where the iteration begins for a sensor that is off


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sensor:
    """Parameters that both kinds of sensor share.

    Attributes
    ----------
    VS : float
        Supply voltage of sensor and LED [V].
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
    V_on : float
        Drop of the sensor while it is on, at the drive current [V].
    I_off : float
        Largest leakage of the sensor while it is off [A].
    """

    VS: float = number("vs", "VS", VOLT, 36.0, (0.0, 1000.0))
    VS_tolerance: float = number("vstol", "VS tolerance", RATIO, 0.1, (0.0, 0.5))
    VS_min: float | str = number("vsmin", "VS min", VOLT, FROM_TOLERANCE, (0.0, 1000.0), (FROM_TOLERANCE,))
    VS_max: float | str = number("vsmax", "VS max", VOLT, FROM_TOLERANCE, (0.0, 1000.0), (FROM_TOLERANCE,))
    R1: float | str = number("r1", "R1", OHM, "auto", (1.0, 1e8), ("auto",))
    IF: float = number("if", "IF", AMPERE, 3e-3, (1e-6, 1.0))
    R1_rating: float = number("r1w", "R1 rating", WATT, 0.25, (0.05, 100.0))
    V_on: float = number("von", "On-state drop", VOLT, 1.5, (0.05, 20.0))
    I_off: float = number("ioff", "Off leakage", AMPERE, 10e-6, (0.0, 0.1))

    states: ClassVar[dict] = {"closed": "sensor on", "open": "sensor off"}
    switch_part: ClassVar[str] = "B1"
    reference: ClassVar[str] = "return"

    @property
    def VS_ends(self):
        """Return the lowest and the highest supply [V]."""
        return supply_ends(self.VS, self.VS_tolerance, self.VS_min, self.VS_max)

    @property
    def drop_by_hand(self):
        """Return what stands beside VF in the hand calculation: the sensor's drop [V]."""
        return self.V_on

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
            LED current, near the drive current [A].

        Returns
        -------
        float
            Voltage [V].
        """
        return self.V_on

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
        return R1 + np.where(closed, 0.0, max(self.VS, 1e-3) / self.I_off if self.I_off else np.inf)

    def _switch(self, net, closed, TA_degC):
        """Place the transistor: a junction that conducts with its drop while on, one that leaks while off."""
        T = TA_degC + ZERO_CELSIUS
        nVT, VT = _SOFTNESS * thermal_voltage(T), thermal_voltage(T)
        anode, cathode = self.switched
        on = JunctionParams(np.where(closed, self.IF / math.expm1(self.V_on / nVT), 0.0), np.full(net.batch, nVT))
        off = JunctionParams(np.where(closed, 0.0, self.I_off), np.full(net.batch, VT))
        net.device(Junction("B1", anode, cathode, on, np.where(closed, self.V_on, _BLOCKING)))
        net.device(Junction("B1", cathode, anode, off, np.full(net.batch, _BLOCKING)))


@dataclass(frozen=True, slots=True, kw_only=True)
class SinkingSensor(_Sensor):
    """Sensor between the LED and the return; parameters as `_Sensor`."""

    kind: ClassVar[str] = "sinking"
    title: ClassVar[str] = "Sinking sensor"
    led: ClassVar[tuple] = ("A", "Q")
    loop: ClassVar[tuple] = ("R1", "LED", "B1")
    switched: ClassVar[tuple] = ("Q", "return")

    def wire(self, net, closed, TA_degC, VS, R1):
        """Place the side: supply, R1, LED, sensor.

        Parameters
        ----------
        net : NetlistBuilder
            Where to place it.
        closed : ndarray of bool, shape (batch,)
            Whether the LED is meant to be lit.
        TA_degC : float
            Ambient temperature [degC].
        VS : ndarray, shape (batch,)
            Supply voltage [V].
        R1 : ndarray, shape (batch,)
            Series resistor [ohm].
        """
        net.side("input", self.reference, "VS", "A", "Q")
        net.source("VS", "VS", VS)
        net.resistor("R1", "VS", "A", R1)
        self._switch(net, closed, TA_degC)


@dataclass(frozen=True, slots=True, kw_only=True)
class SourcingSensor(_Sensor):
    """Sensor between the supply and the LED; parameters as `_Sensor`."""

    kind: ClassVar[str] = "sourcing"
    title: ClassVar[str] = "Sourcing sensor"
    led: ClassVar[tuple] = ("A", "return")
    loop: ClassVar[tuple] = ("B1", "R1", "LED")
    switched: ClassVar[tuple] = ("VS", "Q")

    def wire(self, net, closed, TA_degC, VS, R1):
        """Place the side: supply, sensor, R1, LED.

        Parameters
        ----------
        net : NetlistBuilder
            Where to place it.
        closed : ndarray of bool, shape (batch,)
            Whether the LED is meant to be lit.
        TA_degC : float
            Ambient temperature [degC].
        VS : ndarray, shape (batch,)
            Supply voltage [V].
        R1 : ndarray, shape (batch,)
            Series resistor [ohm].
        """
        net.side("input", self.reference, "VS", "Q", "A")
        net.source("VS", "VS", VS)
        net.resistor("R1", "Q", "A", R1)
        self._switch(net, closed, TA_degC)
