"""From scenario to circuit: a batch of the nominal stage and every corner of its tolerances, in both states.

Temperature, spread and tolerance become element parameters here, never factors on results.
"""

from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product

import numpy as np

from engine.circuit import Netlist, NetlistBuilder, solve
from engine.constants import ZERO_CELSIUS
from engine.parameter import declared
from engine.sizing import size

FACTORS = ("VS", "R1", "VF", "CTR", "VCC", "RL", "leak")
"""What is varied in every stage: supply, series resistor, forward voltage, transfer ratio (the dark current goes with
it, and so do threshold, drop and leakage of a coupler that switches: the strongest specimen at the upper end), output
supply, load resistor, and the way the receiver leaks: down to common, up from the supply. A side may have more of its
own."""

FAINTEST = 1e-6
"""Least share of its light that an LED is reckoned to have left: dark to any circuit [-]."""

_ENDS = (-1, 1)
_COLUMN = (1, 0, 2)  # of nominal, low and high: in the order of the ends
_DRIVES = ((1, -1, -1), (-1, 1, 1))  # VS, R1 and VF that give the most and the least LED current
_LOAD = (1, -1, 1)  # VCC, RL and leak while the input side goes through all that it has


@lru_cache(maxsize=64)
def members(more, heavier):
    """Return which end of every factor each member of a state has.

    Parameters
    ----------
    more : tuple of int
        For every further factor of the input side, the end that gives the LED more current: 1 upper, -1 lower [-].
    heavier : tuple of int
        For every further factor of the output side, the end that gives the load more current [-].

    Returns
    -------
    ndarray of int, shape (members, factors)
        -1 lower end, 0 nominal, 1 upper end; the nominal stage first. Factors in the order of `FACTORS`, then the
        further ones.

    Notes
    -----
    The output side knows of the input side its LED current alone. So there are all ends of supply, R1, VF and CTR,
    and all ends of CTR, output supply, RL and leakage at the most and the least LED current. A side's further factors
    go with its supply, all together either way; and each of them goes to its ends alone at the most and the least.
    """
    rows = [(0,) * (len(FACTORS) + len(more) + len(heavier))]
    loads = dict.fromkeys((heavier, _turned(heavier)))
    for ends in product(_ENDS, repeat=4):
        rows += [(*ends, *_LOAD, *own, *heavier) for own in (more, _turned(more))]
    for light in _DRIVES:
        own = more if light is _DRIVES[0] else _turned(more)
        for ends in product(_ENDS, repeat=4):
            rows += [(*light, *ends, *own, *load) for load in loads]
        rows += [(*light, 1, *_LOAD, *alone, *heavier) for alone in _alone(own)]
        for load in loads:
            rows += [(*light, *ends, *own, *alone) for ends in product(_ENDS, repeat=4) for alone in _alone(load)]
    return np.array(list(dict.fromkeys(rows)))


def _turned(ends):
    """Return the opposite ends."""
    return tuple(-end for end in ends)


def _alone(ends):
    """Yield ends of which one after the other is turned."""
    if len(ends) > 1:
        for k in range(len(ends)):
            yield tuple(-end if j == k else end for j, end in enumerate(ends))


@dataclass(frozen=True, slots=True)
class Stage:
    """Scenarios as a batch of circuits: first every member with the LED meant to be lit, then meant to be dark.

    Attributes
    ----------
    netlist : Netlist
        The circuits, twice `count` of them.
    scenarios : tuple of Scenario
        What was built, wired alike.
    sizes : tuple of dict of str to Sized
        The resistors of each.
    members : int
        Members of one scenario in one state: the nominal stage, then its corners or samples [-].
    VCC : ndarray, shape (count,)
        Supply of the output side, scenario after scenario [V].
    RL : ndarray, shape (count,)
        Load resistor [ohm].
    CTR : ndarray, shape (count,)
        Transfer ratio at the card's test point and 25 degC; 0 where the coupler has a threshold instead [-].
    leakage : ndarray, shape (count,)
        Current of the receiver that the lit detector carries beside the load's [A].
    varied : dict of str to ndarray, shape (count,)
        Everything that varies, by name; "TA" is the ambient temperature [degC].
    powers : dict of str to ndarray, shape (2 count,)
        Part to its power where that is not the one of the instant that the circuits show [W].
    """

    netlist: Netlist
    scenarios: tuple
    sizes: tuple
    members: int
    VCC: np.ndarray
    RL: np.ndarray
    CTR: np.ndarray
    leakage: np.ndarray
    varied: dict
    powers: dict

    @property
    def count(self):
        """Return the members of one state over all scenarios [-]."""
        return self.members * len(self.scenarios)

    @property
    def sized(self):
        """Return the resistors of the first scenario."""
        return self.sizes[0]


class Corners:
    """Which end of every factor each circuit of a batch has.

    Parameters
    ----------
    inputs : dict of str to Spread
        What varies on the input side beside `FACTORS`.
    outputs : dict of str to Spread
        What varies on the output side.
    warm : bool
        Whether the ambient temperature has ends of its own.
    """

    def __init__(self, inputs, outputs, warm):
        ends = members(tuple(s.more for s in inputs.values()), tuple(s.more for s in outputs.values()))
        TA = np.zeros((len(ends), 1), dtype=int)
        if warm:
            first, rest = ends[:1], ends[1:]
            TA = np.concatenate([[0], np.repeat((0, -1, 1), len(rest)), (-1, 1)])[:, None]
            ends = np.concatenate([first, rest, rest, rest, first, first])
        self.members = len(ends)
        self.ways = dict(zip((*FACTORS, *inputs, *outputs, "TA"), np.hstack([ends, TA]).T, strict=True))
        # An LED that is easily seen may stand beside a poor output: with much light or little it goes its own way.
        much, little = (
            (self.ways["VS"] == VS) & (self.ways["R1"] == R1) & (self.ways["VF"] == VF) for VS, R1, VF in _DRIVES
        )
        self.ways["threshold"] = np.select([much, little], [1, -1], self.ways["CTR"])

    def spread(self, factor, name, triples):
        """Return the values of one quantity in every circuit.

        Parameters
        ----------
        factor : str
            What it goes with.
        name : str
            The quantity.
        triples : ndarray, shape (scenarios, 3)
            Nominal value and both ends, the lower or weaker first [unit].

        Returns
        -------
        ndarray, shape (2 scenarios members,)
            Values [unit].
        """
        ends = self.ways["threshold" if name == "threshold" else factor]
        chosen = np.take(triples[:, _COLUMN], ends + 1, axis=1)
        return np.tile(chosen.ravel(), 2)


def specimens(scenario):
    """Return what differs from coupler to coupler, the weakest at the end of its service.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    dict of str to tuple of (float, float, float)
        Nominal value, that of the weakest and that of the strongest specimen, as of `Coupling.spread`. The weakest one
        has aged: so much less light makes so much less current, and takes so much more to pass a threshold.
    """
    found, left = scenario.coupling.spread(), light_left(scenario)
    if left == 1.0:
        return found
    for name, times in (("CTR", left), ("threshold", 1.0 / left)):
        if name in found:
            nominal, weakest, strongest = found[name]
            found[name] = nominal, weakest * times, strongest
    return found


def light_left(scenario):
    """Return the share of its light that the weakest LED has left at the end of the service that is asked for.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    float
        Above 0, up to 1 [-].
    """
    conditions = scenario.conditions
    if not conditions.years:
        return 1.0
    hottest = conditions.TA_ends[1] + ZERO_CELSIUS
    IF = _most_IF(scenario) if conditions.ageing == "stress" else 0.0
    return max(conditions.light_left(conditions.years, IF, hottest), FAINTEST)


@lru_cache(maxsize=256)
def _most_IF(scenario):
    """Return the LED current of the nominal stage, which does not depend on the LED's age [A]."""
    stage = build_all((_new(scenario),))
    currents = zip(stage.netlist.devices, solve(stage.netlist).device_currents, strict=True)
    return max(sum(float(i[0, 0]) for device, i in currents if device.part == "LED"), 0.0)


def _new(scenario):
    """Return the scenario on its first day."""
    return replace(scenario, conditions=replace(scenario.conditions, years=0.0))


def _triples(scenario, sized):
    """Return name to the factor that it goes with, its nominal value and both ends."""
    side, load, conditions = scenario.input, scenario.output, scenario.conditions
    R1, RL, off = sized["R1"].chosen, sized["RL"].chosen, conditions.tolerance
    found = {
        "VS": ("VS", side.VS, *side.VS_ends),
        "R1": ("R1", R1, R1 * (1 - off), R1 * (1 + off)),
        "VCC": ("VCC", load.VCC, *load.VCC_ends),
        "RL": ("RL", RL, RL * (1 - off), RL * (1 + off)),
        "shift": ("VF", 0.0, *scenario.coupling.model.VF_shifts()),
        "down": ("leak", 0.0, 1.0, 0.0),
        "up": ("leak", 0.0, 0.0, 1.0),
        "TA": ("TA", conditions.TA, *conditions.TA_ends),
    }
    found |= {name: ("CTR", *three) for name, three in specimens(scenario).items()}
    for part in (side.spreads(off), load.spreads(off)):
        found |= {name: (name, s.nominal, s.low, s.high) for name, s in part.items()}
    if side.capacitive:
        C = sized["CD"].chosen
        found["CD"] = ("CD", *(C * share for share in found["CD"][1:]))
    return found


def wiring(scenario):
    """Return what scenarios must have in common to be built together: all but what goes by way of values alone.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    tuple
        To be compared.
    """
    conditions, coupling = scenario.conditions, scenario.coupling
    sides = [_wired(part) for part in (scenario.input, scenario.output)]
    warm = conditions.TA_ends != (conditions.TA, conditions.TA)
    return (*sides, coupling.card, coupling.own, coupling.RBE == "none", warm)


def _wired(side):
    """Return the kind of a side and its values, but those that go by way of `values` alone."""
    free = side.free
    fixed = [name for name in declared(side) if name not in free]
    return type(side), *(value for name in fixed if (value := getattr(side, name)) is not None)


def build(scenario):
    """Return the circuits of a scenario and its corners.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    Stage
        The batch: nominal and corners, closed and open.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.
    """
    return build_all((scenario,))


def build_all(scenarios, draw=None, sizes=None):
    """Return the circuits of several scenarios that are wired alike.

    Parameters
    ----------
    scenarios : tuple of Scenario
        The stages; of one `wiring`.
    draw : object or None
        What makes the members, with `members` and `spread` as `Corners` has them; corners if None.
    sizes : tuple of dict of str to Sized or None
        The resistors of each, where they are known.

    Returns
    -------
    Stage
        The batch: nominal and corners (or what was drawn) of one scenario after the other, closed; then all open.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.

    Notes
    -----
    The dark current moves with the transfer ratio, because both push every output the same way; so the extremes of
    the product of all are still among the corners.
    """
    first = scenarios[0]
    sizes = tuple(size(scenario) for scenario in scenarios) if sizes is None else sizes
    side, load, model, conditions = first.input, first.output, first.coupling.model, first.conditions
    if draw is None:
        own = side.spreads(conditions.tolerance), load.spreads(conditions.tolerance)
        draw = Corners(*own, conditions.TA_ends != (conditions.TA, conditions.TA))
    triples = [_triples(scenario, sized) for scenario, sized in zip(scenarios, sizes, strict=True)]
    values = {
        name: draw.spread(factor, name, np.array([one[name][1:] for one in triples]))
        for name, (factor, *_) in triples[0].items()
    }
    count = draw.members * len(scenarios)
    closed = np.arange(2 * count) < count
    T = values["TA"] + ZERO_CELSIUS
    settled = side.settled(model, T, closed, values)
    values |= settled.values
    net = NetlistBuilder(2 * count)
    side.wire(net, closed, values["TA"], values)
    load.wire(net, values["TA"], values)
    place_coupler(net, first, model, T, closed, values | _base_resistors(scenarios, draw.members))
    ratios = values.get("CTR", np.zeros(net.batch))
    arrays = values["VCC"], values["RL"], ratios, load.lit_leakage(values["down"], values["up"])
    varied = {name: array[:count] for name, array in values.items()}
    return Stage(
        net.build(), tuple(scenarios), sizes, draw.members, *(array[:count] for array in arrays), varied, settled.powers
    )


def _base_resistors(scenarios, members):
    """Return the resistor from base to emitter in every circuit; nothing where there is none."""
    if scenarios[0].coupling.RBE == "none":
        return {}
    return {"RBE": np.tile(np.repeat([scenario.coupling.RBE for scenario in scenarios], members), 2)}


def place_coupler(net, scenario, model, T, closed, values):
    """Place the coupler between the nodes that the sides left for it, with a guess to begin from.

    Parameters
    ----------
    net : NetlistBuilder
        Where to place it.
    scenario : Scenario
        The stage.
    model : TransistorModel or SwitchingModel
        The calibrated coupler.
    T : ndarray, shape (batch,)
        Absolute temperature [K].
    closed : ndarray of bool, shape (batch,)
        Whether the LED is meant to be lit.
    values : dict of str to ndarray, shape (batch,)
        "VS", "R1", "VCC", "RL", "shift", the forward voltage above the typical one, and what the model's `spread`
        names, in SI units; "RBE" where the resistor from base to emitter is not the scenario's.
    """
    side, load = scenario.input, scenario.output
    expected = np.maximum(values["VS"] - 1.0, 0.0) / side.loop_resistance(closed, values["R1"])
    demand = load.needed_current(model.V_lit, values["VCC"], values["RL"], T, values)
    guess = {"IF": expected, "demand": demand, "VCC": load.across_coupler(values)}
    if scenario.coupling.RBE != "none":
        guess["RBE"] = values.get("RBE", scenario.coupling.RBE)
    out = (*load.detector, "VCC") if "supply" in model.terminals else load.detector
    model.place(net, side.led, out, T, values | guess)
