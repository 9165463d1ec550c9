"""A digital input of a programmable controller, sinking or sourcing, of a type of IEC 61131-2."""

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from engine.circuit import LimitedInput
from engine.devices import LimitedInputParams, limited_input, voltage_at
from engine.errors import Problem
from engine.logic import judge
from engine.outputs.load import Load
from engine.parameter import choice, number
from engine.quantity import AMPERE, OHM, RATIO, VOLT, as_typed, in_query
from engine.supply import Spread

TYPE = "type"
"""Word for a limit that follows from the type of the input."""

_HALVINGS = 60  # of the interval in which the voltage across the input is looked for; double precision is reached


@dataclass(frozen=True, slots=True)
class InputType:
    """What a type of input guarantees at 24 V dc, and a characteristic of our own within it.

    Attributes
    ----------
    title : str
        Name for people.
    V_off : float
        Voltage up to which it is off whatever the current [V].
    I_off : float
        Current below which it is off whatever the voltage [A].
    V_on : float
        Voltage from which it is on, if the current is at least `I_on` [V].
    I_on : float
        Current from which it is on, if the voltage is at least `V_on` [A].
    V_most : float
        Largest voltage that it is made for [V].
    I_most : float
        Largest current that it takes [A].
    V_knee : float
        Voltage at which our own input begins to conduct [V].
    R : float
        Its resistance above that [ohm].
    I_limit : float
        Its current limit [A].

    References
    ----------
    IEC 61131-2, digital inputs for 24 V dc, standard operating ranges; the voltages and the 2 mA of types 1 and 3 as
    makers quote them, the other currents from memory.
    """

    title: str
    V_off: float
    I_off: float
    V_on: float
    I_on: float
    V_most: float
    I_most: float
    V_knee: float
    R: float
    I_limit: float


TYPES = {
    "1": InputType("type 1", 5.0, 0.5e-3, 15.0, 2e-3, 30.0, 15e-3, 3.0, 3900.0, 12e-3),
    "2": InputType("type 2", 5.0, 2e-3, 11.0, 6e-3, 30.0, 30e-3, 2.5, 950.0, 10e-3),
    "3": InputType("type 3", 5.0, 1.5e-3, 11.0, 2e-3, 30.0, 15e-3, 3.4, 2150.0, 2.7e-3),
}
"""Type of IEC 61131-2 to its limits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ControllerInput(Load):
    """Detector and series resistor at the input of a programmable controller; parameters beside those of `Load`.

    Attributes
    ----------
    VCC : float
        Supply of the output side [V].
    VCC_tolerance : float
        Deviation of the supply, either way [-].
    RL : float or str
        Resistor in series with the input, or "auto" to size it from `IL` [ohm].
    IL : float
        Input current that an "auto" resistor is sized for [A].
    input_type : str
        Type of IEC 61131-2.
    way : str
        "sinking" for an input that takes current from the stage, "sourcing" for one that gives current to it.
    V_valid_on : float or str
        Voltage from which the input is surely on, or "type" [V].
    V_valid_off : float or str
        Voltage up to which it is surely off, or "type" [V].
    V_drop_out : float or str
        Voltage at which an input that is on surely lets go, or "type" for no lower than it is surely off [V].
    spread : float
        Deviation of the input's current, either way [-].
    """

    VCC: float = number("vcc", "VCC", VOLT, 24.0, (0.0, 1000.0))
    VCC_tolerance: float = number("vcctol", "VCC tolerance", RATIO, 0.15, (0.0, 0.5))
    RL: float | str = number("rl", "RL", OHM, 100.0, (1.0, 1e8), ("auto",))
    IL: float = number("il", "IL", AMPERE, 2.5e-3, (1e-7, 1.0))
    input_type: str = choice("itype", "Input type", "3", TYPES)
    way: str = choice("flow", "Input", "sinking", ("sinking", "sourcing"))
    V_valid_on: float | str = number("uon", "On from", VOLT, TYPE, (0.0, 1000.0), (TYPE,))
    V_valid_off: float | str = number("uoff", "Off up to", VOLT, TYPE, (0.0, 1000.0), (TYPE,))
    V_drop_out: float | str = number("udrop", "Drop-out", VOLT, TYPE, (0.0, 1000.0), (TYPE,))
    spread: float = number("uspread", "Input current spread", RATIO, 0.12, (0.0, 0.2))

    kind: ClassVar[str] = "controller"
    title: ClassVar[str] = "Controller input"
    observed: ClassVar[str] = "VIN"
    level_when_lit: ClassVar[str] = "on"
    words: ClassVar[tuple] = ("off", "undefined", "on")
    units: ClassVar[dict] = {"VIN": "V", "IIN": "A"}
    usual_coupler: ClassVar[str] = "cascade"

    @property
    def limits_of_type(self):
        """Return what the type of the input guarantees."""
        return TYPES[self.input_type]

    @property
    def sinks(self):
        """Return whether the input takes current from the stage."""
        return self.way == "sinking"

    @property
    def detector(self):
        """Return the nodes of collector and emitter."""
        return ("VCC", "E") if self.sinks else ("C", self.reference)

    @property
    def loop(self):
        """Return the parts of the loop from the supply round to common."""
        return ("U1", "RL", "A1") if self.sinks else ("A1", "RL", "U1")

    @property
    def across(self):
        """Return the nodes that the input lies between."""
        return ("IN", self.reference) if self.sinks else ("VCC", "IN")

    @property
    def terminals(self):
        """Return part to the pair of nodes it is measured between, for parts of several elements."""
        return {"U1": self.detector, "A1": self.across}

    @property
    def drop_by_hand(self):
        """Return the voltage of an input that is on, as it is taken on paper [V]."""
        return round(self.drop_beside_load(self.limits_of_type.I_on, 298.15), 1)

    @property
    def most_by_hand(self):
        """Return the current that the input takes at the most, as it is taken on paper [A]."""
        return self.limits_of_type.I_limit

    def contradictions(self):
        """Yield what cannot both be: crossed ends of the supply, an input that is off and on at once.

        Yields
        ------
        Problem
            At the lower end; at the limit that was given, at the lower one if both were.
        """
        yield from Load.contradictions(self)
        off, on = self.V_valid_off, self.V_valid_on
        low, high = (usual if own == TYPE else own for own, usual in zip((off, on), self._usual(), strict=True))
        if low >= high:
            reason = "Off up to is not below On from"
            if off == TYPE:
                yield Problem("uon", in_query(on, VOLT), f"a voltage above {as_typed(low, VOLT)}, or type", reason)
            else:
                yield Problem("uoff", in_query(off, VOLT), f"a voltage below {as_typed(high, VOLT)}, or type", reason)
        elif self.V_drop_out != TYPE and self.V_drop_out >= high:
            reason = "Drop-out is not below On from"
            accepted = f"a voltage below {as_typed(high, VOLT)}, or type"
            yield Problem("udrop", in_query(self.V_drop_out, VOLT), accepted, reason)

    def _usual(self):
        """Return the voltages up to which the input is off and from which it is on, by its type."""
        low, high = self.limits(np.ones(1))
        return float(low[0]), float(high[0])

    def limits(self, share):
        """Return the voltages that the input's verdict turns on.

        Parameters
        ----------
        share : ndarray, shape (batch,)
            Current of the specimen relative to the typical one [-].

        Returns
        -------
        low : ndarray, shape (batch,)
            Voltage up to which it is off: as the type says in voltage, or as long as it takes less than the current
            below which it is off [V].
        high : ndarray, shape (batch,)
            Voltage from which it is on: both voltage and current are then what the type asks for [V].
        """
        limits, params = self.limits_of_type, self._params(share)
        low = np.maximum(limits.V_off, np.minimum(voltage_at(limits.I_off, params), limits.V_on * (1.0 - 1e-9)))
        high = np.maximum(limits.V_on, voltage_at(limits.I_on, params))
        if self.V_valid_off != TYPE:
            low = np.full_like(share, self.V_valid_off)
        if self.V_valid_on != TYPE:
            high = np.full_like(share, self.V_valid_on)
        if self.V_drop_out != TYPE:
            low = np.minimum(low, self.V_drop_out)
        return low, high

    def _params(self, share):
        """Return the characteristic of a specimen."""
        own = self.limits_of_type
        return LimitedInputParams(np.full_like(share, own.V_knee), own.R / share, own.I_limit * share)

    def spreads(self, tolerance):
        """Return what varies on this side beside supply and RL: the input's current.

        Parameters
        ----------
        tolerance : float
            Tolerance of the resistors [-].

        Returns
        -------
        dict of str to Spread
            "A1", relative to a typical input [-].
        """
        return {"A1": Spread(1.0 - self.spread, 1.0, 1.0 + self.spread, 1)}

    def wire(self, net, TA_degC, values):
        """Place the side but its detector: supply, RL, input.

        Parameters
        ----------
        net : NetlistBuilder
            Where to place it.
        TA_degC : float
            Ambient temperature [degC].
        values : dict of str to ndarray, shape (batch,)
            "VCC", "RL" and what `spreads` names, in SI units.
        """
        net.side("output", self.reference, "VCC", "E" if self.sinks else "C", "IN")
        net.source("VCC", "VCC", values["VCC"])
        net.resistor("RL", *(("E", "IN") if self.sinks else ("IN", "C")), values["RL"])
        net.device(LimitedInput("A1", *self.across, self._params(values["A1"])))

    def figures(self, seen):
        """Return voltage and current of the input in either state.

        Parameters
        ----------
        seen : Seen
            What was solved and what varied.

        Returns
        -------
        tuple of (dict, dict)
            With the LED lit and dark: "VIN" and "IIN".
        """
        return tuple({"VIN": seen.drops["A1"][k], "IIN": seen.currents["A1"][k]} for k in range(2))

    def verdict(self, VIN, values):
        """Return whether the input is on or off, from its voltage and, by its characteristic, its current.

        Parameters
        ----------
        VIN : ndarray, shape (corners,)
            Voltage across the input, the nominal one first [V].
        values : dict of str to ndarray, shape (corners,)
            What varied.

        Returns
        -------
        Verdict
            "off", "undefined" or "on", and whether every corner agrees.
        """
        return judge(VIN, *self.limits(values["A1"]), words=self.words)

    def needed_current(self, VCE, VCC, RL, T, more=None):
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
            Absolute temperature, which this load does not mind [K].
        more : dict of str to ndarray, shape (batch,), or None
            What `spreads` names; nominal values if None.

        Returns
        -------
        ndarray, shape (batch,)
            Collector current; 0 where the supply is below `VCE` [A].
        """
        left = np.maximum(VCC - VCE, 0.0)
        params = self._params(np.ones_like(left) if more is None else more["A1"])
        low, high = np.zeros_like(left), left
        for _ in range(_HALVINGS):
            middle = 0.5 * (low + high)
            over = limited_input(middle, params)[0] * RL + middle > left
            low, high = np.where(over, low, middle), np.where(over, middle, high)
        return limited_input(high, params)[0]

    def drop_beside_load(self, IL, T):
        """Return what the load current meets besides RL and the detector.

        Parameters
        ----------
        IL : float
            Input current [A].
        T : float
            Absolute temperature [K].

        Returns
        -------
        float
            Voltage of a typical input at that current, or at the most that it takes [V].
        """
        params = self._params(np.ones(1))
        return float(voltage_at(min(IL, 0.99 * self.limits_of_type.I_limit), params)[0])

    def characteristic(self, volts, share=1.0):
        """Return the current of the input over its voltage.

        Parameters
        ----------
        volts : ndarray
            Voltages across it [V].
        share : float
            Current of the specimen relative to the typical one [-].

        Returns
        -------
        ndarray
            Its current [A].
        """
        return limited_input(volts, self._params(np.full(np.shape(volts), share)))[0]
