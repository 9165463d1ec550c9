"""One way to read circuits of any stage: direct voltage, a line behind the LED, a line that feeds the load."""

from dataclasses import replace
from functools import cached_property

import numpy as np

from engine.circuit import solve
from engine.constants import ZERO_CELSIUS
from engine.cycle import over_the_cycle
from engine.inputs import AcLine
from engine.line_meter.load import LEVELS, read_load
from engine.line_meter.parts import junction_of, side_of, swept, whole_bridge
from engine.line_meter.stored import STEPS, followed, with_capacities
from engine.probing import read, with_meters

DC, AC = "dc", "ac"
INSTANTS = 32
"""Instants of a cycle at which a circuit without capacitors is read; midpoints, exact for the square of a sine."""

STEADY, SWEPT, STORED, SWITCHED, UNREAD = "steady", "swept", "stored", "switched", "unread"
_EVERY = 2  # instant of a circuit without capacitors at which its output is read
_DARK = 0.4  # [V], of the LED's junction, below which it gives picoamperes
_SUPPLIES = ("VCC", "VEE")
_TWO_LINES = "Both sides are on lines of their own, whose phases are not known; no figure is given."
_OUTPUT_STORES = "The capacitor CO makes something of the pulses that no single instant tells; no figure is given."
_TURN = (np.arange(INSTANTS) + 0.5) * 2.0 * np.pi / INSTANTS
_ALTERNATES = 0.05  # [-], share of the rms below which a mean is as good as none
_STARVED = 5.0  # [-], current of a loop over that of a meter across the line up to which the meter matters
_NOTHING = 1e-9  # [V], rms that is none


def kinds_of(scenario):
    """Return how each side of a stage is read.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    dict of str to str
        "input" and "output" to `STEADY`, `SWEPT` (a line without capacitors), `STORED` (with capacitors), `SWITCHED`
        (a line of its own that a triac switches) or `UNREAD`: the phases of two lines are not known to each other, and
        a capacitor at an output that pulses makes something of it that no single instant tells.
    """
    side, load = scenario.input, scenario.output
    if not isinstance(side, AcLine):
        return {"input": STEADY, "output": SWITCHED if load.on_line else STEADY}
    kind = STORED if side.capacitive or side.CS != "none" else SWEPT
    slow = side.C_out != "none" and load.observed == "VOUT"
    return {"input": kind, "output": UNREAD if load.on_line or slow else kind}


def on_line(scenario):
    """Return whether either side of a stage is followed over the cycle of a line.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    bool
        Whether it is.
    """
    return set(kinds_of(scenario).values()) != {STEADY}


def unread_because(scenario):
    """Return why nothing is told of the output side.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    str
        One sentence; empty where something is told.
    """
    if kinds_of(scenario)["output"] != UNREAD:
        return ""
    return _TWO_LINES if scenario.output.on_line else _OUTPUT_STORES


def readable(scenario, probes):
    """Return the probes whose readings can be told, whatever the circuit.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    probes : sequence of Probe
        Where readings may be taken.

    Returns
    -------
    tuple of Probe
        Those on sides that are followed, and supplies.
    """
    kinds = kinds_of(scenario)
    return tuple(probe for probe in probes if kinds[probe.side] != UNREAD or probe.part in _SUPPLIES)


class LineMeter:
    """Reads circuits of one stage.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    meter : Meter
        The meter.
    """

    def __init__(self, scenario, meter):
        self.scenario, self.meter, self.kinds = scenario, meter, kinds_of(scenario)

    @property
    def follows(self):
        """Whether capacitors of the input side are followed from instant to instant."""
        return self.kinds["input"] == STORED

    @cached_property
    def _held(self):
        """The meter on the range that the crest of the line asks for; it does not change it within a cycle."""
        side, load = self.scenario.input, self.scenario.output
        crest = max(load.VCC_ends[1] * 2.0**0.5 if load.on_line else 0.0, side.VS_ends[1])
        return replace(self.meter, R_in=float(self.meter.resistance(crest)), per_volt=0.0)

    def ready(self, stage):
        """Return a stage whose circuits can be read: all diodes of a bridge, capacitors with their capacitance.

        Parameters
        ----------
        stage : Stage
            Circuits of the stage, closed then open.

        Returns
        -------
        Stage
            The same where it is on direct voltage.
        """
        if self.kinds["input"] not in (SWEPT, STORED):
            return stage
        netlist, side = whole_bridge(stage.netlist), self.scenario.input
        crest = np.tile(stage.varied["VS"], 2)
        netlist = replace(netlist, sources=netlist.sources | {"VS": (netlist.sources["VS"][0], crest)})
        if self.kinds["input"] == STORED:
            C = {"CD": np.tile(stage.varied["CD"], 2)} if side.capacitive else {}
            C |= {"CS": np.full(netlist.batch, float(side.CS))} if side.CS != "none" else {}
            closed = np.arange(netlist.batch) < stage.count
            netlist = with_capacities(netlist, C, {part: v * closed for part, v in self._settled(stage).items()})
        return replace(stage, netlist=netlist)

    def instants(self, side):
        """Return how many times a circuit of a side is solved at once for one reading.

        Parameters
        ----------
        side : str
            "input" or "output".

        Returns
        -------
        int
            1 where each instant is solved after the other.
        """
        return {SWEPT: INSTANTS, SWITCHED: LEVELS}.get(self.kinds[side], 1)

    def couplings(self, stage, side, pairs):
        """Return on which kind of range each pair is read, as the nominal stage asks for it.

        Parameters
        ----------
        stage : Stage
            Sound circuits that are `ready`, the nominal one first in each state.
        side : str
            "input" or "output".
        pairs : sequence of tuple of (str, str)
            Nodes of the leads.

        Returns
        -------
        tuple of str
            `DC` where the mean tells something, and on all of a side that is fed by direct voltage; `AC` elsewhere.
        """
        if side == "output":
            return (AC if self.scenario.output.on_line else DC,) * len(pairs)
        if self.kinds[side] == STEADY:
            return (DC,) * len(pairs)
        waves, _ = self._input(stage.netlist.take(np.array([0, stage.count])), pairs)
        mean, rms = _figures(waves)
        first = np.where(np.hypot(mean, rms)[:, 0] > _NOTHING, 0, 1)
        at = np.arange(len(pairs)), first
        return tuple(AC if flat else DC for flat in np.abs(mean[at]) < _ALTERNATES * np.hypot(mean[at], rms[at]))

    def read_input(self, netlist, pairs, couplings, alike=1):
        """Return what the meter shows on the input side, and what the LED gives to the other one meanwhile.

        Parameters
        ----------
        netlist : Netlist
            Circuits of both sides, made of those that are `ready`, sound or faulty.
        pairs : sequence of tuple of (str, str)
            Nodes of the red and of the black lead; one reading at a time.
        couplings : sequence of str
            `DC` or `AC` for each.
        alike : int
            Circuits in a row that differ by tolerances alone; behind an open switch the first stands for all [-].

        Returns
        -------
        shown : ndarray, shape (pairs, batch)
            Readings [V].
        lighting : ndarray, shape (instants, batch)
            Voltage of the LED's junction while no meter is there [V].

        Raises
        ------
        ConvergenceError
            If the solver fails, which is a defect.

        Notes
        -----
        The rms is that of what alternates, as a meter couples its alternating ranges by a capacitor. Where capacitors
        are followed over the cycle the meter is part of the circuit only where its current matters.
        """
        waves, lighting = self._input(netlist, pairs, alike)
        return _chosen(waves, couplings), lighting

    def _input(self, netlist, pairs, alike=1):
        """Return voltages of the input side over the cycle, shape (pairs, instants, batch), and of the LED."""
        alone, (anode, cathode) = side_of(netlist, "input"), junction_of(netlist)
        if self.kinds["input"] == STORED:
            waves, potentials = self._followed(alone, pairs, alike)
            return waves, potentials[anode] - potentials[cathode]
        if self.kinds["input"] == STEADY:
            voltages = solve(alone).voltages
            return read(alone, pairs, self.meter)[:, None], (voltages[anode] - voltages[cathode])[None]
        every = swept(alone, "VS", _TURN)
        voltages = solve(every).voltages
        waves = read(every, pairs, self._held).reshape(len(pairs), INSTANTS, netlist.batch)
        return waves, (voltages[anode] - voltages[cathode]).reshape(INSTANTS, netlist.batch)[::_EVERY]

    def read_output(self, netlist, pairs, couplings, lighting):
        """Return what the meter shows on the output side; arguments and errors as of `read_input`.

        Parameters
        ----------
        netlist : Netlist
            Circuits of both sides.
        pairs : sequence of tuple of (str, str)
            Nodes of the leads.
        couplings : sequence of str
            Kind of range for each.
        lighting : ndarray, shape (instants, batch)
            What `read_input` tells [V].

        Returns
        -------
        ndarray, shape (pairs, batch)
            Readings [V].
        """
        if self.kinds["output"] == UNREAD:
            held = {node: volts for node, volts in netlist.sources.values()}
            crest = 2.0**0.5 if self.scenario.output.on_line else 1.0
            return np.array([held[red] / crest for red, _ in pairs])
        if self.kinds["output"] == SWITCHED:
            return read_load(self.scenario, side_of(netlist, "output", lighting[0]), pairs, self._held.R_in)
        return _chosen(self._output(netlist, pairs, lighting), couplings)

    def _output(self, netlist, pairs, lighting):
        """Return voltages of the output side over the cycle, shape (pairs, instants, batch)."""
        # Wherever the LED is dark the output stands as it does the first time.
        instants = np.arange(len(lighting))[:, None]
        dark = (np.abs(lighting) if self.scenario.coupling.data.input == "pair" else lighting) < _DARK
        like = np.where(dark, dark.argmax(axis=0), instants)
        k, member = np.nonzero(like == instants)
        place = np.empty(lighting.shape, dtype=int)
        place[k, member] = np.arange(len(k))
        alone = side_of(netlist.take(member), "output", lighting[k, member])
        shown = read(alone, pairs, self.meter)
        return shown[:, place[like, np.arange(netlist.batch)]]

    def _followed(self, alone, pairs, alike):
        """Return voltages between pairs over the cycle of an input side with capacitors, and the potentials bare.

        The meter matters where hardly any current flows, so such circuits are followed with it at every pair. An open
        switch leaves no source to any other pair; there the meter shows nothing. Across it nothing but the line itself
        matters, so one circuit of those that are alike stands for all.
        """
        index = next(k for k, r in enumerate(alone.resistors) if r.part == "S1")
        S1, G = self.scenario.input.terminals["S1"], alone.resistors[index].G
        supply, driven = alone.sources["VS"][0], G >= 1.0 / self._held.R_in
        rows = np.flatnonzero(driven)
        found = followed(self.scenario, alone.take(rows))
        potentials = {node: np.zeros((STEPS, alone.batch)) for node in found}
        for node, volts in found.items():
            potentials[node][:, rows] = volts
        line = alone.sources["VS"][1] * np.sin(2.0 * np.pi * (np.arange(STEPS) + 1.0) / STEPS)[:, None]
        potentials[supply][:, ~driven] = line[:, ~driven]
        waves = np.zeros((len(pairs), STEPS, alone.batch))
        for k, (red, black) in enumerate(pairs):
            waves[k] = potentials[red] - potentials[black]
        waves[:, :, ~driven] *= np.array([supply in pair and S1[1] not in pair for pair in pairs], dtype=bool)[
            :, None, None
        ]
        current = np.sqrt(((potentials[S1[0]] - potentials[S1[1]]) ** 2).mean(axis=0)) * G
        starved = driven & (current * self._held.R_in < _STARVED * alone.sources["VS"][1])
        at_switch = [set(pair) == set(S1) for pair in pairs]
        first = np.arange(alone.batch) // alike * alike
        stands = ~driven & (first == np.arange(alone.batch))
        self._metered(alone, pairs, [starved | stands if here else starved for here in at_switch], waves)
        others, crest = np.flatnonzero(~driven & ~stands), alone.sources["VS"][1]
        scale = crest / np.maximum(crest[first], _NOTHING)
        for k in np.flatnonzero(at_switch):
            waves[k][:, others] = waves[k][:, first[others]] * scale[others]
        return waves, potentials

    def _metered(self, alone, pairs, where, waves):
        """Put into `waves` what stands between each pair with the meter there, for some circuits of each."""
        members = [np.flatnonzero(some) for some in where]
        row = np.repeat(np.arange(len(pairs)), [len(some) for some in members])
        if not len(row):
            return
        each = alone.take(np.concatenate(members))
        found = followed(self.scenario, with_meters(each, pairs, row, self._held.R_in))
        for k, (red, black) in enumerate(pairs):
            waves[k][:, members[k]] = (found[red] - found[black])[:, row == k]

    def _settled(self, stage):
        """Return the voltages of the capacitors of the nominal stage where the line rises through zero [V]."""
        side = self.scenario.input
        values = {name: stage.varied[name][:1] for name in ("VS", "R1", "shift", "CD") if name in stage.varied}
        values["S1"] = side.switch(np.ones(1, dtype=bool))
        T = self.scenario.conditions.TA + ZERO_CELSIUS
        cycle = over_the_cycle(side.loop_of(self.scenario.coupling.model.led, T, values))
        waves = {"CD": cycle.v_CD, "CS": cycle.v_CS}
        return {part: wave[0, 0] for part, wave in waves.items() if wave is not None}


def _figures(waves):
    """Return mean and rms of what alternates, shape (2, pairs, batch), from waves (pairs, instants, batch)."""
    mean = waves.mean(axis=1)
    return np.stack([mean, np.sqrt(((waves - mean[:, None]) ** 2).mean(axis=1))])


def _chosen(waves, couplings):
    """Return of each pair the figure that its range shows."""
    mean, rms = _figures(waves)
    return np.where(np.array([kind == AC for kind in couplings], dtype=bool)[:, None], rms, mean)
