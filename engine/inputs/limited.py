"""A contact switches an input that limits its current by itself, so that one input suits a wide supply."""

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from engine.circuit import Junction
from engine.devices import JunctionParams
from engine.inputs.contact import ContactHigh
from engine.parameter import number
from engine.quantity import OHM, RATIO, VOLT, WATT
from engine.supply import Spread

_ENTIRE = 3.0  # [-], e-folds of the dropout voltage's scale at which 95 % of the set current flow


@dataclass(frozen=True, slots=True, kw_only=True)
class CurrentLimited(ContactHigh):
    """Contact between the supply and a current limiter; parameters beside those of `ContactHigh`.

    Attributes
    ----------
    VS : float
        Supply voltage [V].
    VS_tolerance : float
        Deviation of the supply, either way [-].
    R1 : float or str
        Resistor in series with the limiter, or "auto" to leave the limiter its dropout voltage only [ohm].
    V_dropout : float
        Voltage that the limiter needs for 95 % of the set current `IF` [V].
    limit_tolerance : float
        Deviation of the set current, either way [-].
    limiter_rating : float
        Power rating of the limiter [W].
    """

    VS: float = number("vs", "VS", VOLT, 36.0, (0.0, 1000.0))
    VS_tolerance: float = number("vstol", "VS tolerance", RATIO, 0.25, (0.0, 0.5))
    R1: float | str = number("r1", "R1", OHM, 470.0, (1.0, 1e8), ("auto",))
    V_dropout: float = number("vdo", "Dropout voltage", VOLT, 2.5, (0.1, 50.0))
    limit_tolerance: float = number("limtol", "Set current tolerance", RATIO, 0.1, (0.0, 0.5))
    limiter_rating: float = number("limw", "Limiter rating", WATT, 0.5, (0.05, 100.0))

    by_value: ClassVar[frozenset] = ContactHigh.by_value - {"IF"}
    kind: ClassVar[str] = "limited"
    title: ClassVar[str] = "Current-limited input"
    after: ClassVar[tuple] = ("B2",)
    cathode: ClassVar[str] = "L"

    @property
    def V_by_hand(self):
        """Return the least that the limiter takes [V]."""
        return self.V_dropout

    @property
    def most_by_hand(self):
        """Return the current that the limiter lets through at the most [A]."""
        return self.IF

    @property
    def ratings(self):
        """Return part to the power that it may take, for parts whose rating is chosen here [W]."""
        return ContactHigh.ratings.fget(self) | {"B2": self.limiter_rating}

    @property
    def terminals(self):
        """Return part to the pair of nodes it is measured between, for parts of several elements."""
        return ContactHigh.terminals.fget(self) | {"B2": ("L", self.reference)}

    def drop(self, current):
        """Return what contact, line and limiter take while the contact is closed.

        Parameters
        ----------
        current : float
            Current that they carry [A].

        Returns
        -------
        float
            Voltage [V].
        """
        return self.V_dropout + ContactHigh.drop(self, current)

    def loop_resistance(self, closed, R1):
        """Return about the resistance of the LED's loop, infinite where it is open.

        Parameters
        ----------
        closed : ndarray of bool, shape (batch,)
            Whether the LED is meant to be lit.
        R1 : ndarray, shape (batch,)
            Series resistor [ohm].

        Returns
        -------
        ndarray, shape (batch,)
            Resistance [ohm].
        """
        return ContactHigh.loop_resistance(self, closed, R1) + max(self.VS, 1e-3) / self.IF

    def spreads(self, tolerance):
        """Return what varies on this side beside supply, R1 and forward voltage, the set current among it.

        Parameters
        ----------
        tolerance : float
            Tolerance of the resistors [-].

        Returns
        -------
        dict of str to Spread
            Name in `wire`'s values to its spread.
        """
        away = self.IF * self.limit_tolerance
        limit = Spread(self.IF - away, self.IF, self.IF + away, 1)
        return ContactHigh.spreads(self, tolerance) | {"B2": limit}

    def wire(self, net, closed, TA_degC, values):
        """Place the side but its LED: supply, contact, line, R1 and what is around the LED, the limiter.

        Parameters
        ----------
        net : NetlistBuilder
            Where to place it.
        closed : ndarray of bool, shape (batch,)
            Whether the LED is meant to be lit.
        TA_degC : float
            Ambient temperature [degC].
        values : dict of str to ndarray, shape (batch,)
            "VS", "R1" and what `spreads` names, in SI units.
        """
        net.side("input", self.reference, "L")
        ContactHigh.wire(self, net, closed, TA_degC, values)
        scale = np.full(net.batch, self.V_dropout / _ENTIRE)
        limiter = JunctionParams(values["B2"], scale)
        net.device(Junction("B2", self.reference, "L", limiter, np.full(net.batch, -self.V_dropout)))
