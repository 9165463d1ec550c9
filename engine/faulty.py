"""Faults put into the circuits of a stage: one batch for all that leave it wired alike, one for each that do not.

Every part that may be shorted has a conductance beside it from the start, next to none in a sound circuit, and an npn
transistor has one in its collector lead; so most faults are other numbers in the same circuit.
"""

from dataclasses import dataclass, fields, is_dataclass, replace

import numpy as np

from engine.circuit import (
    Detector,
    Junction,
    LightPath,
    LimitedInput,
    Mosfet,
    Netlist,
    Storage,
    TabledSource,
    ThresholdPath,
)
from engine.circuit.elements import Resistor
from engine.faults import BAD_CONTACT, DECADE, DRIFT, FADED, LEAK, LOW_SUPPLY, TIRED

_OPEN = 1e-14  # [S], what is left of a part that is open: 10 Mohm of a meter read 10 uV of 100 V through it
_SHORT = 1e2  # [S], what lies across a part that is shorted
_LEAD = 1e2  # [S], of a collector lead that holds
_NEVER = 1e9  # [A], LED current from which a locked-out coupler would be lit
_TIMES = {"high": 1.0 / DRIFT, "low": DRIFT, "tenfold": 1.0 / DECADE, "tenth": DECADE}  # conductance
_VOLTS = {"missing": 0.0, "sagging": LOW_SUPPLY, "polarity": -1.0}
_REWIRED = ("reversed", "exchanged")


@dataclass(frozen=True, slots=True)
class Batch:
    """Faults whose circuits are of one shape.

    Attributes
    ----------
    faults : tuple of Fault
        What is wrong, one after the other.
    netlist : Netlist
        The circuits of the first fault, closed then open, then those of the second.
    """

    faults: tuple
    netlist: Netlist


def faulty(stage, faults):
    """Return the circuits of a stage with each of many faults.

    Parameters
    ----------
    stage : Stage
        Circuits of one scenario, closed then open.
    faults : sequence of Fault
        Of `engine.faults.faults_of`, or `engine.faults.GOOD`.

    Returns
    -------
    tuple of Batch
        As few as the faults leave shapes of circuits; every fault once.

    Notes
    -----
    An open part keeps 10 fS, as lies across every sound one; a shorted one gets 10 milliohm across it. No part breaks
    down: an LED the wrong way round blocks whatever the supply. A bridged barrier changes nothing: sides that have no
    other conductor in common float against each other, so no reading on one side tells of the bridge.
    """
    shapes = {}
    for fault in faults:
        shapes.setdefault((fault.kind, fault.part) if fault.kind in _REWIRED else None, []).append(fault)
    ready = _prepared(stage)
    return tuple(_batch(stage, ready, tuple(some)) for some in shapes.values())


def _batch(stage, ready, faults):
    """Return the circuits of faults of one shape."""
    netlist = _rewired(stage.scenarios[0], ready, faults[0])
    edit = _Edit(stage, netlist.take(np.tile(np.arange(netlist.batch), len(faults))))
    for k, fault in enumerate(faults):
        if fault.kind not in (*_REWIRED, "good", "bridged"):
            edit.put(fault, k * netlist.batch)
    return Batch(faults, edit.netlist)


def _prepared(stage):
    """Return the circuits with what a fault may need beside every part and in every collector lead."""
    netlist, none = stage.netlist, np.full(stage.netlist.batch, _OPEN)
    nodes, devices, leads = dict(netlist.nodes), [], []
    for device in netlist.devices:
        if isinstance(device, Detector) and device.part != "U1":
            pin = f"{device.part}PJ"
            nodes[pin] = nodes[device.collector]
            leads.append(Resistor(f"{device.part} lead", device.collector, pin, np.full(netlist.batch, _LEAD)))
            device = replace(device, collector=pin)
        devices.append(device)
    patches = {frozenset(pair): Resistor(f"{part} patch", *pair, none) for part, pair in _patches(stage).items()}
    return replace(
        netlist, nodes=nodes, devices=tuple(devices), resistors=(*netlist.resistors, *leads, *patches.values())
    )


def _patches(stage):
    """Return part to the pair of nodes that a short of it joins."""
    scenario, netlist = stage.scenarios[0], stage.netlist
    found = {resistor.part: (resistor.a, resistor.b) for resistor in reversed(netlist.resistors)}
    for device in netlist.devices:
        if isinstance(device, Detector | Mosfet):
            first, last = device.branches[0][0], device.branches[0][1]
            found[device.part] = (getattr(device, "collector", first), last)
        elif not isinstance(device, LightPath | ThresholdPath):
            found.setdefault(device.part, tuple(device.branches[0]))
    found |= {part: pair for part, pair in scenario.input.terminals.items() if part in found}
    found |= {part: pair for part, pair in scenario.output.terminals.items() if part in found}
    found |= {"LED": scenario.input.led, "U1": scenario.output.detector}
    if "OUT" in netlist.nodes:
        found |= {"RX": ("OUT", netlist.references["output"]), "RX high": ("OUT", "VCC")}
    return {part: pair for part, pair in found.items() if pair[0] != pair[1]}


# ---------------------------------------------------------------- faults of another shape


def _rewired(scenario, netlist, fault):
    """Return the circuits with a part's leads exchanged, where that is the fault."""
    if fault.kind not in _REWIRED:
        return netlist
    if fault.kind == "exchanged":
        a, b = scenario.output.detector
        devices = [
            _mapped(device, {a: b, b: a}) if isinstance(device, Detector) and device.part == "U1" else device
            for device in netlist.devices
        ]
        return replace(netlist, devices=tuple(devices))
    load, side = scenario.output, scenario.input
    a, b = (
        side.led if fault.part == "LED" else (side.terminals | load.terminals).get(fault.part) or _ends(netlist, fault)
    )
    turned = {a: b, b: a}
    resistors = tuple(_mapped(r, turned) if r.part == fault.part else r for r in netlist.resistors)
    devices = [_mapped(device, turned) if device.part == fault.part else device for device in netlist.devices]
    if fault.part == "LED":
        devices = [_seen_by(device, turned) for device in devices]
    return replace(netlist, resistors=resistors, devices=tuple(devices))


def _ends(netlist, fault):
    """Return the outer nodes of a part that is a chain of elements."""
    pairs = [(r.a, r.b) for r in netlist.resistors if r.part == fault.part]
    pairs += [tuple(d.branches[0]) for d in netlist.devices if d.part == fault.part]
    outer = [node for pair in pairs for node in pair if not node.endswith("J")]
    return tuple(dict.fromkeys(outer))[:2]


def _mapped(element, nodes):
    """Return an element with its nodes renamed."""
    names = {
        f.name: nodes[value]
        for f in fields(element)
        if f.name != "part" and isinstance(value := getattr(element, f.name), str) and value in nodes
    }
    return replace(element, **names)


def _seen_by(device, nodes):
    """Return a device that looks at an LED, whose anode and cathode are renamed."""
    if not isinstance(device, LightPath | ThresholdPath):
        return device
    anode, cathode = nodes.get(device.anode, device.anode), nodes.get(device.cathode, device.cathode)
    return replace(device, anode=anode, cathode=cathode)


# ---------------------------------------------------------------- faults that are other numbers


class _Edit:
    """Changes the numbers of some circuits of a batch, whose arrays are its own."""

    def __init__(self, stage, netlist):
        self.stage, self.netlist, self.size = stage, netlist, stage.netlist.batch
        self.patches = {frozenset((r.a, r.b)): r for r in netlist.resistors if r.part.endswith(" patch")}
        self.pairs = {part: frozenset(pair) for part, pair in _patches(stage).items()}

    def put(self, fault, first):
        """Put a fault into the circuits from `first` on."""
        rows, part, kind = slice(first, first + self.size), fault.part, fault.kind
        if kind in _TIMES:
            for resistor in self._resistors(part):
                resistor.G[rows] *= _TIMES[kind]
        elif kind in _VOLTS:
            self._supply(part, rows, _VOLTS[kind])
        elif kind in ("stuck-on", "stuck-off"):
            self._stick(part, first, kind == "stuck-on")
        elif kind == "resistive":
            for resistor in self._resistors(part):
                closed = slice(first, first + self.size // 2)
                resistor.G[closed] = np.minimum(resistor.G[closed], 1.0 / BAD_CONTACT)
        elif kind == "open":
            self._open(part, rows)
        elif kind == "faded":
            for capacitor in self._devices(part, Storage):
                capacitor.G[rows] *= FADED
        elif kind == "tired":
            self._tire(rows)
        elif part == "VD":
            self.netlist.sources["VD"][1][rows] = 0.0
        else:
            self._patch(part, kind, rows)

    def _resistors(self, part):
        return [resistor for resistor in self.netlist.resistors if resistor.part == part]

    def _devices(self, part, *kinds):
        return [d for d in self.netlist.devices if d.part == part and isinstance(d, kinds or object)]

    def _patch(self, part, kind, rows):
        """Let a conductance lie across a part."""
        G = 1.0 / (LEAK * np.tile(self.stage.RL, 2)) if kind == "leaky" else _SHORT
        self.patches[self.pairs["RX high" if kind == "pulled-high" else part]].G[rows] = G

    def _open(self, part, rows):
        """Let nothing flow through a part."""
        leads = self._resistors(f"{part} lead")
        through = [] if part == "U1" else leads or self._resistors(part)
        for resistor in through:
            resistor.G[rows] = np.minimum(resistor.G[rows], _OPEN)
        if through and part != "Q3":  # a triac's gate goes with it
            return
        for device in self._devices(part):
            _opened(device, rows)

    def _tire(self, rows):
        """Leave a fifth of the light."""
        for path in self._devices("U1", LightPath):
            path.law.ratio[rows] /= TIRED
        for path in self._devices("U1", ThresholdPath):
            path.params.IF_on[rows] *= TIRED

    def _supply(self, part, rows, share):
        """Let a supply have another voltage."""
        for source in self._devices(part, TabledSource):
            if share:
                source.params.stretch[rows] *= share
            else:
                source.params.share[rows] = 0.0
        if part in self.netlist.sources:
            self.netlist.sources[part][1][rows] *= share
        if part == "VCC" and "UVLO" in self.stage.varied:
            locked = self.netlist.sources[part][1][rows] < np.tile(self.stage.varied["UVLO"], 2)
            for path in self._devices("U1", ThresholdPath):
                path.params.IF_on[rows] = np.where(locked, _NEVER, path.params.IF_on[rows])

    def _stick(self, part, first, on):
        """Let a switch have in both states what it has in one."""
        half = self.size // 2
        closed, opened = slice(first, first + half), slice(first + half, first + self.size)
        to, of = (opened, closed) if on else (closed, opened)
        for array in self._numbers(part):
            array[to] = array[of]

    def _numbers(self, part):
        """Yield every array of a switch: of its elements, and of the logic that drives it."""
        for name in (part, "VD") if part == "Q1" else (part,):
            if name in self.netlist.sources and name != "VS":
                yield self.netlist.sources[name][1]
            yield from (resistor.G for resistor in self._resistors(name))
            for device in self._devices(name):
                yield from _arrays(device)


def _arrays(record):
    """Yield the arrays of a record and of the records within it."""
    for f in fields(record):
        value = getattr(record, f.name)
        if isinstance(value, np.ndarray):
            yield value
        elif is_dataclass(value):
            yield from _arrays(value)


def _opened(device, rows):
    """Let nothing flow through a device that has no lead of its own."""
    if isinstance(device, LightPath):
        device.law.ratio[rows] = 0.0
    elif isinstance(device, Detector):
        device.params.I_dark[rows] = 0.0
    elif isinstance(device, ThresholdPath):
        device.params.G_lit[rows] = device.params.G_dark[rows] = _OPEN
    elif isinstance(device, Junction):
        device.params.IS[rows] = 0.0
    elif isinstance(device, Mosfet):
        device.params.K[rows] *= _OPEN
    elif isinstance(device, LimitedInput):
        device.params.R[rows] /= _OPEN
    elif isinstance(device, Storage):
        device.G[rows] = 0.0
