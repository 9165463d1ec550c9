"""A load that a triac switches on its own line: what a meter shows while it is latched, while it is off, and between.

Half cycles are alike but for their sign, so means are zero and one quarter of the cycle on the way up and one on the
way down tell the rms.
"""

import numpy as np

from engine.circuit import Junction, ThresholdPath, solve
from engine.line_meter.parts import swept
from engine.outputs.half_cycle import ROOT2
from engine.probing import with_meters

ACROSS_COUPLER = "U1 patch"
"""Part name of what a fault puts across the coupler's output."""

_LEVELS = np.array([0.0, 0.005, 0.015, 0.04, 0.08, 0.13, 0.2, 0.3, 0.45, 0.7, 1.0])  # [-], of the crest
LEVELS = len(_LEVELS)
"""Instants at which a circuit is solved."""

_ALONG = (np.arange(96) + 0.5) / 96.0
_ANGLES = 0.5 * np.pi * _ALONG**2  # [rad], of a quarter; closest where a triac is about to be triggered
_SHARES = (2.0 * _ALONG / 96.0)[:, None, None]  # [-], of the quarter
_THROUGH = 1.0  # [S], of a junction that the voltage of a line drives
_LOOSE = 1e-15  # [S], from every node, which keeps the equations regular


def read_load(scenario, netlist, pairs, R):
    """Return the rms voltage between pairs of nodes of an output side on its own line, a meter in the circuit.

    Parameters
    ----------
    scenario : Scenario
        The stage, whose load a triac switches.
    netlist : Netlist
        Circuits of the output side, the source of the line at its crest.
    pairs : sequence of tuple of (str, str)
        Nodes of the leads, one reading at a time.
    R : float
        Resistance of the meter [ohm].

    Returns
    -------
    ndarray, shape (pairs, batch)
        Voltage, rms [V].

    Raises
    ------
    ConvergenceError
        If the solver fails, which is a defect.

    Notes
    -----
    A coupler that would not carry its holding current at the crest stays off, and the side is linear then: the snubber
    counts with its impedance. Once a larger triac has its gate current it keeps its on-state voltage until the line
    has fallen to that, and takes the coupler's current away. Until then the circuit stands where each instant puts it.

    References
    ----------
    Derived here.
    """
    metered = _metered(netlist, pairs, R)
    solution = solve(swept(metered, "VCC", np.arcsin(_LEVELS)))
    across = _across(solution.voltages, pairs, len(_LEVELS), netlist.batch)
    through = _through(metered, solution).reshape(len(_LEVELS), len(pairs), -1)
    rising = falling = np.tensordot(_weights(), across, 1) ** 2
    if scenario.output.kind == "ac-triac":
        rising, falling = _fired(scenario, metered, solution, pairs, rising)
    lit = np.sqrt(0.5 * (_SHARES * (rising + falling)).sum(axis=0))
    holds = np.abs(through[-1]) > scenario.coupling.data.IH
    return np.where(holds, lit, _dark(scenario, metered, pairs, netlist.batch))


def _through(netlist, solution):
    """Return the current through the coupler and what may lie across it."""
    found = sum(
        solution.device_currents[k][:, 0] for k, d in enumerate(netlist.devices) if isinstance(d, ThresholdPath)
    )
    return found + sum(
        solution.resistor_currents[k] for k, r in enumerate(netlist.resistors) if r.part == ACROSS_COUPLER
    )


def _metered(netlist, pairs, R):
    """Return circuits with a meter between the pair that each is meant for, pair after pair."""
    row = np.repeat(np.arange(len(pairs)), netlist.batch)
    each = netlist.take(np.tile(np.arange(netlist.batch), len(pairs)))
    return with_meters(each, pairs, row, R)


def _across(voltages, pairs, instants, batch):
    """Return the voltages between the pairs that circuits are meant for, shape (instants, pairs, batch)."""
    shape = instants, len(pairs), batch
    found = [(voltages[red] - voltages[black]).reshape(shape)[:, k] for k, (red, black) in enumerate(pairs)]
    return np.stack(found, axis=1)


def _weights():
    """Return what turns voltages at the levels into those at the angles, straight between levels."""
    at = np.sin(_ANGLES)
    return np.stack([np.interp(at, _LEVELS, unit) for unit in np.eye(len(_LEVELS))], axis=1)


def _fired(scenario, netlist, solution, pairs, before):
    """Return squares of voltages over the rising and the falling quarter, a larger triac being triggered on the way."""
    load = scenario.output
    gate = next(k for k, d in enumerate(netlist.devices) if isinstance(d, Junction) and d.part == "Q3")
    flowing = solution.device_currents[gate][:, 0].reshape(len(_LEVELS), len(pairs), -1)
    crest = netlist.sources["VCC"][1].reshape(len(pairs), -1)
    line = np.sin(_ANGLES)[:, None, None] * crest
    kept = np.minimum(load.V_T, line)
    potentials = {node: np.zeros_like(line) for node in ("GT", *netlist.references.values())}
    potentials |= {"VCC": line} | {node: kept for node in ("T2", "T", "SN")}
    after = np.stack([potentials[red][:, k] - potentials[black][:, k] for k, (red, black) in enumerate(pairs)], axis=1)
    along = np.sqrt(np.arcsin(_level_of(flowing, load.I_GT)) * 2.0 / np.pi)
    share = np.clip((_ALONG[:, None, None] - along) * len(_ALONG) + 0.5, 0.0, 1.0)  # of each step, once triggered
    triggered = flowing[-1] >= load.I_GT
    return np.where(triggered, before + share * (after**2 - before), before), np.where(triggered, after**2, before)


def _level_of(flowing, wanted):
    """Return the share of the crest at which a rising current reaches a value, 1 where it does not [-]."""
    above = flowing >= wanted
    k = np.where(above.any(axis=0), above.argmax(axis=0), len(_LEVELS) - 1).clip(1)
    low, high = (np.take_along_axis(flowing, at[None], axis=0)[0] for at in (k - 1, k))
    with np.errstate(divide="ignore", invalid="ignore"):
        part = np.where(high > low, (wanted - low) / (high - low), 1.0)
    return _LEVELS[k - 1] + np.clip(part, 0.0, 1.0) * (_LEVELS[k] - _LEVELS[k - 1])


def _dark(scenario, netlist, pairs, batch):
    """Return the rms voltages while nothing conducts: a linear circuit at the frequency of the line."""
    held = {node: volts / ROOT2 for node, volts in (netlist.sources["VCC"],)}
    free = [node for node, side in netlist.nodes.items() if side == "output" and node not in held]
    place = {node: k for k, node in enumerate(free)}
    Y = np.zeros((netlist.batch, len(free), len(free)), dtype=complex)
    driven = np.zeros((netlist.batch, len(free)), dtype=complex)
    Y[:, range(len(free)), range(len(free))] = _LOOSE
    for a, b, admittance in _admittances(scenario, netlist):
        for here, there in ((a, b), (b, a)):
            if here in place:
                Y[:, place[here], place[here]] += admittance
                if there in place:
                    Y[:, place[here], place[there]] -= admittance
                elif there in held:
                    driven[:, place[here]] += admittance * held[there]
    solved = np.linalg.solve(Y, driven[:, :, None])[:, :, 0]
    potentials = dict.fromkeys(netlist.references.values(), np.zeros(netlist.batch))
    potentials |= held | {node: solved[:, k] for node, k in place.items()}
    return np.abs(_across(potentials, pairs, 1, batch)[0])


def _admittances(scenario, netlist):
    """Yield nodes and admittance of everything between two nodes of the output side while it is off."""
    for resistor in netlist.resistors:
        if resistor.part == "CSN":
            yield resistor.a, resistor.b, 2j * np.pi * scenario.output.f_line * scenario.output.C_snubber
        yield resistor.a, resistor.b, resistor.G
    for device in netlist.devices:
        if isinstance(device, ThresholdPath):
            yield device.a, device.b, device.params.G_dark
        elif isinstance(device, Junction):
            own = _THROUGH if device.part == "U1" else device.params.IS / device.params.nVT
            yield device.anode, device.cathode, own
