"""Circuits taken apart: one side by itself, all four diodes of a bridge, one circuit at many instants of its line."""

from dataclasses import replace

import numpy as np

from engine.circuit import Junction, LightPath, ThresholdPath, solve
from engine.circuit.elements import Resistor

LED = "LED junction"
"""Node that stands for the anode of the LED on the far side, whose voltage is given."""

_TWIN = " twin"


def side_of(netlist, side, lighting=None):
    """Return one side of a circuit by itself; the output side with the light that the other one gives.

    Parameters
    ----------
    netlist : Netlist
        Circuits of both sides.
    side : str
        "input" or "output".
    lighting : ndarray, shape (batch,), or None
        Voltage of the LED's junction; None has it solved [V].

    Returns
    -------
    Netlist
        Circuits of that side.

    Raises
    ------
    ConvergenceError
        If the solver fails, which is a defect.
    """
    at = netlist.nodes | {node: where for where, node in netlist.references.items()}
    alone = replace(
        netlist,
        nodes={node: where for node, where in netlist.nodes.items() if where == side},
        references={side: netlist.references[side]},
        sources={part: held for part, held in netlist.sources.items() if at[held[0]] == side},
        resistors=tuple(r for r in netlist.resistors if at[r.a] == side),
        devices=tuple(device for device in netlist.devices if at[device.branches[0][0]] == side),
        stores=(),
    )
    if side == "input":
        return alone
    anode, cathode = junction_of(netlist)
    if lighting is None:
        voltages = solve(side_of(netlist, "input")).voltages
        lighting = voltages[anode] - voltages[cathode]
    return _lit(alone, netlist.references["input"], (anode, cathode), lighting)


def junction_of(netlist):
    """Return the nodes of the LED's junction, of a pair the first one's.

    Parameters
    ----------
    netlist : Netlist
        Circuits of both sides.

    Returns
    -------
    tuple of (str, str)
        Anode and cathode.
    """
    seeing = next(device for device in netlist.devices if isinstance(device, LightPath | ThresholdPath))
    return seeing.anode, seeing.cathode


def _lit(alone, reference, junction, volts):
    """Return an output side whose LED has a given voltage."""
    renamed = dict(zip(junction, (LED, reference), strict=True))
    return replace(
        alone,
        nodes=alone.nodes | {LED: "input"},
        references=alone.references | {"input": reference},
        sources=alone.sources | {LED: (LED, volts)},
        devices=tuple(
            replace(device, anode=renamed[device.anode], cathode=renamed[device.cathode])
            if isinstance(device, LightPath | ThresholdPath)
            else device
            for device in alone.devices
        ),
    )


def whole_bridge(netlist):
    """Return circuits with all four diodes of a bridge; a stage is wired with the two of one half cycle.

    Parameters
    ----------
    netlist : Netlist
        Circuits of a stage.

    Returns
    -------
    Netlist
        The same where there is no bridge.

    Notes
    -----
    D4 leads from the line to the LED, D5 back to the return; their twins do so while the line is negative, and so lie
    between the same nodes with the ends of the line exchanged.
    """
    found = {d.part: d for d in netlist.devices if isinstance(d, Junction) and d.part in ("D4", "D5")}
    if not found:
        return netlist
    resistor = {r.part: r for r in netlist.resistors if r.part in found}
    line, common = resistor["D4"].a, netlist.references["input"]
    ends = {line: common, common: line}
    nodes, resistors, devices = dict(netlist.nodes), [], []
    for part, diode in found.items():
        inner = f"{part}TJ"
        nodes[inner] = "input"
        start, twin = resistor[part].a, part + _TWIN
        resistors.append(Resistor(twin, ends.get(start, start), inner, resistor[part].G.copy()))
        devices.append(replace(diode, part=twin, anode=inner, cathode=ends.get(diode.cathode, diode.cathode)))
    return replace(
        netlist, nodes=nodes, resistors=(*netlist.resistors, *resistors), devices=(*netlist.devices, *devices)
    )


def swept(netlist, source, turn):
    """Return circuits at many instants of a line, all members of one instant after the other.

    Parameters
    ----------
    netlist : Netlist
        Circuits whose source stands at the crest of the line.
    source : str
        That source.
    turn : ndarray, shape (instants,)
        Phase of the line [rad].

    Returns
    -------
    Netlist
        As many times the batch.
    """
    each = netlist.take(np.tile(np.arange(netlist.batch), len(turn)))
    node, crest = each.sources[source]
    return replace(each, sources=each.sources | {source: (node, crest * np.repeat(np.sin(turn), netlist.batch))})
