"""The direct-current answer: a scenario's voltages, currents and powers, both switch states, each with its range.

One batch holds the nominal stage and every corner in both states; the ranges are the extremes over the corners.
"""

from dataclasses import dataclass

import numpy as np

from engine.build import build
from engine.circuit import LightPath, solve
from engine.constants import ZERO_CELSIUS
from engine.errors import ConvergenceError
from engine.logic import Verdict
from engine.outputs import Seen
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
    sides = {node: stage.netlist.nodes[node] for node in _reached(stage.netlist)}
    return OperatingPoint(scenario, stage.sized, states, sides)


def _reached(netlist):
    """Return the nodes that a lead of a meter reaches: all that do not lie inside of a part."""
    base = any(resistor.part == "RBE" for resistor in netlist.resistors)
    inner = {"CI"} if base else {"CI", "B"}
    return [node for node in netlist.nodes if node not in inner and not node.endswith("J")]


_UNITS = dict.fromkeys(("VF", "VCE", "VOUT"), "V")
_UNITS |= dict.fromkeys(("IF", "IF_needed", "IC", "IL", "IC_available", "IC_needed"), "A")
_UNITS |= dict.fromkeys(("CTR_available", "CTR_needed", "CTR_forced", "overdrive"), "1")


class _Measured:
    """Everything that is read off a solution, as arrays over nominal stage and corners of both states."""

    def __init__(self, scenario, stage, solution):
        self.scenario, self.stage, self.v = scenario, stage, solution.voltages
        self.model = scenario.coupling.model
        self.currents, self.drops, self.powers, self.light = {}, {}, {}, 0.0
        terminals = scenario.input.terminals | scenario.output.terminals
        for part, pair, current in self._elements(solution):
            a, b = terminals.setdefault(part, pair)
            enters = (pair[0] == a) * current - (pair[1] == a) * current
            self.currents[part] = self.currents.get(part, 0.0) + enters
            self.drops[part] = self.v[a] - self.v[b]
            self.powers[part] = self.powers.get(part, 0.0) + (self.v[pair[0]] - self.v[pair[1]]) * current
        for part, (node, _) in stage.netlist.sources.items():
            self.currents.setdefault(part, solution.source_currents[part])
            self.drops.setdefault(part, self.v[node])
            self.powers[part] = self.powers.get(part, 0.0) - self.v[node] * solution.source_currents[part]
        self.powers |= stage.powers
        for part in scenario.input.delivering:
            self.currents[part] = -self.currents[part]

    def _elements(self, solution):
        """Yield part, pair of nodes and current of every branch of the circuit."""
        netlist = self.stage.netlist
        for resistor, current in zip(netlist.resistors, solution.resistor_currents, strict=True):
            yield resistor.part, (resistor.a, resistor.b), current
        for device, currents in zip(netlist.devices, solution.device_currents, strict=True):
            if isinstance(device, LightPath):
                self.light = self.light + currents[:, 0]
            for pair, current in zip(device.branches, currents.T, strict=True):
                yield device.part, pair, current

    def states(self):
        """Return the record of every state."""
        output, quantities, further = self.scenario.output, self._quantities(), self._figures()
        read = [
            further[k][output.observed] if output.observed in further[k] else array
            for k, array in enumerate(quantities.get(output.observed, self.v["VCC"]).reshape(len(STATES), -1))
        ]
        count, seen = self.stage.count, _reached(self.stage.netlist)
        in_both = zip(
            _ranges(quantities, _UNITS, count),
            _ranges({node: self.v[node] for node in seen}, "V", count),
            _ranges(self.currents, "A", count),
            _ranges(self.drops, "V", count),
            self._powers(),
            (output.verdict(values, self.stage.varied) for values in read),
            strict=True,
        )
        (lit, *rest), (dark, *others) = (list(parts) for parts in in_both)
        lit, dark = (
            found | (_ranges(more, output.units, count)[0] if more else {})
            for found, more in zip((lit | self._transfer(), dark), further, strict=True)
        )
        return State(lit, *rest), State(dark, *others)

    def _figures(self):
        """Return what the output side has beside what every side has, in either state."""
        both = {"v": self.v, "currents": self.currents, "drops": self.drops}
        split = {
            name: {key: np.reshape(array, (len(STATES), -1)) for key, array in arrays.items()}
            for name, arrays in both.items()
        }
        TA = self.scenario.conditions.TA
        seen = Seen(**split, values=self.stage.varied, card=self.model.card, TA_degC=TA)
        self.powers |= {part: power.reshape(-1) for part, power in self.scenario.output.mean_powers(seen).items()}
        return self.scenario.output.figures(seen)

    def _quantities(self):
        """Return the array of what is usually asked for in either state, by its symbol."""
        found = {
            "IF": self.currents["LED"], "VF": self.drops["LED"], "IC": self.currents["U1"], "VCE": self.drops["U1"],
            "IL": self.currents["RL"],
        }  # fmt: skip
        if self.scenario.coupling.has_ratio:
            found["IC_available"] = self._left() * self.model.gain
        return found | ({"VOUT": self.v["OUT"]} if "OUT" in self.v else {})

    def _left(self):
        """Return the photocurrent that a base resistor leaves, where there is one."""
        return np.maximum(self.light - self.currents["RBE"], 0.0) if "RBE" in self.currents else self.light

    def _transfer(self):
        """Return what is asked of the coupler beside what it can give, with the LED lit."""
        stage, card = self.stage, self.model.card
        if not self.scenario.coupling.has_ratio:
            return self._threshold()
        IF, IC, light = (array[: stage.count] for array in (self.currents["LED"], self.currents["U1"], self._left()))
        available = light * self.model.gain
        T = self.scenario.conditions.TA + ZERO_CELSIUS
        needed = self.scenario.output.needed_current(card.VCE_sat, stage.VCC, stage.RL, T, stage.varied) + stage.leakage
        found = {"IC_needed": needed}
        if IF.min() > _DRIVEN:
            found |= {"CTR_available": available / IF, "CTR_needed": needed / IF, "CTR_forced": IC / IF}
            if needed.min() > _DRIVEN:
                found["overdrive"] = available / needed
        return _ranges(found, _UNITS, stage.count)[0]

    def _threshold(self):
        """Return the LED current that the coupler asks for, and the one at hand over it."""
        needed, IF = self.stage.varied["threshold"], self.currents["LED"][: self.stage.count]
        T = np.full_like(needed, self.scenario.conditions.TA + ZERO_CELSIUS)
        needed = self.model.threshold(needed, T)
        return _ranges({"IF_needed": needed, "overdrive": IF / needed}, _UNITS, self.stage.count)[0]

    def _powers(self):
        """Return name to `Power` for each state."""
        side, load, card, TA = self.scenario.input, self.scenario.output, self.model.card, self.scenario.conditions.TA
        ratings = side.ratings | load.ratings
        ratings |= {"LED": card.LED_power.at(TA), "U1": card.output_rating.at(TA)}
        return [
            {part: Power(r.value, r.low, r.high, ratings.get(part)) for part, r in ranges.items()}
            for ranges in _ranges(self.powers, "W", self.stage.count)
        ]


def _ranges(arrays, units, count):
    """Return name to `Range` for each state, of name to array with the nominal value first of `count` in each state."""
    table = np.array(list(arrays.values())).reshape(len(arrays), -1, count)
    of_name = [units] * len(arrays) if isinstance(units, str) else [units[name] for name in arrays]
    extremes = zip(table[:, :, 0].T.tolist(), table.min(axis=2).T.tolist(), table.max(axis=2).T.tolist(), strict=True)
    return [{name: Range(*row) for name, *row in zip(arrays, *columns, of_name, strict=True)} for columns in extremes]
