"""What every direct-current input side has: supply, series resistor, LED, and the parts that may stand around it.

A kind of drive adds what switches; where its switch stands decides between which nodes R1 and the LED lie.
"""

from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from scipy.optimize import brentq

from engine.circuit import Junction
from engine.constants import ZERO_CELSIUS
from engine.devices import JunctionParams
from engine.diodes import COLOURS, SILICON, diode_drop, place_diode, place_zener, zener_drop
from engine.errors import Problem
from engine.inputs.side import InputSide
from engine.parameter import choice, number
from engine.quantity import AMPERE, COUNT, FARAD, OHM, RATIO, VOLT, WATT, in_query
from engine.supply import FROM_TOLERANCE, Spread, crossed_ends, supply_ends

NONE = "none"
_LEAKAGE = 1e-9  # [S], of a diode that blocks: 10 nA at 10 V; a value of our own
_BLOCKING = -1.0  # [V], where the iteration begins for a junction that blocks
_BY_HAND = 0.7  # [V], a silicon diode on paper; common practice, no source
_CLOSE = 1e-9  # [V], how well the drop of a switch is found that carries more than R1 does


@dataclass(frozen=True, slots=True, kw_only=True)
class Drive(InputSide):
    """Parameters that all direct-current input sides share.

    Attributes
    ----------
    VS : float
        Supply voltage [V].
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
    R_bypass : float or str
        Resistor that leads current past the LED, or "none" [ohm].
    bypass_at : str
        What it lies across: "led", "input" (R1 and all behind it), or "switch".
    RB_rating : float
        Power rating of the bypass resistor [W].
    diodes : float
        Silicon diodes in series with the LED, for protection or to raise the threshold [-].
    antiparallel : str
        "diode" for a silicon diode across the LED that takes reverse voltage, or "none".
    VZ : float or str
        Zener diode in series that raises the threshold, or "none" [V].
    lamp : str
        Colour of an indicator LED on the input side, or "none".
    lamp_at : str
        "series" with the LED, or "parallel" to the whole input with a resistor of its own.
    R_lamp : float
        That resistor [ohm].
    R_inside : float or str
        Resistor within the coupler's input, or "none" [ohm].
    C_filter : float or str
        Capacitor across the LED that filters the input, or "none" [F].
    """

    VS: float = number("vs", "VS", VOLT, 48.0, (0.0, 1000.0))
    VS_tolerance: float = number("vstol", "VS tolerance", RATIO, 0.1, (0.0, 0.5))
    VS_min: float | str = number("vsmin", "VS min", VOLT, FROM_TOLERANCE, (0.0, 1000.0), (FROM_TOLERANCE,))
    VS_max: float | str = number("vsmax", "VS max", VOLT, FROM_TOLERANCE, (0.0, 1000.0), (FROM_TOLERANCE,))
    R1: float | str = number("r1", "R1", OHM, "auto", (1.0, 1e8), ("auto",))
    IF: float = number("if", "IF", AMPERE, 3e-3, (1e-6, 1.0))
    R1_rating: float = number("r1w", "R1 rating", WATT, 0.25, (0.05, 100.0))
    R_bypass: float | str = number("rb", "RB", OHM, NONE, (1.0, 1e8), (NONE,))
    bypass_at: str = choice("rbat", "RB across", "led", ("led", "input", "switch"))
    RB_rating: float = number("rbw", "RB rating", WATT, 0.25, (0.05, 100.0))
    diodes: float = number("nd", "Series diodes", COUNT, 0.0, (0.0, 20.0))
    antiparallel: str = choice("ap", "Antiparallel", NONE, (NONE, "diode"))
    VZ: float | str = number("vz", "VZ", VOLT, NONE, (1.0, 500.0), (NONE,))
    lamp: str = choice("lamp", "Indicator", NONE, (NONE, *COLOURS))
    lamp_at: str = choice("lampat", "Indicator in", "series", ("series", "parallel"))
    R_lamp: float = number("rh", "RH", OHM, 10e3, (1.0, 1e8))
    R_inside: float | str = number("ri", "RI", OHM, NONE, (1.0, 1e6), (NONE,))
    C_filter: float | str = number("cf", "CF", FARAD, NONE, (1e-12, 1.0), (NONE,))

    V_by_hand: ClassVar[float] = 0.0

    @property
    def free(self):
        """Return the fields that are wired by way of `values` alone; a zener's voltage is stated at IF."""
        return self.by_value if self.VZ == NONE else self.by_value - {"IF"}

    @property
    def VS_ends(self):
        """Return the lowest and the highest supply [V]."""
        return supply_ends(self.VS, self.VS_tolerance, self.VS_min, self.VS_max)

    def contradictions(self):
        """Yield what cannot both be: ends of the supply the wrong way round, a part of a diode.

        Yields
        ------
        Problem
            At the lower end of the supply, at the number of diodes.
        """
        yield from crossed_ends("vsmin", "VS", self.VS_min, self.VS_max)
        if self.diodes != int(self.diodes):
            yield Problem("nd", in_query(self.diodes, COUNT), "a whole number", "there are no parts of diodes")

    # ------------------------------------------------------------ where things are

    @property
    def feed(self):
        """Return the node that R1 begins at; a kind of drive says which."""
        raise NotImplementedError

    @property
    def cathode(self):
        """Return the node of the LED's cathode; a kind of drive says which."""
        raise NotImplementedError

    @property
    def led(self):
        """Return the nodes of the LED's anode and cathode, within the coupler."""
        return ("A" if self.R_inside == NONE else "AI"), self.cathode

    @property
    def branch(self):
        """Return the parts from the feed to the cathode in order, as (part, node it begins at)."""
        parts = [("R1", self.feed)]
        if self.diodes:
            parts.append(("D2", "X1"))
        if self.VZ != NONE:
            parts.append(("Z1", "X2"))
        if self.lamp != NONE and self.lamp_at == "series":
            parts.append(("H1", "X3"))
        if self.R_inside != NONE:
            parts.append(("RI", "A"))
        parts.append(("LED", self.led[0]))
        return tuple(parts)

    @property
    def shunts(self):
        """Return the parts beside the LED's branch, as part to the pair of nodes it lies between."""
        across = {"led": ("A", self.cathode), "input": (self.feed, self.cathode), "switch": self.switched}
        found = {}
        if self.R_bypass != NONE:
            found["RB"] = across[self.bypass_at]
        if self.lamp != NONE and self.lamp_at == "parallel":
            found["RH"] = (self.feed, "X4")
            found["H1"] = ("X4", self.cathode)
        if self.antiparallel != NONE:
            found["D3"] = (self.cathode, "A")
        if self.C_filter != NONE:
            found["CF"] = across["led"]
        return found

    @property
    def loop(self):
        """Return the parts of the LED's loop in order, from the supply on."""
        return (*self.before, *(part for part, _ in self.branch), *self.after)

    @property
    def terminals(self):
        """Return part to the pair of nodes it is measured between, for parts of several elements."""
        starts = dict(self.branch)
        nodes = [*(node for _, node in self.branch), self.cathode]
        along = {part: (nodes[k], nodes[k + 1]) for k, part in enumerate(starts)}
        return along | self.shunts | {self.switch_part: self.switched}

    @property
    def ratings(self):
        """Return part to the power that it may take, for parts whose rating is chosen here [W]."""
        return {"R1": self.R1_rating} | ({"RB": self.RB_rating} if self.R_bypass != NONE else {})

    # ------------------------------------------------------------ by formula

    @property
    def drop_by_hand(self):
        """Return what stands beside VF in the hand calculation, every part at a constant voltage [V]."""
        volts = self.V_by_hand + self.diodes * _BY_HAND + (0.0 if self.VZ == NONE else self.VZ)
        if self.lamp != NONE and self.lamp_at == "series":
            volts += round(diode_drop(COLOURS[self.lamp], 2e-3, 25.0), 1)
        return volts

    def past_led_by_hand(self, VF):
        """Return the current that a bypass across the LED takes in the hand calculation.

        Parameters
        ----------
        VF : float
            Forward voltage of the LED [V].

        Returns
        -------
        float
            Current [A].
        """
        return VF / self.R_bypass if self.R_bypass != NONE and self.bypass_at == "led" else 0.0

    def drop(self, current):
        """Return what the switch and its line take while closed; a kind of drive says how much.

        Parameters
        ----------
        current : float
            Current that they carry [A].

        Returns
        -------
        float
            Voltage [V].
        """
        raise NotImplementedError

    def R1_for(self, IF, VF, VS, TA_degC):
        """Return the R1 that gives an LED current, with all that lies in series and beside it.

        Parameters
        ----------
        IF : float
            LED current [A].
        VF : float
            Forward voltage of the LED at that current [V].
        VS : float
            Supply [V].
        TA_degC : float
            Ambient temperature [degC].

        Returns
        -------
        R1 : float
            Resistance; zero or negative if the other parts leave nothing [ohm].
        taken : float
            What the other parts of the loop take [V].

        Notes
        -----
        R1 = (VS - drops) / I1: Kirchhoff's voltage law and Ohm's law, with I1 = IF and what flows past the LED.
        """
        VA = VF + (0.0 if self.R_inside == NONE else self.R_inside * IF)
        I1 = IF + (VA / self.R_bypass if self.R_bypass != NONE and self.bypass_at == "led" else 0.0)
        inner = VA + self._series_drop(I1, TA_degC)
        switch = self._switch_drop(I1, VS, TA_degC)
        return (VS - switch - inner) / I1, switch + inner

    def _switch_drop(self, I1, VS, TA_degC):
        """Return what the switch takes that carries R1's current and what lies across the whole input [V]."""
        alone = self.drop(I1)
        if alone >= VS or not self._beside(VS, TA_degC):
            return alone

        def lacking(volts):
            return self.drop(I1 + self._beside(VS - volts, TA_degC)) - volts

        return brentq(lacking, 0.0, VS, xtol=_CLOSE) if lacking(0.0) > 0.0 else 0.0

    def R1_of(self, model, conditions):
        """Return the R1 that an "auto" one is taken from, at the nominal supply.

        Parameters
        ----------
        model : CouplerModel
            The calibrated coupler.
        conditions : Conditions
            What surrounds the stage.

        Returns
        -------
        R1 : float
            Resistance; zero or negative if the other parts leave nothing [ohm].
        taken : float
            What the other parts of the loop take [V].
        """
        VF = float(model.led.VF(self.IF, conditions.TA + ZERO_CELSIUS))
        return self.R1_for(self.IF, VF, self.VS, conditions.TA)

    def _series_drop(self, current, TA_degC):
        """Return what diodes, zener and indicator in series take [V]."""
        volts = diode_drop(SILICON, current, TA_degC, self.diodes) if self.diodes else 0.0
        if self.VZ != NONE:
            volts += zener_drop(self.VZ, current, self.IF)
        if self.lamp != NONE and self.lamp_at == "series":
            volts += diode_drop(COLOURS[self.lamp], current, TA_degC)
        return volts

    def _beside(self, volts, TA_degC):
        """Return the current of what lies across the whole input at a voltage [A]."""
        current = volts / self.R_bypass if self.R_bypass != NONE and self.bypass_at == "input" else 0.0
        if self.lamp != NONE and self.lamp_at == "parallel":
            VF = diode_drop(COLOURS[self.lamp], max(volts - 1.5, 0.0) / self.R_lamp, TA_degC)
            current += max(volts - VF, 0.0) / self.R_lamp
        return current

    # ------------------------------------------------------------ the circuit

    def spreads(self, tolerance):
        """Return what varies on this side beside supply, R1 and forward voltage.

        Parameters
        ----------
        tolerance : float
            Tolerance of the resistors [-].

        Returns
        -------
        dict of str to Spread
            Name in `wire`'s values to its spread.
        """
        if self.R_bypass == NONE:
            return {}
        ends = self.R_bypass * (1.0 - tolerance), self.R_bypass * (1.0 + tolerance)
        return {"RB": Spread(ends[0], self.R_bypass, ends[1], -1 if self.bypass_at == "switch" else 1)}

    def place_branch(self, net, TA_degC, values):
        """Place everything from the feed to the cathode but the LED itself.

        Parameters
        ----------
        net : NetlistBuilder
            Where to place it; supply, feed and cathode are there.
        TA_degC : float
            Ambient temperature [degC].
        values : dict of str to ndarray, shape (batch,)
            "R1" and what `spreads` names, in SI units.
        """
        nodes = [node for _, node in self.branch] + [self.cathode]
        net.side("input", self.reference, *nodes[1:-1])
        for (part, start), end in zip(self.branch, nodes[1:], strict=True):
            self._place(net, part, (start, end), TA_degC, values)
        for part, pair in self.shunts.items():
            self._place(net, part, pair, TA_degC, values)

    def _place(self, net, part, pair, TA_degC, values):
        """Place one part that is not the LED between two nodes."""
        if part in ("R1", "RB", "RH", "RI"):
            net.side("input", self.reference, *(node for node in pair if node == "X4"))
            fixed = {"RH": self.R_lamp, "RI": self.R_inside}
            net.resistor(part, *pair, values[part] if part in values else fixed[part])
        elif part in ("D2", "D3", "H1"):
            net.side("input", self.reference, part + "J")
            model = COLOURS[self.lamp] if part == "H1" else SILICON
            place_diode(net, part, pair, model, TA_degC, max(int(self.diodes), 1) if part == "D2" else 1)
            net.conductance(part, part + "J", pair[1], _LEAKAGE)
        elif part == "Z1":
            place_zener(net, part, *pair, self.VZ, self.IF)
            net.conductance(part, *pair, _LEAKAGE)
        elif part == "CF":
            net.conductance(part, *pair, 0.0)


def place_switch(net, part, pair, closed, states, nVT):
    """Place an electronic switch: a junction that conducts with its drop while on, one that leaks while off.

    Parameters
    ----------
    net : NetlistBuilder
        Where to place it.
    part : str
        Part name.
    pair : tuple of (str, str)
        Nodes, the current entering by the first.
    closed : ndarray of bool, shape (batch,)
        Whether it is on.
    states : tuple of (float, float, float)
        Current and voltage while on, leakage while off [A, V, A].
    nVT : tuple of (float, float)
        Voltage over which the drop rises, and over which the leakage is reached, with each e-fold [V].
    """
    current, volts, leakage = states
    a, b = pair
    on = JunctionParams(np.where(closed, current / np.expm1(volts / nVT[0]), 0.0), np.full(net.batch, nVT[0]))
    off = JunctionParams(np.where(closed, 0.0, leakage), np.full(net.batch, nVT[1]))
    net.device(Junction(part, a, b, on, np.where(closed, volts, _BLOCKING)))
    net.device(Junction(part, b, a, off, np.full(net.batch, _BLOCKING)))
