"""Couplers whose detector is a transistor that the light drives: one alone, or two in cascade."""

from dataclasses import dataclass
from itertools import chain
from typing import ClassVar

import numpy as np

from engine.coupler.card import Card, disorders, rising
from engine.coupler.lines import Derating, choice, curves, derating, flag, number, points, quantity, row
from engine.quantity import AMPERE, CELSIUS, OHM, RATIO, SECOND, VOLT, WATT

_DARK_CURRENTS = 1e-15, 1e-3  # [A]
_EARLY_VOLTAGES = 1.0, 10e3  # [V]
_GAINS = 2.0, 1e5  # [-]
_DOUBLINGS = 3.0, 100.0  # [K]
_WARMTH_REFERENCE = 25.0, 1.0  # [degC, -], the point that every curve over temperature is relative to
_INPUTS = "single", "pair"
_SPEED_TESTS = "linear", "saturated"
_MOST_SWING = 0.8  # [-], share of its supply that the output of a linear test may go


def _at(current, IF, relative):
    """Return the relative CTR at an LED current, between the points of its curve [-]."""
    return np.exp(np.interp(np.log(current), np.log(IF), np.log(relative)))


@dataclass(frozen=True, slots=True, kw_only=True)
class TransistorCard(Card):
    """The lines of a coupler with a transistor for detector, beside those of every card.

    Attributes
    ----------
    input : str
        "single" for one LED, "pair" for two back to back, so that either direction of the current gives light.
    CTR_min : float
        Smallest current transfer ratio of the bin [-].
    CTR_typ : float
        Typical current transfer ratio [-].
    CTR_max : float
        Largest current transfer ratio of the bin [-].
    CTR_IF : float
        LED current of the CTR test [A].
    CTR_VCE : float
        Collector-emitter voltage of the CTR test [V].
    CTR_symmetry : tuple of (float, float) or None
        Smallest and largest ratio of the CTR of one direction to that of the other, of a pair [-].
    CTR_shape : tuple of (float, float)
        LED current and CTR relative to the test point [A, -].
    CTR_temperature : tuple of (float, tuple of (float, float))
        LED current, and the CTR relative to 25 degC over temperature; rising in current, the last at the test
        current [A, (degC, -)].
    VCE_sat : float
        Typical saturation voltage [V].
    VCE_sat_max : float
        Largest saturation voltage [V].
    VCE_sat_IF : float
        LED current of the saturation test [A].
    VCE_sat_IC : float
        Collector current of the saturation test [A].
    knee : tuple of (float, float, float)
        A point of the IC-VCE family at its bend: IF, VCE, IC of a part with typical CTR [A, V, A].
    ICEO : float
        Typical dark current at 25 degC [A].
    ICEO_max : float
        Largest dark current at 25 degC [A].
    ICEO_VCE : float
        Collector-emitter voltage of the dark-current test [V].
    ICEO_doubling : float
        Temperature rise that doubles the dark current [K].
    VCEO : float
        Collector-emitter voltage rating [V].
    IC_max : float
        Collector current rating [A].
    detector_power : Derating
        Power rating of the detector [W].
    base_lead : bool
        Whether the base of the lit transistor is brought out.
    beta : float
        Current gain of the lit transistor; typical of the class, seldom on a data sheet [-].
    VA : float
        Early voltage of the detector; as `beta` [V].
    linear_VCC : float or None
        Supply of the test of speed in which the detector does not saturate: collector to the supply through a
        resistor. All lines of a test are there or none [V].
    linear_IC : float or None
        Collector current of that test while the LED is on [A].
    linear_RL : float or None
        Its load resistor [ohm].
    linear_rise : float or None
        How long the collector current rises from 10 to 90 % [s].
    linear_fall : float or None
        How long it falls from 90 to 10 % [s].
    saturated_VCC : float or None
        Supply of the test of speed in which the detector saturates [V].
    saturated_IF : float or None
        LED current of that test [A].
    saturated_RL : float or None
        Its load resistor [ohm].
    saturated_on : float or None
        Turn-on time: from the edge of the LED current until the output has gone 90 % of its swing [s].
    saturated_storage : float or None
        Storage time: from the other edge until it has gone 10 % of its way back [s].
    saturated_off : float or None
        Turn-off time: from that edge until it has gone 90 % of it [s].
    """

    input: str = choice("LED.input", _INPUTS, "single")
    CTR_min: float = quantity("CTR.min", RATIO)
    CTR_typ: float = quantity("CTR.typ", RATIO)
    CTR_max: float = quantity("CTR.max", RATIO)
    CTR_IF: float = quantity("CTR.IF", AMPERE)
    CTR_VCE: float = quantity("CTR.VCE", VOLT)
    CTR_symmetry: tuple | None = row("CTR.symmetry", RATIO, RATIO, optional=True)
    CTR_shape: tuple = points("CTR.shape", AMPERE, RATIO)
    CTR_temperature: tuple = curves("CTR.temperature", AMPERE, CELSIUS, RATIO)
    VCE_sat: float = quantity("detector.VCE_sat.typ", VOLT)
    VCE_sat_max: float = quantity("detector.VCE_sat.max", VOLT)
    VCE_sat_IF: float = quantity("detector.VCE_sat.IF", AMPERE)
    VCE_sat_IC: float = quantity("detector.VCE_sat.IC", AMPERE)
    knee: tuple = row("detector.knee", AMPERE, VOLT, AMPERE)
    ICEO: float = quantity("detector.ICEO.typ", AMPERE, _DARK_CURRENTS)
    ICEO_max: float = quantity("detector.ICEO.max", AMPERE, _DARK_CURRENTS)
    ICEO_VCE: float = quantity("detector.ICEO.VCE", VOLT)
    ICEO_doubling: float = number("detector.ICEO.doubles_per_kelvin", _DOUBLINGS)
    VCEO: float = quantity("detector.VCEO_rating", VOLT)
    IC_max: float = quantity("detector.IC_rating", AMPERE)
    detector_power: Derating = derating("detector.power_rating", WATT)
    base_lead: bool = flag("detector.base_lead")
    beta: float = number("detector.beta", _GAINS)
    VA: float = quantity("detector.early_voltage", VOLT, _EARLY_VOLTAGES)
    linear_VCC: float | None = quantity("speed.linear.VCC", VOLT, None, None)
    linear_IC: float | None = quantity("speed.linear.IC", AMPERE, None, None)
    linear_RL: float | None = quantity("speed.linear.RL", OHM, None, None)
    linear_rise: float | None = quantity("speed.linear.rise", SECOND, None, None)
    linear_fall: float | None = quantity("speed.linear.fall", SECOND, None, None)
    saturated_VCC: float | None = quantity("speed.saturated.VCC", VOLT, None, None)
    saturated_IF: float | None = quantity("speed.saturated.IF", AMPERE, None, None)
    saturated_RL: float | None = quantity("speed.saturated.RL", OHM, None, None)
    saturated_on: float | None = quantity("speed.saturated.on", SECOND, None, None)
    saturated_storage: float | None = quantity("speed.saturated.storage", SECOND, None, None)
    saturated_off: float | None = quantity("speed.saturated.off", SECOND, None, None)

    @property
    def output_rating(self):
        """Return the power rating of the output side, a Derating [W]."""
        return self.detector_power

    def _complaints(self):
        """Yield line and complaint of what cannot be true."""
        yield from chain(disorders(self._orders()), self._shape_complaints())
        yield from chain(Card._complaints(self), self._contradictions())

    def _orders(self):
        """Yield line and values that must rise."""
        yield "CTR", self.CTR_min, self.CTR_typ, self.CTR_max
        yield "detector.VCE_sat", self.VCE_sat, self.VCE_sat_max
        yield "detector.ICEO", self.ICEO, self.ICEO_max
        yield from Card._orders(self)
        if self.CTR_symmetry is not None:
            low, high = self.CTR_symmetry
            yield "CTR.symmetry", low, 1.0, high

    def _shape_complaints(self):
        """Yield line and complaint of curves that are none."""
        if len(self.CTR_shape) < 3 or not rising(current for current, _ in self.CTR_shape):
            yield "CTR.shape", "give at least three points with rising current"
        currents = [IF for IF, _ in self.CTR_temperature]
        if len(currents) < 2 or not rising(currents) or currents[-1] != self.CTR_IF:
            yield "CTR.temperature", "give at least two curves with rising current, the last at the test current"
        for _, curve in self.CTR_temperature:
            if len(curve) < 2 or not rising(TA for TA, _ in curve):
                yield "CTR.temperature", "give at least two points with rising temperature in every curve"
            if _WARMTH_REFERENCE not in curve:
                yield "CTR.temperature", "a curve has no point of 100 % at 25 °C"

    def _contradictions(self):
        """Yield line and complaint of what cannot be together; the points are in order by now."""
        IF, relative = np.array(self.CTR_shape).T
        for line, current, wanted in (
            ("detector.VCE_sat", self.VCE_sat_IF, self.VCE_sat_IC),
            ("detector.knee", self.knee[0], self.knee[2]),
        ):
            if wanted >= self.CTR_typ * _at(current, IF, relative) * current:
                yield line, "its IC is above the current that the CTR gives there"
        if self.CTR_symmetry is not None and self.input != "pair":
            yield "CTR.symmetry", "a single LED has one direction only"
        yield from self._speed_complaints(lambda current: self.CTR_typ * _at(current, IF, relative) * current)

    def _speed_complaints(self, reach):
        """Yield line and complaint of tests of speed; `reach` tells the IC that an LED current gives."""
        for test in _SPEED_TESTS:
            given = [value is not None for name, value in self._test(test).items()]
            if any(given) and not all(given):
                yield f"speed.{test}", "give every value of the test, or none"
        if self.linear_VCC is not None and self.linear_IC * self.linear_RL > _MOST_SWING * self.linear_VCC:
            yield "speed.linear", "its IC in its RL leaves too little of its VCC; the detector would saturate"
        if self.saturated_VCC is not None and not self.saturated_storage < self.saturated_off:
            yield "speed.saturated", "the output is off before it has begun to go"
        if self.saturated_VCC is not None and self.saturated_VCC / self.saturated_RL > reach(self.saturated_IF):
            yield "speed.saturated", "its IF does not saturate the detector with its RL and VCC"

    def _test(self, name):
        """Return the values of a test of speed by attribute."""
        return {line: getattr(self, line) for line in self.__dataclass_fields__ if line.startswith(f"{name}_")}


@dataclass(frozen=True, slots=True, kw_only=True)
class Phototransistor(TransistorCard):
    """The lines of a phototransistor coupler; attributes as `TransistorCard`."""

    family: ClassVar[str] = "phototransistor"


@dataclass(frozen=True, slots=True, kw_only=True)
class Photodarlington(TransistorCard):
    """The lines of a coupler with two transistors in cascade, beside those of `TransistorCard`.

    Attributes
    ----------
    beta_output : float
        Current gain of the second transistor; typical of the class, seldom on a data sheet [-].
    """

    beta_output: float = number("detector.beta_output", _GAINS)

    family: ClassVar[str] = "photodarlington"
