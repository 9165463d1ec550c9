"""Couplers whose output turns on when the LED current passes a threshold: gates, drivers, relays, triacs."""

from dataclasses import dataclass
from itertools import chain
from typing import ClassVar

from engine.coupler.card import Card, disorders, rising
from engine.coupler.lines import Derating, choice, derating, points, quantity, row
from engine.quantity import AMPERE, CELSIUS, FARAD, OHM, RATIO, SECOND, VOLT, WATT

_LEAKS = 1e-13, 1e-1  # [A]
_WARMTH_REFERENCE = 25.0, 1.0  # [degC, -]
_PULSED = 10.0  # [-], current of a short pulse over the continuous rating; far beyond any test of speed


@dataclass(frozen=True, slots=True, kw_only=True)
class SwitchingCard(Card):
    """The lines of a coupler with a threshold, beside those of every card.

    Attributes
    ----------
    IF_off : float
        LED current up to which the output of every specimen is off [A].
    IF_typ : float
        LED current at which a typical specimen turns on [A].
    IF_on : float
        LED current from which the output of every specimen is on [A].
    threshold_temperature : tuple of (float, float)
        Threshold relative to 25 degC over temperature; empty where none is stated [degC, -].
    """

    IF_off: float = quantity("threshold.off", AMPERE)
    IF_typ: float = quantity("threshold.typ", AMPERE)
    IF_on: float = quantity("threshold.on", AMPERE)
    threshold_temperature: tuple = points("threshold.temperature", CELSIUS, RATIO, optional=True)

    input: ClassVar[str] = "single"
    speed_lines: ClassVar[tuple] = ()
    """Attributes of the test of speed, which are there all or none."""
    speed_extras: ClassVar[tuple] = ()
    """Attributes that may stand beside them."""

    @property
    def output_rating(self):
        """Return the power rating of the output side, a Derating [W]."""
        return self.output_power

    def _complaints(self):
        """Yield line and complaint of what cannot be true."""
        yield from chain(disorders(self._orders()), self._warmth_complaints(), Card._complaints(self))
        yield from self._speed_complaints()

    def _orders(self):
        """Yield line and values that must rise."""
        yield "threshold", self.IF_off, self.IF_typ, self.IF_on
        yield from Card._orders(self)
        yield "speed.on", *(self.t_on or ())
        yield "speed.off", *(getattr(self, "t_off", None) or ())

    def _speed_complaints(self):
        """Yield line and complaint of the test of speed."""
        given = [getattr(self, name) is not None for name in self.speed_lines]
        beside = [getattr(self, name) is not None for name in self.speed_extras]
        if (any(given) or any(beside)) and not all(given):
            yield "speed", "give every value of the test, or none"
        elif all(given) and self.speed_IF < self.IF_on:
            yield "speed.IF", "it is below the current from which every output is on"
        elif all(given) and self.speed_IF > _PULSED * self.IF_rating.limit:
            yield "speed.IF", "no LED bears it: it is more than ten times the rating"
        elif all(given) and hasattr(self, "supply") and not self.supply[0] <= self.speed_VCC <= self.supply[1]:
            yield "speed.VCC", "it lies outside of the supply"

    def _warmth_complaints(self):
        curve = self.threshold_temperature
        if not curve:
            return
        if len(curve) < 2 or not rising(TA for TA, _ in curve):
            yield "threshold.temperature", "give at least two points with rising temperature"
        if _WARMTH_REFERENCE not in curve:
            yield "threshold.temperature", "the curve has no point of 100 % at 25 °C"


@dataclass(frozen=True, slots=True, kw_only=True)
class LogicGate(SwitchingCard):
    """The lines of a coupler with an open-collector gate that has a supply of its own.

    Attributes
    ----------
    VOL : float
        Typical low voltage of the output [V].
    VOL_max : float
        Largest low voltage [V].
    VOL_IOL : float
        Output current of that test [A].
    VOL_IF : float
        LED current of that test [A].
    IOH : float
        Typical leakage of the output while off [A].
    IOH_max : float
        Largest leakage [A].
    IOH_VO : float
        Output voltage of that test [V].
    supply : tuple of (float, float)
        Lowest and highest supply [V].
    ICC : tuple of (float, float, float)
        Typical and largest supply current, and the supply of that test [A, A, V].
    IOL_rating : float
        Output current rating [A].
    VO_rating : float
        Output voltage rating [V].
    output_power : Derating
        Power rating of the output [W].
    speed_VCC : float or None
        Supply of the test of speed; all lines of the test are there or none [V].
    speed_IF : float or None
        LED current of that test while the LED is on [A].
    speed_RL : float or None
        Resistor from the supply to the output [ohm].
    speed_CL : float or None
        Capacitance of the output to ground [F].
    t_on : tuple of (float, float) or None
        Typical and largest time from the LED's edge to the middle of the falling output, tPHL [s, s].
    t_off : tuple of (float, float) or None
        Typical and largest time from the other edge to the middle of the rising output, tPLH [s, s].
    t_rise : float or None
        How long the output typically rises from 10 to 90 %, where that is stated [s].
    t_fall : float or None
        How long it typically falls from 90 to 10 %, likewise [s].
    """

    VOL: float = quantity("output.VOL.typ", VOLT)
    VOL_max: float = quantity("output.VOL.max", VOLT)
    VOL_IOL: float = quantity("output.VOL.IOL", AMPERE)
    VOL_IF: float = quantity("output.VOL.IF", AMPERE)
    IOH: float = quantity("output.IOH.typ", AMPERE, _LEAKS)
    IOH_max: float = quantity("output.IOH.max", AMPERE, _LEAKS)
    IOH_VO: float = quantity("output.IOH.VO", VOLT)
    supply: tuple = row("supply.VCC", VOLT, VOLT)
    ICC: tuple = row("supply.ICC", AMPERE, AMPERE, VOLT)
    IOL_rating: float = quantity("output.IOL_rating", AMPERE)
    VO_rating: float = quantity("output.VO_rating", VOLT)
    output_power: Derating = derating("output.power_rating", WATT)
    speed_VCC: float | None = quantity("speed.VCC", VOLT, None, None)
    speed_IF: float | None = quantity("speed.IF", AMPERE, None, None)
    speed_RL: float | None = quantity("speed.RL", OHM, None, None)
    speed_CL: float | None = quantity("speed.CL", FARAD, None, None)
    t_on: tuple | None = row("speed.on", SECOND, SECOND, optional=True)
    t_off: tuple | None = row("speed.off", SECOND, SECOND, optional=True)
    t_rise: float | None = quantity("speed.rise", SECOND, None, None)
    t_fall: float | None = quantity("speed.fall", SECOND, None, None)

    family: ClassVar[str] = "logic-gate"
    speed_lines: ClassVar[tuple] = ("speed_VCC", "speed_IF", "speed_RL", "speed_CL", "t_on", "t_off")
    speed_extras: ClassVar[tuple] = ("t_rise", "t_fall")

    def _orders(self):
        """Yield line and values that must rise."""
        yield "output.VOL", self.VOL, self.VOL_max
        yield "output.IOH", self.IOH, self.IOH_max
        yield "supply.VCC", *self.supply
        yield "supply.ICC", *self.ICC[:2]
        yield "output.VOL.IF", self.IF_on, self.VOL_IF
        yield from SwitchingCard._orders(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class GateDriver(SwitchingCard):
    """The lines of a coupler with a push-pull output that drives a gate.

    Attributes
    ----------
    drop_high : float
        Typical drop from the supply to the output while on [V].
    drop_high_max : float
        Largest drop [V].
    drop_high_IO : float
        Output current of that test [A].
    VOL : float
        Typical low voltage of the output, against the lower rail [V].
    VOL_max : float
        Largest low voltage [V].
    VOL_IO : float
        Output current of that test [A].
    peak : tuple of (float, float)
        Largest peak currents out of and into the output [A].
    supply : tuple of (float, float)
        Lowest and highest supply [V].
    ICC : tuple of (float, float, float)
        Typical and largest supply current, and the supply of that test [A, A, V].
    UVLO_on : tuple of (float, float, float) or None
        Rising supply from which the output may turn on: smallest, typical, largest; None without a lockout [V].
    UVLO_off : tuple of (float, float, float) or None
        Falling supply below which the output is held low, likewise [V].
    output_power : Derating
        Power rating of the output [W].
    speed_VCC : float or None
        Supply of the test of speed; all lines of the test are there or none [V].
    speed_IF : float or None
        LED current of that test while the LED is on [A].
    speed_RL : float or None
        Resistor between the output and the capacitance that it drives [ohm].
    speed_CL : float or None
        That capacitance, to the lower rail [F].
    t_on : tuple of (float, float) or None
        Typical and largest time from the LED's edge to the middle of the rising voltage across `speed_CL`, tPLH [s, s].
    t_off : tuple of (float, float) or None
        Typical and largest time from the other edge to the middle of its fall, tPHL [s, s].
    t_rise : float or None
        How long the output typically rises from 10 to 90 %, where that is stated [s].
    t_fall : float or None
        How long it typically falls from 90 to 10 %, likewise [s].
    """

    drop_high: float = quantity("output.drop_high.typ", VOLT)
    drop_high_max: float = quantity("output.drop_high.max", VOLT)
    drop_high_IO: float = quantity("output.drop_high.IO", AMPERE)
    VOL: float = quantity("output.VOL.typ", VOLT)
    VOL_max: float = quantity("output.VOL.max", VOLT)
    VOL_IO: float = quantity("output.VOL.IO", AMPERE)
    peak: tuple = row("output.peak_rating", AMPERE, AMPERE)
    supply: tuple = row("supply.VCC", VOLT, VOLT)
    ICC: tuple = row("supply.ICC", AMPERE, AMPERE, VOLT)
    UVLO_on: tuple | None = row("supply.UVLO_on", VOLT, VOLT, VOLT, optional=True)
    UVLO_off: tuple | None = row("supply.UVLO_off", VOLT, VOLT, VOLT, optional=True)
    output_power: Derating = derating("output.power_rating", WATT)
    speed_VCC: float | None = quantity("speed.VCC", VOLT, None, None)
    speed_IF: float | None = quantity("speed.IF", AMPERE, None, None)
    speed_RL: float | None = quantity("speed.RL", OHM, None, None)
    speed_CL: float | None = quantity("speed.CL", FARAD, None, None)
    t_on: tuple | None = row("speed.on", SECOND, SECOND, optional=True)
    t_off: tuple | None = row("speed.off", SECOND, SECOND, optional=True)
    t_rise: float | None = quantity("speed.rise", SECOND, None, None)
    t_fall: float | None = quantity("speed.fall", SECOND, None, None)

    family: ClassVar[str] = "gate-driver"
    speed_lines: ClassVar[tuple] = ("speed_VCC", "speed_IF", "speed_RL", "speed_CL", "t_on", "t_off")
    speed_extras: ClassVar[tuple] = ("t_rise", "t_fall")

    def _complaints(self):
        """Yield line and complaint of what cannot be true."""
        yield from SwitchingCard._complaints(self)
        if (self.UVLO_on is None) != (self.UVLO_off is None):
            yield "supply.UVLO_off", "a lockout has both voltages, or there is none"
        if self.UVLO_on is not None and any(off > on for off, on in zip(self.UVLO_off, self.UVLO_on, strict=True)):
            yield "supply.UVLO_off", "it is above the voltage at which the lockout ends"

    def _orders(self):
        """Yield line and values that must rise."""
        yield "output.drop_high", self.drop_high, self.drop_high_max
        yield "output.VOL", self.VOL, self.VOL_max
        yield "supply.VCC", *self.supply
        yield "supply.ICC", *self.ICC[:2]
        yield "supply.UVLO_on", *(self.UVLO_on or ())
        yield "supply.UVLO_off", *(self.UVLO_off or ())
        yield from SwitchingCard._orders(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class MosfetRelay(SwitchingCard):
    """The lines of a coupler whose output is a pair of transistors that switch a load of either polarity, or one.

    Attributes
    ----------
    R_on : float
        Typical on-resistance [ohm].
    R_on_max : float
        Largest on-resistance [ohm].
    R_on_IF : float
        LED current of that test [A].
    R_on_IL : float
        Load current of that test [A].
    leakage : float
        Typical current while off [A].
    leakage_max : float
        Largest current while off [A].
    leakage_VL : float
        Load voltage of that test [V].
    VL_rating : float
        Load voltage rating [V].
    IL_rating : Derating
        Continuous load current [A].
    connection : str
        "ac" where either polarity is blocked, "dc" where a diode conducts backwards.
    output_power : Derating
        Power rating of the output [W].
    speed_VCC : float or None
        Supply of the test of speed; all lines of the test are there or none [V].
    speed_IF : float or None
        LED current of that test while the LED is on [A].
    speed_RL : float or None
        Load resistor, in series with the output across that supply [ohm].
    t_on : tuple of (float, float) or None
        Typical and largest turn-on time, from the LED's edge [s, s].
    t_off : tuple of (float, float) or None
        Typical and largest turn-off time, from the other edge [s, s].
    """

    R_on: float = quantity("output.R_on.typ", OHM)
    R_on_max: float = quantity("output.R_on.max", OHM)
    R_on_IF: float = quantity("output.R_on.IF", AMPERE)
    R_on_IL: float = quantity("output.R_on.IL", AMPERE)
    leakage: float = quantity("output.leakage.typ", AMPERE, _LEAKS)
    leakage_max: float = quantity("output.leakage.max", AMPERE, _LEAKS)
    leakage_VL: float = quantity("output.leakage.VL", VOLT)
    VL_rating: float = quantity("output.VL_rating", VOLT)
    IL_rating: Derating = derating("output.IL_rating", AMPERE)
    connection: str = choice("output.connection", ("ac", "dc"), "ac")
    output_power: Derating = derating("output.power_rating", WATT)
    speed_VCC: float | None = quantity("speed.VCC", VOLT, None, None)
    speed_IF: float | None = quantity("speed.IF", AMPERE, None, None)
    speed_RL: float | None = quantity("speed.RL", OHM, None, None)
    t_on: tuple | None = row("speed.on", SECOND, SECOND, optional=True)
    t_off: tuple | None = row("speed.off", SECOND, SECOND, optional=True)

    family: ClassVar[str] = "mosfet-relay"
    speed_lines: ClassVar[tuple] = ("speed_VCC", "speed_IF", "speed_RL", "t_on", "t_off")

    def _orders(self):
        """Yield line and values that must rise."""
        yield "output.R_on", self.R_on, self.R_on_max
        yield "output.leakage", self.leakage, self.leakage_max
        yield "output.R_on.IF", self.IF_on, self.R_on_IF
        yield from SwitchingCard._orders(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class OptoTriac(SwitchingCard):
    """The lines of a coupler whose output is a light-triggered triac; `IF_typ` and `IF_on` are its trigger currents.

    Attributes
    ----------
    VTM : float
        Typical on-state voltage, peak [V].
    VTM_max : float
        Largest on-state voltage, peak [V].
    VTM_IT : float
        On-state current of that test, peak [A].
    IH : float
        Typical holding current [A].
    leakage : float
        Typical current while off [A].
    leakage_max : float
        Largest current while off [A].
    leakage_VD : float
        Off-state voltage of that test [V].
    VDRM : float
        Repetitive peak off-state voltage rating [V].
    ITSM : float
        Surge current rating, peak [A].
    IT_rating : Derating
        On-state current, rms [A].
    output_power : Derating
        Power rating of the output [W].
    inhibit : float or None
        Voltage above which it does not turn on; None for a part that turns on at any phase [V].
    speed_IF : float or None
        LED current of the test of speed; all lines of the test are there or none [A].
    t_on : tuple of (float, float) or None
        Typical and largest time from the LED's edge until the triac conducts, a voltage across it given [s, s].
    """

    VTM: float = quantity("output.VTM.typ", VOLT)
    VTM_max: float = quantity("output.VTM.max", VOLT)
    VTM_IT: float = quantity("output.VTM.IT", AMPERE)
    IH: float = quantity("output.IH", AMPERE)
    leakage: float = quantity("output.leakage.typ", AMPERE, _LEAKS)
    leakage_max: float = quantity("output.leakage.max", AMPERE, _LEAKS)
    leakage_VD: float = quantity("output.leakage.VD", VOLT)
    VDRM: float = quantity("output.VDRM_rating", VOLT)
    ITSM: float = quantity("output.ITSM_rating", AMPERE)
    IT_rating: Derating = derating("output.IT_rating", AMPERE)
    output_power: Derating = derating("output.power_rating", WATT)
    inhibit: float | None = quantity("output.zero_cross_inhibit", VOLT, None, None)
    speed_IF: float | None = quantity("speed.IF", AMPERE, None, None)
    t_on: tuple | None = row("speed.on", SECOND, SECOND, optional=True)

    family: ClassVar[str] = "opto-triac"
    speed_lines: ClassVar[tuple] = ("speed_IF", "t_on")

    def _orders(self):
        """Yield line and values that must rise."""
        yield "output.VTM", self.VTM, self.VTM_max
        yield "output.leakage", self.leakage, self.leakage_max
        yield "output.IH", self.leakage_max, self.IH, self.VTM_IT
        yield "output.leakage.VD", self.VTM_max, self.leakage_VD
        yield from SwitchingCard._orders(self)
