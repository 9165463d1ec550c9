"""What the output does at every LED current: found once by the direct-current solver, then read for every instant.

The output is far faster than the line, so at every instant it stands where that instant's LED current puts it.
"""

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from engine.build import place_coupler
from engine.circuit import NetlistBuilder, Storage, solve
from engine.constants import ZERO_CELSIUS

_DARK = 1e-12  # [A], LED current that is as good as none
_FAINT = 1e-8  # [A], from which the output may notice it
_STEPS = 56  # LED currents between the faint one and the largest; eight or more to a decade
_HELD = 1e-12  # [S], conductance beside an imposed current; it carries picoamperes
OBSERVED = ("VOUT", "IL")
"""What can be followed over the cycle: the voltage at a receiver, the current of an indicator."""


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
    IF : ndarray, shape (currents,)
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
        return np.interp(np.log(np.maximum(IF, _DARK)), np.log(self.IF), self.out[member])

    def thresholds(self):
        """Return the LED current from which each output side is read as lit.

        Returns
        -------
        ndarray, shape (members,)
            LED current; infinite where none is enough, negative where none is needed [A].
        """
        return np.array(
            [self._threshold(self.way * (row - limit)) for row, limit in zip(self.out, self.limit, strict=True)]
        )

    def _threshold(self, beyond):
        """Return the LED current from which a curve stays above zero."""
        short = np.flatnonzero(beyond < 0.0)
        if not len(short):
            return -1.0
        last = short[-1]
        if last == len(beyond) - 1:
            return np.inf
        share = -beyond[last] / (beyond[last + 1] - beyond[last])
        x = np.log(self.IF)
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
        What varies: "VCC", "RL", "down", "up", and what coupler and output side name.
    highest : float
        The largest LED current that occurs [A].

    Returns
    -------
    Response
        Of every member.
    """
    load = scenario.output
    IF = currents_up_to(highest)
    count = len(values["VCC"])
    solution, netlist = solved(scenario, values, np.tile(IF, count), len(IF))
    if load.observed == "VOUT":
        out = solution.voltages["OUT"]
    else:
        out = next(i for r, i in zip(netlist.resistors, solution.resistor_currents, strict=True) if r.part == "RL")
    each = ({name: array[[k]] for name, array in values.items()} for k in range(count))
    verdicts = [load.verdict(np.zeros(1), one) for one in each]
    low = load.level_when_lit == "low"
    limit = np.array([verdict.low_limit if low else verdict.high_limit for verdict in verdicts])
    return Response(IF, out.reshape(count, -1), limit, -1 if low else 1)


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
    TA = scenario.conditions.TA
    scenario.output.wire(net, TA, batch)
    if held is not None:
        net.source("CO", "OUT", held)
    parts = _Parts(_Lamp(), scenario.coupling, scenario.output)
    lit = np.ones(len(IF), dtype=bool)
    place_coupler(net, parts, scenario.coupling.model, np.full(len(IF), TA + ZERO_CELSIUS), lit, batch)
    netlist = net.build()
    return solve(netlist), netlist
