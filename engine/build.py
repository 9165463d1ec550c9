"""From scenario to circuit: a batch of the nominal stage and every corner of its tolerances, in both states.

Temperature, spread and tolerance become element parameters here, never factors on results.
"""

from dataclasses import dataclass
from functools import lru_cache
from itertools import product

import numpy as np

from engine.circuit import Netlist, NetlistBuilder
from engine.constants import ZERO_CELSIUS
from engine.sizing import size

FACTORS = ("VS", "R1", "VF", "CTR", "VCC", "RL", "leak")
"""What is varied in every stage: supply, series resistor, forward voltage, transfer ratio (the dark current goes with
it, and so do threshold, drop and leakage of a coupler that switches: the strongest specimen at the upper end), output
supply, load resistor, and the way the receiver leaks: down to common, up from the supply. A side may have more of its
own."""

_ENDS = (-1, 1)
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
    """A scenario as a batch of circuits: first every member with the LED meant to be lit, then meant to be dark.

    Attributes
    ----------
    netlist : Netlist
        The circuits, twice `count` of them.
    sized : dict of str to Sized
        The resistors.
    count : int
        Members of one state: the nominal stage, then its corners [-].
    VCC : ndarray, shape (count,)
        Supply of the output side [V].
    RL : ndarray, shape (count,)
        Load resistor [ohm].
    CTR : ndarray, shape (count,)
        Transfer ratio at the card's test point and 25 degC; 0 where the coupler has a threshold instead [-].
    leakage : ndarray, shape (count,)
        Current of the receiver that the lit detector carries beside the load's [A].
    varied : dict of str to ndarray, shape (count,)
        Everything that varies, by name.
    powers : dict of str to ndarray, shape (2 count,)
        Part to its power where that is not the one of the instant that the circuits show [W].
    """

    netlist: Netlist
    sized: dict
    count: int
    VCC: np.ndarray
    RL: np.ndarray
    CTR: np.ndarray
    leakage: np.ndarray
    varied: dict
    powers: dict


class _Ends:
    """Which end of every factor each circuit of the batch has."""

    def __init__(self, inputs, outputs):
        ends = members(tuple(s.more for s in inputs.values()), tuple(s.more for s in outputs.values()))
        self.count = len(ends)
        self.ways = dict(zip((*FACTORS, *inputs, *outputs), np.tile(ends.T, 2), strict=True))

    def spread(self, factor, nominal, low, high):
        """Return the values of a factor in every circuit, shape (2 count,)."""
        return np.array((low, nominal, high))[self.ways[factor] + 1]

    def within(self, factor, nominal, tolerance):
        """Return the values of a factor with a symmetrical tolerance, shape (2 count,)."""
        return self.spread(factor, nominal, nominal * (1 - tolerance), nominal * (1 + tolerance))


def build(scenario):
    """Return the circuits of a scenario.

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

    Notes
    -----
    The dark current moves with the transfer ratio, because both push every output the same way; so the extremes of
    the product of all are still among the corners.
    """
    sized = size(scenario)
    model = scenario.coupling.model
    side, load, conditions = scenario.input, scenario.output, scenario.conditions
    own = side.spreads(conditions.tolerance), load.spreads(conditions.tolerance)
    ends = _Ends(*own)
    values = {
        "VS": ends.spread("VS", side.VS, *side.VS_ends),
        "R1": ends.within("R1", sized["R1"].chosen, conditions.tolerance),
        "VCC": ends.spread("VCC", load.VCC, *load.VCC_ends),
        "RL": ends.within("RL", sized["RL"].chosen, conditions.tolerance),
        "shift": ends.spread("VF", 0.0, *model.VF_shifts()),
        "down": ends.spread("leak", 0.0, 1.0, 0.0),
        "up": ends.spread("leak", 0.0, 0.0, 1.0),
    }
    for name, (nominal, weakest, strongest) in scenario.coupling.spread().items():
        values[name] = ends.spread("CTR", nominal, weakest, strongest)
    values |= {name: ends.spread(name, s.nominal, s.low, s.high) for part in own for name, s in part.items()}
    if side.capacitive:
        values["CD"] = values["CD"] * sized["CD"].chosen
    closed = np.arange(2 * ends.count) < ends.count
    settled = side.settled(model, conditions.TA + ZERO_CELSIUS, closed, values)
    values |= settled.values
    net = NetlistBuilder(2 * ends.count)
    side.wire(net, closed, conditions.TA, values)
    load.wire(net, conditions.TA, values)
    T = np.full(net.batch, conditions.TA + ZERO_CELSIUS)
    place_coupler(net, scenario, model, T, closed, values)
    ratios = values.get("CTR", np.zeros(net.batch))
    arrays = values["VCC"], values["RL"], ratios, load.lit_leakage(values["down"], values["up"])
    varied = {name: array[: ends.count] for name, array in values.items()}
    varied["TA"] = np.full(ends.count, conditions.TA)
    return Stage(net.build(), sized, ends.count, *(array[: ends.count] for array in arrays), varied, settled.powers)


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
        names, in SI units.
    """
    side, load = scenario.input, scenario.output
    expected = np.maximum(values["VS"] - 1.0, 0.0) / side.loop_resistance(closed, values["R1"])
    demand = load.needed_current(model.V_lit, values["VCC"], values["RL"], T[0], values)
    guess = {"IF": expected, "demand": demand, "VCC": load.across_coupler(values)}
    if scenario.coupling.RBE != "none":
        guess["RBE"] = scenario.coupling.RBE
    out = (*load.detector, "VCC") if "supply" in model.terminals else load.detector
    model.place(net, side.led, out, T, values | guess)
