"""A capacitor at one instant: the voltage it has there, and the current that changes it."""

from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np

_BOUNDLESS = 1e9  # [V], scale of a voltage that the current is proportional to


@dataclass(frozen=True, slots=True)
class Storage:
    """A capacitor whose voltage and current at one instant are known.

    The circuit around it must agree with both; then any conductance describes it. One that suits the currents of the
    circuit lets the solver find the rest without stiffness.

    Attributes
    ----------
    part : str
        The part it belongs to.
    a : str
        Node the current enters by when it is positive.
    b : str
        The other node.
    volts : ndarray, shape (batch,)
        Voltage [V].
    current : ndarray, shape (batch,)
        Current [A].
    G : ndarray, shape (batch,)
        Conductance of the way back to them, above zero [S].
    """

    part: str
    a: str
    b: str
    volts: np.ndarray
    current: np.ndarray
    G: np.ndarray

    turning: ClassVar[tuple] = (False,)
    """Whether the current curves the other way below zero of each controlling voltage."""

    steep: ClassVar[tuple] = (False,)
    """Whether the current asks for each controlling voltage to the last digit."""

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
        """Return the voltages to begin with.

        Returns
        -------
        ndarray, shape (batch, controls)
            Controlling voltages [V].
        """
        return self.volts[:, None]

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
        return (self.current + self.G * (v[:, 0] - self.volts))[:, None], self.G[:, None, None]

    def limits(self):
        """Return what bounds an iteration's step; nothing does.

        Returns
        -------
        scale : ndarray, shape (batch, controls)
            Voltage over which the current changes much [V].
        knee : ndarray, shape (batch, controls)
            Voltage that a rising step may always reach [V].
        """
        return np.full((len(self.G), 1), _BOUNDLESS), np.full((len(self.G), 1), np.inf)

    def take(self, index):
        """Return the element for a part of the batch.

        Parameters
        ----------
        index : ndarray
            Indices or mask along the batch axis [-].

        Returns
        -------
        Storage
            The element.
        """
        return replace(self, volts=self.volts[index], current=self.current[index], G=self.G[index])
