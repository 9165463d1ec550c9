"""Coupler cards: the lines of a data sheet, read from plain TOML files.

The shipped cards are generic classes with values of our own. A card only states; `engine.coupler.calibrate` turns
it into a device model.
"""

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

from engine.errors import CardError, QuantityError
from engine.quantity import AMPERE, CELSIUS, RATIO, VOLT, WATT, parse


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
        left = (self.zero_degC - TA_degC) / (self.zero_degC - self.knee_degC)
        return self.limit * min(max(left, 0.0), 1.0)


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
        for name, low, typ, high in (
            ("CTR", self.CTR_min, self.CTR_typ, self.CTR_max),
            ("VCE_sat", 0.0, self.VCE_sat, self.VCE_sat_max),
            ("ICEO", 0.0, self.ICEO, self.ICEO_max),
            ("VF", 0.0, self.VF_min, self.VF_max),
        ):
            if not 0.0 <= low <= typ <= high:
                raise CardError(self.name, name, "the values do not rise from min over typ to max")
        for name, points in (("VF", self.VF_points), ("CTR shape", self.CTR_shape)):
            currents = [current for current, _ in points]
            if len(points) < 3 or sorted(set(currents)) != currents:
                raise CardError(self.name, name, "give at least three points with rising current")


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

    def quantity(self, line, unit):
        """Return a quantity in SI units."""
        return self._parsed(line, self.value(line), unit)

    def points(self, line, *units):
        """Return a list of tuples of quantities."""
        return tuple(self.row(line, row, *units) for row in self.value(line))

    def row(self, line, row, *units):
        """Return one tuple of quantities."""
        if not isinstance(row, list) or len(row) != len(units):
            raise CardError(self.name, line, f"a point has {len(units)} values")
        return tuple(self._parsed(line, text, unit) for text, unit in zip(row, units, strict=True))

    def derating(self, line, unit):
        """Return a derating from limit, knee and zero."""
        return Derating(*self.row(line, self.value(line), unit, CELSIUS, CELSIUS))

    def number(self, line):
        """Return a plain number."""
        value = self.value(line)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise CardError(self.name, line, "it is not a plain number")
        return float(value)

    def _parsed(self, line, text, unit):
        try:
            return parse(str(text), unit)
        except QuantityError as error:
            raise CardError(self.name, line, str(error)) from error


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
    temperature = tuple(
        (lines._parsed("CTR.temperature", entry["IF"], AMPERE),
         tuple(lines.row("CTR.temperature", row, CELSIUS, RATIO) for row in entry["points"]))
        for entry in lines.value("CTR.temperature")
    )  # fmt: skip
    return Card(
        name=name,
        title=str(lines.value("title")),
        summary=str(lines.value("summary")),
        VF_points=lines.points("LED.VF", AMPERE, VOLT),
        VF_IF=lines.quantity("LED.VF_limits.IF", AMPERE),
        VF_min=lines.quantity("LED.VF_limits.min", VOLT),
        VF_max=lines.quantity("LED.VF_limits.max", VOLT),
        VF_drift=lines.number("LED.VF_volts_per_kelvin"),
        IF_rating=lines.derating("LED.IF_rating", AMPERE),
        VR_max=lines.quantity("LED.VR_rating", VOLT),
        LED_power=lines.derating("LED.power_rating", WATT),
        CTR_min=lines.quantity("CTR.min", RATIO),
        CTR_typ=lines.quantity("CTR.typ", RATIO),
        CTR_max=lines.quantity("CTR.max", RATIO),
        CTR_IF=lines.quantity("CTR.IF", AMPERE),
        CTR_VCE=lines.quantity("CTR.VCE", VOLT),
        CTR_shape=lines.points("CTR.shape", AMPERE, RATIO),
        CTR_temperature=temperature,
        VCE_sat=lines.quantity("detector.VCE_sat.typ", VOLT),
        VCE_sat_max=lines.quantity("detector.VCE_sat.max", VOLT),
        VCE_sat_IF=lines.quantity("detector.VCE_sat.IF", AMPERE),
        VCE_sat_IC=lines.quantity("detector.VCE_sat.IC", AMPERE),
        knee=lines.row("detector.knee", lines.value("detector.knee"), AMPERE, VOLT, AMPERE),
        ICEO=lines.quantity("detector.ICEO.typ", AMPERE),
        ICEO_max=lines.quantity("detector.ICEO.max", AMPERE),
        ICEO_VCE=lines.quantity("detector.ICEO.VCE", VOLT),
        ICEO_doubling=lines.number("detector.ICEO.doubles_per_kelvin"),
        VCEO=lines.quantity("detector.VCEO_rating", VOLT),
        IC_max=lines.quantity("detector.IC_rating", AMPERE),
        detector_power=lines.derating("detector.power_rating", WATT),
        beta=lines.number("detector.beta"),
        VA=lines.quantity("detector.early_voltage", VOLT),
    )


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
    return card_from(name, tomllib.loads(text))
