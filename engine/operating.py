"""The direct-current answer: a scenario's voltages, currents and powers, both switch states, each with its range.

One batch holds the nominal stage and every corner in both states; the ranges are the extremes over the corners.
"""

from dataclasses import dataclass

import numpy as np

from engine.build import CORNERS, build
from engine.circuit import Detector, Junction, LightPath, solve
from engine.constants import ZERO_CELSIUS
from engine.coupler import calibrated
from engine.errors import ConvergenceError
from engine.logic import Verdict
from engine.text import query_from

STATES = ("closed", "open")
"""The LED meant to be lit, and meant to be dark."""

_DRIVEN = 1e-9  # [A], LED current below which a transfer ratio says nothing


@dataclass(frozen=True, slots=True)
class Range:
    """A nominal value with its extremes over all corners.

    Attributes
    ----------
    value : float
        Nominal value [unit].
    low : float
        Smallest value [unit].
    high : float
        Largest value [unit].
    unit : str
        Name of the SI unit; "1" for ratios.
    """

    value: float
    low: float
    high: float
    unit: str


@dataclass(frozen=True, slots=True)
class Power:
    """Power taken by a part; negative where it delivers.

    Attributes
    ----------
    value : float
        Nominal power [W].
    low : float
        Smallest power over all corners [W].
    high : float
        Largest power over all corners [W].
    rating : float or None
        What the part may take at this ambient temperature [W].
    """

    value: float
    low: float
    high: float
    rating: float | None


@dataclass(frozen=True, slots=True)
class State:
    """One switch state, solved.

    Attributes
    ----------
    quantities : dict of str to Range
        What is usually asked for, by symbol; what a stage does not have is absent.
    nodes : dict of str to Range
        Potential of every node against the reference of its side.
    currents : dict of str to Range
        Current of every part, in the direction it is drawn.
    drops : dict of str to Range
        Voltage across every part, in the direction of its current.
    powers : dict of str to Power
        Power of every part.
    verdict : Verdict
        What is read at the output.
    """

    quantities: dict
    nodes: dict
    currents: dict
    drops: dict
    powers: dict
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class OperatingPoint:
    """A scenario, solved.

    Attributes
    ----------
    scenario : Scenario
        The stage.
    sized : dict of str to Sized
        The resistors "R1" and "RL".
    states : dict of str to State
        "closed" and "open".
    sides : dict of str to str
        Node name to "input" or "output".
    """

    scenario: object
    sized: dict
    states: dict
    sides: dict


def operating_point(scenario):
    """Return the solved stage.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    OperatingPoint
        Both states, with ranges.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.
    ConvergenceError
        If the solver fails, which is a defect; it carries the scenario's query string.
    """
    stage = build(scenario)
    try:
        solution = solve(stage.netlist)
    except ConvergenceError as error:
        raise ConvergenceError(error.iterations, error.residual, error.node, query_from(scenario)) from error
    states = dict(zip(STATES, _Measured(scenario, stage, solution).states(), strict=True))
    sides = {node: side for node, side in stage.netlist.nodes.items() if node not in _HIDDEN}
    return OperatingPoint(scenario, stage.sized, states, sides)


_HIDDEN = frozenset({"AJ", "CI", "B", "DJ"})
"""Nodes inside of a part, which no lead of a meter reaches."""

_UNITS = dict.fromkeys(("VF", "VCE", "VOUT"), "V") | dict.fromkeys(("IF", "IC", "IL", "IC_available", "IC_needed"), "A")
_UNITS |= dict.fromkeys(("CTR_available", "CTR_needed", "CTR_forced", "overdrive"), "1")


class _Measured:
    """Everything that is read off a solution, as arrays over nominal stage and corners of both states."""

    def __init__(self, scenario, stage, solution):
        self.scenario, self.stage, self.v = scenario, stage, solution.voltages
        self.model = calibrated(scenario.coupling.card)
        self.currents, self.drops, self.powers = {}, {}, {}
        for resistor, current in zip(stage.netlist.resistors, solution.resistor_currents, strict=True):
            self._element(resistor.part, (resistor.a, resistor.b), current)
        for device, currents in zip(stage.netlist.devices, solution.device_currents, strict=True):
            self._device(device, currents)
        for part, (node, _) in stage.netlist.sources.items():
            self._element(part, (node, self._reference(node)), solution.source_currents[part], delivers=True)
        self._name_drops()

    def _reference(self, node):
        netlist = self.stage.netlist
        return netlist.references[netlist.nodes[node]]

    def _element(self, part, pair, current, delivers=False):
        """Add one branch to the books of its part; the first branch of a part gives the part's current."""
        volts = self.v[pair[0]] - self.v[pair[1]]
        self.currents.setdefault(part, current)
        self.drops.setdefault(part, volts)
        self.powers[part] = self.powers.get(part, 0.0) + volts * current * (-1.0 if delivers else 1.0)

    def _device(self, device, currents):
        if isinstance(device, LightPath):
            self.light = currents[:, 0]
        if isinstance(device, Detector):
            self.currents["U1"] = currents[:, 3]
        if isinstance(device, Junction) and device.part == "RX":
            into = currents[:, 0] if device.cathode == "VCC" else -currents[:, 0]
            self.currents["RX"] = self.currents.get("RX", 0.0) + into
        if isinstance(device, Junction) and device.part == self.scenario.input.switch_part:
            forwards = (device.anode, device.cathode) == self.scenario.input.switched
            through = currents[:, 0] if forwards else -currents[:, 0]
            self.currents[device.part] = self.currents.get(device.part, 0.0) + through
        for pair, current in zip(device.branches, currents.T, strict=True):
            self._element(device.part, pair, current)

    def _name_drops(self):
        """Set the terminal voltage of the parts that consist of several elements."""
        terminals = {"LED": self.scenario.input.led, "U1": self.scenario.output.detector}
        if "D1" in self.drops:
            terminals["D1"] = ("D", "C")
        if "RX" in self.drops:
            terminals["RX"] = ("OUT", "common")
        if "B1" in self.drops:
            terminals["B1"] = self.scenario.input.switched
        for part, (a, b) in terminals.items():
            self.drops[part] = self.v[a] - self.v[b]

    def states(self):
        """Return the record of every state."""
        quantities = self._quantities()
        read = quantities[self.scenario.output.observed].reshape(len(STATES), CORNERS)
        in_both = zip(
            _ranges(quantities, _UNITS),
            _ranges({node: self.v[node] for node in self.stage.netlist.nodes if node not in _HIDDEN}, "V"),
            _ranges(self.currents, "A"),
            _ranges(self.drops, "V"),
            self._powers(),
            (self.scenario.output.verdict(values, self.stage.VCC) for values in read),
            strict=True,
        )
        (lit, *others), dark = (list(parts) for parts in in_both)
        return State(lit | self._transfer(), *others), State(*dark)

    def _quantities(self):
        """Return the array of what is usually asked for in either state, by its symbol."""
        found = {
            "IF": self.currents["LED"], "VF": self.drops["LED"], "IC": self.currents["U1"], "VCE": self.drops["U1"],
            "IL": self.currents["RL"], "IC_available": self.light * self.model.gain,
        }  # fmt: skip
        return found | ({"VOUT": self.v["OUT"]} if "OUT" in self.v else {})

    def _transfer(self):
        """Return what is asked of the coupler beside what it can give, with the LED lit."""
        stage, card = self.stage, self.model.card
        IF, IC, light = (array[:CORNERS] for array in (self.currents["LED"], self.currents["U1"], self.light))
        available = light * self.model.gain
        T = self.scenario.conditions.TA + ZERO_CELSIUS
        needed = self.scenario.output.needed_current(card.VCE_sat, stage.VCC, stage.RL, T) + stage.leakage
        found = {"IC_needed": needed}
        if IF.min() > _DRIVEN:
            found |= {"CTR_available": available / IF, "CTR_needed": needed / IF, "CTR_forced": IC / IF}
            if needed.min() > _DRIVEN:
                found["overdrive"] = available / needed
        return _ranges(found, _UNITS)[0]

    def _powers(self):
        """Return name to `Power` for each state."""
        side, load, card, TA = self.scenario.input, self.scenario.output, self.model.card, self.scenario.conditions.TA
        ratings = {"R1": side.R1_rating, "RL": load.RL_rating, "LED": card.LED_power.at(TA),
                   "U1": card.detector_power.at(TA)}  # fmt: skip
        return [
            {part: Power(r.value, r.low, r.high, ratings.get(part)) for part, r in ranges.items()}
            for ranges in _ranges(self.powers, "W")
        ]


def _ranges(arrays, units):
    """Return name to `Range` for each state, of name to array with the nominal value first in each state."""
    table = np.array(list(arrays.values())).reshape(len(arrays), -1, CORNERS)
    of_name = [units] * len(arrays) if isinstance(units, str) else [units[name] for name in arrays]
    extremes = zip(table[:, :, 0].T.tolist(), table.min(axis=2).T.tolist(), table.max(axis=2).T.tolist(), strict=True)
    return [{name: Range(*row) for name, *row in zip(arrays, *columns, of_name, strict=True)} for columns in extremes]
