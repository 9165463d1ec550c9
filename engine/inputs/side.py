"""What every input side says of itself unless its kind says otherwise, on direct current or on alternating."""

from typing import ClassVar

from engine.inputs.settled import Settled


class InputSide:
    """The usual answers of an input side; a kind overrides what differs."""

    __slots__ = ()

    reference: ClassVar[str] = "return"
    delivering: ClassVar[tuple] = ()
    most_by_hand: ClassVar[float] = float("inf")
    most_in_words: ClassVar[str] = "set current"
    capacitive: ClassVar[bool] = False
    needs_pair: ClassVar[bool] = False
    by_value: ClassVar[frozenset] = frozenset({"VS", "V_line", "VS_tolerance", "VS_min", "VS_max", "R1", "IF"})

    @property
    def free(self):
        """Return the fields that are wired by way of `values` alone, so that circuits may differ in them."""
        return self.by_value

    @property
    def V_named(self):
        """Return the voltage that the side is called by [V]."""
        return self.VS

    def settled(self, model, T, closed, values):
        """Return what the circuit needs to know of what led there: nothing where every voltage stands still.

        Parameters
        ----------
        model : CouplerModel
            The calibrated coupler.
        T : ndarray, shape (batch,)
            Absolute temperature [K].
        closed : ndarray of bool, shape (batch,)
            Whether the LED is meant to be lit.
        values : dict of str to ndarray, shape (batch,)
            What varies.

        Returns
        -------
        Settled
            Nothing.
        """
        return Settled()
