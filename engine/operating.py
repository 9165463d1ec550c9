"""The direct-current answer: a scenario's voltages, currents and powers, both switch states, each with its range.

One batch holds the nominal stage and every corner in both states; the ranges are the extremes over the corners.
"""

from dataclasses import dataclass, field

import numpy as np

from engine.build import build
from engine.circuit import LightPath
from engine.constants import ZERO_CELSIUS
from engine.joining import solved
from engine.logic import Verdict
from engine.outputs import Seen
from engine.thermal import resistor_rating

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
    members : ndarray, shape (members,), or None
        The value of every member, the nominal one first; None where it is known as a range only [unit].
    """

    value: float
    low: float
    high: float
    unit: str
    members: object = field(default=None, compare=False, repr=False)


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
        What the part may take at the ambient temperature where that is least [W].
    members : ndarray, shape (members,), or None
        Power of every member, the nominal one first [W].
    ratings : ndarray, shape (members,), or None
        What it may take in every member; None where it has no rating [W].
    """

    value: float
    low: float
    high: float
    rating: float | None
    members: object = field(default=None, compare=False, repr=False)
    ratings: object = field(default=None, compare=False, repr=False)


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
    varied : dict of str to ndarray, shape (members,)
        Everything that varies from member to member, by name, the nominal stage first.
    """

    scenario: object
    sized: dict
    states: dict
    sides: dict
    varied: dict = field(default_factory=dict, compare=False, repr=False)


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
    return observed(build(scenario)).point()


def observed(stage):
    """Return what is read off a stage, solved.

    Parameters
    ----------
    stage : Stage
        The circuits.

    Returns
    -------
    Observed
        Everything, as arrays over all members.

    Raises
    ------
    ConvergenceError
        If the solver fails, which is a defect; it carries the query string of the first scenario.
    """
    return Observed(stage, solved(stage))


def _reached(netlist):
    """Return the nodes that a lead of a meter reaches: all that do not lie inside of a part."""
    base = any(resistor.part == "RBE" for resistor in netlist.resistors)
    inner = {"CI"} if base else {"CI", "B"}
    return [node for node in netlist.nodes if node not in inner and not node.endswith("J")]


_UNITS = dict.fromkeys(("VF", "VCE", "VOUT"), "V")
_UNITS |= dict.fromkeys(("IF", "IF_needed", "IC", "IL", "IC_available", "IC_needed"), "A")
_UNITS |= dict.fromkeys(("CTR_available", "CTR_needed", "CTR_forced", "overdrive"), "1")


class Observed:
    """Everything that is read off a solution, as arrays over all members of both states.

    Parameters
    ----------
    stage : Stage
        The circuits.
    solution : Solution
        Their solution.
    """

    def __init__(self, stage, solution):
        self.stage, self.v = stage, solution.voltages
        self.scenario = scenario = stage.scenarios[0]
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
        self.further = self._figures()
        self.reached = _reached(stage.netlist)
        self._tables()

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

    def point(self, k=None):
        """Return the record of one scenario.

        Parameters
        ----------
        k : int or None
            Which one; None takes all members of all of them as one stage, whose nominal values are those of the first.

        Returns
        -------
        OperatingPoint
            Both states, with ranges.
        """
        stage, size = self.stage, self.stage.members
        part = slice(None) if k is None else slice(k * size, (k + 1) * size)
        varied = {name: array[part] for name, array in stage.varied.items()}
        at, output = k or 0, stage.scenarios[k or 0].output
        in_both = zip(
            *(table.ranges(part) for table in (self.quantities, self.nodes, self.through, self.across)),
            self._powers(part, varied["TA"]),
            (output.verdict(values[part], varied) for values in self.read),
            strict=True,
        )
        made = [
            State(found[0] | more.ranges(part)[0], *found[1:]) for found, more in zip(in_both, self.more, strict=True)
        ]
        sides = {node: stage.netlist.nodes[node] for node in self.reached}
        return OperatingPoint(stage.scenarios[at], stage.sizes[at], dict(zip(STATES, made, strict=True)), sides, varied)

    def _tables(self):
        """Lay the arrays out so that ranges are quickly read off."""
        output, quantities, count = self.scenario.output, self._quantities(), self.stage.count
        self.read = [
            further[output.observed] if output.observed in further else array
            for further, array in zip(
                self.further, quantities.get(output.observed, self.v["VCC"]).reshape(len(STATES), -1), strict=True
            )
        ]
        self.quantities = _Table(quantities, _UNITS, count)
        self.nodes = _Table({node: self.v[node] for node in self.reached}, "V", count)
        self.through, self.across = (
            _Table(arrays, unit, count) for arrays, unit in ((self.currents, "A"), (self.drops, "V"))
        )
        self.taken = _Table(self.powers, "W", count)
        units, lit = _UNITS | output.units, self._transfer()
        self.more = [_Table(found, units, count) for found in (lit | self.further[0], self.further[1])]

    def _figures(self):
        """Return what the output side has beside what every side has, in either state."""
        both = {"v": self.v, "currents": self.currents, "drops": self.drops}
        split = {
            name: {key: np.reshape(array, (len(STATES), -1)) for key, array in arrays.items()}
            for name, arrays in both.items()
        }
        varied = self.stage.varied
        seen = Seen(**split, values=varied, card=self.model.card, TA_degC=varied["TA"])
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
        T = stage.varied["TA"] + ZERO_CELSIUS
        if not self.scenario.coupling.has_ratio:
            needed, IF = stage.varied["threshold"], self.currents["LED"][: stage.count]
            needed = self.model.threshold(needed, T)
            return {"IF_needed": needed, "overdrive": IF / needed}
        IF, IC, light = (array[: stage.count] for array in (self.currents["LED"], self.currents["U1"], self._left()))
        available = light * self.model.gain
        needed = self.scenario.output.needed_current(card.VCE_sat, stage.VCC, stage.RL, T, stage.varied) + stage.leakage
        found = {"IC_needed": needed}
        if IF.min() > _DRIVEN:
            found |= {"CTR_available": available / IF, "CTR_needed": needed / IF, "CTR_forced": IC / IF}
            if needed.min() > _DRIVEN:
                found["overdrive"] = available / needed
        return found

    def _powers(self, part, TA):
        """Return name to `Power` for each state."""
        side, load, card = self.scenario.input, self.scenario.output, self.model.card
        ratings = {name: resistor_rating(rating, TA) for name, rating in (side.ratings | load.ratings).items()}
        ratings |= {"LED": card.LED_power.at(TA), "U1": card.output_rating.at(TA)}
        least = {name: float(rating.min()) for name, rating in ratings.items()}
        return [
            {
                name: Power(r.value, r.low, r.high, least.get(name), r.members, ratings.get(name))
                for name, r in ranges.items()
            }
            for ranges in self.taken.ranges(part)
        ]


class _Table:
    """Arrays of one kind, by name, from which the ranges of both states are read off."""

    def __init__(self, arrays, units, count):
        self.units = [units] * len(arrays) if isinstance(units, str) else [units[name] for name in arrays]
        self.arrays = arrays
        self.table = np.array(list(arrays.values())).reshape(len(arrays), -1, count) if arrays else None

    def ranges(self, part):
        """Return name to `Range` for each state, of some of the members."""
        if not self.arrays:
            return [{}]
        table = self.table[:, :, part]
        nominal, low, high = (found.T.tolist() for found in (table[:, :, 0], table.min(axis=2), table.max(axis=2)))
        return [
            {name: Range(*row) for name, *row in zip(self.arrays, *columns, self.units, table[:, k], strict=True)}
            for k, columns in enumerate(zip(nominal, low, high, strict=True))
        ]
