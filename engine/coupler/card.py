"""What the cards of all families share: the LED's lines, the barrier's, and what must be true of them.

A card only states; `engine.coupler.calibrate` turns it into a device model.
"""

from dataclasses import dataclass
from itertools import chain, pairwise
from typing import ClassVar

import numpy as np

from engine.coupler.lines import Derating, choice, derating, number, points, quantity, words
from engine.errors import CardError
from engine.quantity import AMPERE, FARAD, METRE, SLOPE, VOLT, WATT

_DRIFTS = -0.1, 0.1  # [V/K]
_WIDEST = 3.0  # [V], spread of the forward voltage far beyond that of any LED
_TRACKING = 0.0, 1000.0  # [V], comparative tracking index
_ACROSS = 1e-15, 100e-12  # [F], capacitance across the barrier
_STEEP = 1e6, 1e13  # [V/s], common-mode transient immunity: 1 V/us to 10 MV/us
_GROUPS = {"I": 600.0, "II": 400.0, "IIIa": 175.0, "IIIb": 100.0}
"""Material groups and the tracking index from which each holds [V]: IEC 60664-1, 4.8.1.3; from memory."""


def rising(values):
    """Return whether every value is above the one before.

    Parameters
    ----------
    values : iterable of float
        Numbers of one kind [-].

    Returns
    -------
    bool
        Whether they rise.
    """
    return all(low < high for low, high in pairwise(values))


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """The lines that every coupler's data sheet has.

    Attributes
    ----------
    name : str
        Name in links.
    title : str
        Name for people.
    summary : str
        One sentence on what it is for.
    VF_points : tuple of (float, float)
        LED current and typical forward voltage at 25 degC [A, V].
    VF_IF : float
        LED current at which `VF_min` and `VF_max` hold [A].
    VF_min : float
        Smallest forward voltage [V].
    VF_max : float
        Largest forward voltage [V].
    VF_drift : float
        Temperature coefficient of VF at `VF_IF` [V/K].
    IF_rating : Derating
        Continuous LED current [A].
    VR_max : float
        Reverse voltage rating of the LED [V].
    LED_power : Derating
        Power rating of the LED [W].
    LED_capacitance : float or None
        Capacitance of the LED without voltage [F].
    VISO : float or None
        Voltage that the barrier withstands for a minute, rms [V].
    VIORM : float or None
        Repetitive peak voltage that it may bear for life [V].
    creepage : float or None
        Shortest path over the surface [m].
    clearance : float or None
        Shortest path through air [m].
    CTI : float or None
        Comparative tracking index of the body [V].
    material : str or None
        Material group of the body, "I" to "IIIb".
    C_io : float or None
        Capacitance between input and output [F].
    CMTI : float or None
        Steepest step between the grounds of both sides that surely leaves the output as it is [V/s].
    """

    name: str
    title: str = words("title", 80)
    summary: str = words("summary", 300)
    VF_points: tuple = points("LED.VF", AMPERE, VOLT)
    VF_IF: float = quantity("LED.VF_limits.IF", AMPERE)
    VF_min: float = quantity("LED.VF_limits.min", VOLT)
    VF_max: float = quantity("LED.VF_limits.max", VOLT)
    VF_drift: float = number("LED.VF_volts_per_kelvin", _DRIFTS)
    IF_rating: Derating = derating("LED.IF_rating", AMPERE)
    VR_max: float = quantity("LED.VR_rating", VOLT)
    LED_power: Derating = derating("LED.power_rating", WATT)
    LED_capacitance: float | None = quantity("LED.capacitance", FARAD, None, None)
    VISO: float | None = quantity("insulation.VISO", VOLT, None, None)
    VIORM: float | None = quantity("insulation.VIORM", VOLT, None, None)
    creepage: float | None = quantity("insulation.creepage", METRE, None, None)
    clearance: float | None = quantity("insulation.clearance", METRE, None, None)
    CTI: float | None = number("insulation.CTI", _TRACKING, None)
    material: str | None = choice("insulation.material_group", tuple(_GROUPS), None)
    C_io: float | None = quantity("insulation.C_io", FARAD, _ACROSS, None)
    CMTI: float | None = quantity("insulation.CMTI", SLOPE, _STEEP, None)

    family: ClassVar[str] = ""
    """Name of the family in a card's file."""

    def __post_init__(self):
        """Check what must be true of any card; raise CardError otherwise."""
        for line, complaint in self._complaints():
            raise CardError(self.name, line, complaint)

    def _complaints(self):
        """Yield line and complaint of what cannot be true; what comes first is refused."""
        yield from chain(disorders(self._orders()), self._led_complaints(), self._barrier_complaints())

    def _orders(self):
        """Yield line and values that must rise from min over typ to max."""
        yield "LED.VF_limits", self.VF_min, self.VF_max

    def group(self):
        """Return the material group, from the tracking index where none is stated.

        Returns
        -------
        str or None
            "I" to "IIIb"; None where the card states neither.
        """
        if self.material is not None or self.CTI is None:
            return self.material
        return next((group for group, least in _GROUPS.items() if self.CTI >= least), None)

    def _led_complaints(self):
        if len(self.VF_points) < 3 or not rising(IF for IF, _ in self.VF_points):
            yield "LED.VF", "give at least three points with rising current"
        if not rising(VF for _, VF in self.VF_points):
            yield "LED.VF", "the forward voltage does not rise with current"
        IF, VF = np.array(self.VF_points).T
        if not IF[0] <= self.VF_IF <= IF[-1]:
            yield "LED.VF_limits.IF", "it lies outside of the points of the forward voltage"
        typical = np.interp(np.log(self.VF_IF), np.log(IF), VF)
        if not self.VF_min <= typical <= self.VF_max:
            yield "LED.VF_limits", "the typical forward voltage lies outside of them"
        if self.VF_max - self.VF_min > _WIDEST:
            yield "LED.VF_limits", f"they are more than {_WIDEST:g} V apart"

    def _barrier_complaints(self):
        if self.material is not None and self.CTI is not None and self.CTI < _GROUPS[self.material]:
            yield "insulation.CTI", "it is too low for the material group"


def disorders(orders):
    """Yield what does not rise as it must.

    Parameters
    ----------
    orders : iterable of tuple
        Line, then values from the smallest to the largest.

    Yields
    ------
    tuple of (str, str)
        Line and complaint.
    """
    for line, *values in orders:
        if not all(low <= high for low, high in pairwise(values)):
            yield line, "the values do not rise from min over typ to max"
