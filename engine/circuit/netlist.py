"""A circuit as data: nodes with their side, references, ideal sources and elements.

Each side of the barrier has a reference node of its own, at 0 V for that side. A source holds a node against the
reference of its side, so its current follows from the current law at that node.
"""

from dataclasses import dataclass, replace

import numpy as np

from engine.circuit.elements import Resistor


@dataclass(frozen=True, slots=True)
class Netlist:
    """A circuit whose element values carry a batch axis.

    Attributes
    ----------
    batch : int
        Number of circuits that are solved together [-].
    nodes : dict of str to str
        Node name to side ("input" or "output"); without the references.
    references : dict of str to str
        Side to the name of its reference node.
    sources : dict of str to tuple
        Part name to (node, potential against the reference, shape (batch,)).
    resistors : tuple of Resistor
        Linear elements.
    devices : tuple
        Elements with the interface of `engine.circuit.elements.Junction`.
    stores : tuple
        What stores charge or flux (`engine.circuit.stores`); nothing to a direct-current solution.
    """

    batch: int
    nodes: dict
    references: dict
    sources: dict
    resistors: tuple
    devices: tuple
    stores: tuple = ()

    def take(self, index):
        """Return some of the circuits, in any order, any number of times.

        Parameters
        ----------
        index : ndarray of int
            Places in the batch [-].

        Returns
        -------
        Netlist
            Those circuits.
        """
        return replace(
            self,
            batch=len(index),
            sources={part: (node, volts[index]) for part, (node, volts) in self.sources.items()},
            resistors=tuple(replace(r, G=r.G[index]) for r in self.resistors),
            devices=tuple(device.take(index) for device in self.devices),
            stores=tuple(store.take(index) for store in self.stores),
        )


class NetlistBuilder:
    """Collects the elements of a circuit.

    Parameters
    ----------
    batch : int
        Number of circuits that are solved together [-].
    """

    def __init__(self, batch):
        self.batch = batch
        self._nodes = {}
        self._references = {}
        self._sources = {}
        self._resistors = []
        self._devices = []
        self._stores = []

    def side(self, side, reference, *nodes):
        """Declare the reference and the nodes of one side.

        Parameters
        ----------
        side : str
            "input" or "output".
        reference : str
            Name of its reference node.
        *nodes : str
            Names of its other nodes.
        """
        self._references[side] = reference
        self._nodes |= dict.fromkeys(nodes, side)

    def inside(self, beside, *nodes):
        """Declare further nodes on the side of one that is there.

        Parameters
        ----------
        beside : str
            Name of a node or of a reference.
        *nodes : str
            Names of the further nodes.
        """
        sides = self._nodes | {reference: side for side, reference in self._references.items()}
        self._nodes |= dict.fromkeys(nodes, sides[beside])

    def source(self, part, node, volts):
        """Hold a node at a potential against the reference of its side.

        Parameters
        ----------
        part : str
            The part that does so.
        node : str
            The node.
        volts : float or ndarray, shape (batch,)
            Potential [V].
        """
        self._sources[part] = (node, self._array(volts))

    def conductance(self, part, a, b, G):
        """Add a linear conductance.

        Parameters
        ----------
        part : str
            The part it belongs to.
        a : str
            Node the current enters by when it is positive.
        b : str
            The other node.
        G : float or ndarray, shape (batch,)
            Conductance; 0 is an open circuit [S].
        """
        self._resistors.append(Resistor(part, a, b, self._array(G)))

    def resistor(self, part, a, b, R):
        """Add a resistance.

        Parameters
        ----------
        part : str
            The part it belongs to.
        a : str
            Node the current enters by when it is positive.
        b : str
            The other node.
        R : float or ndarray, shape (batch,)
            Resistance, positive [ohm].
        """
        self.conductance(part, a, b, 1.0 / self._array(R))

    def device(self, device):
        """Add a nonlinear element.

        Parameters
        ----------
        device : object
            Element with the interface of `engine.circuit.elements.Junction`.
        """
        self._devices.append(device)

    def store(self, store):
        """Add what stores charge or flux.

        Parameters
        ----------
        store : object
            One of `engine.circuit.stores`.
        """
        self._stores.append(store)

    def build(self):
        """Return the finished circuit.

        Returns
        -------
        Netlist
            The circuit.
        """
        resistors, devices, stores = tuple(self._resistors), tuple(self._devices), tuple(self._stores)
        return Netlist(self.batch, self._nodes, self._references, self._sources, resistors, devices, stores)

    def _array(self, value):
        return np.full(self.batch, value, dtype=float)
