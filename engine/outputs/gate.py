"""The gate of an IGBT or MOSFET, driven through a gate resistor by a coupler with a push-pull output."""

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from engine.errors import Problem
from engine.logic import judge
from engine.outputs.load import Load
from engine.parameter import number
from engine.quantity import AMPERE, COULOMB, HERTZ, OHM, RATIO, VOLT, as_typed, in_query


def gate_resistor(VCC, VEE, V_drop, I_peak):
    """Return the gate resistor that holds a driver's peak current.

    Parameters
    ----------
    VCC : float or ndarray
        Positive supply [V].
    VEE : float or ndarray
        Negative rail, 0 or below [V].
    V_drop : float or ndarray
        What the driver's output keeps at that current [V].
    I_peak : float or ndarray
        Peak current [A].

    Returns
    -------
    float or ndarray
        Resistance [ohm].

    References
    ----------
    Common practice: at the first moment the gate still stands at the other rail. So do the data sheets of drivers.

    Examples
    --------
    >>> gate_resistor(15.0, -5.0, 2.0, 2.5)
    7.2
    """
    return (VCC - VEE - V_drop) / I_peak


def charge_power(QG, swing, f):
    """Return the power that moving a gate's charge takes from the supply.

    Parameters
    ----------
    QG : float
        Gate charge [C].
    swing : float or ndarray
        Swing of the gate voltage [V].
    f : float
        Switching frequency [Hz].

    Returns
    -------
    float or ndarray
        Power, shared by driver and gate resistor [W].

    References
    ----------
    Derived here: a charge moved through a voltage once in every cycle.
    """
    return QG * swing * f


def driver_power(ICC, volts, E_cycle, f):
    """Return the power of a driver's output side.

    Parameters
    ----------
    ICC : float or ndarray
        Supply current [A].
    volts : float or ndarray
        Supply, from rail to rail [V].
    E_cycle : float or ndarray
        Energy that one cycle leaves within the driver [J].
    f : float
        Switching frequency [Hz].

    Returns
    -------
    float or ndarray
        Power [W].

    References
    ----------
    Common practice, as the data sheets of gate drivers reckon.
    """
    return ICC * volts + E_cycle * f


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate(Load):
    """Gate driver, gate resistor RL, gate; parameters beside those of `Load`.

    Attributes
    ----------
    VCC : float
        Positive supply against emitter or source [V].
    RL : float or str
        Gate resistor, or "auto" to size it from the peak current `IL` [ohm].
    IL : float
        Peak current of the driver that an "auto" resistor is sized for [A].
    VEE : float
        Negative rail against emitter or source; 0 for none [V].
    R_GE : float
        Resistor from gate to emitter or source [ohm].
    QG : float
        Gate charge over the whole swing [C].
    f_switch : float
        Switching frequency [Hz].
    duty : float
        Share of the time in which the LED is lit [-].
    V_gate_on : float
        Gate voltage from which the transistor is fully on [V].
    V_gate_off : float
        Gate voltage up to which it is surely off [V].
    """

    VCC: float = number("vcc", "VCC", VOLT, 16.0, (0.0, 1000.0))
    RL: float | str = number("rl", "RL", OHM, "auto", (1.0, 1e8), ("auto",))
    IL: float = number("il", "IL", AMPERE, 1.5, (1e-3, 20.0))
    VEE: float = number("vee", "VEE", VOLT, 0.0, (-30.0, 0.0))
    R_GE: float = number("rge", "RGE", OHM, 10e3, (10.0, 1e8))
    QG: float = number("qg", "QG", COULOMB, 100e-9, (0.0, 1e-4))
    f_switch: float = number("fsw", "Switching frequency", HERTZ, 20e3, (0.0, 1e6))
    duty: float = number("dsw", "Duty", RATIO, 0.5, (0.0, 1.0))
    V_gate_on: float = number("vgon", "On from", VOLT, 12.0, (0.1, 30.0))
    V_gate_off: float = number("vgoff", "Off up to", VOLT, 2.0, (-30.0, 30.0))

    free: ClassVar[frozenset] = frozenset({"RL", "IL"})
    kind: ClassVar[str] = "gate"
    title: ClassVar[str] = "Gate of an IGBT or MOSFET"
    loop: ClassVar[tuple] = ("U1", "RL", "RGE")
    observed: ClassVar[str] = "VG"
    level_when_lit: ClassVar[str] = "on"
    words: ClassVar[tuple] = ("off", "half on", "on")
    units: ClassVar[dict] = {
        "VG": "V", "I_peak": "A", "P_bias": "W", "P_switch": "W", "P_driver": "W", "P_LED": "W", "P_total": "W",
    }  # fmt: skip
    usual_coupler: ClassVar[str] = "push-pull"

    @property
    def lower(self):
        """Return the node of the lower rail."""
        return "VEE" if self.VEE < 0.0 else self.reference

    @property
    def detector(self):
        """Return the nodes of the driver's output and of its lower rail."""
        return "OUT", self.lower

    @property
    def terminals(self):
        """Return part to the pair of nodes it is measured between, for parts of several elements."""
        return {"U1": ("VCC", "OUT")}

    @property
    def V_for_RL(self):
        """Return the voltage that drives the current which RL is sized for [V]."""
        return self.VCC - self.VEE

    @property
    def R_by_hand(self):
        """Return what lies in series with RL while the gate rests, RGE [ohm]."""
        return self.R_GE

    def across_coupler(self, values):
        """Return the supply that the coupler itself sees, from rail to rail; arguments as of `Load`.

        Parameters
        ----------
        values : dict of str to ndarray, shape (batch,)
            What varies, "VCC" among it.

        Returns
        -------
        ndarray, shape (batch,)
            Voltage [V].
        """
        return values["VCC"] - self.VEE

    def contradictions(self):
        """Yield what cannot both be: crossed ends of the supply, a gate that is off and on at once.

        Yields
        ------
        Problem
            At the lower end or limit.
        """
        yield from Load.contradictions(self)
        if self.V_gate_off >= self.V_gate_on:
            accepted = f"a voltage below {as_typed(self.V_gate_on, VOLT)}"
            yield Problem("vgoff", in_query(self.V_gate_off, VOLT), accepted, "Off up to is not below On from")

    def wire(self, net, TA_degC, values):
        """Place the side but its driver: rails, gate resistor, resistor from gate to emitter, gate.

        Parameters
        ----------
        net : NetlistBuilder
            Where to place it.
        TA_degC : float
            Ambient temperature [degC].
        values : dict of str to ndarray, shape (batch,)
            "VCC" and "RL", in SI units.
        """
        net.side("output", self.reference, "VCC", "OUT", "G2", *(("VEE",) if self.VEE < 0.0 else ()))
        net.source("VCC", "VCC", values["VCC"])
        if self.VEE < 0.0:
            net.source("VEE", "VEE", self.VEE)
        net.resistor("RL", "OUT", "G2", values["RL"])
        net.resistor("RGE", "G2", self.reference, self.R_GE)
        net.conductance("Q3", "G2", self.reference, 0.0)

    def figures(self, seen):
        """Return the gate voltage, and what switching asks of the driver.

        Parameters
        ----------
        seen : Seen
            What was solved and what varied.

        Returns
        -------
        tuple of (dict, dict)
            With the LED lit: "VG", "I_peak" at the first moment, "P_bias" from the supply current, "P_switch" the share
            of the gate charge's power that stays within the driver, "P_driver" both, "P_LED" over the duty, "P_total"
            all. Dark: "VG".

        Notes
        -----
        Half of the gate charge's energy is lost while charging and half while discharging, each time in the resistances
        of output and gate resistor in their ratio; the output's are those of its stated drops.

        References
        ----------
        Derived here.
        """
        values, card = seen.values, seen.card
        swing = values["VCC"] - self.VEE
        up, down = values["drop_high"] / card.drop_high_IO, values["VOL"] / card.VOL_IO
        share = 0.5 * (up / (up + values["RL"]) + down / (down + values["RL"]))
        bias = driver_power(values["ICC"] * swing / card.ICC[2], swing, 0.0, 0.0)
        switch = charge_power(self.QG, swing, self.f_switch) * share
        led = self.duty * seen.currents["LED"][0] * seen.drops["LED"][0]
        lit = {
            "VG": seen.v["G2"][0],
            "I_peak": np.maximum(swing - values["drop_high"], 0.0) / values["RL"],
            "P_bias": bias, "P_switch": switch, "P_driver": bias + switch, "P_LED": led, "P_total": bias + switch + led,
        }  # fmt: skip
        return lit, {"VG": seen.v["G2"][1]}

    def verdict(self, VG, values):
        """Return whether the transistor is on.

        Parameters
        ----------
        VG : ndarray, shape (corners,)
            Gate voltage, the nominal one first [V].
        values : dict of str to ndarray, shape (corners,)
            What varied, which does not matter here.

        Returns
        -------
        Verdict
            "off", "half on" or "on", and whether every corner agrees.
        """
        return judge(VG, *(np.full_like(VG, limit) for limit in (self.V_gate_off, self.V_gate_on)), words=self.words)

    def needed_current(self, VCE, VCC, RL, T, more=None):
        """Return the current that the driver's output must give to hold the gate.

        Parameters
        ----------
        VCE : float
            Drop of the driver's output [V].
        VCC : ndarray, shape (batch,)
            Positive supply [V].
        RL : ndarray, shape (batch,)
            Gate resistor [ohm].
        T : float
            Absolute temperature, which this load does not mind [K].
        more : dict of str to ndarray, shape (batch,), or None
            What `spreads` names, which is nothing here.

        Returns
        -------
        ndarray, shape (batch,)
            Current through RL and RGE; 0 where the supply is below `VCE` [A].
        """
        return np.maximum(VCC - VCE, 0.0) / (RL + self.R_GE)
