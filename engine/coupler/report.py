"""A card held against its model: every line as stated, and as the coupler reads on the test circuit of the line."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from engine.coupler.bench import Wiring, measure
from engine.coupler.calibrate import model_of
from engine.coupler.charges import charges_of, speed_tests
from engine.coupler.families import TransistorCard
from engine.coupler.pulsed import pulsed
from engine.coupler.switched import switched
from engine.errors import CardError
from engine.quantity import AMPERE, CELSIUS, FARAD, METRE, OHM, RATIO, SECOND, SLOPE, VOLT, WATT, as_typed

CLOSE_RATIO = 0.05  # [-], deviation up to which a current, ratio or resistance meets its line
CLOSE_TIME = 0.1  # [-], deviation up to which a time meets its line
CLOSE_VOLTAGE = 20e-3  # [V], deviation up to which a voltage meets its line
BARRIER_LINES = "VISO", "VIORM", "Creepage", "Clearance", "CTI", "C(io)", "CMTI"
"""Names of the lines that speak of the barrier."""

_SCAN = 0.5, 2.0  # [-], LED currents around a threshold, relative to it
_STEPS = 401


@dataclass(frozen=True, slots=True)
class CardLine:
    """One line of a card beside what the model makes of it.

    Attributes
    ----------
    name : str
        As on a data sheet.
    condition : str
        Under which it holds, in words; empty for a rating without one.
    stated : float
        What the card states [unit].
    modelled : float or None
        What the model reads on the test circuit; None for a line that only limits [unit].
    unit : str
        Name of the SI unit; "1" for ratios.
    deviation : float or None
        Modelled less stated for voltages [V]; the same over the stated value for all others [-].
    met : bool
        Whether the deviation is within 20 mV, 10 % of a time or 5 % of anything else; True for a line that only limits.
    remark : str
        What else there is to say; empty mostly.
    """

    name: str
    condition: str
    stated: float
    modelled: float | None
    unit: str
    deviation: float | None
    met: bool
    remark: str = ""


def _held(name, condition, stated, modelled, unit, remark=""):
    """Return the record of a line that the model answers for."""
    stated, modelled = float(stated), float(modelled)
    difference = modelled - stated
    deviation = difference if unit is VOLT else difference / stated
    met = abs(deviation) <= {VOLT: CLOSE_VOLTAGE, SECOND: CLOSE_TIME}.get(unit, CLOSE_RATIO)
    return CardLine(name, condition, stated, modelled, unit.name, deviation, met, remark)


def _limit(name, condition, stated, unit, remark=""):
    """Return the record of a line that only limits."""
    return CardLine(name, condition, float(stated), None, unit.name, None, True, remark)


def _at(**conditions):
    """Return conditions in words; the unit follows from the symbol."""
    units = {"I": AMPERE, "V": VOLT, "T": CELSIUS, "R": OHM, "C": FARAD}
    return ", ".join(f"{name} = {as_typed(value, units[name[0]])}" for name, value in conditions.items())


@lru_cache(maxsize=32)
def lines_of(card):
    """Return every line of a card beside what its model reads.

    Parameters
    ----------
    card : Card
        The card, of any family.

    Returns
    -------
    tuple of CardLine
        In the order of a data sheet: LED, transfer, output, barrier; those on speed are `speed_lines_of`.

    Raises
    ------
    CardError
        If the card cannot be calibrated, or a test circuit reads nothing finite.
    ConvergenceError
        If a test circuit cannot be solved, which is a defect.
    """
    model = model_of(card)
    family = _transistor if isinstance(card, TransistorCard) else _switching
    with np.errstate(all="ignore"):
        lines = (*_led(model), *family(model), *_barrier(card))
    for line in lines:
        if line.modelled is not None and not np.isfinite([line.modelled, line.deviation]).all():
            raise CardError(card.name, line.name, "the model reads nothing finite on the test circuit of this line")
    return lines


@lru_cache(maxsize=32)
def speed_lines_of(card):
    """Return the lines of a card on speed beside what its model reads; apart, as they take a calibration of their own.

    Parameters
    ----------
    card : Card
        The card, of any family.

    Returns
    -------
    tuple of CardLine
        Those of the test without saturation, then those of the one with it; of a coupler with a threshold its delays.
        Nothing where the card states none.

    Raises
    ------
    CardError
        If the card cannot be calibrated.
    ConvergenceError
        If a test circuit cannot be solved, which is a defect.
    """
    with np.errstate(all="ignore"):
        return tuple(_speed(model_of(card)))


def _speed(model):
    """Yield the lines on speed; of five times three are met by a charge each, the others follow."""
    card = model.card
    if card.LED_capacitance is not None:
        yield _limit("LED capacitance", _at(VF=0.0), card.LED_capacitance, FARAD, "the model takes it as it is")
    if not isinstance(card, TransistorCard):
        yield from _switching_speed(model)
        return
    tests = speed_tests(model)
    if tests is None:
        return
    read = pulsed(model, tests.pulse, charges_of(model))
    if "linear" in tests.names:
        condition = _at(VCC=card.linear_VCC, IC=card.linear_IC, RL=card.linear_RL)
        for name, stated, times in (("Rise", card.linear_rise, read.rise), ("Fall", card.linear_fall, read.fall)):
            yield _held(f"{name} time", condition, stated, times[0], SECOND)
    if "saturated" in tests.names:
        condition = _at(VCC=card.saturated_VCC, IF=card.saturated_IF, RL=card.saturated_RL)
        yield _held("Turn-on time", condition, card.saturated_on, read.on[-1], SECOND)
        yield _held("Storage time", condition, card.saturated_storage, read.storage[-1], SECOND)
        yield _held("Turn-off time", condition, card.saturated_off, read.off[-1], SECOND)


_TIMES = {
    "logic-gate": ("tPHL", "tPLH"),
    "gate-driver": ("tPLH", "tPHL"),
    "mosfet-relay": ("Turn-on time", "Turn-off time"),
    "opto-triac": ("Turn-on time", ""),
}
"""Family to what its times into light and into the dark are called."""


def _switching_speed(model):
    """Yield the lines on speed of a coupler with a threshold: its own delays, and what the test circuit adds."""
    card = model.card
    if card.t_on is None:
        return
    read = switched(model)
    given = {name: getattr(card, f"speed_{name}", None) for name in ("VCC", "IF", "RL", "CL")}
    condition = _at(**{name: value for name, value in given.items() if value is not None})
    stated = card.t_on, getattr(card, "t_off", None)
    for name, times, modelled in zip(_TIMES[card.family], stated, (read.on, read.off), strict=True):
        for end, time, found in zip(("typ", "max"), times or (), modelled, strict=times is not None):
            yield _held(f"{name} {end}", condition, time, found, SECOND)
    up, down = read.transitions if card.family == "gate-driver" else read.transitions[::-1]
    for name, taken in (("rise", up), ("fall", down)):
        time = getattr(card, f"t_{name}", None)
        if time is not None:
            remark = (
                f"the model changes over at once; its load takes {as_typed(float(f'{taken:.2g}'), SECOND)} by itself"
            )
            yield _limit(f"{name.capitalize()} time", condition, time, SECOND, remark)


# ---------------------------------------------------------------- what all families share


def _led(model):
    card, idle = model.card, _idle(model)
    IF, VF = np.array(card.VF_points).T
    for current, stated, read in zip(IF, VF, measure(model, IF, idle).VF, strict=True):
        yield _held("VF", _at(IF=current), stated, read, VOLT)
    cool, warm = measure(model, card.VF_IF, idle, TA=[15.0, 35.0]).VF
    volts = _held("VF drift per 20 K", _at(IF=card.VF_IF), 20 * card.VF_drift, warm - cool, VOLT, "15 to 35 °C")
    yield volts
    for name, stated in (("VF min", card.VF_min), ("VF max", card.VF_max)):
        yield _limit(name, _at(IF=card.VF_IF), stated, VOLT, "the ends of the spread of VF")
    yield _rating("IF", card.IF_rating, AMPERE)
    yield _limit("VR", "", card.VR_max, VOLT)
    yield _rating("LED power", card.LED_power, WATT)


def _rating(name, rating, unit):
    remark = f"falls from {as_typed(rating.knee_degC, CELSIUS)} to nothing at {as_typed(rating.zero_degC, CELSIUS)}"
    return _limit(name, "", rating.limit, unit, remark)


def _barrier(card):
    figures = (
        (card.VISO, VOLT, "rms, one minute"),
        (card.VIORM, VOLT, "peak, repetitive"),
        (card.creepage, METRE, ""),
        (card.clearance, METRE, ""),
        (card.CTI, VOLT, f"material group {card.group() or 'unknown'}"),
        (card.C_io, FARAD, "input to output"),
        (card.CMTI, SLOPE, "least, of a step between the grounds"),
    )
    for name, (stated, unit, remark) in zip(BARRIER_LINES, figures, strict=True):
        if stated is not None:
            yield _limit(name, "", stated, unit, remark)


def _idle(model):
    """Return a wiring in which the output does nothing to speak of."""
    return Wiring(hold=1.0, VCC=model.card.ICC[2] if "supply" in model.terminals else 1.0)


# ---------------------------------------------------------------- transistors


def _transistor(model):
    yield from _ratios(model)
    yield from _warm_ratios(model)
    yield from _saturation(model)
    yield from _dark(model)
    card = model.card
    yield _limit("VCEO", "", card.VCEO, VOLT)
    yield _limit("IC", "", card.IC_max, AMPERE)
    yield _rating("Detector power", card.detector_power, WATT)


def _ratios(model):
    card, held = model.card, Wiring(hold=model.card.CTR_VCE)
    condition = _at(IF=card.CTR_IF, VCE=card.CTR_VCE)
    for name, CTR in (("CTR typ", card.CTR_typ), ("CTR min", card.CTR_min), ("CTR max", card.CTR_max)):
        IC = measure(model, card.CTR_IF, held, CTR=CTR).IO[0]
        yield _held(name, condition, CTR, IC / card.CTR_IF, RATIO)
    if card.input == "pair":
        turned = measure(model, card.CTR_IF, Wiring(hold=card.CTR_VCE, turned=True)).IO[0]
        yield _held("CTR, LED current reversed", condition, card.CTR_typ, turned / card.CTR_IF, RATIO)
    if card.CTR_symmetry is not None:
        for name, stated in zip(("least", "greatest"), card.CTR_symmetry, strict=True):
            yield _limit(f"CTR symmetry, {name}", condition, stated, RATIO, "a typical part is taken as symmetrical")
    IF, relative = np.array(card.CTR_shape).T
    IC = measure(model, IF, held).IO
    at_test = measure(model, card.CTR_IF, held).IO[0] / card.CTR_IF
    for current, stated, read in zip(IF, relative, IC / IF / at_test, strict=True):
        yield _held("CTR over its test value", _at(IF=current, VCE=card.CTR_VCE), stated, read, RATIO)


def _warm_ratios(model):
    card, held = model.card, Wiring(hold=model.card.CTR_VCE)
    last = len(card.CTR_temperature) - 1
    for k, (IF, curve) in enumerate(card.CTR_temperature):
        TA, relative = np.array(curve).T
        IC, at_25 = measure(model, np.full(len(TA), IF), held, TA=TA).IO, measure(model, IF, held).IO[0]
        remark = "" if k in (0, last) else "only the first and the last curve are followed"
        for degrees, stated, read in zip(TA, relative, IC / at_25, strict=True):
            yield _held("CTR over its value at 25 °C", _at(IF=IF, TA=degrees), stated, read, RATIO, remark)


def _saturation(model):
    card = model.card
    condition = _at(IF=card.VCE_sat_IF, IC=card.VCE_sat_IC)
    read = measure(model, card.VCE_sat_IF, Wiring(feed=card.VCE_sat_IC)).VO[0]
    yield _held("VCE(sat) typ", condition, card.VCE_sat, read, VOLT)
    yield _limit("VCE(sat) max", condition, card.VCE_sat_max, VOLT)
    IF, VCE, IC = card.knee
    yield _held("IC at the knee", _at(IF=IF, VCE=VCE), IC, measure(model, IF, Wiring(hold=VCE)).IO[0], AMPERE)


def _dark(model):
    card, held = model.card, Wiring(hold=model.card.ICEO_VCE)
    warm = 25.0 + card.ICEO_doubling
    at_25, doubled = measure(model, np.zeros(2), held, TA=np.array([25.0, warm])).IO
    yield _held("ICEO typ", _at(VCE=card.ICEO_VCE), card.ICEO, at_25, AMPERE)
    largest = measure(model, 0.0, held, ICEO=card.ICEO_max).IO[0]
    yield _held("ICEO max", _at(VCE=card.ICEO_VCE), card.ICEO_max, largest, AMPERE)
    yield _held("ICEO over its value at 25 °C", _at(VCE=card.ICEO_VCE, TA=warm), 2.0, doubled / at_25, RATIO)


# ---------------------------------------------------------------- thresholds


def _switching(model):
    yield from _thresholds(model)
    outputs = {"logic-gate": _gate, "gate-driver": _driver, "mosfet-relay": _relay, "opto-triac": _triac}
    yield from outputs[model.card.family](model)
    yield _rating("Output power", model.card.output_power, WATT)


def _thresholds(model):
    card = model.card
    for name, stated in (("off", card.IF_off), ("typ", card.IF_typ), ("on", card.IF_on)):
        yield _held(f"Threshold IF, {name}", _at(TA=25.0), stated, turning_on(model, stated, 25.0), AMPERE)
    for TA, relative in card.threshold_temperature:
        read = turning_on(model, card.IF_typ, TA, relative) / card.IF_typ
        yield _held("Threshold IF over its value at 25 °C", _at(TA=TA), relative, read, RATIO)


def turning_on(model, threshold, TA, expected=1.0):
    """Return the LED current from which the output is on, by solving for many of them.

    Parameters
    ----------
    model : SwitchingModel
        The coupler.
    threshold : float
        Threshold of the specimen at 25 degC [A].
    TA : float
        Ambient temperature [degC].
    expected : float
        Threshold to look around, relative to that at 25 degC [-].

    Returns
    -------
    float
        The LED current [A].

    Raises
    ------
    ConvergenceError
        If the circuit cannot be solved.
    """
    IF = threshold * expected * np.geomspace(*_SCAN, _STEPS)
    VCC = model.card.supply[1] if "supply" in model.terminals else 1.0
    read = measure(model, IF, Wiring(feed=1e-9, VCC=VCC), TA=np.full(_STEPS, float(TA)), threshold=threshold)
    across = VCC - read.VO if "lower rail" in model.terminals else read.VO
    on = np.log(np.abs(across)) < np.log(np.abs(across)[[0, -1]]).mean()
    return IF[on.argmax()]


def _gate(model):
    card, VCC = model.card, model.card.ICC[2]
    condition = _at(IF=card.VOL_IF, IOL=card.VOL_IOL)
    fed = Wiring(feed=card.VOL_IOL, VCC=VCC)
    yield _held("VOL typ", condition, card.VOL, measure(model, card.VOL_IF, fed).VO[0], VOLT)
    yield _held("VOL max", condition, card.VOL_max, measure(model, card.VOL_IF, fed, VOL=card.VOL_max).VO[0], VOLT)
    off = Wiring(hold=card.IOH_VO, VCC=VCC)
    for name, IOH in (("IOH typ", card.IOH), ("IOH max", card.IOH_max)):
        yield _held(name, _at(IF=0.0, VO=card.IOH_VO), IOH, measure(model, 0.0, off, IOH=IOH).IO[0], AMPERE)
    yield from _supply(model)
    yield _limit("IOL", "", card.IOL_rating, AMPERE)
    yield _limit("VO", "", card.VO_rating, VOLT)


def _supply(model):
    card, VCC = model.card, model.card.ICC[2]
    for name, ICC in zip(("ICC typ", "ICC max"), card.ICC[:2], strict=True):
        read = measure(model, 0.0, Wiring(hold=0.0, VCC=VCC), ICC=ICC).ICC[0]
        yield _held(name, _at(IF=0.0, VCC=VCC), ICC, read, AMPERE)
    for name, stated in zip(("VCC min", "VCC max"), card.supply, strict=True):
        yield _limit(name, "", stated, VOLT)


def _driver(model):
    card, VCC = model.card, model.card.supply[1]
    condition = _at(IF=card.IF_on, IO=card.drop_high_IO)
    fed = Wiring(feed=-card.drop_high_IO, VCC=VCC)
    for name, drop in (("VCC − VOH typ", card.drop_high), ("VCC − VOH max", card.drop_high_max)):
        yield _held(name, condition, drop, VCC - measure(model, card.IF_on, fed, drop_high=drop).VO[0], VOLT)
    sunk = Wiring(feed=card.VOL_IO, VCC=VCC)
    for name, VOL in (("VOL typ", card.VOL), ("VOL max", card.VOL_max)):
        yield _held(name, _at(IF=0.0, IO=card.VOL_IO), VOL, measure(model, 0.0, sunk, VOL=VOL).VO[0], VOLT)
    yield from _supply(model)
    if card.UVLO_on is not None:
        yield from _lockout(model)
    for name, stated in zip(("Peak current out", "Peak current in"), card.peak, strict=True):
        yield _limit(name, "", stated, AMPERE)


def _lockout(model):
    """Yield the lockout: the supply is raised in steps until the output goes high."""
    card = model.card
    for name, stated in zip(("min", "typ", "max"), card.UVLO_on, strict=True):
        steps = stated * np.linspace(0.9, 1.1, 81)
        IF = np.full(len(steps), 2.0 * card.IF_on)
        ends = steps[(measure(model, IF, Wiring(feed=0.0, VCC=steps), UVLO=stated).VO > steps / 2).argmax()]
        yield _held(f"UVLO on, {name}", _at(IF=2 * card.IF_on), stated, ends, VOLT)
    for name, stated in zip(("min", "typ", "max"), card.UVLO_off, strict=True):
        yield _limit(f"UVLO off, {name}", "", stated, VOLT, "a supply that falls; the model knows one that rises")


def _relay(model):
    card = model.card
    condition = _at(IF=card.R_on_IF, IL=card.R_on_IL)
    for name, R_on in (("R(on) typ", card.R_on), ("R(on) max", card.R_on_max)):
        read = measure(model, card.R_on_IF, Wiring(feed=card.R_on_IL), R_on=R_on).VO[0] / card.R_on_IL
        yield _held(name, condition, R_on, read, OHM)
    yield from _leakage(model, "VL", card.leakage_VL)
    yield _limit("VL", "", card.VL_rating, VOLT)
    yield _rating("IL", card.IL_rating, AMPERE)


def _leakage(model, symbol, volts):
    card = model.card
    for name, stated in (("Off leakage typ", card.leakage), ("Off leakage max", card.leakage_max)):
        read = measure(model, 0.0, Wiring(hold=volts), leakage=stated).IO[0]
        yield _held(name, _at(**{"IF": 0.0, symbol: volts}), stated, read, AMPERE)


def _triac(model):
    card = model.card
    condition = _at(IF=card.IF_on, IT=card.VTM_IT)
    for name, VTM in (("VTM typ", card.VTM), ("VTM max", card.VTM_max)):
        yield _held(name, condition, VTM, measure(model, card.IF_on, Wiring(feed=card.VTM_IT), VTM=VTM).VO[0], VOLT)
    yield from _leakage(model, "VD", card.leakage_VD)
    yield _limit("IH", "", card.IH, AMPERE, "a triac holds itself above it; not part of the model")
    yield _limit("VDRM", "", card.VDRM, VOLT)
    yield _limit("ITSM", "", card.ITSM, AMPERE)
    yield _rating("IT", card.IT_rating, AMPERE)
    if card.inhibit is not None:
        yield _limit("Inhibit voltage", "", card.inhibit, VOLT, "above it the part does not turn on")
