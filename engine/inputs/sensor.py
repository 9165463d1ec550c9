"""A sensor switches the LED: three wires, sinking or sourcing the current, or two wires in series with it."""

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from engine.constants import ZERO_CELSIUS, thermal_voltage
from engine.inputs.drive import NONE, Drive, place_switch
from engine.parameter import choice, number
from engine.quantity import AMPERE, OHM, RATIO, VOLT, WATT

_SOFTNESS = 2.0  # [-], multiples of the thermal voltage by which the drop rises with each e-fold of the current
_FEEDING = 0.5  # [V], over which the residual current of a two-wire sensor sets in; it lives on that current


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sensor(Drive):
    """Parameters that all sensors share, beside those of `Drive`.

    Attributes
    ----------
    VS : float
        Supply voltage of sensor and LED [V].
    V_on : float
        Drop of the sensor while it is on, at the drive current [V].
    I_off : float
        Largest current of the sensor while it is off [A].
    """

    VS: float = number("vs", "VS", VOLT, 36.0, (0.0, 1000.0))
    V_on: float = number("von", "On-state drop", VOLT, 1.5, (0.05, 20.0))
    I_off: float = number("ioff", "Off-state current", AMPERE, 10e-6, (0.0, 0.1))

    states: ClassVar[dict] = {"closed": "sensor on", "open": "sensor off"}
    switch_part: ClassVar[str] = "B1"
    feeding: ClassVar[float | None] = None

    by_value: ClassVar[frozenset] = Drive.by_value - {"IF"}

    @property
    def V_by_hand(self):
        """Return the sensor's drop [V]."""
        return self.V_on

    @property
    def feed(self):
        """Return the node that R1 begins at."""
        return "VS" if self.low else "Q"

    @property
    def cathode(self):
        """Return the node of the LED's cathode."""
        return "Q" if self.low else self.reference

    @property
    def switched(self):
        """Return the nodes of the sensor."""
        return ("Q", self.reference) if self.low else ("VS", "Q")

    @property
    def before(self):
        """Return the parts of the loop in front of R1."""
        return () if self.low else ("B1",)

    @property
    def after(self):
        """Return the parts of the loop behind the LED."""
        return ("B1",) if self.low else ()

    def drop(self, current):
        """Return what the sensor takes while it is on.

        Parameters
        ----------
        current : float
            Current that it carries, near the drive current [A].

        Returns
        -------
        float
            Voltage [V].
        """
        return self.V_on

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
        return R1 + np.where(closed, 0.0, max(self.VS, 1e-3) / self.I_off if self.I_off else np.inf)

    def wire(self, net, closed, TA_degC, values):
        """Place the side but its LED: supply, sensor, R1 and what is around the LED.

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
        net.side("input", self.reference, "VS", "Q")
        net.source("VS", "VS", values["VS"])
        VT = thermal_voltage(TA_degC + ZERO_CELSIUS)
        states = self.IF, self.V_on, self.I_off
        place_switch(net, "B1", self.switched, closed, states, (_SOFTNESS * VT, self.feeding or VT))
        self.place_branch(net, TA_degC, values)


@dataclass(frozen=True, slots=True, kw_only=True)
class SinkingSensor(_Sensor):
    """Three-wire sensor between the LED and the return; parameters as `_Sensor`."""

    kind: ClassVar[str] = "sinking"
    title: ClassVar[str] = "Sinking sensor"
    low: ClassVar[bool] = True


@dataclass(frozen=True, slots=True, kw_only=True)
class SourcingSensor(_Sensor):
    """Three-wire sensor between the supply and the LED; parameters as `_Sensor`."""

    kind: ClassVar[str] = "sourcing"
    title: ClassVar[str] = "Sourcing sensor"
    low: ClassVar[bool] = False


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoWireSensor(_Sensor):
    """Two-wire sensor in series with the LED, which lives on the current that it lets through.

    Attributes
    ----------
    VS : float
        Supply voltage of sensor and LED [V].
    VS_tolerance : float
        Deviation of the supply, either way [-].
    IF : float
        Drive current that an "auto" resistor is sized for [A].
    R1_rating : float
        Power rating of the series resistor [W].
    R_bypass : float or str
        Resistor that leads the residual current past the LED, or "none" [ohm].
    V_on : float
        Drop of the sensor while it is on, at the drive current [V].
    I_off : float
        Largest residual current of the sensor while it is off [A].
    I_least : float
        Current that the sensor needs while it is on [A].
    place : str
        "supply" if it stands between the supply and the LED, "return" if between the LED and the return.
    """

    VS: float = number("vs", "VS", VOLT, 28.0, (0.0, 1000.0))
    VS_tolerance: float = number("vstol", "VS tolerance", RATIO, 0.1, (0.0, 0.5))
    IF: float = number("if", "IF", AMPERE, 6e-3, (1e-6, 1.0))
    R1_rating: float = number("r1w", "R1 rating", WATT, 0.5, (0.05, 100.0))
    R_bypass: float | str = number("rb", "RB", OHM, 820.0, (1.0, 1e8), (NONE,))
    V_on: float = number("von", "On-state drop", VOLT, 5.0, (0.05, 20.0))
    I_off: float = number("ioff", "Off-state current", AMPERE, 0.8e-3, (0.0, 0.1))
    I_least: float = number("imin", "Least load current", AMPERE, 3e-3, (0.0, 1.0))
    place: str = choice("place", "Sensor at", "supply", ("supply", "return"))

    kind: ClassVar[str] = "two-wire"
    title: ClassVar[str] = "Two-wire sensor"
    feeding: ClassVar[float] = _FEEDING

    @property
    def low(self):
        """Return whether the sensor stands between the LED and the return."""
        return self.place == "return"
