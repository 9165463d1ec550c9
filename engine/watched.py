"""What the parts around a coupler store, and what is read at a stage's output while it moves."""

from dataclasses import replace

import numpy as np

from engine.circuit import Capacitor, Coil, Detector
from engine.outputs.relay import STRAY, winding

_STRAY = 1e-12  # [F], of a node that nothing else charges: without any, one that blocks on all sides has no history
_SEEN = 1e-7  # [-], stray capacitance over a large one beside it that double precision still sees
FOLLOWED = ("pull-up", "pull-down", "indicator", "controller", "relay", "gate", "dc-load")
"""Kinds of output sides whose edges are followed."""

_LOADED = {"gate": "G2"}  # kind of output side to the node that its own capacitance lies at
_COIL = "K1"
_DAMPED = 0.5  # [-], resistance beside a winding over sqrt(L/C) from which on nothing swings
_LITTLE = 50.0  # [-], that resistance over the winding's own, at the least


def around(scenarios, circuit, CL):
    """Yield the capacitors that stand around the coupler.

    Parameters
    ----------
    scenarios : tuple of Scenario
        The stages, wired alike.
    circuit : Netlist
        Their circuits.
    CL : ndarray, shape (batch,)
        What `load_capacitance` gives, or part of it [F].

    Yields
    ------
    Capacitor
        That at the output, that of a winding, that across the LED.
    """
    load = scenarios[0].output
    if load.kind == "relay":
        yield Capacitor(_COIL, "VCC", "C2", np.full(circuit.batch, STRAY))
    elif load_capacitance(load) is not None:
        # Charges of a transistor give the output a course; a path that switches needs a capacitance for one.
        slow = any(isinstance(device, Detector) for device in circuit.devices)
        yield Capacitor("CL", _LOADED.get(load.kind, "OUT"), load.reference, CL if slow else np.maximum(CL, _STRAY))
    across = getattr(scenarios[0].input, "shunts", {}).get("CF")
    if across:
        yield Capacitor("CF", *across, np.full(circuit.batch, scenarios[0].input.C_filter))


def load_capacitance(load):
    """Return the capacitance that an output side lays at its output.

    Parameters
    ----------
    load : Load
        The output side.

    Returns
    -------
    float or None
        The load capacitance, or gate charge over the swing that moves it; None where there is no place for one [F].

    Notes
    -----
    A gate takes its charge in a straight line over its voltage; the plateau while the drain moves is left aside.
    """
    if load.kind == "gate":
        return load.QG / max(load.VCC - load.VEE, 1.0)
    return getattr(load, "C_load", None)


def coiled(circuit, stage, rest, which, since):
    """Return the circuits with a relay's coil in place of its resistance, and its eddy currents beside it.

    Parameters
    ----------
    circuit : Netlist
        The circuits.
    stage : Stage
        What they were taken from.
    rest : Solution
        Where the whole stage rests.
    which : ndarray of int, shape (batch,)
        Place of every circuit among the members of a state [-].
    since : ndarray of int, shape (batch,)
        Place in the stage whose current the coil begins with [-].

    Returns
    -------
    Netlist
        The circuits; other stages than those with a relay as they are.

    Notes
    -----
    Iron damps what would else swing between the winding and its capacitance; here without overshoot.

    References
    ----------
    Common practice, no source.
    """
    load = stage.scenarios[0].output
    if load.kind != "relay":
        return circuit
    R = winding(stage.varied[_COIL], stage.varied["TA"])[which]
    coil = Coil(_COIL, "VCC", "C2", np.full(circuit.batch, load.L_coil), R, resistor_current(stage, rest, _COIL)[since])
    lost = 1.0 / np.maximum(_DAMPED * np.sqrt(load.L_coil / STRAY), _LITTLE * R)
    resistors = tuple(replace(r, G=lost) if r.part == _COIL else r for r in circuit.resistors)
    return replace(circuit, resistors=resistors, stores=(*circuit.stores, coil))


def resistor_current(stage, rest, part):
    """Return the current of the first resistor of a part.

    Parameters
    ----------
    stage : Stage
        The circuits.
    rest : Solution
        Their operating points.
    part : str
        The part.

    Returns
    -------
    ndarray, shape (2 count,)
        Current [A].
    """
    pairs = zip(stage.netlist.resistors, rest.resistor_currents, strict=True)
    return next(current for resistor, current in pairs if resistor.part == part)


def strays(circuit):
    """Yield a stray capacitance at every node that nothing holds and nothing else charges, and at a floating filter.

    Parameters
    ----------
    circuit : Netlist
        The circuits, with all else that they store.

    Yields
    ------
    Capacitor
        Against the reference of its side. On the output side only the output has one: other nodes there follow it.

    Notes
    -----
    While a contact is open both ends of a filter capacitor float. Beside a large one, double precision sees nothing
    else that would tell where they are.
    """
    stored = {node for store in circuit.stores for node in (store.a, store.b)}
    held = {node for node, _ in circuit.sources.values()}
    for node, side in circuit.nodes.items():
        if (side == "input" or node == "OUT") and node not in stored | held:
            yield Capacitor("stray", node, circuit.references[side], np.full(circuit.batch, _STRAY))
    for store in circuit.stores:
        if store.part == "CF" and store.b in circuit.nodes and store.b not in held:
            anchor = np.maximum(_STRAY, _SEEN * store.C)
            yield Capacitor("stray", store.b, circuit.references["input"], anchor)


class Watch:
    """What is read at the output, its limits and where it rests, for every edge of a batch.

    Parameters
    ----------
    stage : Stage
        The circuits that edges go between.
    rest : Solution
        Where they rest.
    to : ndarray of int, shape (batch,)
        Place in the stage of the state that is gone to [-].
    since : ndarray of int, shape (batch,)
        Place of the state that is left [-].

    Notes
    -----
    `rises` tells whether the level that is gone to is the upper one; `low` and `high` are up to what the lower and from
    what on the upper level is surely read; `begin` and `end` what is read where the edge begins and where it comes to
    rest: arrays of shape (batch,) [V or A].
    """

    def __init__(self, stage, rest, to, since):
        self.load, count = stage.scenarios[0].output, stage.count
        self.varied = {name: array[to % count] for name, array in stage.varied.items()}
        self.rises = (to < count) == (self.load.level_when_lit == self.load.words[2])
        self.low, self.high = self._limits()
        if self.load.observed == "IL":
            # Down to the junction of an indicator, as resistors in series are one to the solver.
            self.R = sum(1.0 / r.G[to] for r in stage.netlist.resistors if r.part in ("RL", "D1"))
        coils = {_COIL: resistor_current(stage, rest, _COIL)} if self.load.kind == "relay" else {}
        self.begin, self.end = (
            self(*({name: array[at] for name, array in found.items()} for found in (rest.voltages, coils)))
            for at in (since, to)
        )

    def __call__(self, nodes, coils=None):
        """Return what is read.

        Parameters
        ----------
        nodes : dict of str to ndarray, shape (..., batch)
            Potential of every node that is solved for [V].
        coils : dict of str to ndarray, shape (..., batch), or None
            Current of every coil, by part [A].

        Returns
        -------
        ndarray, shape (..., batch)
            Voltage at a receiver, a gate, a load; current of an indicator; of a relay the voltage at rest that its
            coil's current stands for, as the armature feels that [V or A].
        """
        nodes = nodes | {"VCC": self.varied["VCC"], self.load.reference: 0.0}
        if self.load.kind == "relay":
            return coils[_COIL] * winding(self.varied[_COIL], self.varied["TA"])
        if self.load.observed == "VG":
            return nodes["G2"]
        if self.load.observed == "VOUT":
            return nodes["OUT"]
        if self.load.observed == "VIN":
            a, b = self.load.across
            return nodes[a] - nodes[b]
        return (nodes["VCC"] - nodes["D1J"]) / self.R

    def _limits(self):
        """Return up to what it surely reads low, and from what on high."""
        load, one = self.load, np.ones_like(self.varied["VCC"])
        if load.kind == "relay":
            return tuple(limit * one for limit in load.limits(self.varied["TA"]))
        if load.kind == "dc-load":
            return load.share_off * load.VCC * one, load.share_on * load.VCC * one
        if load.observed == "VG":
            return load.V_gate_off * one, load.V_gate_on * one
        if load.observed == "IL":
            return load.I_dark * one, load.I_lit * one
        return load.limits(self.varied["VCC" if load.observed == "VOUT" else "A1"])
