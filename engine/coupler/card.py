"""Coupler cards: the lines of a data sheet, read from plain TOML files.

The shipped cards are generic classes with values of our own. A card only states; `engine.coupler.calibrate` turns
it into a device model.
"""

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from itertools import chain, pairwise

import numpy as np

from engine.errors import CardError, QuantityError
from engine.quantity import AMPERE, CELSIUS, RATIO, VOLT, WATT, as_typed, parse, shown

_PLAUSIBLE = {
    AMPERE: (1e-6, 100.0),
    VOLT: (1e-3, 10e3),
    WATT: (1e-6, 1e3),
    RATIO: (1e-4, 1e3),
    CELSIUS: (-100.0, 300.0),
}
"""By unit, what a line may state unless it says otherwise: far beyond any coupler on either side, never nothing."""

_DARK_CURRENTS = 1e-15, 1e-3  # [A]
_EARLY_VOLTAGES = 1.0, 10e3  # [V]
_GAINS = 2.0, 1e5  # [-]
_DRIFTS = -0.1, 0.1  # [V/K]
_DOUBLINGS = 3.0, 100.0  # [K]
_WARMTH_REFERENCE = 25.0, 1.0  # [degC, -], the point that every curve over temperature is relative to


@dataclass(frozen=True, slots=True)
class Derating:
    """A rating that falls with ambient temperature.

    Attributes
    ----------
    limit : float
        Rating up to the knee [A or W].
    knee_degC : float
        Ambient temperature at which it begins to fall [degC].
    zero_degC : float
        Ambient temperature at which nothing is left [degC].
    """

    limit: float
    knee_degC: float
    zero_degC: float

    def at(self, TA_degC):
        """Return the rating at an ambient temperature.

        Parameters
        ----------
        TA_degC : float
            Ambient temperature [degC].

        Returns
        -------
        float
            The rating, never negative [A or W].
        """
        if TA_degC <= self.knee_degC:
            return self.limit
        if TA_degC >= self.zero_degC:
            return 0.0
        return self.limit * (self.zero_degC - TA_degC) / (self.zero_degC - self.knee_degC)


@dataclass(frozen=True, slots=True)
class Card:
    """The lines of a phototransistor coupler's data sheet.

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
    beta : float
        Current gain of the detector; typical of the class, seldom on a data sheet [-].
    VA : float
        Early voltage of the detector; as `beta` [V].
    """

    name: str
    title: str
    summary: str
    VF_points: tuple
    VF_IF: float
    VF_min: float
    VF_max: float
    VF_drift: float
    IF_rating: Derating
    VR_max: float
    LED_power: Derating
    CTR_min: float
    CTR_typ: float
    CTR_max: float
    CTR_IF: float
    CTR_VCE: float
    CTR_shape: tuple
    CTR_temperature: tuple
    VCE_sat: float
    VCE_sat_max: float
    VCE_sat_IF: float
    VCE_sat_IC: float
    knee: tuple
    ICEO: float
    ICEO_max: float
    ICEO_VCE: float
    ICEO_doubling: float
    VCEO: float
    IC_max: float
    detector_power: Derating
    beta: float
    VA: float

    def __post_init__(self):
        """Check what must be true of any card; raise CardError otherwise."""
        for line, complaint in chain(self._disorders(), self._contradictions()):
            raise CardError(self.name, line, complaint)

    def _disorders(self):
        """Yield line and complaint of what does not rise as it must."""
        for line, low, typ, high in (
            ("CTR", self.CTR_min, self.CTR_typ, self.CTR_max),
            ("detector.VCE_sat", 0.0, self.VCE_sat, self.VCE_sat_max),
            ("detector.ICEO", 0.0, self.ICEO, self.ICEO_max),
            ("LED.VF_limits", 0.0, self.VF_min, self.VF_max),
        ):
            if not 0.0 <= low <= typ <= high:
                yield line, "the values do not rise from min over typ to max"
        for line, points in (("LED.VF", self.VF_points), ("CTR.shape", self.CTR_shape)):
            if len(points) < 3 or not _rising(current for current, _ in points):
                yield line, "give at least three points with rising current"
        if not _rising(VF for _, VF in self.VF_points):
            yield "LED.VF", "the forward voltage does not rise with current"
        currents = [IF for IF, _ in self.CTR_temperature]
        if len(currents) < 2 or not _rising(currents) or currents[-1] != self.CTR_IF:
            yield "CTR.temperature", "give at least two curves with rising current, the last at the test current"
        for _, points in self.CTR_temperature:
            if len(points) < 2 or not _rising(TA for TA, _ in points):
                yield "CTR.temperature", "give at least two points with rising temperature in every curve"
            if _WARMTH_REFERENCE not in points:
                yield "CTR.temperature", "a curve has no point of 100 % at 25 °C"

    def _contradictions(self):
        """Yield line and complaint of what cannot be together; the points are in order by now."""
        IF, VF = np.array(self.VF_points).T
        if not self.VF_min <= np.interp(np.log(self.VF_IF), np.log(IF), VF) <= self.VF_max:
            yield "LED.VF_limits", "the typical forward voltage lies outside of them"
        IF, relative = np.array(self.CTR_shape).T
        share = np.exp(np.interp(np.log(self.VCE_sat_IF), np.log(IF), np.log(relative)))
        if self.VCE_sat_IC >= self.CTR_typ * share * self.VCE_sat_IF:
            yield "detector.VCE_sat", "its IC is above the current that the CTR gives there"


def _rising(values):
    """Whether every value is above the one before."""
    return all(low < high for low, high in pairwise(values))


class _Lines:
    """The lines of a card file, read with an error that names the line."""

    def __init__(self, name, table):
        self.name = name
        self.table = table

    def value(self, line):
        """Return the raw entry under a dotted name."""
        entry = self.table
        for key in line.split("."):
            if not isinstance(entry, dict) or key not in entry:
                raise CardError(self.name, line, "the line is missing")
            entry = entry[key]
        return entry

    def text(self, line):
        """Return words for people."""
        value = self.value(line)
        if not isinstance(value, str) or not value.strip():
            raise CardError(self.name, line, "it is not text")
        return value

    def quantity(self, line, unit, bounds=None):
        """Return a quantity in SI units."""
        return self._parsed(line, self.value(line), unit, bounds)

    def entries(self, line, entries):
        """Return what must be a list."""
        if not isinstance(entries, list):
            raise CardError(self.name, line, "it is not a list")
        return entries

    def points(self, line, *units):
        """Return a list of tuples of quantities."""
        return tuple(self.row(line, row, *units) for row in self.entries(line, self.value(line)))

    def row(self, line, row, *units):
        """Return one tuple of quantities."""
        if not isinstance(row, list) or len(row) != len(units):
            raise CardError(self.name, line, f"a point has {len(units)} values")
        return tuple(self._parsed(line, text, unit) for text, unit in zip(row, units, strict=True))

    def curves(self, line, unit, *units):
        """Return a list of curves, each a quantity under "IF" and its "points"."""
        found = []
        for entry in self.entries(line, self.value(line)):
            if not isinstance(entry, dict) or not {"IF", "points"} <= entry.keys():
                raise CardError(self.name, line, "a curve has IF and points")
            points = self.entries(line, entry["points"])
            found.append((self._parsed(line, entry["IF"], unit), tuple(self.row(line, row, *units) for row in points)))
        return tuple(found)

    def derating(self, line, unit):
        """Return a derating from limit, knee and zero."""
        rating = Derating(*self.row(line, self.value(line), unit, CELSIUS, CELSIUS))
        if not rating.knee_degC < rating.zero_degC:
            raise CardError(self.name, line, "the rating must begin to fall before nothing is left")
        return rating

    def number(self, line, bounds):
        """Return a plain number."""
        value = self.value(line)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise CardError(self.name, line, "it is not a plain number")
        low, high = bounds
        if not low <= value <= high:
            raise CardError(self.name, line, f"{shown(str(value))} is not within {low:g} to {high:g}")
        return float(value)

    def _parsed(self, line, text, unit, bounds=None):
        if not isinstance(text, str):
            raise CardError(self.name, line, f"'{shown(str(text))}' is not text with a unit; write {unit.example}")
        try:
            value = parse(text, unit)
        except QuantityError as error:
            raise CardError(self.name, line, str(error)) from error
        low, high = bounds or _PLAUSIBLE[unit]
        if not low <= value <= high:
            span = f"{as_typed(low, unit)} to {as_typed(high, unit)}"
            raise CardError(self.name, line, f"'{shown(text)}' is not within {span}")
        return value


def card_from(name, table):
    """Return the card that a parsed TOML table states.

    Parameters
    ----------
    name : str
        Name in links.
    table : dict
        Parsed TOML.

    Returns
    -------
    Card
        The card.

    Raises
    ------
    CardError
        If a line is missing, cannot be read, or cannot be true.
    """
    lines = _Lines(name, table)
    return Card(
        name=name,
        title=lines.text("title"),
        summary=lines.text("summary"),
        VF_points=lines.points("LED.VF", AMPERE, VOLT),
        VF_IF=lines.quantity("LED.VF_limits.IF", AMPERE),
        VF_min=lines.quantity("LED.VF_limits.min", VOLT),
        VF_max=lines.quantity("LED.VF_limits.max", VOLT),
        VF_drift=lines.number("LED.VF_volts_per_kelvin", _DRIFTS),
        IF_rating=lines.derating("LED.IF_rating", AMPERE),
        VR_max=lines.quantity("LED.VR_rating", VOLT),
        LED_power=lines.derating("LED.power_rating", WATT),
        CTR_min=lines.quantity("CTR.min", RATIO),
        CTR_typ=lines.quantity("CTR.typ", RATIO),
        CTR_max=lines.quantity("CTR.max", RATIO),
        CTR_IF=lines.quantity("CTR.IF", AMPERE),
        CTR_VCE=lines.quantity("CTR.VCE", VOLT),
        CTR_shape=lines.points("CTR.shape", AMPERE, RATIO),
        CTR_temperature=lines.curves("CTR.temperature", AMPERE, CELSIUS, RATIO),
        VCE_sat=lines.quantity("detector.VCE_sat.typ", VOLT),
        VCE_sat_max=lines.quantity("detector.VCE_sat.max", VOLT),
        VCE_sat_IF=lines.quantity("detector.VCE_sat.IF", AMPERE),
        VCE_sat_IC=lines.quantity("detector.VCE_sat.IC", AMPERE),
        knee=lines.row("detector.knee", lines.value("detector.knee"), AMPERE, VOLT, AMPERE),
        ICEO=lines.quantity("detector.ICEO.typ", AMPERE, _DARK_CURRENTS),
        ICEO_max=lines.quantity("detector.ICEO.max", AMPERE, _DARK_CURRENTS),
        ICEO_VCE=lines.quantity("detector.ICEO.VCE", VOLT),
        ICEO_doubling=lines.number("detector.ICEO.doubles_per_kelvin", _DOUBLINGS),
        VCEO=lines.quantity("detector.VCEO_rating", VOLT),
        IC_max=lines.quantity("detector.IC_rating", AMPERE),
        detector_power=lines.derating("detector.power_rating", WATT),
        beta=lines.number("detector.beta", _GAINS),
        VA=lines.quantity("detector.early_voltage", VOLT, _EARLY_VOLTAGES),
    )


def card_from_toml(name, text):
    """Return the card that a TOML file states.

    Parameters
    ----------
    name : str
        Name in links.
    text : str
        What the file holds.

    Returns
    -------
    Card
        The card.

    Raises
    ------
    CardError
        If the text is not TOML, or as `card_from`.
    """
    try:
        table = tomllib.loads(text)
    except ValueError as error:  # TOMLDecodeError is one, and so is what an endless integer raises
        raise CardError(name, "file", f"it is not TOML: {error}") from error
    return card_from(name, table)


@lru_cache(maxsize=1)
def card_names():
    """Return the names of the shipped cards, the default first.

    Returns
    -------
    tuple of str
        Names as they stand in links.
    """
    folder = resources.files("engine.coupler") / "classes"
    names = sorted(entry.name.removesuffix(".toml") for entry in folder.iterdir() if entry.name.endswith(".toml"))
    return tuple(sorted(names, key=lambda name: name != "general"))


@lru_cache(maxsize=64)
def load_card(name):
    """Return a shipped card.

    Parameters
    ----------
    name : str
        One of `card_names`.

    Returns
    -------
    Card
        The card.

    Raises
    ------
    CardError
        If there is no such card, or its file is faulty.
    """
    if name not in card_names():
        raise CardError(name, "name", f"there is no such card; there are {', '.join(card_names())}")
    text = (resources.files("engine.coupler") / "classes" / f"{name}.toml").read_text(encoding="utf-8")
    return card_from_toml(name, text)
