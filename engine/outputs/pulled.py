"""A load resistor and a logic receiver: pulled up (inverting) or pulled down (emitter follower)."""

import math
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from engine.circuit import Junction
from engine.constants import ZERO_CELSIUS, thermal_voltage
from engine.devices import JunctionParams
from engine.errors import Problem
from engine.logic import FAMILIES, judge
from engine.outputs.load import Load
from engine.parameter import choice, number
from engine.quantity import AMPERE, FARAD, OHM, VOLT, as_typed, in_query
from engine.supply import Spread

NONE = "none"
_BLOCKING = -1.0  # [V], where the iteration begins: an output between the rails


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pulled(Load):
    """Parameters that both ways of pulling share, beside those of `Load`.

    Attributes
    ----------
    family : str
        Logic family of the receiver.
    VIL : float or str
        Largest voltage that surely reads low, or "family" [V].
    VIH : float or str
        Smallest voltage that surely reads high, or "family" [V].
    I_leak : float or str
        Largest leakage of the receiver's input, either way, or "family" [A].
    R_in : float or str
        Resistance of the receiver's input to common, or "none" [ohm].
    I_need : float or str
        Current that the receiver must get (or, pulled down, be relieved of) while the LED is dark, or "none" [A].
    swap : str
        "yes" for a detector fitted with collector and emitter exchanged, to see what becomes of it.
    C_load : float
        Capacitance of wiring and receiver at the output, which matters to edges only [F].
    """

    family: str = choice("logic", "Receiver", "lvcmos33", FAMILIES)
    VIL: float | str = number("vil", "VIL", VOLT, "family", (0.0, 1000.0), ("family",))
    VIH: float | str = number("vih", "VIH", VOLT, "family", (0.0, 1000.0), ("family",))
    I_leak: float | str = number("iin", "Input leakage", AMPERE, "family", (0.0, 1e-2), ("family",))
    R_in: float | str = number("rin", "RIN", OHM, NONE, (1.0, 1e9), (NONE,))
    I_need: float | str = number("ineed", "Current while dark", AMPERE, NONE, (1e-9, 1.0), (NONE,))
    swap: str = choice("swap", "Collector and emitter exchanged", "no", ("no", "yes"))
    C_load: float = number("cl", "CL", FARAD, 15e-12, (0.0, 1e-3))

    free: ClassVar[frozenset] = Load.free | {"C_load"}
    observed: ClassVar[str] = "VOUT"
    units: ClassVar[dict] = {"I_delivered": "A"}

    @property
    def detector(self):
        """Return the nodes of collector and emitter."""
        right, wrong = self.between, self.between[::-1]
        return wrong if self.swap == "yes" else right

    @property
    def leakage(self):
        """Return the largest currents of the receiver's input: into it, down to common, and out of it [A]."""
        family = FAMILIES[self.family]
        return (family.sinks, family.sources) if self.I_leak == "family" else (self.I_leak, self.I_leak)

    def limits(self, VCC):
        """Return VIL and VIH at a supply.

        Parameters
        ----------
        VCC : ndarray, shape (batch,)
            Supply of the output side [V].

        Returns
        -------
        VIL : ndarray, shape (batch,)
            Largest voltage that surely reads low [V].
        VIH : ndarray, shape (batch,)
            Smallest voltage that surely reads high [V].
        """
        low, high = FAMILIES[self.family].limits(VCC)
        given = ((low, self.VIL), (high, self.VIH))
        return tuple(own if value == "family" else np.full_like(VCC, value) for own, value in given)

    def contradictions(self):
        """Yield what cannot both be: crossed ends of the supply, a receiver that reads both levels at once.

        Yields
        ------
        Problem
            At the lower end; at the limit that was given, at VIL if both were.
        """
        yield from Load.contradictions(self)
        if self.VIL == self.VIH == "family":
            return
        VCC = np.array(self.VCC_ends)
        VIL, VIH = self.limits(VCC)
        if (VIL < VIH).all():
            return
        moving = np.ptp(VIH - VIL) > 0.0
        where = f" at VCC = {as_typed(VCC[np.argmin(VIH - VIL)], VOLT)}" if moving else ""
        reason = f"VIL is not below VIH{where}"
        if self.VIL == "family":
            accepted = f"a voltage above {as_typed(VIL.max(), VOLT)}, or family"
            yield Problem("vih", in_query(self.VIH, VOLT), accepted, reason)
        else:
            accepted = f"a voltage below {as_typed(VIH.min(), VOLT)}, or family"
            yield Problem("vil", in_query(self.VIL, VOLT), accepted, reason)

    def verdict(self, VOUT, values):
        """Return what the receiver reads.

        Parameters
        ----------
        VOUT : ndarray, shape (corners,)
            Voltage at the receiver, the nominal one first [V].
        values : dict of str to ndarray, shape (corners,)
            What varied, "VCC" among it.

        Returns
        -------
        Verdict
            The level and whether every corner agrees.
        """
        return judge(VOUT, *self.limits(values["VCC"]))

    def needed_current(self, VCE, VCC, RL, T, more=None):
        """Return the collector current that holds a given collector-emitter voltage.

        Parameters
        ----------
        VCE : float
            Collector-emitter voltage to be held [V].
        VCC : ndarray, shape (batch,)
            Supply of the output side [V].
        RL : ndarray, shape (batch,)
            Load resistor [ohm].
        T : float
            Absolute temperature, which this load does not mind [K].
        more : dict of str to ndarray, shape (batch,), or None
            What `spreads` names; nominal values if None.

        Returns
        -------
        ndarray, shape (batch,)
            Collector current; 0 where the supply is below `VCE` [A].
        """
        left, G_in = np.maximum(VCC - VCE, 0.0), self._input_conductance
        if self.level_when_lit == "high":
            return left * (1.0 / RL + G_in)
        return np.maximum(left * (1.0 / RL + self._port_conductance(more)) - np.minimum(VCE, VCC) * G_in, 0.0)

    @property
    def _input_conductance(self):
        """Return the conductance of the receiver's input [S]."""
        return 0.0 if self.R_in == NONE else 1.0 / self.R_in

    def _port_conductance(self, more=None):
        """Return the conductance of what the receiver's port has to the supply itself [S]."""
        return 0.0

    @property
    def terminals(self):
        """Return part to the pair of nodes it is measured between, for parts of several elements."""
        return {"U1": self.detector, "RX": ("OUT", self.reference)}

    @property
    def dark_leakage(self):
        """Return the receiver's largest current that moves the dark output [A]."""
        into, out = self.leakage
        if self.level_when_lit == "high":
            return out
        _, VIH = self.limits(np.array(self.VCC_ends[:1]))
        return into + float(VIH[0]) * self._input_conductance

    @property
    def backwards(self):
        """Return the parts that are fitted backwards."""
        return ("U1",) if self.swap == "yes" else ()

    @property
    def meeting(self):
        """Return the parts that meet at the output, each with 1 where its current flows into the node, else -1."""
        feeds = (self.detector[1] == "OUT") * 2 - 1
        parts = (("U1", feeds), ("RL", 1 if self.level_when_lit == "low" else -1), ("RX", -1))
        if self.R_in != NONE:
            parts += (("RIN", -1),)
        return parts + ((("RPU", 1),) if self._port_conductance() else ())

    def figures(self, seen):
        """Return what the receiver gets while the LED is dark, if it is asked for.

        Parameters
        ----------
        seen : Seen
            What was solved and what varied.

        Returns
        -------
        tuple of (dict, dict)
            With the LED lit and dark: "I_delivered".

        Notes
        -----
        Into a resistance of its own the receiver gets what the solve says. Otherwise it is what the stage can give
        (pulled down: take) with the output just at the limit of its level, less the detector's dark current.

        References
        ----------
        Derived here.
        """
        if self.I_need == NONE:
            return {}, {}
        VCC, dark = seen.values["VCC"], np.abs(seen.currents["U1"][1])
        VIL, VIH = self.limits(VCC)
        if self.level_when_lit == "high":
            found = VIL * (1.0 / seen.values["RL"] + self._input_conductance) - dark
        elif self.R_in != NONE:
            found = seen.currents["RIN"][1]
        else:
            found = (VCC - VIH) * (1.0 / seen.values["RL"] + self._port_conductance(seen.values)) - dark
        return {}, {"I_delivered": found}

    def lit_leakage(self, down=1.0, up=1.0):
        """Return what the lit detector carries for the receiver beside the load.

        Parameters
        ----------
        down : float or ndarray
            Share of the largest current into the input that flows [-].
        up : float or ndarray
            Share of the largest current out of the input that flows [-].

        Returns
        -------
        float or ndarray
            Current: out of the input into a detector to common, into it from one to the supply [A].
        """
        into, out = self.leakage
        return out * up if self.level_when_lit == "low" else into * down

    def wire(self, net, TA_degC, values):
        """Place the side but its detector: supply, RL, receiver.

        Parameters
        ----------
        net : NetlistBuilder
            Where to place it.
        TA_degC : float
            Ambient temperature [degC].
        values : dict of str to ndarray, shape (batch,)
            "VCC", "RL", "down" and "up": shares of the receiver's leakage to common and from the supply, and what
            `spreads` names, in SI units.
        """
        net.side("output", self.reference, "VCC", "OUT")
        net.source("VCC", "VCC", values["VCC"])
        net.resistor("RL", *(("VCC", "OUT") if self.level_when_lit == "low" else ("OUT", self.reference)), values["RL"])
        if self.R_in != NONE:
            net.resistor("RIN", "OUT", self.reference, self.R_in)
        self._receive(net, TA_degC + ZERO_CELSIUS, values["down"], values["up"])

    def _receive(self, net, T, leak_down, leak_up):
        """Place the receiver's input: leakage to either rail, as junctions so that it ends at the rails."""
        down, up = self.leakage
        if not (np.any(down * leak_down) or np.any(up * leak_up)):
            return
        nVT = np.full(net.batch, thermal_voltage(T))
        knee = np.full(net.batch, _BLOCKING)
        for anode, cathode, current in ((self.reference, "OUT", down * leak_down), ("OUT", "VCC", up * leak_up)):
            params = JunctionParams(current, nVT)
            net.device(Junction("RX", anode, cathode, params, knee))


@dataclass(frozen=True, slots=True, kw_only=True)
class PullUp(_Pulled):
    """Load resistor to the supply, detector to common: inverts; parameters beside those of `_Pulled`.

    Attributes
    ----------
    R_port_min : float or str
        Smallest pull-up within the receiver's port, or "none" [ohm].
    R_port_max : float or str
        Largest one, or "none" [ohm].
    """

    R_port_min: float | str = number("rpumin", "RPU min", OHM, NONE, (100.0, 1e8), (NONE,))
    R_port_max: float | str = number("rpumax", "RPU max", OHM, NONE, (100.0, 1e8), (NONE,))

    kind: ClassVar[str] = "pull-up"
    title: ClassVar[str] = "Pull-up to logic"
    between: ClassVar[tuple] = ("OUT", "common")
    level_when_lit: ClassVar[str] = "low"
    loop: ClassVar[tuple] = ("RL", "U1")

    @property
    def has_port_resistor(self):
        """Return whether the receiver's port pulls up by itself."""
        return NONE not in (self.R_port_min, self.R_port_max)

    def contradictions(self):
        """Yield what cannot both be, as `_Pulled`, and a port's own pull-up without both ends, or with crossed ones.

        Yields
        ------
        Problem
            At the end that is missing, or at the lower one.
        """
        yield from _Pulled.contradictions(self)
        ends = self.R_port_min, self.R_port_max
        if ends.count(NONE) == 1:
            key, symbol = ("rpumin", "RPU min") if ends[0] == NONE else ("rpumax", "RPU max")
            reason = "a port's own pull-up is a range; one end of it is missing"
            yield Problem(key, NONE, f"a resistance for {symbol}, or none for both", reason)
        elif NONE not in ends and ends[0] > ends[1]:
            reason = "RPU min is above RPU max"
            yield Problem("rpumin", in_query(ends[0], OHM), "a value up to RPU max", reason)

    def spreads(self, tolerance):
        """Return what varies on this side beside supply, RL and the receiver's leakage: the port's own pull-up.

        Parameters
        ----------
        tolerance : float
            Tolerance of the resistors, which says nothing of one within a port [-].

        Returns
        -------
        dict of str to Spread
            "RPU", with the geometric mean of its ends as its usual value; nothing where there is none.
        """
        if not self.has_port_resistor:
            return {}
        low, high = self.R_port_min, self.R_port_max
        return {"RPU": Spread(low, min(max(math.sqrt(low * high), low), high), high, -1)}

    def _port_conductance(self, more=None):
        """Return the conductance of what the receiver's port has to the supply itself [S]."""
        if not self.has_port_resistor:
            return 0.0
        return 1.0 / (self.spreads(0.0)["RPU"].nominal if more is None else more["RPU"])

    def wire(self, net, TA_degC, values):
        """Place the side but its detector: as `_Pulled`, and the port's own pull-up.

        Parameters
        ----------
        net : NetlistBuilder
            Where to place it.
        TA_degC : float
            Ambient temperature [degC].
        values : dict of str to ndarray, shape (batch,)
            As `_Pulled`, and "RPU" where there is one [ohm].
        """
        _Pulled.wire(self, net, TA_degC, values)
        if self.has_port_resistor:
            net.resistor("RPU", "VCC", "OUT", values["RPU"])


@dataclass(frozen=True, slots=True, kw_only=True)
class PullDown(_Pulled):
    """Detector to the supply, load resistor to common: does not invert; parameters as `_Pulled`."""

    kind: ClassVar[str] = "pull-down"
    title: ClassVar[str] = "Pull-down to logic"
    between: ClassVar[tuple] = ("VCC", "OUT")
    level_when_lit: ClassVar[str] = "high"
    loop: ClassVar[tuple] = ("U1", "RL")
