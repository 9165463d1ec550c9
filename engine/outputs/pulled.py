"""A load resistor and a logic receiver: pulled up (inverting) or pulled down (emitter follower)."""

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
from engine.quantity import AMPERE, VOLT, as_typed, in_query

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
    """

    family: str = choice("logic", "Receiver", "lvcmos33", FAMILIES)
    VIL: float | str = number("vil", "VIL", VOLT, "family", (0.0, 1000.0), ("family",))
    VIH: float | str = number("vih", "VIH", VOLT, "family", (0.0, 1000.0), ("family",))
    I_leak: float | str = number("iin", "Input leakage", AMPERE, "family", (0.0, 1e-2), ("family",))

    observed: ClassVar[str] = "VOUT"

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

    def verdict(self, VOUT, VCC):
        """Return what the receiver reads.

        Parameters
        ----------
        VOUT : ndarray, shape (corners,)
            Voltage at the receiver, the nominal one first [V].
        VCC : ndarray, shape (corners,)
            Supply of the output side [V].

        Returns
        -------
        Verdict
            The level and whether every corner agrees.
        """
        return judge(VOUT, *self.limits(VCC))

    def needed_current(self, VCE, VCC, RL, T):
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

        Returns
        -------
        ndarray, shape (batch,)
            Collector current; 0 where the supply is below `VCE` [A].
        """
        return np.maximum(VCC - VCE, 0.0) / RL

    @property
    def terminals(self):
        """Return part to the pair of nodes it is measured between, for parts of several elements."""
        return {"U1": self.detector, "RX": ("OUT", self.reference)}

    @property
    def dark_leakage(self):
        """Return the receiver's largest current that moves the dark output [A]."""
        into, out = self.leakage
        return into if self.level_when_lit == "low" else out

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
    """Load resistor to the supply, detector to common: inverts; parameters as `_Pulled`."""

    kind: ClassVar[str] = "pull-up"
    title: ClassVar[str] = "Pull-up to logic"
    detector: ClassVar[tuple] = ("OUT", "common")
    level_when_lit: ClassVar[str] = "low"
    loop: ClassVar[tuple] = ("RL", "U1")


@dataclass(frozen=True, slots=True, kw_only=True)
class PullDown(_Pulled):
    """Detector to the supply, load resistor to common: does not invert; parameters as `_Pulled`."""

    kind: ClassVar[str] = "pull-down"
    title: ClassVar[str] = "Pull-down to logic"
    detector: ClassVar[tuple] = ("VCC", "OUT")
    level_when_lit: ClassVar[str] = "high"
    loop: ClassVar[tuple] = ("U1", "RL")
