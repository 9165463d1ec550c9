"""An ac load on a triac coupler: the coupler alone in series with it, or the coupler triggering a larger triac.

The circuit is that of the crest of the line. What holds over the whole cycle, rms values and mean powers, is worked out
in closed form.
"""

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from engine.circuit import Junction
from engine.constants import ZERO_CELSIUS, thermal_voltage
from engine.devices import JunctionParams
from engine.logic import judge
from engine.outputs.dc_load import share_limits
from engine.outputs.half_cycle import ROOT2, HalfCycle, on_loss, snubber_current, trigger_voltage
from engine.outputs.load import Load
from engine.parameter import number
from engine.quantity import AMPERE, FARAD, HERTZ, OHM, RATIO, VOLT, WATT

NONE = "none"
_GATE = 2.0  # [-], emission coefficient of a triac's gate, which is shunted within; a value of our own
_BLOCKED = 1e-9  # [S], of a triac that is off; a value of our own


@dataclass(frozen=True, slots=True, kw_only=True)
class _OnLine(Load):
    """What both ways of switching an ac load share, beside the parameters of `Load`.

    Attributes
    ----------
    VCC : float
        Line voltage, rms [V].
    VCC_tolerance : float
        Deviation of the line voltage, either way [-].
    f_line : float
        Line frequency [Hz].
    C_snubber : float or str
        Capacitor of the snubber across what switches, or "none" [F].
    R_snubber : float
        Resistor of the snubber [ohm].
    share_on : float
        Share of the nominal line voltage from which the load works [-].
    share_off : float
        Share of the nominal line voltage up to which it is off [-].
    """

    VCC: float = number("vcc", "VCC", VOLT, 230.0, (0.0, 1000.0))
    VCC_tolerance: float = number("vcctol", "VCC tolerance", RATIO, 0.1, (0.0, 0.5))
    f_line: float = number("fline", "Line frequency", HERTZ, 50.0, (1.0, 1000.0))
    C_snubber: float | str = number("csn", "CSN", FARAD, NONE, (1e-12, 1e-4), (NONE,))
    R_snubber: float = number("rsn", "RSN", OHM, 39.0, (1.0, 1e6))
    share_on: float = number("lon", "Works from", RATIO, 0.8, (0.01, 1.0))
    share_off: float = number("loff", "Off up to", RATIO, 0.1, (0.0001, 1.0))

    free: ClassVar[frozenset] = frozenset({"RL", "IL"})
    observed: ClassVar[str] = "VLOAD"
    level_when_lit: ClassVar[str] = "on"
    words: ClassVar[tuple] = ("off", "between", "on")
    on_line: ClassVar[bool] = True
    usual_coupler: ClassVar[str] = "triac-random"
    units: ClassVar[dict] = {
        "VLOAD": "V", "ILOAD": "A", "I_crest": "A", "V_trigger": "V", "angle": "deg", "I_surge": "A", "P_snubber": "W",
    }  # fmt: skip

    def contradictions(self):
        """Yield what cannot both be: crossed ends of the supply, a load that is off and on at once.

        Yields
        ------
        Problem
            At the lower end or share.
        """
        yield from Load.contradictions(self)
        yield from share_limits(self.share_on, self.share_off)

    @property
    def V_by_hand(self):
        """Return the crest of the line [V]."""
        return ROOT2 * self.VCC

    def across_coupler(self, values):
        """Return the voltage that the coupler's output meets, at the crest; arguments as of `Load`.

        Parameters
        ----------
        values : dict of str to ndarray, shape (batch,)
            What varies, "VCC" among it.

        Returns
        -------
        ndarray, shape (batch,)
            Voltage [V].
        """
        return ROOT2 * values["VCC"]

    @property
    def has_snubber(self):
        """Return whether there is a snubber."""
        return self.C_snubber != NONE

    def _place_line(self, net, values):
        """Place the line at its crest."""
        net.source("VCC", "VCC", ROOT2 * values["VCC"])

    def _place_snubber(self, net, node):
        """Place the snubber from a node to common; at the crest it stands still."""
        if self.has_snubber:
            net.inside(node, "SN")
            net.resistor("RSN", node, "SN", self.R_snubber)
            net.conductance("CSN", "SN", self.reference, 0.0)

    def _leaking(self, seen, R):
        """Return the rms current that the load gets while off: the snubber's and, at the most, the leakage beside it.

        Parameters
        ----------
        seen : Seen
            What was solved and what varied.
        R : ndarray
            The load [ohm].

        Returns
        -------
        whole : ndarray
            Both together [A].
        snubber : ndarray
            The snubber's [A].
        """
        through = np.zeros_like(R)
        if self.has_snubber:
            through = snubber_current(seen.values["VCC"], self.f_line, self.C_snubber, self.R_snubber + R)
        return through + np.maximum(seen.currents["VCC"][1], 0.0) / ROOT2, through

    def verdict(self, VLOAD, values):
        """Return whether the load is on.

        Parameters
        ----------
        VLOAD : ndarray, shape (corners,)
            Voltage at the load, rms, the nominal one first [V].
        values : dict of str to ndarray, shape (corners,)
            What varied, which does not matter here.

        Returns
        -------
        Verdict
            "off", "between" or "on", and whether every corner agrees.
        """
        limits = (np.full_like(VLOAD, share * self.VCC) for share in (self.share_off, self.share_on))
        return judge(VLOAD, *limits, words=self.words)


@dataclass(frozen=True, slots=True, kw_only=True)
class AcLoad(_OnLine):
    """The coupler's triac alone in series with the load, which is RL; parameters beside those of `_OnLine`.

    Attributes
    ----------
    RL : float or str
        Resistance of the load, or "auto" for the one that takes `IL` [ohm].
    IL : float
        Current of the load, rms, where its resistance is "auto" [A].
    RL_rating : float
        Power that the load may take [W].
    """

    RL: float | str = number("rl", "RL", OHM, "auto", (1.0, 1e8), ("auto",))
    IL: float = number("il", "IL", AMPERE, 60e-3, (1e-6, 10.0))
    RL_rating: float = number("rlw", "RL rating", WATT, 40.0, (0.05, 1e5))

    kind: ClassVar[str] = "ac-load"
    title: ClassVar[str] = "AC load on a triac coupler"
    detector: ClassVar[tuple] = ("T", "common")
    loop: ClassVar[tuple] = ("RL", "U1")

    def wire(self, net, TA_degC, values):
        """Place the side but the coupler: line, load, snubber.

        Parameters
        ----------
        net : NetlistBuilder
            Where to place it.
        TA_degC : float
            Ambient temperature [degC].
        values : dict of str to ndarray, shape (batch,)
            "VCC" and "RL", in SI units.
        """
        net.side("output", self.reference, "VCC", "T")
        self._place_line(net, values)
        net.resistor("RL", "VCC", "T", values["RL"])
        self._place_snubber(net, "T")

    def _lit(self, seen):
        """Return the half cycle of a lit coupler: it begins where the load takes its holding current."""
        latched = seen.currents["U1"][0] > seen.card.IH
        V_on, V_peak = np.maximum(seen.drops["U1"][0], 0.0), ROOT2 * seen.values["VCC"]
        V_start = np.where(latched, V_on + seen.card.IH * seen.values["RL"], np.inf)
        return HalfCycle(V_peak, np.minimum(V_on, V_peak), V_start)

    def figures(self, seen):
        """Return rms values of the load, and where in the half cycle it begins.

        Parameters
        ----------
        seen : Seen
            What was solved and what varied.

        Returns
        -------
        tuple of (dict, dict)
            With the LED lit: "VLOAD" and "ILOAD" rms, "I_crest", "V_trigger" and "angle" of the line where it begins,
            "I_surge". Dark: "VLOAD" and "ILOAD" rms, "P_snubber".
        """
        half, R, crest = self._lit(seen), seen.values["RL"], np.maximum(seen.currents["RL"][0], 0.0)
        through, snubber = self._leaking(seen, R)
        V = np.where(half.triggered, half.V_rms, through * R)
        begins = np.minimum(half.V_start, half.V_peak)
        lit = {
            "VLOAD": V, "ILOAD": V / R, "I_crest": crest, "V_trigger": begins, "angle": np.degrees(half.start),
            "I_surge": crest,
        }  # fmt: skip
        return lit, {"VLOAD": through * R, "ILOAD": through, "P_snubber": snubber**2 * self.R_snubber}

    def mean_powers(self, seen):
        """Return the mean power of every part over the cycle.

        Parameters
        ----------
        seen : Seen
            What was solved and what varied.

        Returns
        -------
        dict of str to ndarray, shape (2, count)
            Part to its power [W].
        """
        half, R = self._lit(seen), seen.values["RL"]
        lit, dark = self.figures(seen)
        leak = np.maximum(seen.currents["U1"], 0.0) * np.maximum(seen.drops["U1"], 0.0) / 2.0
        U1 = np.stack((np.where(half.triggered, on_loss(half.V_on, half.V_average / R), leak[0]), leak[1]))
        powers = {"RL": np.stack((lit["VLOAD"] ** 2 / R, dark["VLOAD"] ** 2 / R)), "U1": U1}
        if self.has_snubber:
            idle = np.where(half.triggered, 0.0, dark["P_snubber"])
            powers |= {"RSN": np.stack((idle, dark["P_snubber"])), "CSN": np.zeros_like(U1)}
        return powers | {"VCC": -sum(powers.values())}

    def needed_current(self, VCE, VCC, RL, T, more=None):
        """Return the current of the load at the crest, with a voltage left at the coupler.

        Parameters
        ----------
        VCE : float
            On-state voltage of the coupler [V].
        VCC : ndarray, shape (batch,)
            Line voltage, rms [V].
        RL : ndarray, shape (batch,)
            Load [ohm].
        T : float
            Absolute temperature, which this load does not mind [K].
        more : dict of str to ndarray, shape (batch,), or None
            What `spreads` names, which is nothing here.

        Returns
        -------
        ndarray, shape (batch,)
            Current; 0 where the line is below `VCE` [A].
        """
        return np.maximum(ROOT2 * VCC - VCE, 0.0) / RL


@dataclass(frozen=True, slots=True, kw_only=True)
class AcTriac(_OnLine):
    """The coupler triggers a larger triac through RL; parameters beside those of `_OnLine`.

    Attributes
    ----------
    RL : float or str
        Resistor in series with the coupler, or "auto" to size it from the surge current `IL` [ohm].
    IL : float
        Surge current, peak, that an "auto" resistor lets through at the highest crest [A].
    R_load : float
        Resistance of the load [ohm].
    I_GT : float
        Gate trigger current of the larger triac [A].
    V_GT : float
        Gate trigger voltage [V].
    R_GK : float
        Resistor from its gate to its first main terminal [ohm].
    I_hold : float
        Its holding current [A].
    V_T : float
        Its on-state voltage [V].
    """

    RL: float | str = number("rl", "RL", OHM, "auto", (1.0, 1e8), ("auto",))
    IL: float = number("il", "IL", AMPERE, 0.8, (1e-4, 20.0))
    R_load: float = number("rload", "RLOAD", OHM, 100.0, (0.1, 1e8))
    I_GT: float = number("igt", "IGT", AMPERE, 30e-3, (1e-5, 1.0))
    V_GT: float = number("vgt", "VGT", VOLT, 1.3, (0.1, 10.0))
    R_GK: float = number("rgk", "RGK", OHM, 330.0, (10.0, 1e7))
    I_hold: float = number("ihold", "Holding current", AMPERE, 30e-3, (1e-5, 1.0))
    V_T: float = number("vton", "On-state voltage", VOLT, 1.4, (0.1, 20.0))

    kind: ClassVar[str] = "ac-triac"
    title: ClassVar[str] = "AC load on a triac"
    detector: ClassVar[tuple] = ("T", "GT")
    loop: ClassVar[tuple] = ("RLOAD", "RL", "U1", "RGK")

    @property
    def terminals(self):
        """Return part to the pair of nodes it is measured between, for parts of several elements."""
        return {"U1": self.detector, "Q3": ("T2", self.reference)}

    @property
    def V_for_RL(self):
        """Return the voltage that drives the current which RL is sized for: the highest crest [V]."""
        return ROOT2 * self.VCC_ends[1]

    @property
    def R_by_hand(self):
        """Return what lies in series with RL, the load [ohm]."""
        return self.R_load

    @property
    def drop_by_hand(self):
        """Return the voltage at the gate of the larger triac [V]."""
        return self.V_GT

    @property
    def I_trigger(self):
        """Return the current that triggers the larger triac, with that of the resistor across its gate [A]."""
        return self.I_GT + self.V_GT / self.R_GK

    def wire(self, net, TA_degC, values):
        """Place the side but the coupler: line, load, RL, the larger triac before it is triggered, snubber.

        Parameters
        ----------
        net : NetlistBuilder
            Where to place it.
        TA_degC : float
            Ambient temperature [degC].
        values : dict of str to ndarray, shape (batch,)
            "VCC" and "RL", in SI units.
        """
        net.side("output", self.reference, "VCC", "T2", "T", "GT")
        self._place_line(net, values)
        net.resistor("RLOAD", "VCC", "T2", self.R_load)
        net.resistor("RL", "T2", "T", values["RL"])
        net.resistor("RGK", "GT", self.reference, self.R_GK)
        net.conductance("Q3", "T2", self.reference, _BLOCKED)
        nVT = np.full(net.batch, _GATE * thermal_voltage(TA_degC + ZERO_CELSIUS))
        gate = JunctionParams(self.I_GT / np.expm1(self.V_GT / nVT), nVT)
        net.device(Junction("Q3", "GT", self.reference, gate, np.full(net.batch, self.V_GT)))
        self._place_snubber(net, "T2")

    def _lit(self, seen):
        """Return the half cycle of a lit coupler: it begins where the gate of the larger triac gets its current."""
        lit = seen.currents["U1"][0]
        reached = lit >= 0.5 * self.I_trigger  # whether it is lit at all; the crest decides the rest
        V_on = np.minimum(np.maximum(seen.drops["U1"][0], 0.0), seen.card.VTM_max)
        V_start = trigger_voltage(seen.values["RL"] + self.R_load, self.I_trigger, self.V_GT, V_on)
        V_peak = ROOT2 * seen.values["VCC"]
        return HalfCycle(V_peak, np.minimum(self.V_T, V_peak), np.where(reached, V_start, np.inf))

    def _never(self, seen):
        """Return the rms current of a lit coupler that never triggers the larger triac: all through RL."""
        return np.maximum(seen.currents["RL"][0], 0.0) / ROOT2

    def figures(self, seen):
        """Return rms values of the load, and where in the half cycle it begins.

        Parameters
        ----------
        seen : Seen
            What was solved and what varied.

        Returns
        -------
        tuple of (dict, dict)
            With the LED lit: "VLOAD" and "ILOAD" rms, "I_crest" of the load, "V_trigger" and "angle" of the line where
            it begins, "I_surge" through the coupler. Dark: "VLOAD" and "ILOAD" rms, "P_snubber".

        Notes
        -----
        A coupler of any phase may be lit at the crest, and then meets all of it until the larger triac takes over. One
        that turns on near the zero crossing only meets what triggers the larger triac, or what its window lets through.
        """
        half, R = self._lit(seen), np.full_like(seen.values["RL"], self.R_load)
        through, snubber = self._leaking(seen, R)
        V = np.where(half.triggered, half.V_rms, np.maximum(self._never(seen), through) * R)
        surge = np.maximum(seen.currents["U1"][0], 0.0)
        if seen.card.inhibit is not None:
            surge = np.minimum(surge, np.maximum(self.I_trigger, seen.card.inhibit / (seen.values["RL"] + self.R_load)))
        lit = {
            "VLOAD": V, "ILOAD": V / R, "I_crest": half.triggered * np.maximum(half.V_peak - half.V_on, 0.0) / R,
            "V_trigger": np.minimum(half.V_start, half.V_peak), "angle": np.degrees(half.start), "I_surge": surge,
        }  # fmt: skip
        return lit, {"VLOAD": through * R, "ILOAD": through, "P_snubber": snubber**2 * self.R_snubber}

    def mean_powers(self, seen):
        """Return the mean power of every part over the cycle.

        Parameters
        ----------
        seen : Seen
            What was solved and what varied.

        Returns
        -------
        dict of str to ndarray, shape (2, count)
            Part to its power [W].

        Notes
        -----
        Until the larger triac takes over, coupler and RL carry the line's voltage over their resistances; so little of
        the half cycle has passed that the drops of coupler and gate are left aside there, which errs upwards.
        """
        half, R, RL = self._lit(seen), self.R_load, seen.values["RL"]
        lit, dark = self.figures(seen)
        idle = np.maximum(seen.currents["U1"], 0.0)
        magnitude, square = half.waiting
        through = np.where(half.triggered, magnitude / (RL + R), idle[0] * 2.0 / np.pi)
        squared = np.where(half.triggered, square / (RL + R) ** 2, idle[0] ** 2 / 2.0)
        V_on = np.minimum(np.maximum(seen.drops["U1"][0], 0.0), half.V_peak)
        blocked = [self._blocked(seen, k) for k in range(2)]
        powers = {
            "RL": np.stack((squared * RL, idle[1] ** 2 * RL / 2.0)),
            "U1": np.stack((V_on * through, idle[1] * np.maximum(seen.drops["U1"][1], 0.0) / 2.0)),
            "RGK": np.stack((np.full_like(RL, self.V_GT**2 / self.R_GK) * half.triggered, 0.0 * RL)),
            "RLOAD": np.stack((lit["VLOAD"] ** 2 / R, dark["VLOAD"] ** 2 / R)),
            "Q3": np.stack((np.where(half.triggered, on_loss(half.V_on, half.V_average / R), blocked[0]), blocked[1])),
        }
        if self.has_snubber:
            waits = np.where(half.triggered, 0.0, dark["P_snubber"])
            powers |= {"RSN": np.stack((waits, dark["P_snubber"])), "CSN": np.zeros_like(idle)}
        return powers | {"VCC": -sum(powers.values())}

    def _blocked(self, seen, state):
        """Return the mean power of the larger triac while it is off."""
        return np.maximum(seen.drops["Q3"][state], 0.0) ** 2 * _BLOCKED / 2.0

    def needed_current(self, VCE, VCC, RL, T, more=None):
        """Return the current through RL at the crest, with a voltage left at the coupler.

        Parameters
        ----------
        VCE : float
            On-state voltage of the coupler [V].
        VCC : ndarray, shape (batch,)
            Line voltage, rms [V].
        RL : ndarray, shape (batch,)
            Series resistor [ohm].
        T : float
            Absolute temperature, which this load hardly minds [K].
        more : dict of str to ndarray, shape (batch,), or None
            What `spreads` names, which is nothing here.

        Returns
        -------
        ndarray, shape (batch,)
            Current; 0 where the line is below `VCE` [A].
        """
        return np.maximum(ROOT2 * VCC - VCE - self.V_GT, 0.0) / (RL + self.R_load)
