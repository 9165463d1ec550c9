"""A relay's coil, switched by a transistor that the detector turns on, with a clamp for what the coil gives back."""

import math
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from engine.constants import REFERENCE_TEMPERATURE, ZERO_CELSIUS
from engine.diodes import SILICON, place_diode, place_zener
from engine.errors import Problem
from engine.logic import judge
from engine.outputs.load import Load
from engine.parameter import choice, number
from engine.quantity import AMPERE, COUNT, HENRY, OHM, RATIO, VOLT, as_typed, in_query
from engine.supply import Spread
from engine.transistors import base_emitter, place_mosfet, place_npn

COPPER = 3.93e-3
"""Temperature coefficient of copper's resistance, relative to that at 20 degC [1/K]; IEC 60028, from memory."""

_STATED_AT = 20.0  # [degC], temperature that coils are stated at; common practice, no source
STRAY = 200e-12
"""Capacitance of a winding, which bounds what an unclamped coil reaches; a value of our own [F]."""
_BE_BY_HAND = 0.7  # [V], a base-emitter junction on paper; common practice, no source
_STATED_GATE = 10.0  # [V], gate voltage that the on-resistance of the MOSFET is stated at; common practice, no source
_BLOCKING = -1.0  # [V], where the iteration begins for a junction that blocks


def winding(R, TA_degC):
    """Return the resistance of a copper winding at a temperature.

    Parameters
    ----------
    R : float or ndarray
        Resistance at 20 degC [ohm].
    TA_degC : float
        Temperature of the winding [degC].

    Returns
    -------
    float or ndarray
        Resistance [ohm].

    References
    ----------
    IEC 60028, standard of resistance for copper; from memory.
    """
    return R * (1.0 + COPPER * (TA_degC - _STATED_AT))


@dataclass(frozen=True, slots=True)
class Decay:
    """A coil's current after it is switched off.

    Attributes
    ----------
    L : float
        Inductance [H].
    R : ndarray
        Resistance of the winding [ohm].
    I_start : ndarray
        Current at the moment of switching off [A].

    Notes
    -----
    Closed forms of the loop of coil and clamp. A clamp of constant voltage V: I(t) = (I0 + V/R) exp(-t R/L) - V/R. A
    clamp of resistance RC: I(t) = I0 exp(-t (R + RC)/L). No clamp: the current swings into the winding's own
    capacitance, I(t) = I0 cos(t / sqrt(L C)), losses left aside.

    References
    ----------
    Derived here.
    """

    L: float
    R: np.ndarray
    I_start: np.ndarray

    def into_voltage(self, V, I_end):
        """Return the time until the current has fallen to an end, against a constant voltage.

        Parameters
        ----------
        V : float or ndarray
            Voltage of the clamp [V].
        I_end : ndarray
            The end, positive [A].

        Returns
        -------
        ndarray
            Time; 0 where it begins below [s].
        """
        steady = V / self.R
        return self.L / self.R * np.log(np.maximum((self.I_start + steady) / (I_end + steady), 1.0))

    def into_resistance(self, R, I_end):
        """Return the time until the current has fallen to an end, through a resistance.

        Parameters
        ----------
        R : float
            Resistance of the clamp [ohm].
        I_end : ndarray
            The end, positive [A].

        Returns
        -------
        ndarray
            Time; 0 where it begins below [s].
        """
        return self.L / (self.R + R) * np.log(np.maximum(self.I_start / I_end, 1.0))

    def into_capacitance(self, C, I_end):
        """Return the time until the current has fallen to an end, and the voltage that it reaches, without a clamp.

        Parameters
        ----------
        C : float
            Capacitance of the winding [F].
        I_end : ndarray
            The end, positive [A].

        Returns
        -------
        time : ndarray
            Time; 0 where it begins below [s].
        peak : ndarray
            Voltage across the coil [V].
        """
        share = np.minimum(I_end / np.maximum(self.I_start, I_end), 1.0)
        return math.sqrt(self.L * C) * np.arccos(share), np.maximum(self.I_start, 0.0) * math.sqrt(self.L / C)


@dataclass(frozen=True, slots=True, kw_only=True)
class Relay(Load):
    """Detector from the supply through RL into the base of a transistor that switches a coil; beside those of `Load`.

    Attributes
    ----------
    VCC : float
        Supply of the output side [V].
    RL : float or str
        Resistor between the detector and base or gate, or "auto" to size it from `IL` [ohm].
    IL : float
        Current through RL that an "auto" resistor is sized for [A].
    V_nominal : float
        Nominal voltage of the coil [V].
    R_coil : float
        Resistance of the coil at 20 degC [ohm].
    R_coil_tolerance : float
        Deviation of the coil's resistance, either way [-].
    L_coil : float
        Inductance of the coil [H].
    operate : float
        Voltage at 20 degC at which it operates at the latest, as a share of the nominal voltage [-].
    release : float
        Voltage at 20 degC at which it releases (drops out) at the latest, likewise [-].
    transistor : str
        "npn" or "mosfet" (n channel, enhancement).
    gain_min : float
        Smallest current gain of the npn transistor [-].
    gain_max : float
        Largest current gain [-].
    Vth : float
        Threshold voltage of the MOSFET [V].
    R_on : float
        On-resistance of the MOSFET at 10 V [ohm].
    R_base : float
        Resistor from base or gate to common [ohm].
    V_rating : float
        Voltage that the transistor withstands [V].
    clamp : str
        What takes the coil's current over: "none", "diode", "zener" (with a diode) or "resistor".
    V_clamp : float
        Zener voltage of the clamp [V].
    R_clamp : float
        Resistor of the clamp [ohm].
    """

    VCC: float = number("vcc", "VCC", VOLT, 12.0, (0.0, 1000.0))
    RL: float | str = number("rl", "RL", OHM, "auto", (1.0, 1e8), ("auto",))
    IL: float = number("il", "IL", AMPERE, 1e-3, (1e-7, 1.0))
    V_nominal: float = number("vk", "Coil voltage", VOLT, 12.0, (1.0, 500.0))
    R_coil: float = number("rk", "RK", OHM, 270.0, (1.0, 1e6))
    R_coil_tolerance: float = number("rktol", "RK tolerance", RATIO, 0.1, (0.0, 0.5))
    L_coil: float = number("lk", "LK", HENRY, 0.4, (1e-6, 100.0))
    operate: float = number("kop", "Operate", RATIO, 0.75, (0.01, 1.5))
    release: float = number("krel", "Release", RATIO, 0.05, (0.001, 1.0))
    transistor: str = choice("kq", "Transistor", "npn", ("npn", "mosfet"))
    gain_min: float = number("khmin", "Gain min", COUNT, 100.0, (1.0, 5000.0))
    gain_max: float = number("khmax", "Gain max", COUNT, 400.0, (1.0, 5000.0))
    Vth: float = number("kvth", "Threshold", VOLT, 2.0, (0.1, 9.9))
    R_on: float = number("kron", "On-resistance", OHM, 1.0, (1e-3, 1e5))
    R_base: float = number("r3", "R3", OHM, 10e3, (1.0, 1e8))
    V_rating: float = number("kvmax", "Transistor voltage", VOLT, 45.0, (1.0, 5000.0))
    clamp: str = choice("clamp", "Clamp", "diode", ("none", "diode", "zener", "resistor"))
    V_clamp: float = number("vclamp", "Clamp zener", VOLT, 18.0, (1.0, 500.0))
    R_clamp: float = number("rclamp", "Clamp resistor", OHM, 680.0, (1.0, 1e6))

    kind: ClassVar[str] = "relay"
    title: ClassVar[str] = "Relay through a transistor"
    detector: ClassVar[tuple] = ("VCC", "E")
    loop: ClassVar[tuple] = ("U1", "RL", "R3")
    observed: ClassVar[str] = "VK"
    level_when_lit: ClassVar[str] = "operated"
    words: ClassVar[tuple] = ("released", "between", "operated")
    level_codes: ClassVar[tuple] = ("relay-operate", "relay-release")
    units: ClassVar[dict] = {"VK": "V", "IK": "A", "V_peak": "V", "t_release": "s"}

    @property
    def terminals(self):
        """Return part to the pair of nodes it is measured between, for parts of several elements."""
        return {"U1": self.detector, "Q2": ("C2", self.reference), "K1": ("VCC", "C2"), "D6": ("VCC", "C2")}

    @property
    def drop_by_hand(self):
        """Return what base and emitter, or a gate's divider, take on paper [V]."""
        return _BE_BY_HAND if self.transistor == "npn" else 0.0

    def contradictions(self):
        """Yield what cannot both be: crossed ends of supply, gain, and of what operates and releases the relay.

        Yields
        ------
        Problem
            At the lower end.
        """
        yield from Load.contradictions(self)
        if self.gain_min > self.gain_max:
            given = in_query(self.gain_min, COUNT)
            yield Problem("khmin", given, "a value up to Gain max", "Gain min is above Gain max")
        if self.release >= self.operate:
            accepted = f"a value below {as_typed(self.operate, RATIO)}"
            yield Problem("krel", in_query(self.release, RATIO), accepted, "Release is not below Operate")

    def limits(self, TA_degC):
        """Return the coil voltages at which the relay has released and has operated.

        Parameters
        ----------
        TA_degC : float
            Temperature of the winding [degC].

        Returns
        -------
        release : float
            Coil voltage up to which it is surely released [V].
        operate : float
            Coil voltage from which it has surely operated [V].

        Notes
        -----
        The armature feels the current. So both voltages rise with the winding's resistance.
        """
        warm = winding(self.V_nominal, TA_degC)
        return self.release * warm, self.operate * warm

    def spreads(self, tolerance):
        """Return what varies on this side beside supply and RL: the coil's resistance at 20 degC, the current gain.

        Parameters
        ----------
        tolerance : float
            Tolerance of the resistors [-].

        Returns
        -------
        dict of str to Spread
            "K1" [ohm], and "Q2" for an npn transistor [-].
        """
        away = self.R_coil * self.R_coil_tolerance
        found = {"K1": Spread(self.R_coil - away, self.R_coil, self.R_coil + away, -1)}
        if self.transistor == "npn":
            low, high = self.gain_min, self.gain_max
            found["Q2"] = Spread(low, min(max(math.sqrt(low * high), low), high), high, 1)
        return found

    def wire(self, net, TA_degC, values):
        """Place the side but its detector: supply, RL, R3, transistor, coil, clamp.

        Parameters
        ----------
        net : NetlistBuilder
            Where to place it.
        TA_degC : float
            Ambient temperature, which is the coil's too [degC].
        values : dict of str to ndarray, shape (batch,)
            "VCC", "RL" and what `spreads` names, in SI units.
        """
        net.side("output", self.reference, "VCC", "E", "G2", "C2")
        net.source("VCC", "VCC", values["VCC"])
        net.resistor("RL", "E", "G2", values["RL"])
        net.resistor("R3", "G2", self.reference, self.R_base)
        net.resistor("K1", "VCC", "C2", winding(values["K1"], TA_degC))
        T, nodes = np.full(net.batch, TA_degC + ZERO_CELSIUS), ("C2", "G2", self.reference)
        if self.transistor == "npn":
            place_npn(net, "Q2", nodes, values["Q2"], T, (values["VCC"] / values["K1"], values["VCC"]))
        else:
            place_mosfet(net, "Q2", nodes, (self.Vth, self.R_on, _STATED_GATE), T)
        self._place_clamp(net, TA_degC)

    def _place_clamp(self, net, TA_degC):
        """Place what lies across the coil; while nothing is switched, diodes there block."""
        if self.clamp == "resistor":
            net.resistor("D6", "VCC", "C2", self.R_clamp)
        elif self.clamp == "diode":
            net.inside("C2", "D6J")
            place_diode(net, "D6", ("C2", "VCC"), SILICON, TA_degC)
        elif self.clamp == "zener":
            net.inside("C2", "D6J", "Z6J")
            place_diode(net, "D6", ("C2", "Z6J"), SILICON, TA_degC)
            place_zener(net, "D6", "Z6J", "VCC", self.V_clamp, 1e-3)

    def figures(self, seen):
        """Return voltage and current of the coil, and what happens when it is switched off.

        Parameters
        ----------
        seen : Seen
            What was solved and what varied.

        Returns
        -------
        tuple of (dict, dict)
            With the LED lit: "VK" and "IK". Dark: the same, "V_peak" at the transistor just after switching off and
            "t_release", the time in which the coil's current falls to where the relay surely releases.
        """
        V, current = seen.drops["K1"], seen.currents["K1"]
        R = winding(seen.values["K1"], seen.TA_degC)
        decay = Decay(self.L_coil, R, np.maximum(current[0], 0.0))
        V_across, time = self._clamped(decay, self.release * self.V_nominal / seen.values["K1"])
        dark = {"VK": V[1], "IK": current[1], "V_peak": seen.values["VCC"] + V_across, "t_release": time}
        return {"VK": V[0], "IK": current[0]}, dark

    def _clamped(self, decay, I_release):
        """Return the voltage that the clamp lets come up across the coil, and the time to release."""
        if self.clamp == "none":
            time, peak = decay.into_capacitance(STRAY, I_release)
            return peak, time
        if self.clamp == "resistor":
            return decay.I_start * self.R_clamp, decay.into_resistance(self.R_clamp, I_release)
        V = SILICON.VF(decay.I_start, REFERENCE_TEMPERATURE) + (self.V_clamp if self.clamp == "zener" else 0.0)
        return V, decay.into_voltage(V, I_release)

    def verdict(self, VK, values):
        """Return whether the relay has operated.

        Parameters
        ----------
        VK : ndarray, shape (corners,)
            Coil voltage, the nominal one first [V].
        values : dict of str to ndarray, shape (corners,)
            What varied, "TA" among it [degC].

        Returns
        -------
        Verdict
            "released", "between" or "operated", and whether every corner agrees.
        """
        low, high = (np.broadcast_to(limit, VK.shape) for limit in self.limits(values["TA"]))
        return judge(VK, low, high, words=self.words)

    def needed_current(self, VCE, VCC, RL, T, more=None):
        """Return the collector current that holds a given collector-emitter voltage.

        Parameters
        ----------
        VCE : float
            Collector-emitter voltage to be held [V].
        VCC : ndarray, shape (batch,)
            Supply of the output side [V].
        RL : ndarray, shape (batch,)
            Resistor between detector and base or gate [ohm].
        T : float
            Absolute temperature [K].
        more : dict of str to ndarray, shape (batch,), or None
            What `spreads` names, which hardly matters here.

        Returns
        -------
        ndarray, shape (batch,)
            Collector current; 0 where the supply is below `VCE` [A].
        """
        left = np.maximum(VCC - VCE, 0.0)
        divided = left / (RL + self.R_base)
        if self.transistor == "mosfet":
            return divided
        V_be = base_emitter(self.V_nominal / self.R_coil, T)
        return np.where(divided * self.R_base < V_be, divided, np.maximum(left - V_be, 0.0) / RL)

    def drop_beside_load(self, IL, T):
        """Return what the load current meets besides RL and the detector.

        Parameters
        ----------
        IL : float
            Current through RL [A].
        T : float
            Absolute temperature [K].

        Returns
        -------
        float
            Voltage of base and emitter, or of R3 where the transistor does not clamp it [V].
        """
        across = IL * self.R_base
        if self.transistor == "mosfet":
            return across
        return float(min(across, base_emitter(self.V_nominal / self.R_coil, T)))
