"""A driver that is known by its table of voltage and current drives the LED through R1."""

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import ClassVar

import numpy as np

from engine.circuit import TabledSource
from engine.devices import TabledParams
from engine.errors import Problem, QuantityError
from engine.inputs.drive import Drive
from engine.parameter import free_text, number
from engine.quantity import AMPERE, RATIO, VOLT, parse, shown

_USUAL = "24V 0A, 16V 6mA, 0V 10mA"
_LONGEST = 400
_MOST_PAIRS = 24
_HIGHEST, _LARGEST = 1000.0, 10.0  # [V, A]


@lru_cache(maxsize=256)
def _table(text):
    """Return the pairs that a text states, voltage rising, and what is wrong with it (empty where nothing is)."""
    pairs = []
    entries = [entry.split() for entry in text.replace(";", ",").split(",")]
    if not 2 <= len(entries) <= _MOST_PAIRS:
        return (), f"there are {len(entries)} pairs"
    for entry in entries:
        if len(entry) != 2:
            return (), f"'{shown(' '.join(entry))}' is not a voltage and a current"
        try:
            pairs.append((parse(entry[0], VOLT), parse(entry[1], AMPERE)))
        except QuantityError as error:
            return (), str(error)
    pairs.sort()
    return tuple(pairs), _disorder(pairs)


def _disorder(pairs):
    """Return what is wrong with pairs that are sorted by voltage."""
    if not all(0.0 <= V <= _HIGHEST and 0.0 <= current <= _LARGEST for V, current in pairs):
        return "a voltage is not within 0 to 1 kV, or a current not within 0 to 10 A"
    if pairs[0][0] != 0.0:
        return "the current into a short, at 0 V, is missing"
    if pairs[-1][1] != 0.0:
        return "the voltage without load, at 0 A, is missing"
    if not all(low[0] < high[0] and low[1] >= high[1] for low, high in pairwise(pairs)):
        return "the current does not fall as the voltage rises"
    return ""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredDriver(Drive):
    """Driver known by its table; parameters beside those of `Drive`.

    Attributes
    ----------
    VS : float
        Voltage without load, the table's [V].
    VS_min : str
        Not chosen: it follows from the tolerance.
    VS_max : str
        Not chosen: it follows from the tolerance.
    VS_tolerance : float
        Deviation of all of the table's voltages, either way [-].
    table : str
        Pairs of voltage and current, from the voltage without load to the current into a short.
    """

    VS: float = 0.0
    VS_min: str = "tol"
    VS_max: str = "tol"
    VS_tolerance: float = number("vstol", "VS tolerance", RATIO, 0.1, (0.0, 0.5))
    table: str = free_text("vi", "V-I table", _LONGEST, _USUAL)

    by_value: ClassVar[frozenset] = Drive.by_value - {"VS"}
    kind: ClassVar[str] = "measured"
    title: ClassVar[str] = "Driver by its V-I table"
    states: ClassVar[dict] = {"closed": "driver on", "open": "driver off"}
    switch_part: ClassVar[str] = "VS"
    feed: ClassVar[str] = "VS"
    cathode: ClassVar[str] = "return"
    switched: ClassVar[tuple] = ("VS", "return")
    before: ClassVar[tuple] = ()
    after: ClassVar[tuple] = ()
    delivering: ClassVar[tuple] = ("VS",)

    @property
    def V_by_hand(self):
        """Return what the driver's voltage falls by at the drive current [V]."""
        return self.drop(self.IF)

    def __post_init__(self):
        """Take the voltage without load from the table."""
        pairs, _ = _table(self.table)
        object.__setattr__(self, "VS", pairs[-1][0] if pairs else 0.0)

    def contradictions(self):
        """Yield what cannot both be, as `Drive`, and a table that cannot be read.

        Yields
        ------
        Problem
            At the field that was chosen.
        """
        yield from Drive.contradictions(self)
        _, wrong = _table(self.table)
        if wrong:
            accepted = f"pairs like {_USUAL}, from the voltage without load to the current into a short"
            yield Problem("vi", shown(self.table), accepted, wrong)
        elif self.bypass_at == "switch":
            yield Problem("rbat", "switch", "led, input", "a driver known by its table has no switch to lie across")

    def drop(self, current):
        """Return what the driver's voltage falls by while it is on.

        Parameters
        ----------
        current : float
            Current that it delivers [A].

        Returns
        -------
        float
            Voltage; all of it where the driver cannot deliver as much [V].
        """
        volts, amperes = zip(*_table(self.table)[0], strict=True)
        if current > amperes[0]:
            return self.VS
        return self.VS - float(np.interp(-current, -np.array(amperes), volts))

    def loop_resistance(self, closed, R1):
        """Return about the resistance of the LED's loop, infinite where it is dark.

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
        _, shorted = _table(self.table)[0][0]
        return np.where(closed, R1 + (self.VS / shorted if shorted else np.inf), np.inf)

    def wire(self, net, closed, TA_degC, values):
        """Place the side but its LED: driver, R1 and what is around the LED.

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
        net.side("input", self.reference, "VS")
        volts, amperes = zip(*_table(self.table)[0], strict=True)
        params = TabledParams(volts, amperes, values["VS"] / self.VS, np.where(closed, 1.0, 0.0))
        net.device(TabledSource("VS", "VS", self.reference, params))
        self.place_branch(net, TA_degC, values)
