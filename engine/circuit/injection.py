"""Known currents that flow into a circuit from outside, whatever its voltages are."""

from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np


@dataclass(frozen=True, slots=True)
class Injection:
    """Constant currents, each from one node to another.

    Attributes
    ----------
    part : str
        The part they belong to.
    pairs : tuple of (str, str)
        Nodes that each current leaves and enters.
    currents : ndarray, shape (batch, pairs)
        The currents [A].
    """

    part: str
    pairs: tuple
    currents: np.ndarray

    turning: ClassVar[tuple] = ()
    """Whether the current curves the other way below zero of each controlling voltage: there is none."""

    steep: ClassVar[tuple] = ()
    """Whether the current asks for each controlling voltage to the last digit: there is none."""

    controls: ClassVar[tuple] = ()
    """Node pairs of the controlling voltages: there is none."""

    shunts: ClassVar[tuple] = ()
    """Node pairs that must not be left without any conductance: there is none."""

    @property
    def branches(self):
        """Return the node pairs of the branches."""
        return self.pairs

    def start(self):
        """Return the voltages to begin with.

        Returns
        -------
        ndarray, shape (batch, 0)
            None [V].
        """
        return np.empty((len(self.currents), 0))

    def evaluate(self, v):
        """Return the branch currents and their derivatives.

        Parameters
        ----------
        v : ndarray, shape (batch, 0)
            No controlling voltages [V].

        Returns
        -------
        currents : ndarray, shape (batch, branches)
            Branch currents [A].
        jacobian : ndarray, shape (batch, branches, 0)
            No derivatives [S].
        """
        return self.currents, np.empty((len(v), len(self.pairs), 0))

    def limits(self):
        """Return what bounds an iteration's step; nothing does.

        Returns
        -------
        scale : ndarray, shape (batch, 0)
            None [V].
        knee : ndarray, shape (batch, 0)
            None [V].
        """
        return self.start(), self.start()

    def take(self, index):
        """Return the element for a part of the batch.

        Parameters
        ----------
        index : ndarray
            Indices or mask along the batch axis [-].

        Returns
        -------
        Injection
            The element.
        """
        return replace(self, currents=self.currents[index])
