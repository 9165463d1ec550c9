"""Quantities at the edge: text that people type to SI floats, and SI floats to text.

The only importer of pint. Typed text is read by an anchored grammar of our own (sign, digits, prefix or infix
letter, unit from an allow-list, bounded length); pint then converts by units resolved once, at import.
"""

import math
import re
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

import pint

from engine.errors import QuantityError

_REGISTRY = pint.UnitRegistry(cache_folder=None)
_LONGEST = 40  # characters; nothing that anyone types for a quantity is longer
_DIGITS = 12  # significant digits kept of a typed value, so that reading what was written returns the same float

_PREFIXES = {
    "": 0, "p": -12, "n": -9, "u": -6, "µ": -6, "μ": -6, "m": -3, "k": 3, "K": 3, "M": 6, "G": 9,
}  # fmt: skip
_PINT_PREFIX = {-12: "pico", -9: "nano", -6: "micro", -3: "milli", 0: "", 3: "kilo", 6: "mega", 9: "giga"}
_PINT_NAME = {
    "ohm": "ohm", "V": "volt", "A": "ampere", "W": "watt", "F": "farad", "H": "henry", "Hz": "hertz", "s": "second",
    "C": "coulomb", "J": "joule", "m": "metre",
}  # fmt: skip
_PRINTED_PREFIX = {-15: "f", -12: "p", -9: "n", -6: "µ", -3: "m", 0: "", 3: "k", 6: "M", 9: "G", 12: "T"}
_PREFIX_FACTORS = {prefix: float(f"1e{power}") for power, prefix in _PRINTED_PREFIX.items()}


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit as people type and read it.

    Attributes
    ----------
    name : str
        Name of the SI unit in JSON ("V", "ohm", "degC", "1").
    symbol : str
        What is printed behind a number.
    spellings : tuple of str
        What is understood behind a number, case respected.
    example : str
        Something that reads well in an error message.
    scales : tuple of int
        Powers of ten of the prefixes that are understood; only 0 for units that take no prefix.
    floor : float
        Magnitude below which a reading is zero to any instrument [unit].
    shift : int
        Power of ten of what is printed and typed beside the SI value: 2 for percent [-].
    """

    name: str
    symbol: str
    spellings: tuple
    example: str
    scales: tuple = (-12, -9, -6, -3, 0, 3, 6, 9)
    floor: float = 1e-15
    shift: int = 0


VOLT = Unit("V", "V", ("V", "v", "volt", "volts"), "48 V or 500 mV", floor=1e-6)
AMPERE = Unit("A", "A", ("A", "a", "amp", "amps", "ampere"), "5 mA or 0.005 A", floor=1e-13)
OHM = Unit("ohm", "Ω", ("Ω", "\u2126", "ohm", "Ohm", "ohms", "OHM", "R"), "4k7, 4.7 kohm or 4700")
WATT = Unit("W", "W", ("W", "w", "watt", "watts"), "250 mW", floor=1e-12)
CELSIUS = Unit("degC", "°C", ("°C", "C", "degC", "deg C", "celsius", "K", "kelvin"), "25 C", (0,))
RATIO = Unit("1", "%", ("%", "percent"), "110 %", (0,), shift=2)
FARAD = Unit("F", "F", ("F", "f", "farad"), "220 nF or 2u2", floor=1e-18)
HENRY = Unit("H", "H", ("H", "h", "henry"), "300 mH", floor=1e-12)
HERTZ = Unit("Hz", "Hz", ("Hz", "hz", "HZ", "hertz"), "50 Hz", floor=1e-9)
SECOND = Unit("s", "s", ("s", "sec", "second", "seconds"), "5 ms", floor=1e-15)
COULOMB = Unit("C", "C", ("C", "c", "coulomb"), "120 nC", floor=1e-18)
JOULE = Unit("J", "J", ("J", "j", "joule"), "2 mJ", floor=1e-18)
METRE = Unit("m", "m", ("m", "metre", "metres"), "7 mm", floor=1e-12)
DEGREE = Unit("deg", "°", ("°", "deg"), "10 deg", (0,), floor=1e-6)
SLOPE = Unit("V/s", "V/µs", ("V/µs", "V/μs", "V/us", "V/ns", "V/ms", "V/s"), "1 kV/us", floor=1.0, shift=-6)
COUNT = Unit("count", "", ("",), "3", (0,))

UNITS = {
    unit.name: unit
    for unit in (
        VOLT,
        AMPERE,
        OHM,
        WATT,
        CELSIUS,
        RATIO,
        FARAD,
        HENRY,
        HERTZ,
        SECOND,
        COULOMB,
        JOULE,
        METRE,
        DEGREE,
        SLOPE,
        COUNT,
    )
}

_MINUS = "\u2212"  # the minus sign of print, read as the hyphen of keyboards
_NUMBER = r"(?P<number>[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?)"
_INFIX = re.compile(r"(?P<whole>[0-9]+)(?P<letter>[pnuµμmkKMGRrV])(?P<part>[0-9]+)\s*(?P<unit>[^\d\s.,+-][^\d.,+-]*)?")


@lru_cache(maxsize=64)
def _plain(unit):
    """Compile the pattern of a number with optional prefix and unit."""
    prefixes = "|".join(p for p, power in _PREFIXES.items() if p and power in unit.scales)
    spellings = "|".join(re.escape(s) for s in sorted(unit.spellings, key=len, reverse=True))
    prefix = rf"(?P<prefix>{prefixes})?" if prefixes else "(?P<prefix>)"
    return re.compile(rf"{_NUMBER}\s*(?:(?P<bare>{spellings})|{prefix}\s*(?P<unit>{spellings})?)")


@lru_cache(maxsize=64)
def _pint_unit(name, power):
    """Resolve a prefixed unit once."""
    return _REGISTRY.Unit(_PINT_PREFIX[power] + _PINT_NAME[name])


_PERCENT = _REGISTRY.Unit("percent")
_DEG_C = _REGISTRY.Unit("degC")
_KELVIN = _REGISTRY.Unit("kelvin")
_SLOPES = {
    f"V/{short}": _REGISTRY.Unit(f"volt / {name}")
    for short, name in (("s", "second"), ("ms", "millisecond"), ("ns", "nanosecond"))
} | dict.fromkeys(("", "V/µs", "V/μs", "V/us"), _REGISTRY.Unit("volt / microsecond"))
_VOLT_PER_SECOND = _REGISTRY.Unit("volt / second")


def _to_si(number, unit, power, spelling):
    """Convert a read number to the SI unit (degrees Celsius for temperatures) through pint."""
    if unit is RATIO:
        return _REGISTRY.Quantity(number, _PERCENT).m_as("dimensionless")
    if unit in (COUNT, DEGREE):
        return number
    if unit is SLOPE:
        return _REGISTRY.Quantity(number * 10.0**power, _SLOPES[spelling]).m_as(_VOLT_PER_SECOND)
    if unit is CELSIUS:
        return _REGISTRY.Quantity(number, _KELVIN if spelling in ("K", "kelvin") else _DEG_C).m_as(_DEG_C)
    return _REGISTRY.Quantity(number, _pint_unit(unit.name, power)).m_as(_pint_unit(unit.name, 0))


def _refuse(text, unit, reason):
    raise QuantityError(shown(text), reason, f"write {unit.example}")


def shown(text):
    """Return given text as it may stand in a message: printable, and short.

    Parameters
    ----------
    text : str
        Anything that was typed or sent.

    Returns
    -------
    str
        At most 40 characters, control characters replaced.
    """
    clean = "".join(c if c.isprintable() else "?" for c in text[: _LONGEST + 1])
    return clean if len(text) <= _LONGEST else clean[: _LONGEST - 1] + "…"


@lru_cache(maxsize=4096)
def parse(text, unit):
    """Return the SI value of a typed quantity.

    A number without unit is taken in the field's own unit (percent for ratios, degrees Celsius for temperatures).

    Parameters
    ----------
    text : str
        What was typed, for example "4k7", "4.7 kΩ", "12mA", "0.012 A", "110 %", "25C".
    unit : Unit
        The unit that the field is in.

    Returns
    -------
    float
        The value in SI units, temperatures in degrees Celsius, ratios as plain numbers [unit].

    Raises
    ------
    QuantityError
        If the text is empty, too long, not a number, not finite, or in another unit.

    Examples
    --------
    >>> parse("4k7", OHM), parse("0.012 A", AMPERE), parse("110%", RATIO)
    (4700.0, 0.012, 1.1)
    """
    stripped = text.strip().replace(_MINUS, "-")
    if not stripped:
        _refuse(text, unit, "it is empty")
    if len(stripped) > _LONGEST:
        _refuse(text, unit, f"'{shown(stripped)}' is too long to be a quantity")
    infix = _INFIX.fullmatch(stripped)
    if infix and len(unit.scales) > 1:
        letter = infix["letter"]
        own = {"ohm": "Rr", "V": "V"}.get(unit.name, "")
        spelling = (infix["unit"] or unit.symbol).strip()
        if spelling not in unit.spellings:
            _refuse(text, unit, f"'{shown(spelling)}' is not a unit of this field")
        if letter in own or letter not in "RrV":
            power = 0 if letter in own else _PREFIXES[letter]
            return _checked(stripped, unit, f"{infix['whole']}.{infix['part']}", power, unit.symbol)
    plain = _plain(unit).fullmatch(stripped)
    if plain:
        power = _PREFIXES[plain["prefix"] or ""]
        return _checked(stripped, unit, plain["number"], power, plain["bare"] or plain["unit"] or "")
    return _explain(stripped, unit)


def _checked(text, unit, number, power, spelling):
    """Return the rounded SI value, refusing what is not finite."""
    value = _to_si(float(number), unit, power, spelling)
    if not math.isfinite(value):
        _refuse(text, unit, f"'{shown(text)}' is not a finite number")
    return float(f"{value:.{_DIGITS}g}") + 0.0


def _explain(text, unit):
    """Raise the error that tells best what is wrong with text no pattern took."""
    if re.fullmatch(r"[+-]?(nan|inf(inity)?)\s*\S*", text, re.IGNORECASE):
        _refuse(text, unit, f"'{shown(text)}' is not a finite number")
    if re.match(r"[+-]?[0-9]+,[0-9]+", text):
        _refuse(text, unit, f"'{shown(text)}' has a comma")
    if any(c.isdigit() and not c.isascii() for c in text):
        _refuse(text, unit, f"'{shown(text)}' has other digits than 0 to 9")
    if re.search("[\u2013\u2014]", text):
        _refuse(text, unit, f"'{shown(text)}' has a dash, which is no minus sign")
    number = re.match(_NUMBER, text)
    if number:
        rest = text[number.end() :].strip()
        _refuse(text, unit, f"'{shown(rest)}' is not a unit of this field")
    return _refuse(text, unit, f"'{shown(text)}' is not a number")


def _decimal_text(value):
    """Return a float as the shortest plain decimal that reads back as the same value."""
    text = format(Decimal(f"{value:.{_DIGITS}g}"), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def _as_printed(value, unit):
    """Return a value in what is printed behind it: percent, volts per microsecond."""
    return value if not unit.shift else value * 10.0**unit.shift if unit.shift > 0 else value / 10.0**-unit.shift


def _scaled_decimal(value, power):
    return Decimal(f"{value:.{_DIGITS}g}").scaleb(-power)


def _power_for(value, unit, lowest=-12):
    """Return the power of ten of the engineering prefix for a value."""
    if value == 0 or unit.scales == (0,):
        return 0
    power = 3 * math.floor(math.log10(abs(value)) / 3 + 1e-12)
    return min(max(power, lowest), 9)


def as_typed(value, unit, *, gap=" "):
    """Return the shortest text that reads back as the same value.

    Parameters
    ----------
    value : float
        SI value [unit].
    unit : Unit
        Its unit.
    gap : str
        What stands between number and unit; "" for query strings.

    Returns
    -------
    str
        For example "4.7 kΩ", "110 %", "25 °C".

    Examples
    --------
    >>> as_typed(4700.0, OHM), as_typed(1.1, RATIO), as_typed(0.0057, AMPERE, gap="")
    ('4.7 kΩ', '110 %', '5.7mA')
    """
    if unit is RATIO and (1e-15 < abs(value) < 1e15 or value == 0):
        return f"{_decimal_text(value * 100)}{gap}%"
    value = value if unit is RATIO else _as_printed(value, unit)
    if not 1e-15 < abs(value) < 1e15 and value != 0:
        return f"{value:.{_DIGITS}g}{gap}{unit.symbol}"
    power = _power_for(value, unit)
    number = format(_scaled_decimal(value, power), "f")
    number = number.rstrip("0").rstrip(".") if "." in number else number
    return f"{number}{gap}{_PRINTED_PREFIX[power]}{unit.symbol}".rstrip()


def in_query(value, unit):
    """Return a quantity as it stands in a query string: ASCII, no spaces, short.

    Parameters
    ----------
    value : float
        SI value [unit].
    unit : Unit
        Its unit.

    Returns
    -------
    str
        For example "4k7", "48V", "5.7mA", "110%", "25C".

    Examples
    --------
    >>> in_query(4700.0, OHM), in_query(48.0, VOLT), in_query(25.0, CELSIUS)
    ('4k7', '48V', '25C')
    """
    text = as_typed(value, unit, gap="").replace("µ", "u").replace("°", "")
    if unit is not OHM:
        return text
    text = text.removesuffix("Ω")
    if not text[-1].isalpha():
        text += "R"
    return text[:-1].replace(".", text[-1]) if "." in text and text[0] != "-" else text


def reading(value, unit, digits=3):
    """Return a value as a reading: engineering prefix, a fixed number of significant digits.

    Parameters
    ----------
    value : float
        SI value [unit].
    unit : Unit
        Its unit.
    digits : int
        Significant digits, 2 to 6.

    Returns
    -------
    tuple of str
        The number and the prefixed unit, for example ("5.71", "mA"). What is below the unit's floor reads as zero.

    Examples
    --------
    >>> reading(0.005714, AMPERE), reading(-0.27349, VOLT), reading(999.96, OHM)
    (('5.71', 'mA'), ('-273', 'mV'), ('1.00', 'kΩ'))
    """
    if abs(value) < unit.floor:
        return "0", unit.symbol
    mantissa, _, exponent = f"{_as_printed(value, unit):.{digits - 1}e}".partition("e")
    exponent = int(exponent)
    power = 0 if unit.scales == (0,) else min(max(exponent - exponent % 3, -15), 12)
    return _shifted(mantissa, exponent - power), _PRINTED_PREFIX[power] + unit.symbol


def _shifted(mantissa, places):
    """Return a mantissa "d.dd" with its point moved to the right."""
    sign = mantissa[: mantissa[0] == "-"]
    figures = mantissa.removeprefix("-").replace(".", "")
    if not figures.strip("0"):
        return "0"
    if places < 0:
        return f"{sign}0.{'0' * (-places - 1)}{figures}"
    figures = figures.ljust(places + 1, "0")
    whole, part = figures[: places + 1], figures[places + 1 :]
    return f"{sign}{whole}.{part}" if part else sign + whole


def span(low, high, unit, digits=3):
    """Return a range as readings, in one unit where that reads well.

    Parameters
    ----------
    low : float
        Lower end, SI value [unit].
    high : float
        Upper end, SI value [unit].
    unit : Unit
        Its unit.
    digits : int
        Significant digits, 2 to 6.

    Returns
    -------
    tuple of str
        Text of the numbers and the prefixed unit; where the ends need different prefixes, the text carries both units
        and the unit is empty. Where both ends read the same, the text is empty.

    Examples
    --------
    >>> span(0.0025, 0.00341, AMPERE), span(8.9e-10, 5.09e-6, AMPERE), span(5.0, 5.0, VOLT)
    (('2.50 – 3.41', 'mA'), ('890 pA – 5.09 µA', ''), ('', 'V'))
    """
    (low_number, low_unit), (high_number, high_unit) = reading(low, unit, digits), reading(high, unit, digits)
    if low_unit == high_unit:
        return ("" if low_number == high_number else f"{low_number} – {high_number}"), high_unit
    larger = high_unit if abs(high) > abs(low) else low_unit
    factor = _PREFIX_FACTORS[larger.removesuffix(unit.symbol)]
    scaled = [_as_printed(value, unit) / factor for value in (low, high)]
    if all(
        abs(value) >= 0.01 or number == "0" for value, number in zip(scaled, (low_number, high_number), strict=True)
    ):
        largest = float(f"{max(abs(value) for value in scaled):.{digits - 1}e}")
        decimals = max(digits - 1 - math.floor(math.log10(largest)), 0)
        return " – ".join(_plain_decimal(value, decimals) for value in scaled), larger
    return f"{low_number} {low_unit} – {high_number} {high_unit}", ""


def _plain_decimal(value, decimals):
    """Return a number with so many decimals; zero without any."""
    text = f"{value:.{decimals}f}"
    return text if float(text) else "0"
