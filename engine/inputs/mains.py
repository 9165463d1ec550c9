"""Alternating voltage drives the LED: a line of 24 V or of 230 V, through a resistor or a capacitor, rectified or not.

What flows is solved over the whole cycle by `engine.cycle`; the circuit that stands beside the direct-current sides is
the one at the instant of the LED current's crest, every capacitor at the voltage that it has then.
"""

import math
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import ClassVar

import numpy as np

from engine.circuit import Storage
from engine.constants import ZERO_CELSIUS
from engine.cycle import (
    BARE,
    BRIDGE,
    DIODE,
    FORMS,
    HALF_WAVE,
    INSTANTS,
    PAIR,
    AcLoop,
    Diode,
    over_the_cycle,
    value_for_current,
)
from engine.cycle.waveform import average
from engine.diodes import SILICON, diode_drop, place_diode
from engine.errors import Problem
from engine.inputs.settled import Settled
from engine.inputs.side import InputSide
from engine.parameter import choice, number
from engine.quantity import AMPERE, COUNT, FARAD, HERTZ, OHM, RATIO, VOLT, WATT, in_query
from engine.supply import FROM_TOLERANCE, Spread, crossed_ends, supply_ends

NONE, AUTO = "none", "auto"
RESISTOR, CAPACITOR = "resistor", "capacitor"
_CLOSED, _OPEN = 1e-2, 1e12  # [ohm], the line's switch
_BY_HAND = 0.7  # [V], a silicon diode on paper; common practice, no source
_AT_REST = 1e-9  # [S], conductance that stands for an empty capacitor
_CLEAR = 1.1  # [-], by how much it stays below that
_INRUSH = 10.0  # [-], multiples of the LED's continuous rating that an "auto" R1 before a capacitor lets through
LEAST_R, MOST_R = 1.0, 1e8  # [ohm]
LEAST_C, MOST_C = 1e-12, 1e-3  # [F]


@dataclass(frozen=True, slots=True, kw_only=True)
class AcLine(InputSide):
    """A line voltage that is there or is not.

    Attributes
    ----------
    V_line : float
        Line voltage, rms [V].
    f : float
        Line frequency [Hz].
    VS_tolerance : float
        Deviation of the line voltage, either way [-].
    VS_min : float or str
        Lowest line voltage, rms, or "tol" for what the tolerance gives [V].
    VS_max : float or str
        Highest line voltage, rms, or "tol" [V].
    form : str
        "bridge" before the LED, "pair" of LEDs back to back, silicon "diode" antiparallel to the LED, or "bare" for a
        single LED with nothing that takes the other half cycle.
    dropper : str
        What drops the voltage: "resistor" R1, or "capacitor" CD with R1 to limit the inrush.
    R1 : float or str
        Series resistor; "auto" sizes it from `IF`, or from the inrush where a capacitor drops the voltage [ohm].
    IF : float
        LED current, averaged over the cycle, that "auto" sizes the dropper for [A].
    R1_rating : float
        Power rating of one resistor of R1 [W].
    R1_voltage : float
        Voltage rating of one resistor of R1, peak [V].
    split : float
        Equal resistors in series that make up R1 [-].
    CD : float or str
        Capacitor that drops the voltage; "auto" sizes it from `IF` [F].
    CD_tolerance : float
        Deviation of CD, either way [-].
    R_bleeder : float or str
        Resistor across CD that discharges it, or "none" [ohm].
    CS : float or str
        Smoothing capacitor behind the bridge, or "none" [F].
    RF : float
        Resistor between CS and the LED [ohm].
    C_out : float or str
        Capacitor at the output, from OUT to the reference of its side, or "none"; it matters over the cycle only [F].
    I_leak : float
        Current that flows past the absent line voltage, rms, into a short circuit: through a snubber, an electronic
        switch or a moist cable [A].
    """

    V_line: float = number("vac", "V line", VOLT, 230.0, (1.0, 1000.0))
    f: float = number("f", "f", HERTZ, 50.0, (1.0, 1000.0))
    VS_tolerance: float = number("vstol", "V line tolerance", RATIO, 0.1, (0.0, 0.5))
    VS_min: float | str = number("vsmin", "V line min", VOLT, FROM_TOLERANCE, (0.0, 1000.0), (FROM_TOLERANCE,))
    VS_max: float | str = number("vsmax", "V line max", VOLT, FROM_TOLERANCE, (0.0, 1000.0), (FROM_TOLERANCE,))
    form: str = choice("form", "Rectified by", BRIDGE, (BRIDGE, *(form for form in FORMS if form != BRIDGE)))
    dropper: str = choice("dropper", "Dropped by", RESISTOR, (RESISTOR, CAPACITOR))
    R1: float | str = number("r1", "R1", OHM, AUTO, (LEAST_R, MOST_R), (AUTO,))
    IF: float = number("if", "IF", AMPERE, 2e-3, (1e-6, 1.0))
    R1_rating: float = number("r1w", "R1 rating", WATT, 0.5, (0.05, 100.0))
    R1_voltage: float = number("r1v", "R1 voltage rating", VOLT, 250.0, (10.0, 10e3))
    split: float = number("nsplit", "R1 made of", COUNT, 2.0, (1.0, 20.0))
    CD: float | str = number("cd", "CD", FARAD, AUTO, (LEAST_C, MOST_C), (AUTO,))
    CD_tolerance: float = number("cdtol", "CD tolerance", RATIO, 0.1, (0.0, 0.5))
    R_bleeder: float | str = number("rbd", "RBD", OHM, 470e3, (100.0, 1e8), (NONE,))
    CS: float | str = number("cs", "CS", FARAD, NONE, (1e-9, 1e-1), (NONE,))
    RF: float = number("rf", "RF", OHM, 1e3, (1.0, 1e6))
    C_out: float | str = number("co", "CO", FARAD, NONE, (1e-12, 1e-1), (NONE,))
    I_leak: float = number("ileak", "Residual current", AMPERE, 0.0, (0.0, 0.1))

    kind: ClassVar[str] = "ac"
    title: ClassVar[str] = "Alternating voltage"
    states: ClassVar[dict] = {"closed": "line voltage present", "open": "line voltage absent"}
    switch_part: ClassVar[str] = "S1"
    most_in_words: ClassVar[str] = "crest of the rectified current"

    def contradictions(self):
        """Yield what cannot both be: crossed ends, part of a resistor, capacitors that the form has no use for.

        Yields
        ------
        Problem
            At the lower end, at the number of resistors, at the smoothing capacitor, at the form.
        """
        yield from crossed_ends("vsmin", "V line", self.VS_min, self.VS_max)
        if self.split != int(self.split):
            yield Problem("nsplit", in_query(self.split, COUNT), "a whole number", "there are no parts of resistors")
        if self.CS != NONE and self.form != BRIDGE:
            reason = "a smoothing capacitor needs a bridge before it"
            yield Problem("cs", in_query(self.CS, FARAD), "none, or a bridge", reason)
        if self.form == BARE and self.capacitive:
            reason = "a capacitor passes no direct current: after a few cycles a single LED by itself gets none"
            yield Problem("form", BARE, "bridge, pair, diode, or a resistor that drops the voltage", reason)

    # ------------------------------------------------------------ at the crest

    @property
    def VS(self):
        """Return the crest of the line voltage [V]."""
        return math.sqrt(2.0) * self.V_line

    @property
    def V_named(self):
        """Return the voltage that the side is called by: the rms value [V]."""
        return self.V_line

    @property
    def line_ends(self):
        """Return the lowest and the highest line voltage, rms [V]."""
        return supply_ends(self.V_line, self.VS_tolerance, self.VS_min, self.VS_max)

    @property
    def VS_ends(self):
        """Return the crest of the lowest and of the highest line voltage [V]."""
        low, high = self.line_ends
        return math.sqrt(2.0) * low, math.sqrt(2.0) * high

    @property
    def capacitive(self):
        """Whether a capacitor drops the voltage."""
        return self.dropper == CAPACITOR

    @property
    def needs_pair(self):
        """Whether the coupler must have two LEDs back to back."""
        return self.form == PAIR

    @property
    def led(self):
        """Return the nodes of the LED's anode and cathode."""
        return "A", "K" if self.form == BRIDGE else self.reference

    @property
    def branch(self):
        """Return the parts that the current of the LED passes, in order, as (part, node it begins at)."""
        parts = [("S1", "VS"), ("CD", "LS"), ("R1", "LC" if self.capacitive else "LS")]
        if not self.capacitive:
            del parts[1]
        if self.form == BRIDGE:
            smoothed = self.CS != NONE
            parts += [("D4", "LR"), *([("RF", "DC")] if smoothed else []), ("LED", "A"), ("D5", "K")]
        else:
            parts.append(("LED", "A"))
        return tuple(parts)

    @property
    def loop(self):
        """Return the parts of the LED's loop in order, from the line on."""
        return tuple(part for part, _ in self.branch)

    @property
    def shunts(self):
        """Return the parts beside the loop, as part to the pair of nodes it lies between."""
        found = {"RBD": ("LS", "LC")} if self.capacitive and self.R_bleeder != NONE else {}
        found |= {"D3": (self.reference, "A")} if self.form == DIODE else {}
        return found | ({"CS": ("DC", "K")} if self.CS != NONE else {})

    @property
    def terminals(self):
        """Return part to the pair of nodes it is measured between."""
        starts = [node for _, node in self.branch]
        pairs = zip(starts, [*starts[1:], self.reference], strict=True)
        return dict(zip(self.loop, pairs, strict=True)) | self.shunts

    @property
    def ratings(self):
        """Return part to the power that it may take, for parts whose rating is chosen here [W]."""
        return {"R1": self.R1_rating * self.split}

    @property
    def drop_by_hand(self):
        """Return what stands beside VF in the hand calculation, every diode at a constant voltage [V]."""
        return 2 * _BY_HAND if self.form == BRIDGE else 0.0

    @property
    def most_by_hand(self):
        """Return the crest of the LED current on paper, where R1 is not what decides it [A]."""
        smoothed = self.CS != NONE
        if not (self.capacitive or smoothed):
            return math.inf
        halves = 1.0 if self.form in HALF_WAVE else 2.0
        crest_factor = 1.0 if smoothed else math.pi / halves
        if self.capacitive and self.CD != AUTO:
            mean = 2.0 * halves * self.f * self.CD * self.VS
        elif not self.capacitive and self.R1 != AUTO:
            mean = max(2.0 / math.pi * self.VS - 1.0 - self.drop_by_hand, 0.0) / self.R1
        else:
            mean = self.IF
        return mean * crest_factor

    def past_led_by_hand(self, VF):
        """Return the current that flows past the LED in the hand calculation.

        Parameters
        ----------
        VF : float
            Forward voltage of the LED, which does not matter [V].

        Returns
        -------
        float
            Nothing [A].
        """
        return 0.0

    def R1_for(self, IF, VF, VS, TA_degC):
        """Return the R1 that gives an LED current at the crest, where R1 alone drops the voltage.

        Parameters
        ----------
        IF : float
            LED current at the crest [A].
        VF : float
            Forward voltage of the LED at that current [V].
        VS : float
            Crest of the line voltage [V].
        TA_degC : float
            Ambient temperature [degC].

        Returns
        -------
        R1 : float
            Resistance; zero where a capacitor drops the voltage, so that no R1 is the answer [ohm].
        taken : float
            What the other parts of the loop take [V].
        """
        taken = VF + (diode_drop(SILICON, IF, TA_degC, 2) if self.form == BRIDGE else 0.0)
        return (0.0 if self.capacitive or self.CS != NONE else (VS - taken) / IF), taken

    def loop_resistance(self, closed, R1):
        """Return about the impedance of the LED's loop.

        Parameters
        ----------
        closed : ndarray of bool, shape (batch,)
            Whether the line voltage is present.
        R1 : ndarray, shape (batch,)
            Series resistor [ohm].

        Returns
        -------
        ndarray, shape (batch,)
            Impedance [ohm].
        """
        return R1 + np.where(closed, _CLOSED, self._open_resistance)

    @property
    def _open_resistance(self):
        """Return what stands for the way that residual current takes while the line voltage is absent [ohm]."""
        return min(self.V_line / self.I_leak, _OPEN) if self.I_leak else _OPEN

    # ------------------------------------------------------------ sizing

    def R1_of(self, model, conditions):
        """Return the R1 that an "auto" one is taken from.

        Parameters
        ----------
        model : CouplerModel
            The calibrated coupler.
        conditions : Conditions
            What surrounds the stage.

        Returns
        -------
        R1 : float
            From the average current, or before a capacitor from the inrush; zero or infinite if there is none [ohm].
        taken : float
            What the other parts take at the crest [V].
        """
        T = conditions.TA + ZERO_CELSIUS
        _, taken = self.R1_for(self.IF, float(model.led.VF(self.IF, T)), self.VS, conditions.TA)
        if self.capacitive:
            surge = _INRUSH * max(model.card.IF_rating.at(conditions.TA), self.IF)
            return max(_CLEAR * self.VS_ends[1] / surge / (1.0 - conditions.tolerance), LEAST_R), taken
        return _resistance(self, model.led, T), taken

    def CD_of(self, model, R1, TA_degC):
        """Return the capacitor that gives the wanted average current.

        Parameters
        ----------
        model : CouplerModel
            The calibrated coupler.
        R1 : float
            Series resistor [ohm].
        TA_degC : float
            Ambient temperature [degC].

        Returns
        -------
        float
            Capacitance; zero or infinite if there is none [F].
        """
        return _capacitance(self, model.led, R1, TA_degC + ZERO_CELSIUS)

    # ------------------------------------------------------------ over the cycle

    def loop_of(self, led, T, values):
        """Return the loops that are solved over the cycle.

        Parameters
        ----------
        led : LedModel
            The LED.
        T : float or ndarray, shape (batch,)
            Absolute temperature [K].
        values : dict of str to ndarray, shape (batch,)
            "VS", the crest of the line voltage [V]; "R1" [ohm]; "shift" [V]; "CD" [F]; "S1", the line's switch [ohm].

        Returns
        -------
        AcLoop
            The batch.
        """
        whole = np.ones(len(values["VS"]))
        C = {"CD": values["CD"]} if self.capacitive else {}
        if self.capacitive and self.R_bleeder != NONE:
            C["RB"] = self.R_bleeder * whole
        if self.CS != NONE:
            C |= {"CS": self.CS * whole, "RF": self.RF * whole}
        lamp = Diode(led.junction(T * whole, values["shift"]), led.RS * whole)
        rectifier = Diode(SILICON.junction(T * whole), SILICON.RS * whole)
        rms, R1 = values["VS"] / math.sqrt(2.0), values["R1"] + values["S1"]
        return AcLoop(self.form, rms, self.f * whole, R1, lamp, rectifier, **C)

    def switch(self, closed):
        """Return what the line's switch amounts to.

        Parameters
        ----------
        closed : ndarray of bool
            Whether the line voltage is present.

        Returns
        -------
        ndarray
            Resistance [ohm].
        """
        return np.where(closed, _CLOSED, self._open_resistance)

    def settled(self, model, T, closed, values):
        """Return what the circuit at the crest needs to know of the cycle, and the powers averaged over it.

        Parameters
        ----------
        model : CouplerModel
            The calibrated coupler.
        T : ndarray, shape (batch,)
            Absolute temperature [K].
        closed : ndarray of bool, shape (batch,)
            Whether the line voltage is present.
        values : dict of str to ndarray, shape (batch,)
            As `loop_of`, without "S1".

        Returns
        -------
        Settled
            Of every member.
        """
        keys = ["VS", "R1", "shift", *(["CD"] if self.capacitive else [])]
        live = closed if not self.I_leak else np.ones_like(closed)
        table = np.stack([*(values[key] for key in keys), T, self.switch(closed)])[:, live]
        different, where = np.unique(table, axis=1, return_inverse=True)
        cycle = over_the_cycle(
            self.loop_of(model.led, different[-2], dict(zip([*keys, "T", "S1"], different, strict=True)))
        )
        powers = _powers(self, cycle, different[1], different[-1])
        found = _at_the_crest(self, cycle)
        # Where nothing leaks past the absent line every capacitor is empty.
        at_rest = {name: _AT_REST if name.startswith("G ") else 0.0 for name in found} | {"v": values["VS"]}
        filled = {name: _filled(live, numbers[where], at_rest[name]) for name, numbers in found.items()}
        return Settled(filled, {part: _filled(live, watts[where], 0.0) for part, watts in powers.items()})

    # ------------------------------------------------------------ the circuit

    def spreads(self, tolerance):
        """Return what varies on this side beside line voltage, R1 and forward voltage.

        Parameters
        ----------
        tolerance : float
            Tolerance of the resistors, which the bleeder's does not matter for [-].

        Returns
        -------
        dict of str to Spread
            "CD", relative to its nominal value, where there is one.
        """
        off = self.CD_tolerance
        return {"CD": Spread(1.0 - off, 1.0, 1.0 + off, 1)} if self.capacitive else {}

    def wire(self, net, closed, TA_degC, values):
        """Place the side but its LED, as it stands at the crest of the LED current.

        Parameters
        ----------
        net : NetlistBuilder
            Where to place it.
        closed : ndarray of bool, shape (batch,)
            Whether the line voltage is present.
        TA_degC : float
            Ambient temperature [degC].
        values : dict of str to ndarray, shape (batch,)
            "R1" [ohm] and what `settled` gives.
        """
        pairs = self.terminals
        nodes = [node for part, node in self.branch] + [f"{part}J" for part in pairs if part in ("D3", "D4", "D5")]
        net.side("input", self.reference, *nodes)
        net.source("VS", "VS", values["v"])
        net.conductance("S1", *pairs["S1"], 1.0 / self.switch(closed))
        net.resistor("R1", *pairs["R1"], values["R1"])
        for part in (part for part in ("D3", "D4", "D5") if part in pairs):
            place_diode(net, part, pairs[part], SILICON, TA_degC)
        for part, R in (("RF", self.RF), ("RBD", self.R_bleeder)):
            if part in pairs:
                net.resistor(part, *pairs[part], R)
        for part in ("CD", "CS"):
            if part in pairs:
                volts, current, G = (values[f"{name} {part}"] for name in ("v", "i", "G"))
                net.device(Storage(part, *pairs[part], volts, current, G))


def _filled(live, numbers, otherwise):
    """Return an array of the whole batch from the one of its live members."""
    whole = np.zeros(len(live)) + otherwise
    whole[live] = numbers
    return whole


def _at_the_crest(side, cycle):
    """Return line voltage and the capacitors' voltages, currents and conductances at the crest of the LED current."""
    ahead = cycle.v if cycle.v_CD is None else cycle.v - cycle.v_CD
    crest = np.where(ahead >= 0.0, cycle.IF, -1.0).argmax(axis=1)
    at = np.arange(len(crest)), crest
    found = {"v": cycle.v[at]}
    for part, volts, current in (("CD", cycle.v_CD, cycle.i), ("CS", cycle.v_CS, np.abs(cycle.i) - cycle.IF)):
        if volts is not None:
            C = side.CS if part == "CS" else None
            bled = cycle.v_CD[at] / side.R_bleeder if C is None and side.R_bleeder != NONE else 0.0
            # Any conductance describes the capacitor at that instant; one that suits its current suits the solver.
            G = np.maximum(cycle.IF.max(axis=1), 1e-9)
            found |= {f"v {part}": volts[at], f"i {part}": current[at] - bled, f"G {part}": G}
    return found


def _powers(side, cycle, R1, switch):
    """Return the average power of every part of the side over the cycle."""
    found = {"VS": -cycle.delivered, "LED": cycle.powers["LED"] / (2.0 if side.form == PAIR else 1.0)}
    found |= {"R1": cycle.powers["R1"] * R1 / (R1 + switch), "S1": cycle.powers["R1"] * switch / (R1 + switch)}
    if side.form == BRIDGE:
        # Four diodes share it; a part that conducts at the crest does so in one half cycle.
        found |= {part: cycle.powers["diodes"] / 4.0 for part in ("D4", "D5")}
    elif side.form == DIODE:
        found["D3"] = cycle.powers["diodes"]
    names = (("RBD", "RB"), ("RF", "RF"))
    found |= {part: cycle.powers[name] for part, name in names if name in cycle.powers}
    return found | {part: np.zeros_like(R1) for part in ("CD", "CS") if part in side.terminals}


@lru_cache(maxsize=256)
def _resistance(side, led, T):
    """Return the R1 with which the LED's current averages to the wanted one; zero or infinite if none does."""

    def current(R):
        one = {"VS": side.VS, "R1": R, "shift": 0.0, "S1": _CLOSED}
        return _average(side, led, T, one)

    share = 0.5 if side.form in HALF_WAVE else 1.0
    start = min(max(2.0 / math.pi * share * side.VS / side.IF, 2.0 * LEAST_R), MOST_R / 2.0)
    R = value_for_current(current, side.IF, start, (LEAST_R / 2.0, MOST_R * 2.0))
    return R if LEAST_R < R < MOST_R * 1.9 else 0.0 if R <= LEAST_R else math.inf


@lru_cache(maxsize=256)
def _capacitance(side, led, R1, T):
    """Return the CD with which the LED's current averages to the wanted one; zero or infinite if none does."""

    @cache  # where the search ends it has asked already
    def current(C):
        return _average(side, led, T, {"VS": side.VS, "R1": R1, "shift": 0.0, "CD": C, "S1": _CLOSED})

    share = 0.5 if side.form in HALF_WAVE else 1.0
    start = min(max(side.IF / (4.0 * side.f * share * side.VS), 2.0 * LEAST_C), MOST_C / 2.0)
    C = value_for_current(current, side.IF, start, (LEAST_C / 2.0, MOST_C * 2.0))
    if C >= MOST_C * 1.9 or not current(C) > 0.5 * side.IF:
        return math.inf
    return C if LEAST_C < C else 0.0


def _average(side, led, T, one):
    """Return the average current of the LED with one set of values."""
    values = {name: np.array([value]) for name, value in one.items()}
    return float(average(over_the_cycle(side.loop_of(led, T, values), INSTANTS).IF)[0])


__all__ = ["CAPACITOR", "NONE", "RESISTOR", "AcLine"]
