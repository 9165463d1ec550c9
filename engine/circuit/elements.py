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
    MosfetParams,
    PhotoLaw,
    detector,
    junction,
    mosfet,
    photocurrent,
)


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
        return np.full((len(self.params.K), 2), np.inf), np.zeros((len(self.params.K), 2))

    def take(self, index):
        """Return the element for a part of the batch."""
        return replace(self, params=pick(self.params, index))
