"""Where the leads of a meter go: the points of a stage that one can reach, what is worth probing, what is read there.

The sides share no conductor, so both leads go to one side; what a meter shows between the sides is not defined.
"""

from dataclasses import dataclass, replace

import numpy as np

from engine.build import build_all
from engine.circuit import solve
from engine.circuit.elements import Resistor

_SIDES = ("input", "output")
_WITHIN = {"AI": "A", "CI": None, "B": None}  # nodes within the coupler, and the pin that stands for each
_SAME = 1e-9  # [-], change of the meter's resistance that is none but rounding

_WORDS = {
    "VS": "supply of the input",
    "S1": "across the contact",
    "RW": "across the line to the contact",
    "P1": "across the port",
    "B1": "across the sensor",
    "B2": "across the current limiter",
    "Q1": "across the transistor of the input",
    "VD": "logic that drives the transistor",
    "R1": "across the series resistor",
    "RB": "across the bypass resistor",
    "RH": "across the resistor of the indicator",
    "D2": "across the series diodes",
    "D3": "across the antiparallel diode",
    "D4": "across the bridge diode towards the LED",
    "D5": "across the bridge diode from the LED",
    "Z1": "across the zener diode",
    "H1": "across the indicator on the input side",
    "CF": "across the filter capacitor",
    "CD": "across the dropper capacitor",
    "CS": "across the smoothing capacitor",
    "RF": "across the resistor behind CS",
    "LED": "across the LED of the coupler",
    "OUT": "output against its own return",
    "U1": "across the output of the coupler",
    "RL": "across the load resistor",
    "RBE": "base against emitter",
    "D1": "across the indicator LED",
    "A1": "across the input of the controller",
    "R3": "base or gate against common",
    "R2": "across the base or gate resistor",
    "Q2": "across the transistor of the relay",
    "K1": "across the coil of the relay",
    "RGE": "gate against emitter",
    "RGK": "gate of the triac against its first main terminal",
    "Q3": "across the triac",
    "RLOAD": "across the load",
    "RSN": "across the resistor of the snubber",
    "CSN": "across the capacitor of the snubber",
    "VCC": "supply of the output",
    "VEE": "negative supply",
}


@dataclass(frozen=True, slots=True)
class Probe:
    """One reading worth taking.

    Attributes
    ----------
    id : str
        Its name in addresses and forms.
    red : str
        Node of the red lead, which the reading is positive at.
    black : str
        Node of the black lead.
    side : str
        "input" or "output".
    part : str
        The part whose voltage is read; "OUT" where it is that of the output.
    words : str
        What is measured, for people.
    """

    id: str
    red: str
    black: str
    side: str
    part: str
    words: str


class _Nominal:
    """What `build_all` takes for its `draw`: the nominal stage alone."""

    members = 1

    @staticmethod
    def spread(factor, name, triples):
        """Return the values of one quantity in every circuit, as `engine.build.Corners.spread`."""
        return np.tile(triples[:, 0], 2)


def _wired(scenario):
    """Return the circuit of the nominal stage, closed and open."""
    return build_all((scenario,), draw=_Nominal()).netlist


def leads_of(scenario):
    """Return the nodes that a lead can be put on: all that do not lie within a part.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    dict of str to tuple of str
        "input" and "output" to their nodes, the return of the side last.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.
    """
    return _leads(scenario, _wired(scenario))


def _leads(scenario, netlist):
    """Return the nodes that a lead reaches, by side."""
    within = set(_WITHIN) - ({"B"} if scenario.coupling.RBE != "none" else set())
    reached = {
        side: [n for n, at in netlist.nodes.items() if at == side and n not in within and not n.endswith("J")]
        for side in _SIDES
    }
    return {side: (*nodes, netlist.references[side]) for side, nodes in reached.items()}


def crosses(scenario, a, b):
    """Return whether two nodes lie on opposite sides of the barrier.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    a, b : str
        Nodes that a lead can be put on.

    Returns
    -------
    bool
        Whether they do.

    Raises
    ------
    ValueError
        If the stage has no such node.
    """
    side = {node: at for at, nodes in leads_of(scenario).items() for node in nodes}
    for node in (a, b):
        if node not in side:
            raise ValueError(f"no lead goes to {node}")
    return side[a] != side[b]


def probes_of(scenario):
    """Return what is worth probing: along the input from its supply on, then the output, its parts and its supply.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    tuple of Probe
        Every pair of nodes once.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.
    """
    netlist = _wired(scenario)
    side_of = {node: side for side, nodes in _leads(scenario, netlist).items() for node in nodes}
    found = {}
    for part, (red, black) in _ordered(scenario, _pairs(scenario, netlist)):
        red, black = _WITHIN.get(red, red) or red, _WITHIN.get(black, black) or black
        known = frozenset((red, black)) in found and part != "LED"  # a switch may lie across the LED
        if red in side_of and black in side_of and red != black and not known:
            probe = Probe(part.lower(), red, black, side_of[red], part, _WORDS.get(part, f"across {part}"))
            found[frozenset((red, black))] = probe
    return tuple(sorted(found.values(), key=lambda probe: _SIDES.index(probe.side)))


def probe_across(scenario, part):
    """Return the probe that reads the voltage across a part, under whatever name it stands in the list.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    part : str
        The part.

    Returns
    -------
    Probe or None
        None where the stage has no such part, or no lead reaches it.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.
    """
    pair = _pairs(scenario, _wired(scenario)).get(part, ())
    ends = {_WITHIN.get(node, node) or node for node in pair}
    return next((probe for probe in probes_of(scenario) if {probe.red, probe.black} == ends), None)


def _pairs(scenario, netlist):
    """Return part to the pair of nodes that it is measured between."""
    found = {part: (node, netlist.references[netlist.nodes[node]]) for part, (node, _) in netlist.sources.items()}
    for resistor in netlist.resistors:
        found.setdefault(resistor.part, (resistor.a, resistor.b))
    for device in netlist.devices:
        for pair in device.branches:
            found.setdefault(device.part, tuple(pair))
    found |= {part: pair for part, pair in scenario.input.terminals.items() if part in found}
    found |= {part: pair for part, pair in scenario.output.terminals.items() if part in found}
    if "OUT" in netlist.nodes:
        found["OUT"] = ("OUT", netlist.references["output"])
    return found


def _ordered(scenario, pairs):
    """Return parts and pairs as one goes through a stage with a meter."""
    side, load = scenario.input, scenario.output
    # What comes first is kept of parts between the same nodes: the LED, not a bypass; the output, not its load.
    first = ("VS", "VD", side.switch_part, *side.loop, *side.shunts)
    last = ("OUT", "U1", *load.loop, *(part for part in pairs if part not in first and part != "VCC"), "VCC")
    return [(part, pairs[part]) for part in dict.fromkeys((*first, *last)) if part in pairs]


def read(netlist, pairs, meter):
    """Return what a meter shows between pairs of nodes, its own resistance being part of the circuit.

    Parameters
    ----------
    netlist : Netlist
        The circuits, sound or faulty.
    pairs : sequence of tuple of (str, str)
        Nodes of the red and of the black lead; one reading at a time.
    meter : Meter
        The meter.

    Returns
    -------
    ndarray, shape (pairs, batch)
        Readings [V].

    Raises
    ------
    ValueError
        If a pair lies on opposite sides of the barrier, or a circuit has no such node.
    ConvergenceError
        If the solver fails, which is a defect.

    Notes
    -----
    A meter whose resistance goes with its range is turned down as long as the reading fits on a lower one, from the
    range on that the voltage without a meter asks for. A lower range loads more and never shows more, so this ends.
    """
    sides = netlist.nodes | {reference: side for side, reference in netlist.references.items()}
    for pair in pairs:
        for node in pair:
            if node not in sides:
                raise ValueError(f"no lead goes to {node}")
        if sides[pair[0]] != sides[pair[1]]:
            raise ValueError(f"{pair[0]} and {pair[1]} lie on opposite sides of the barrier")
    if not pairs:
        return np.zeros((0, netlist.batch))
    row = np.repeat(np.arange(len(pairs)), netlist.batch)
    every = np.tile(np.arange(netlist.batch), len(pairs))
    each, bare = netlist.take(every), solve(netlist).voltages
    near = {node: volts[every] for node, volts in bare.items()}  # a meter moves most nodes a little only
    R = meter.resistance(np.concatenate([bare[red] - bare[black] for red, black in pairs]))
    shown, left = np.zeros(each.batch), np.arange(each.batch)
    while len(left):
        beside = {node: volts[left] for node, volts in near.items()}
        shown[left] = _shown(each.take(left), beside, pairs, row[left], R[left])
        lower = meter.resistance(shown[left])
        turned = lower < R[left] * (1.0 - _SAME)
        left, lower = left[turned], lower[turned]
        R[left] = lower
    return shown.reshape(len(pairs), netlist.batch)


def with_meters(netlist, pairs, row, R):
    """Return circuits with a meter between the pair of nodes that each is read at.

    Parameters
    ----------
    netlist : Netlist
        The circuits.
    pairs : sequence of tuple of (str, str)
        Nodes of the leads; where both are one node, the meter changes nothing.
    row : ndarray of int, shape (batch,)
        Which of the pairs each circuit is read at.
    R : float or ndarray, shape (batch,)
        Resistance of the meter [ohm].

    Returns
    -------
    Netlist
        The same batch.
    """
    meters = tuple(
        Resistor("meter", red, black, np.where(row == k, 1.0 / R, 0.0))
        for k, (red, black) in enumerate(pairs)
        if red != black
    )
    return replace(netlist, resistors=netlist.resistors + meters)


def _shown(netlist, near, pairs, row, R):
    """Return the voltage between the pair of each circuit, with a resistance between its nodes.

    The iteration begins at the voltages without that resistance.
    """
    voltages = solve(with_meters(netlist, pairs, row, R), near).voltages
    across = np.array([voltages[red] - voltages[black] for red, black in pairs])
    return across[row, np.arange(len(row))]
