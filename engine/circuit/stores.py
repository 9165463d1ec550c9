"""What stores charge or flux between two nodes: capacitors, junctions, coils. Only transients know of them.

A store of charge names the pair of nodes that its voltage lies between; its charge depends on that voltage alone, so
charge is conserved whatever the steps. A coil's flux is the integral of its voltage.
"""

from dataclasses import dataclass, replace

import numpy as np

from engine.circuit.elements import pick

_FORWARD = 0.5  # [-], share of the built-in voltage from which a depletion capacitance goes on in a straight line


@dataclass(frozen=True, slots=True)
class Capacitor:
    """A linear capacitance.

    Attributes
    ----------
    part : str
        The part it belongs to.
    a : str
        Node that a positive voltage lies at.
    b : str
        The other node.
    C : ndarray, shape (batch,)
        Capacitance [F].
    """

    part: str
    a: str
    b: str
    C: np.ndarray

    def stored(self, v):
        """Return charge and capacitance.

        Parameters
        ----------
        v : ndarray, shape (batch,)
            Voltage [V].

        Returns
        -------
        q : ndarray, shape (batch,)
            Charge [C].
        c : ndarray, shape (batch,)
            Its derivative [F].
        """
        return self.C * v, self.C

    def take(self, index):
        """Return the store for a part of the batch.

        Parameters
        ----------
        index : ndarray
            Indices or mask along the batch axis [-].

        Returns
        -------
        Capacitor
            The same kind of store.
        """
        return replace(self, C=self.C[index])


@dataclass(frozen=True, slots=True)
class JunctionCharge:
    """The charge of a pn junction: of its depletion layer, and of the carriers that pass it.

    Attributes
    ----------
    part : str
        The part it belongs to.
    a : str
        Node of the p side.
    b : str
        Node of the n side.
    C0 : ndarray, shape (batch,)
        Depletion capacitance without voltage [F].
    transit : ndarray, shape (batch,)
        Charge over the current that passes [s].
    IS : ndarray, shape (batch,)
        Saturation current of that current [A].
    nVT : ndarray, shape (batch,)
        Emission coefficient times thermal voltage [V].
    V0 : float
        Built-in voltage [V].
    grading : float
        Grading coefficient [-].
    """

    part: str
    a: str
    b: str
    C0: np.ndarray
    transit: np.ndarray
    IS: np.ndarray
    nVT: np.ndarray
    V0: float = 0.75
    grading: float = 0.33

    def stored(self, v):
        """Return charge and capacitance.

        Parameters
        ----------
        v : ndarray, shape (batch,)
            Voltage [V].

        Returns
        -------
        q : ndarray, shape (batch,)
            Charge [C].
        c : ndarray, shape (batch,)
            Its derivative [F].

        Notes
        -----
        C0 (1 - v/V0)^-m up to half of the built-in voltage, in a straight line from there on; and the transit time
        times IS exp(v/nVT).

        References
        ----------
        Textbook junction; the straight line is common practice. From memory.
        """
        return Stacked.of(self).stored(v)

    def take(self, index):
        """Return the store for a part of the batch.

        Parameters
        ----------
        index : ndarray
            Indices or mask along the batch axis [-].

        Returns
        -------
        JunctionCharge
            The same kind of store.
        """
        return pick(self, index)


@dataclass(frozen=True, slots=True)
class Coil:
    """A linear inductance in series with the resistance of its winding.

    Attributes
    ----------
    part : str
        The part it belongs to.
    a : str
        Node the current enters by when it is positive.
    b : str
        The other node.
    L : ndarray, shape (batch,)
        Inductance [H].
    R : ndarray, shape (batch,)
        Resistance of the winding, 0 for none [ohm].
    start : ndarray, shape (batch,)
        Current to begin with [A].
    """

    part: str
    a: str
    b: str
    L: np.ndarray
    R: np.ndarray
    start: np.ndarray

    def take(self, index):
        """Return the coil for a part of the batch.

        Parameters
        ----------
        index : ndarray
            Indices or mask along the batch axis [-].

        Returns
        -------
        Coil
            The same kind of element.
        """
        return replace(self, L=self.L[index], R=self.R[index], start=self.start[index])


@dataclass(frozen=True, slots=True)
class Stacked:
    """Junction charges with all that does not depend on voltage worked out; for many voltages of the same stores.

    Attributes
    ----------
    knee : ndarray or float
        Voltage from which the depletion capacitance goes on in a straight line [V].
    V0 : ndarray or float
        Built-in voltage [V].
    grading : ndarray or float
        Grading coefficient [-].
    C0 : ndarray
        Depletion capacitance without voltage [F].
    q0 : ndarray
        C0 V0 / (1 - m) [C].
    at_knee : ndarray
        Depletion capacitance at the knee [F].
    rise : ndarray
        Its slope from there on [F/V].
    carried : ndarray
        Transit time times saturation current [C].
    per_volt : ndarray
        1 / nVT [1/V].
    """

    knee: np.ndarray
    V0: np.ndarray
    grading: np.ndarray
    C0: np.ndarray
    q0: np.ndarray
    at_knee: np.ndarray
    rise: np.ndarray
    carried: np.ndarray
    per_volt: np.ndarray

    @classmethod
    def of(cls, store):
        """Return what stands for a junction's charge.

        Parameters
        ----------
        store : JunctionCharge
            The charge; its values may have further axes.

        Returns
        -------
        Stacked
            The same charge.
        """
        at_knee = store.C0 * (1.0 - _FORWARD) ** -store.grading
        return cls(
            _FORWARD * store.V0, store.V0, store.grading, store.C0, store.C0 * store.V0 / (1.0 - store.grading),
            at_knee, at_knee * store.grading / (store.V0 * (1.0 - _FORWARD)), store.transit * store.IS, 1.0 / store.nVT,
        )  # fmt: skip

    def stored(self, v):
        """Return charge and capacitance.

        Parameters
        ----------
        v : ndarray, shape (batch, ...)
            Voltage [V].

        Returns
        -------
        q : ndarray, shape (batch, ...)
            Charge [C].
        c : ndarray, shape (batch, ...)
            Its derivative [F].
        """
        short = np.minimum(v, self.knee)
        beyond = v - short
        left = 1.0 - short / self.V0
        rest = left**-self.grading
        carriers = self.carried * np.exp(v * self.per_volt)
        steeper = self.rise * beyond
        q = self.q0 * (1.0 - left * rest) + (self.at_knee + 0.5 * steeper) * beyond + carriers
        # At the knee both parts have the same capacitance.
        return q, self.C0 * rest + steeper + carriers * self.per_volt


def together(charges):
    """Return stores of charge in groups of one kind, each as one store whose values have a further axis.

    Parameters
    ----------
    charges : sequence of Capacitor or JunctionCharge
        The stores.

    Returns
    -------
    list of (list of int, Capacitor or Stacked)
        Places in `charges`, and what stands for the stores there, arrays of shape (batch, places).
    """
    found = []
    for kind, names in ((Capacitor, ("C",)), (JunctionCharge, ("C0", "transit", "IS", "nVT"))):
        places = [k for k, store in enumerate(charges) if isinstance(store, kind)]
        if places:
            some = [charges[k] for k in places]
            values = {name: np.stack([getattr(store, name) for store in some], axis=1) for name in names}
            if kind is JunctionCharge:
                values |= {name: np.array([getattr(store, name) for store in some]) for name in ("V0", "grading")}
            one = replace(some[0], **values)
            found.append((places, Stacked.of(one) if kind is JunctionCharge else one))
    return found
