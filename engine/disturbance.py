"""Stages while the ground of their input side moves against that of the output: what flows through the barrier.

Any states, corners and slopes as one batch; what is read at the output over time and what the LED carries.
"""

from dataclasses import dataclass, replace

import numpy as np

from engine.build import build_all
from engine.circuit import Capacitor, Detector, Junction, solve, transient
from engine.circuit.injection import Injection
from engine.devices import JunctionParams, junction
from engine.edges import charged, corners_of, time_constants
from engine.watched import Watch, load_capacitance

USUAL_C = 0.6e-12
"""Capacitance of a barrier whose card states none; common practice, no source [F]."""

USUAL_SHARE, SCREENED_SHARE = 0.05, 0.005
"""Shares of a barrier's current that land in the base, without and with a screen over the detector; common practice,
no source [-]."""

_FINE, _ROUGH = 1e-3, 2e-2  # [V], error of a step: to be shown; while a slope is searched for
_LONG, _BRIEF = 20.0, 1.0  # [-], time constants that the rest is followed: to be shown; while a slope is searched for
_EXTENSIONS = 2  # times that the rest is followed on, each time four times as long
_BREAKDOWN, _ABOVE_REST = 6.0, 1.0  # [V], reverse voltage at which a base-emitter junction gives way; common practice
_UNMOVED = 1e-3  # [F], capacitance that no charge of a step moves, as good as any larger one
_WIRE = 1e-12  # [F], of a lead of the LED; common practice
_AT_KNEE, _SOFT = 1e-3, 0.1  # [A, V], current there, and the voltage over which it grows e-fold
_CLAMP, _CLAMP_SOFT = 0.7, 0.03  # [V], of a receiver's input diode to common at 1 mA, as every family has it; likewise


@dataclass(frozen=True, slots=True)
class Barrier:
    """What couples through the barrier, and where it lands.

    Attributes
    ----------
    C : float
        Capacitance between input and output [F].
    base : float
        Share of its current that lands in the detector's base [-].
    anode : float
        Share of it that leaves the input side at the LED's anode; the rest at its cathode [-].
    collector : float
        Share, of what does not land in the base, that lands at the collector; the rest at the emitter [-].

    References
    ----------
    Even shares of both leads of a side: common practice, no source.
    """

    C: float = USUAL_C
    base: float = USUAL_SHARE
    anode: float = 0.5
    collector: float = 0.5


@dataclass(frozen=True, slots=True)
class Runs:
    """Which circuits of a batch go through which step.

    Attributes
    ----------
    stage : ndarray of int, shape (runs,)
        Which of the stages [-].
    lit : ndarray of bool, shape (runs,)
        Whether the LED is meant to be lit.
    member : ndarray of int, shape (runs,)
        Which of its members, 0 the nominal one [-].
    slope : ndarray, shape (runs,)
        Slope of the input's ground against the output's, of either sign [V/s].
    """

    stage: np.ndarray
    lit: np.ndarray
    member: np.ndarray
    slope: np.ndarray


@dataclass(frozen=True, slots=True)
class Courses:
    """How circuits went through a step.

    Attributes
    ----------
    t : ndarray, shape (steps, runs)
        Time from the beginning of the ramp, repeated where a circuit waited for others [s].
    y : ndarray, shape (steps, runs)
        What is read at the output [V or A].
    IF : ndarray, shape (steps, runs)
        Current that makes light, of the LED or of the brighter one of a pair [A].
    VR : ndarray, shape (steps, runs)
        Reverse voltage of the LED's junction, negative while it conducts; of a pair the smaller one [V].
    limit : ndarray, shape (runs,)
        Limit of the level that the state has [V or A].
    other : ndarray, shape (runs,)
        Limit of the other level [V or A].
    upper : ndarray of bool, shape (runs,)
        Whether the state's level is the upper one.
    charge : ndarray, shape (runs, 3)
        Charge that went over the barrier into base, collector and emitter [C].
    """

    t: np.ndarray
    y: np.ndarray
    IF: np.ndarray
    VR: np.ndarray
    limit: np.ndarray
    other: np.ndarray
    upper: np.ndarray
    charge: np.ndarray

    @property
    def room(self):
        """Return how far inside the limit of its level the output is, negative beyond it, shape (steps, runs)."""
        return (self.y - self.limit) * np.where(self.upper, 1.0, -1.0)

    @property
    def wrong(self):
        """Return how far inside the limit of the other level it is, negative short of it, shape (steps, runs)."""
        return (self.other - self.y) * np.where(self.upper, 1.0, -1.0)


class Disturbed:
    """Stages that are wired alike, ready to be led through steps.

    Parameters
    ----------
    scenarios : tuple of Scenario
        The stages, of one `engine.build.wiring`.
    barriers : tuple of Barrier
        What couples through the barrier of each.
    draw : object or None
        What makes the members; the corners that are extreme for speed if None.
    """

    def __init__(self, scenarios, barriers, draw=None):
        self.scenarios, self.barriers = scenarios, barriers
        self.stage = build_all(scenarios, draw or corners_of(scenarios[0]))
        self.rest = solve(self.stage.netlist)
        self.members = self.stage.members
        self.CL = np.repeat([load_capacitance(scenario.output) or 0.0 for scenario in scenarios], self.members)

    def follow(self, runs, dV, brief=False):
        """Return how circuits go through a step and come to rest again.

        Parameters
        ----------
        runs : Runs
            The circuits.
        dV : float
            Size of the step [V].
        brief : bool
            Whether the greatest disturbance alone matters, not how long it takes to be over.

        Returns
        -------
        Courses
            What is read and what the LED carries.

        Raises
        ------
        ConvergenceError
            If the solver fails, which is a defect.
        """
        place = runs.stage * self.members + runs.member
        index = place + np.where(runs.lit, 0, self.stage.count)
        circuit, read = self._circuit(index, place), Watch(self.stage, self.rest, index, index)
        limit, other = (np.where(read.rises == upper, read.high, read.low) for upper in (True, False))
        pairs, currents = self._paths(runs)
        lasting, accuracy = dV / np.abs(runs.slope), (_ROUGH if brief else _FINE) / _largest(circuit)
        until = (_BRIEF if brief else _LONG) * time_constants(self.stage, circuit, self.CL)[place]
        start = {node: volts[index] for node, volts in self.rest.voltages.items()}
        way = _Way(circuit, start, accuracy)
        way.go(pairs, currents, lasting)
        for _ in range(1 if brief else 1 + _EXTENSIONS):
            way.go(pairs, 0.0 * currents, until)
            y = read(way.found(1))
            if (np.where(read.rises, 1.0, -1.0) * (y[-1] - limit) >= 0.0).all():
                break
            until = 4.0 * until
        nodes = way.found()
        IF, VR = _led(circuit, nodes)
        charge = currents[:, 2:] * way.times[0][-1][:, None]
        return Courses(np.concatenate(way.times), read(nodes), IF, VR, limit, other, read.rises, charge)

    def _circuit(self, index, place):
        """Return the circuits with all that they store, and with what gives way in them."""
        circuit = charged(self.stage, self.rest, index, index, self.CL[place])
        stores = (_no_larger(store) for store in circuit.stores)
        circuit = replace(circuit, stores=(*stores, *self._wires(circuit)))
        volts = {node: v[index] for node, v in self.rest.voltages.items()}
        return replace(circuit, devices=(*circuit.devices, *_breakdowns(circuit, volts), *self._clamps(circuit)))

    def _wires(self, circuit):
        """Yield what the wires of the LED's leads have against the return, so that a lead that hangs free moves."""
        side, held = self.scenarios[0].input, {node for node, _ in circuit.sources.values()}
        for node in sorted({*side.led} - held - {side.reference}):
            yield Capacitor("wire", node, side.reference, np.full(circuit.batch, _WIRE))

    def _clamps(self, circuit):
        """Yield the diode of a logic input that keeps it from going far below common."""
        load = self.scenarios[0].output
        if load.observed == "VOUT":
            knee = np.full(circuit.batch, _CLAMP)
            yield _giving_way("RX", load.reference, "OUT", knee, _CLAMP_SOFT)

    def _paths(self, runs):
        """Return between which nodes the barrier's current flows, and how much in every run while the ramp lasts."""
        first, shares = self.scenarios[0], np.array([(b.C, b.base, b.anode, b.collector) for b in self.barriers])
        C, base, anode, collector = shares[runs.stage].T
        i, beside = C * runs.slope, 1.0 - base
        (led, cathode), (high, low) = first.input.led, first.output.detector
        back, common = first.input.reference, first.output.reference
        pairs = (led, back), (cathode, back), (common, "B"), (common, high), (common, low)
        parts = (anode, 1.0 - anode, base, beside * collector, beside * (1.0 - collector))
        return pairs, np.stack([i * part for part in parts], axis=1)


class _Way:
    """How a batch goes on, one segment after the other."""

    def __init__(self, circuit, start, accuracy):
        self.circuit, self.accuracy = circuit, accuracy
        self.volts, self.passed = start, np.zeros(circuit.batch)
        self.times, self.nodes = [], []

    def go(self, pairs, currents, until):
        """Go on for a while, constant currents flowing from outside."""
        injected = Injection("barrier", pairs, currents)
        driven = replace(self.circuit, devices=(*self.circuit.devices, injected))
        course = transient(driven, self.volts, until, self.accuracy)
        steps = np.ones((len(course.t), 1))
        held = {node: steps * volts for node, volts in self.volts.items() if node not in course.voltages}
        self.times.append(self.passed + course.t)
        self.nodes.append(held | course.voltages)
        self.passed = self.passed + until
        self.volts = {node: volts[-1] for node, volts in self.nodes[-1].items()}

    def found(self, last=0):
        """Return the potentials of all segments, or of so many last ones."""
        return {node: np.concatenate([part[node] for part in self.nodes[-last:]]) for node in self.nodes[0]}


def _no_larger(store):
    """Return what is stored, a capacitor no larger than one that no step moves."""
    return replace(store, C=np.minimum(store.C, _UNMOVED)) if isinstance(store, Capacitor) else store


def _largest(circuit):
    """Return the largest source, at least one volt [V]."""
    return max(1.0, *(float(np.abs(volts).max()) for _, volts in circuit.sources.values()))


def _breakdowns(circuit, volts):
    """Yield what conducts where a base is drawn far below its emitter, beyond anything that it has at rest."""
    for device in circuit.devices:
        if isinstance(device, Detector):
            at_rest = volts[device.emitter] - volts[device.base]
            knee = np.maximum(_BREAKDOWN, at_rest + _ABOVE_REST)
            yield _giving_way(device.part, device.emitter, device.base, knee, _SOFT)


def _giving_way(part, a, b, knee, soft):
    """Return what conducts 1 mA from one node to the other at a voltage, and next to nothing below it."""
    return Junction(part, a, b, JunctionParams(_AT_KNEE * np.exp(-knee / soft), np.full_like(knee, soft)), knee)


def _led(circuit, nodes):
    """Return the current that makes light and the reverse voltage of the LED's junction, shape (steps, runs)."""
    found = []
    for device in circuit.devices:
        if isinstance(device, Junction) and device.part == "LED":
            volts = nodes[device.anode] - nodes[device.cathode]
            found.append((junction(volts, device.params)[0], -volts))
    currents, reverse = zip(*found, strict=True)
    return np.maximum.reduce(currents), np.minimum.reduce(reverse)
