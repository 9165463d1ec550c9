"""Elements of a circuit: device equations tied to nodes.

A device names the voltages it is controlled by and the branches it drives current through; the solver needs
nothing else. Several elements may belong to one part (an LED is a junction with a resistance).
"""

from dataclasses import dataclass, fields, replace
from typing import ClassVar

import numpy as np

from engine.devices import (
    DetectorParams,
    JunctionParams,
    LimitedInputParams,
    MosfetParams,
    PhotoLaw,
    TabledParams,
    ThresholdParams,
    detector,
    junction,
    limited_input,
    mosfet,
    photocurrent,
    tabled,
    threshold,
)

_EASY = 0.3  # [-], share of an input's current limit up to which it hardly matters
_BOUNDLESS = 1e9  # [V], scale of a voltage that the current is proportional to
_HAIR = 1e-9  # [-], by how much an iteration stops short of where a table ends, beyond any rounding


def pick(params, index):
    """Return a parameter record with its batch arrays indexed.

    Parameters
    ----------
    params : dataclass
        Record whose ndarray fields have the batch axis first.
    index : ndarray
        Indices or mask along the batch axis [-].

    Returns
    -------
    dataclass
        The same kind of record.
    """
    arrays = {f.name: getattr(params, f.name) for f in fields(params)}
    return replace(params, **{name: a[index] for name, a in arrays.items() if isinstance(a, np.ndarray)})


@dataclass(frozen=True, slots=True)
class Resistor:
    """A linear conductance between two nodes.

    Attributes
    ----------
    part : str
        The part it belongs to.
    a : str
        Node the current enters by when it is positive.
    b : str
        The other node.
    G : ndarray, shape (batch,)
        Conductance; 0 is an open circuit [S].
    """

    part: str
    a: str
    b: str
    G: np.ndarray


@dataclass(frozen=True, slots=True)
class Junction:
    """A pn junction from `anode` to `cathode`.

    Attributes
    ----------
    part : str
        The part it belongs to.
    anode : str
        Node name.
    cathode : str
        Node name.
    params : JunctionParams
        Parameters, fields of shape (batch,).
    knee : ndarray, shape (batch,)
        Voltage to begin the iteration with, and below which steps are not limited [V].
    """

    part: str
    anode: str
    cathode: str
    params: JunctionParams
    knee: np.ndarray

    turning: ClassVar[tuple] = (False,)
    """Whether the current curves the other way below zero of each controlling voltage."""

    steep: ClassVar[tuple] = (False,)
    """Whether the current asks for each controlling voltage to the last digit."""

    @property
    def controls(self):
        """Return the node pairs of the controlling voltages."""
        return ((self.anode, self.cathode),)

    @property
    def branches(self):
        """Return the node pairs of the branches."""
        return ((self.anode, self.cathode),)

    @property
    def shunts(self):
        """Return the node pairs that must not be left without any conductance."""
        return self.branches

    def start(self):
        """Return the voltages to begin with.

        Returns
        -------
        ndarray, shape (batch, controls)
            Controlling voltages [V].
        """
        return self.knee[:, None]

    def evaluate(self, v):
        """Return the branch currents and their derivatives.

        Parameters
        ----------
        v : ndarray, shape (batch, controls)
            Controlling voltages [V].

        Returns
        -------
        currents : ndarray, shape (batch, branches)
            Branch currents [A].
        jacobian : ndarray, shape (batch, branches, controls)
            Their derivatives [S].
        """
        current, conductance = junction(v[:, 0], self.params)
        return current[:, None], conductance[:, None, None]

    def limits(self):
        """Return what bounds an iteration's step; without saturation current nothing does.

        Returns
        -------
        scale : ndarray, shape (batch, controls)
            Voltage over which the current grows e-fold [V].
        knee : ndarray, shape (batch, controls)
            Voltage that a rising step may always reach [V].
        """
        return self.params.nVT[:, None], np.where(self.params.IS > 0, self.knee, np.inf)[:, None]

    def take(self, index):
        """Return the element for a part of the batch.

        Parameters
        ----------
        index : ndarray
            Indices or mask along the batch axis [-].

        Returns
        -------
        Junction
            The same kind of element.
        """
        return replace(self, params=pick(self.params, index), knee=self.knee[index])


@dataclass(frozen=True, slots=True)
class LightPath:
    """Photocurrent into a detector's base, controlled by the junction voltage of an LED.

    Attributes
    ----------
    part : str
        The part it belongs to.
    anode : str
        Node of the LED junction.
    cathode : str
        Node of the LED junction.
    collector : str
        Inner collector node that the photocurrent leaves.
    base : str
        Base node that it enters.
    led : JunctionParams
        The LED's junction, fields of shape (batch,).
    law : PhotoLaw
        The light path, fields of shape (batch,).
    knee : ndarray, shape (batch,)
        As that of the LED's junction [V].
    """

    part: str
    anode: str
    cathode: str
    collector: str
    base: str
    led: JunctionParams
    law: PhotoLaw
    knee: np.ndarray

    turning: ClassVar[tuple] = (False,)
    """Whether the current curves the other way below zero of each controlling voltage."""

    steep: ClassVar[tuple] = (False,)
    """Whether the current asks for each controlling voltage to the last digit."""

    @property
    def controls(self):
        """Return the node pairs of the controlling voltages."""
        return ((self.anode, self.cathode),)

    @property
    def branches(self):
        """Return the node pairs of the branches."""
        return ((self.collector, self.base),)

    @property
    def shunts(self):
        """Return the node pairs that must not be left without any conductance."""
        return ()

    def start(self):
        """Return the voltages to begin with, shape (batch, 1)."""
        return self.knee[:, None]

    def evaluate(self, v):
        """Return branch currents (batch, 1) and their jacobian (batch, 1, 1) at control voltages (batch, 1)."""
        IF, conductance = junction(v[:, 0], self.led)
        current, slope = photocurrent(IF, self.law)
        return current[:, None], (slope * conductance)[:, None, None]

    def limits(self):
        """Return scale and knee of the step limit, each (batch, 1)."""
        return self.led.nVT[:, None], self.knee[:, None]

    def take(self, index):
        """Return the element for a part of the batch."""
        return replace(self, led=pick(self.led, index), law=pick(self.law, index), knee=self.knee[index])


@dataclass(frozen=True, slots=True)
class Detector:
    """The junctions of a phototransistor.

    Attributes
    ----------
    part : str
        The part it belongs to.
    collector : str
        Collector terminal.
    inner : str
        Inner end of the collector region.
    base : str
        Base node.
    emitter : str
        Emitter terminal.
    params : DetectorParams
        Parameters, fields of shape (batch,).
    guess : ndarray, shape (batch, 3)
        Control voltages to begin the iteration with [V].
    """

    part: str
    collector: str
    inner: str
    base: str
    emitter: str
    params: DetectorParams
    guess: np.ndarray

    turning: ClassVar[tuple] = (False, True, False)
    """Whether the current curves the other way below zero of each controlling voltage."""

    steep: ClassVar[tuple] = (False, False, False)
    """Whether the current asks for each controlling voltage to the last digit."""

    @property
    def controls(self):
        """Return the node pairs of the controlling voltages."""
        return (self.base, self.emitter), (self.base, self.inner), (self.base, self.collector)

    @property
    def branches(self):
        """Return the node pairs of the branches."""
        return (
            (self.inner, self.emitter),
            (self.base, self.emitter),
            (self.base, self.inner),
            (self.collector, self.inner),
        )

    @property
    def shunts(self):
        """Return the node pairs that must not be left without any conductance."""
        return (self.inner, self.emitter), (self.base, self.emitter)

    def start(self):
        """Return the voltages to begin with, shape (batch, 3)."""
        return self.guess

    def evaluate(self, v):
        """Return branch currents (batch, 4) and their jacobian (batch, 4, 3) at control voltages (batch, 3)."""
        return detector(v[:, 0], v[:, 1], v[:, 2], self.params)

    def limits(self):
        """Return scale and knee of the step limit, each (batch, 3)."""
        forward = self.guess[:, 0]
        most = forward - self.params.VT * np.log(self.params.beta_F / self.params.beta_R)
        reverse = np.maximum(most, self.guess[:, 1])
        return np.repeat(self.params.VT[:, None], 3, axis=1), np.stack((forward, reverse, reverse), axis=1)

    def take(self, index):
        """Return the element for a part of the batch."""
        return replace(self, params=pick(self.params, index), guess=self.guess[index])


@dataclass(frozen=True, slots=True)
class Mosfet:
    """An enhancement MOSFET that switches.

    Attributes
    ----------
    part : str
        The part it belongs to.
    drain : str
        Node name.
    gate : str
        Node name; no current flows into it.
    source : str
        Node name.
    params : MosfetParams
        Parameters, fields of shape (batch,).
    """

    part: str
    drain: str
    gate: str
    source: str
    params: MosfetParams

    turning: ClassVar[tuple] = (False, False)
    """Whether the current curves the other way below zero of each controlling voltage."""

    steep: ClassVar[tuple] = (True, True)
    """Whether the current asks for each controlling voltage to the last digit."""

    @property
    def controls(self):
        """Return the node pairs of the controlling voltages."""
        return (self.gate, self.source), (self.drain, self.source)

    @property
    def branches(self):
        """Return the node pairs of the branches."""
        return ((self.drain, self.source),)

    @property
    def shunts(self):
        """Return the node pairs that must not be left without any conductance."""
        return self.branches

    def start(self):
        """Return the voltages to begin with, shape (batch, 2)."""
        return np.zeros((len(self.params.K), 2))

    def evaluate(self, v):
        """Return branch currents (batch, 1) and their jacobian (batch, 1, 2) at control voltages (batch, 2)."""
        current, by_gate, by_drain = mosfet(v[:, 0], v[:, 1], self.params)
        return current[:, None], np.stack((by_gate, by_drain), axis=1)[:, None, :]

    def limits(self):
        """Return scale and knee of the step limit, each (batch, 2); the current grows too slowly to need one."""
        return np.full((len(self.params.K), 2), _BOUNDLESS), np.zeros((len(self.params.K), 2))

    def take(self, index):
        """Return the element for a part of the batch."""
        return replace(self, params=pick(self.params, index))


@dataclass(frozen=True, slots=True)
class ThresholdPath:
    """A conductance that turns on when the current of an LED junction reaches a threshold.

    Attributes
    ----------
    part : str
        The part it belongs to.
    anode : str
        Node of the LED junction.
    cathode : str
        Node of the LED junction.
    a : str
        Node the switched current enters by when it is positive.
    b : str
        The other node.
    params : ThresholdParams
        Parameters, fields of shape (batch,).
    knee : ndarray, shape (batch,)
        As that of the LED's junction [V].
    """

    part: str
    anode: str
    cathode: str
    a: str
    b: str
    params: ThresholdParams
    knee: np.ndarray

    turning: ClassVar[tuple] = (False, False)
    """Whether the current curves the other way below zero of each controlling voltage."""

    steep: ClassVar[tuple] = (True, False)
    """Whether the current asks for each controlling voltage to the last digit."""

    @property
    def controls(self):
        """Return the node pairs of the controlling voltages."""
        return (self.anode, self.cathode), (self.a, self.b)

    @property
    def branches(self):
        """Return the node pairs of the branches."""
        return ((self.a, self.b),)

    @property
    def shunts(self):
        """Return the node pairs that must not be left without any conductance."""
        return ()

    def start(self):
        """Return the voltages to begin with, shape (batch, 2)."""
        return np.stack((self.knee, np.zeros_like(self.knee)), axis=1)

    def evaluate(self, v):
        """Return branch currents (batch, 1) and their jacobian (batch, 1, 2) at control voltages (batch, 2)."""
        current, jacobian = threshold(v[:, 0], v[:, 1], self.params)
        return current[:, None], jacobian[:, None, :]

    def limits(self):
        """Return scale and knee of the step limit, each (batch, 2); nothing bounds the voltage across the path."""
        led = self.params.led.nVT
        scale = np.stack((led, np.full_like(led, _BOUNDLESS)), axis=1)
        return scale, np.stack((self.knee, np.full_like(led, np.inf)), axis=1)

    def take(self, index):
        """Return the element for a part of the batch."""
        params = replace(pick(self.params, index), led=pick(self.params.led, index))
        return replace(self, params=params, knee=self.knee[index])


@dataclass(frozen=True, slots=True)
class LimitedInput:
    """The input of a programmable controller, from `a` to `b`.

    Attributes
    ----------
    part : str
        The part it belongs to.
    a : str
        Node the current enters by.
    b : str
        The other node.
    params : LimitedInputParams
        Parameters, fields of shape (batch,).
    """

    part: str
    a: str
    b: str
    params: LimitedInputParams

    turning: ClassVar[tuple] = (True,)
    """Whether the current curves the other way below `turns_at` of each controlling voltage."""

    steep: ClassVar[tuple] = (False,)
    """Whether the current asks for each controlling voltage to the last digit."""

    @property
    def turns_at(self):
        """Return where the current begins to curve the other way, shape (batch, 1): well before its limit [V]."""
        return (self.params.V_on + _EASY * self.params.I_limit * self.params.R)[:, None]

    @property
    def controls(self):
        """Return the node pairs of the controlling voltages."""
        return ((self.a, self.b),)

    @property
    def branches(self):
        """Return the node pairs of the branches."""
        return ((self.a, self.b),)

    @property
    def shunts(self):
        """Return the node pairs that must not be left without any conductance."""
        return ()

    def start(self):
        """Return the voltages to begin with, shape (batch, 1)."""
        return self.params.V_on[:, None]

    def evaluate(self, v):
        """Return branch currents (batch, 1) and their jacobian (batch, 1, 1) at control voltages (batch, 1)."""
        current, conductance = limited_input(v[:, 0], self.params)
        return current[:, None], conductance[:, None, None]

    def limits(self):
        """Return scale and knee of the step limit, each (batch, 1); the current grows too slowly to need one."""
        whole = np.ones((len(self.params.R), 1))
        return _BOUNDLESS * whole, np.inf * whole

    def take(self, index):
        """Return the element for a part of the batch."""
        return replace(self, params=pick(self.params, index))


@dataclass(frozen=True, slots=True)
class TabledSource:
    """A source that is known by its table, from `a` to `b`.

    Attributes
    ----------
    part : str
        The part it belongs to.
    a : str
        Node that it drives.
    b : str
        The other node.
    params : TabledParams
        Parameters, fields of shape (batch,).
    """

    part: str
    a: str
    b: str
    params: TabledParams

    turning: ClassVar[tuple] = (True,)
    """Whether the current curves the other way below `turns_at` of each controlling voltage."""

    steep: ClassVar[tuple] = (False,)
    """Whether the current asks for each controlling voltage to the last digit."""

    @property
    def turns_at(self):
        """Return where the current is about to end, shape (batch, 1): beyond that no slope leads back [V]."""
        return (self.params.volts[-1] * (1.0 - _HAIR) * self.params.stretch)[:, None]

    @property
    def controls(self):
        """Return the node pairs of the controlling voltages."""
        return ((self.a, self.b),)

    @property
    def branches(self):
        """Return the node pairs of the branches."""
        return ((self.a, self.b),)

    @property
    def shunts(self):
        """Return the node pairs that must not be left without any conductance."""
        return self.branches

    def start(self):
        """Return the voltages to begin with, shape (batch, 1)."""
        return (self.params.volts[-1] * self.params.stretch)[:, None] / 2.0

    def evaluate(self, v):
        """Return branch currents (batch, 1) and their jacobian (batch, 1, 1) at control voltages (batch, 1)."""
        current, conductance = tabled(v[:, 0], self.params)
        return current[:, None], conductance[:, None, None]

    def limits(self):
        """Return scale and knee of the step limit, each (batch, 1); straight lines need none."""
        whole = np.ones((len(self.params.share), 1))
        return _BOUNDLESS * whole, np.inf * whole

    def stopped(self, v_new, v):
        """Return the voltages to move to, no farther than just past the next of the table's points.

        Parameters
        ----------
        v_new : ndarray, shape (batch, 1)
            Voltage that is asked for [V].
        v : ndarray, shape (batch, 1)
            Voltage of the last linearisation [V].

        Returns
        -------
        ndarray, shape (batch, 1)
            Voltage for the next one: a step across several straight lines may run in circles between two of them [V].

        References
        ----------
        J. Katzenelson, Bell System Technical Journal 44(8), 1965; from memory.
        """
        points = np.array(self.params.volts[:-1])[None, :] * self.params.stretch[:, None]
        past, short = points * (1.0 + _HAIR), points * (1.0 - _HAIR)
        above = np.where(past > v, past, np.inf).min(axis=1, keepdims=True)
        below = np.where(short < v, short, -np.inf).max(axis=1, keepdims=True)
        return np.clip(v_new, below, above)

    def take(self, index):
        """Return the element for a part of the batch."""
        return replace(self, params=pick(self.params, index))
