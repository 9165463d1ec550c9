"""What the output does at every LED current: found once by the direct-current solver, then read for every instant.

The output is far faster than the line, so at every instant it stands where that instant's LED current puts it.
"""

from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from scipy.interpolate import PchipInterpolator

from engine.build import place_coupler
from engine.circuit import NetlistBuilder, Storage, solve
from engine.constants import ZERO_CELSIUS

_DARK = 1e-12  # [A], LED current that is as good as none
_FAINT = 1e-8  # [A], from which the output may notice it
_STEPS = 28  # LED currents between the faint one and the largest, and as many more where the output moves
_KEEN = 4.0  # [-], how much more the output's way counts than that of the current
_FINER = 8  # points that a shape-preserving curve puts in place of each
_HELD = 1e-12  # [S], conductance beside an imposed current; it carries picoamperes
OBSERVED = {"VOUT": "V", "VIN": "V", "IL": "A"}
"""What can be followed over the cycle, to its unit: the voltage at a receiver or at a controller's input, the current
of an indicator."""


@dataclass(frozen=True, slots=True)
class _Lamp:
    """An input side that is nothing but an LED with an imposed current."""

    led: ClassVar[tuple] = ("A", "return")
    reference: ClassVar[str] = "return"

    def loop_resistance(self, closed, R1):
        return np.ones_like(R1)


@dataclass(frozen=True, slots=True)
class _Parts:
    """What the coupler needs to know of a scenario."""

    input: _Lamp
    coupling: object
    output: object


@dataclass(frozen=True, slots=True)
class Response:
    """The output over LED current, for several output sides.

    Attributes
    ----------
    IF : ndarray, shape (members, currents)
        LED currents, rising [A].
    out : ndarray, shape (members, currents)
        What is observed at each [V or A].
    limit : ndarray, shape (members,)
        What it must reach to be read as lit [V or A].
    way : int
        1 where it must rise to the limit, -1 where it must fall to it [-].
    """

    IF: np.ndarray
    out: np.ndarray
    limit: np.ndarray
    way: int

    def at(self, IF, member):
        """Return what is observed at given LED currents.

        Parameters
        ----------
        IF : ndarray
            LED currents, any shape [A].
        member : int
            Which output side [-].

        Returns
        -------
        ndarray
            The same shape [V or A].
        """
        return np.interp(np.log(np.maximum(IF, _DARK)), np.log(self.IF[member]), self.out[member])

    def thresholds(self):
        """Return the LED current from which each output side is read as lit.

        Returns
        -------
        ndarray, shape (members,)
            LED current; infinite where none is enough, negative where none is needed [A].
        """
        beyond = self.way * (self.out - self.limit[:, None])
        return np.array([_threshold(*pair) for pair in zip(np.log(self.IF), beyond, strict=True)])


def _threshold(x, beyond):
    """Return the LED current from which a curve over its logarithm stays above zero."""
    short = np.flatnonzero(beyond < 0.0)
    if not len(short):
        return -1.0
    last = short[-1]
    if last == len(beyond) - 1:
        return np.inf
    share = -beyond[last] / (beyond[last + 1] - beyond[last])
    return float(np.exp(x[last] + share * (x[last + 1] - x[last])))


def currents_up_to(highest):
    """Return the LED currents that a response is found at.

    Parameters
    ----------
    highest : float
        The largest that occurs [A].

    Returns
    -------
    ndarray, shape (currents,)
        Rising, the first as good as none [A].
    """
    return np.concatenate([[_DARK], np.geomspace(_FAINT, max(1.02 * highest, 10.0 * _FAINT), _STEPS)])


def response_of(scenario, values, highest):
    """Return what several output sides do at every LED current.

    Parameters
    ----------
    scenario : Scenario
        The stage, whose output is one of those that can be followed.
    values : dict of str to ndarray, shape (members,)
        What varies: "VCC", "RL", "down", "up", "TA", and what coupler and output side name.
    highest : float
        The largest LED current that occurs [A].

    Returns
    -------
    Response
        Of every member.
    """
    load, count = scenario.output, len(values["VCC"])
    coarse = np.tile(currents_up_to(highest), (count, 1))
    first = _observed(scenario, values, coarse)
    between = _where_it_moves(np.log(coarse), first)
    IF = np.concatenate([coarse, between], axis=1)
    out = np.concatenate([first, _observed(scenario, values, between)], axis=1)
    order = np.argsort(IF, axis=1)
    x, out = np.log(np.take_along_axis(IF, order, axis=1)), np.take_along_axis(out, order, axis=1)
    places = np.arange((x.shape[1] - 1) * _FINER + 1) / _FINER
    finer = np.stack([np.interp(places, np.arange(x.shape[1]), row) for row in x])
    curves = np.stack([PchipInterpolator(*pair)(at) for *pair, at in zip(x, out, finer, strict=True)])
    return Response(np.exp(finer), curves, limits_of(load, values)[0], way_of(load))


def way_of(load):
    """Return which way an output goes when it is lit.

    Parameters
    ----------
    load : Load
        The output side.

    Returns
    -------
    int
        1 where it rises, -1 where it falls [-].
    """
    return -1 if load.level_when_lit == load.words[0] else 1


def limits_of(load, values):
    """Return from where on an output is surely read as lit, and up to where as dark.

    Parameters
    ----------
    load : Load
        The output side.
    values : dict of str to ndarray, shape (members,)
        What varies, as `response_of`.

    Returns
    -------
    tuple of ndarray, shape (members,)
        Limit of lit and limit of dark, each at the member's own supply [V or A].
    """
    each = ({name: array[[k]] for name, array in values.items()} for k in range(len(values["VCC"])))
    pairs = np.array([(v.low_limit, v.high_limit) for v in (load.verdict(np.zeros(1), one) for one in each)])
    low, high = pairs.T
    return (low, high) if way_of(load) < 0 else (high, low)


def _observed(scenario, values, IF):
    """Return what is observed at LED currents of each member, both of shape (members, currents)."""
    solution, netlist = solved(scenario, values, IF.ravel(), IF.shape[1])
    load = scenario.output
    if load.observed == "VOUT":
        return solution.voltages["OUT"].reshape(IF.shape)
    if load.observed == "VIN":
        above, below = load.terminals["A1"]
        return (solution.voltages[above] - solution.voltages[below]).reshape(IF.shape)
    pairs = zip(netlist.resistors, solution.resistor_currents, strict=True)
    return next(current for resistor, current in pairs if resistor.part == "RL").reshape(IF.shape)


def _where_it_moves(x, out):
    """Return further LED currents for each member, close together where its output changes much."""
    moved = np.abs(np.diff(out, axis=1)) / np.maximum(np.ptp(out, axis=1), 1e-30)[:, None]
    # The bends at both ends of a steep part need points as much as the part itself.
    beside = np.pad(moved, ((0, 0), (1, 1)))
    moved = np.maximum(moved, np.maximum(beside[:, :-2], beside[:, 2:]))
    length = np.diff(x, axis=1) / (x[:, -1:] - x[:, :1]) + _KEEN * moved
    along = np.concatenate([np.zeros((len(x), 1)), np.cumsum(length, axis=1)], axis=1)
    wanted = along[:, -1:] * (np.arange(_STEPS) + 0.5) / _STEPS
    return np.exp(np.stack([np.interp(*three) for three in zip(wanted, along, x, strict=True)]))


def solved(scenario, values, IF, repeats, held=None):
    """Return a batch of output sides solved at imposed LED currents.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    values : dict of str to ndarray, shape (members,)
        What varies.
    IF : ndarray, shape (members * repeats,)
        LED currents [A].
    repeats : int
        How often each member stands in a row in the batch [-].
    held : ndarray or None, shape (members * repeats,)
        Voltage that the output is held at, if it is [V].

    Returns
    -------
    solution : Solution
        Of the whole batch.
    netlist : Netlist
        Its circuits.
    """
    batch = {name: np.repeat(array, repeats) for name, array in values.items()}
    batch |= {"VS": 1.0 + IF, "R1": np.ones_like(IF), "shift": np.zeros_like(IF)}
    net = NetlistBuilder(len(IF))
    net.side("input", _Lamp.reference, "A")
    net.device(Storage("light", _Lamp.reference, "A", np.zeros_like(IF), IF, np.full_like(IF, _HELD)))
    scenario.output.wire(net, batch["TA"], batch)
    if held is not None:
        net.source("CO", "OUT", held)
    parts = _Parts(_Lamp(), scenario.coupling, scenario.output)
    lit = np.ones(len(IF), dtype=bool)
    place_coupler(net, parts, scenario.coupling.model, batch["TA"] + ZERO_CELSIUS, lit, batch)
    netlist = net.build()
    return solve(netlist), netlist
