"""Quantities as people type and read them."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.errors import QuantityError
from engine.quantity import (
    AMPERE,
    CELSIUS,
    OHM,
    RATIO,
    SLOPE,
    UNITS,
    VOLT,
    WATT,
    as_typed,
    in_query,
    parse,
    reading,
    shown,
    span,
)

MANY = settings(max_examples=150, deadline=None)


def significant(low=-14, high=14):
    """Numbers of either sign with twelve significant digits, zero included."""
    powers = st.integers(low, high - 1)
    mantissas = st.integers(10**11, 10**12 - 1)
    signs = st.sampled_from((1, -1))
    numbers = st.builds(lambda sign, m, e: float(f"{sign * m}e{e - 11}"), signs, mantissas, powers)
    return st.one_of(st.just(0.0), numbers)


# ---------------------------------------------------------------- reading what is typed


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("4k7", OHM, 4700.0),
        ("4K7", OHM, 4700.0),
        ("4.7k", OHM, 4700.0),
        ("4.7K", OHM, 4700.0),
        ("4.7 k", OHM, 4700.0),
        ("4.7 kΩ", OHM, 4700.0),
        ("4.7 k\u2126", OHM, 4700.0),
        ("4.7kohm", OHM, 4700.0),
        ("4.7 k ohm", OHM, 4700.0),
        ("4k7 ohm", OHM, 4700.0),
        ("4k7Ω", OHM, 4700.0),
        ("4700", OHM, 4700.0),
        ("4700 ohm", OHM, 4700.0),
        ("4700 Ohm", OHM, 4700.0),
        ("4700 OHM", OHM, 4700.0),
        ("4700ohms", OHM, 4700.0),
        ("4700R", OHM, 4700.0),
        ("4.7e3", OHM, 4700.0),
        ("4.7E+3 ohm", OHM, 4700.0),
        ("0.0047M", OHM, 4700.0),
        ("2R2", OHM, 2.2),
        ("2r2", OHM, 2.2),
        ("0R5", OHM, 0.5),
        ("1M", OHM, 1e6),
        ("1M5", OHM, 1.5e6),
        ("1G", OHM, 1e9),
        ("100m", OHM, 0.1),
        ("3V3", VOLT, 3.3),
        ("3V3 V", VOLT, 3.3),
        ("48", VOLT, 48.0),
        ("48V", VOLT, 48.0),
        ("48 v", VOLT, 48.0),
        ("48 volts", VOLT, 48.0),
        ("+48 V", VOLT, 48.0),
        ("-48 V", VOLT, -48.0),
        ("500 mV", VOLT, 0.5),
        ("0.5 kV", VOLT, 500.0),
        (".5", VOLT, 0.5),
        ("5.", VOLT, 5.0),
        ("12mA", AMPERE, 0.012),
        ("12 ma", AMPERE, 0.012),
        ("12m", AMPERE, 0.012),
        ("0.012 A", AMPERE, 0.012),
        ("12000 uA", AMPERE, 0.012),
        ("12000 µA", AMPERE, 0.012),
        ("12000 \u03bcA", AMPERE, 0.012),
        ("12e-3 amp", AMPERE, 0.012),
        ("0.012 amps", AMPERE, 0.012),
        ("0.012 ampere", AMPERE, 0.012),
        ("4m7 A", AMPERE, 0.0047),
        ("4m7", AMPERE, 0.0047),
        ("2 nA", AMPERE, 2e-9),
        ("2n2", AMPERE, 2.2e-9),
        ("3 pA", AMPERE, 3e-12),
        ("250 mW", WATT, 0.25),
        ("0.25 watt", WATT, 0.25),
        ("2 W", WATT, 2.0),
        ("110 %", RATIO, 1.1),
        ("110%", RATIO, 1.1),
        ("110", RATIO, 1.1),
        ("5 percent", RATIO, 0.05),
        ("25C", CELSIUS, 25.0),
        ("25 °C", CELSIUS, 25.0),
        ("25 degC", CELSIUS, 25.0),
        ("25 deg C", CELSIUS, 25.0),
        ("25 celsius", CELSIUS, 25.0),
        ("25", CELSIUS, 25.0),
        ("-40 °C", CELSIUS, -40.0),
        ("-40", CELSIUS, -40.0),
        ("298.15 K", CELSIUS, 25.0),
        ("298.15kelvin", CELSIUS, 25.0),
        ("233.15 K", CELSIUS, -40.0),
        ("\u22125 °C", CELSIUS, -5.0),
        ("\u221240", CELSIUS, -40.0),
        (" \u2212500 mV", VOLT, -0.5),
        ("12e\u22123 A", AMPERE, 0.012),
        ("  4k7\t", OHM, 4700.0),
    ],
)
def test_every_usual_spelling_is_read(text, unit, value):
    assert parse(text, unit) == value


def test_minus_zero_is_read_as_plain_zero():
    assert str(parse("-0 V", VOLT)) == "0.0"


def test_twelve_digits_of_a_number_are_kept():
    assert parse("1.23456789012345", VOLT) == 1.23456789012


@pytest.mark.parametrize(
    ("text", "unit", "reason"),
    [
        ("", OHM, "it is empty"),
        ("   ", OHM, "it is empty"),
        ("4,7 kohm", OHM, "'4,7 kohm' has a comma"),
        ("1,000", VOLT, "'1,000' has a comma"),
        ("9**9**9", OHM, "'**9**9' is not a unit of this field"),
        ("5 V + 3 V", VOLT, "'V + 3 V' is not a unit of this field"),
        ("nan V", VOLT, "'nan V' is not a finite number"),
        ("NaN", VOLT, "'NaN' is not a finite number"),
        ("inf", OHM, "'inf' is not a finite number"),
        ("-Infinity A", AMPERE, "'-Infinity A' is not a finite number"),
        ("1e400 V", VOLT, "'1e400 V' is not a finite number"),
        ("1e9999 V", VOLT, "'9 V' is not a unit of this field"),
        ("5 V", OHM, "'V' is not a unit of this field"),
        ("5 mA", VOLT, "'mA' is not a unit of this field"),
        ("4k7 A", OHM, "'A' is not a unit of this field"),
        ("3V3", AMPERE, "'V3' is not a unit of this field"),
        ("2R2", VOLT, "'R2' is not a unit of this field"),
        ("10 m%", RATIO, "'m%' is not a unit of this field"),
        ("1k", RATIO, "'k' is not a unit of this field"),
        ("25 F", CELSIUS, "'F' is not a unit of this field"),
        ("4.7 kk", OHM, "'kk' is not a unit of this field"),
        ("1 TΩ", OHM, "'TΩ' is not a unit of this field"),
        ("ohm", OHM, "'ohm' is not a number"),
        ("k7", OHM, "'k7' is not a number"),
        ("--5 V", VOLT, "'--5 V' is not a number"),
        (".", VOLT, "'.' is not a number"),
        ("0x10", OHM, "'x10' is not a unit of this field"),
        ("1_000", OHM, "'_000' is not a unit of this field"),
        ("5 V\x00", VOLT, "'V?' is not a unit of this field"),
        ("\x1b[31m5", VOLT, "'?[31m5' is not a number"),
        ("4\nk7", OHM, "'k7' is not a unit of this field"),
        ("\u2212\u22125 V", VOLT, "'--5 V' is not a number"),
        ("5 \u2212 3 V", VOLT, "'- 3 V' is not a unit of this field"),
        ("\u20135 °C", CELSIUS, "'\u20135 °C' has a dash, which is no minus sign"),
        ("\u20145 °C", CELSIUS, "'\u20145 °C' has a dash, which is no minus sign"),
        ("5\u201310 V", VOLT, "'5\u201310 V' has a dash, which is no minus sign"),
        ("\uff14\uff18 V", VOLT, "'\uff14\uff18 V' has other digits than 0 to 9"),
        ("\uff14k\uff17", OHM, "'\uff14k\uff17' has other digits than 0 to 9"),
        ("4k\uff17", OHM, "'4k\uff17' has other digits than 0 to 9"),
        ("\u0664\u0668 V", VOLT, "'\u0664\u0668 V' has other digits than 0 to 9"),
        ("5\u00b2 V", VOLT, "'5\u00b2 V' has other digits than 0 to 9"),
    ],
)
def test_what_cannot_be_read_says_why(text, unit, reason):
    with pytest.raises(QuantityError) as caught:
        parse(text, unit)
    assert caught.value.reason == reason
    assert caught.value.accepted == f"write {unit.example}"
    assert str(caught.value) == f"{reason}; write {unit.example}"


def test_ten_kilobytes_are_refused_and_quoted_short():
    with pytest.raises(QuantityError) as caught:
        parse("7" * 10_000, OHM)
    assert caught.value.reason == f"'{'7' * 39}…' is too long to be a quantity"
    assert caught.value.given == "7" * 39 + "…"


def test_forty_characters_are_still_read():
    assert parse("0" * 36 + "4700", OHM) == 4700.0
    with pytest.raises(QuantityError, match="too long"):
        parse("0" * 37 + "4700", OHM)


def test_given_text_is_made_printable():
    assert shown("a\x00b\x1bc\u202ed") == "a?b?c?d"
    assert shown("x" * 40) == "x" * 40
    assert shown("x" * 41) == "x" * 39 + "…"


def refusal(text, unit):
    """Return the error that a text meets, or None where it is read."""
    try:
        parse(text, unit)
    except QuantityError as error:
        return error
    return None


@MANY
@given(st.text(max_size=60), st.sampled_from(list(UNITS.values())))
def test_any_text_is_read_as_a_number_or_refused_in_a_short_printable_sentence(text, unit):
    error = refusal(text, unit)
    if error is None:
        assert math.isfinite(parse(text, unit))
    else:
        assert str(error).isprintable()
        assert len(error.given) <= 40
        assert len(error.reason) < 90


# ---------------------------------------------------------------- there and back


@MANY
@given(st.sampled_from(list(UNITS.values())), significant())
def test_what_is_written_reads_back_as_the_same_float(unit, value):
    assert parse(in_query(value, unit), unit) == value
    assert parse(as_typed(value, unit), unit) == value


@MANY
@given(st.sampled_from(list(UNITS.values())), st.floats(1e-12, 1e12))
def test_any_float_comes_back_rounded_to_twelve_digits(unit, value):
    assert parse(in_query(value, unit), unit) == pytest.approx(value, rel=1e-11, abs=0)


@MANY
@given(st.sampled_from(list(UNITS.values())), significant())
def test_query_text_is_plain_and_short(unit, value):
    text = in_query(value, unit)
    assert text.isascii()
    assert " " not in text
    assert len(text) <= 40


@pytest.mark.parametrize(
    ("value", "unit", "typed", "query"),
    [
        (4700.0, OHM, "4.7 kΩ", "4k7"),
        (1000.0, OHM, "1 kΩ", "1k"),
        (470.0, OHM, "470 Ω", "470R"),
        (2.2, OHM, "2.2 Ω", "2R2"),
        (0.5, OHM, "500 mΩ", "500m"),
        (0.0, OHM, "0 Ω", "0R"),
        (1.5e6, OHM, "1.5 MΩ", "1M5"),
        (48.0, VOLT, "48 V", "48V"),
        (-0.273, VOLT, "-273 mV", "-273mV"),
        (5.7e-3, AMPERE, "5.7 mA", "5.7mA"),
        (12e-6, AMPERE, "12 µA", "12uA"),
        (1e-13, AMPERE, "0.1 pA", "0.1pA"),
        (0.25, WATT, "250 mW", "250mW"),
        (1.1, RATIO, "110 %", "110%"),
        (0.005, RATIO, "0.5 %", "0.5%"),
        (-40.0, CELSIUS, "-40 °C", "-40C"),
    ],
)
def test_how_values_are_written(value, unit, typed, query):
    assert as_typed(value, unit) == typed
    assert in_query(value, unit) == query


# ---------------------------------------------------------------- readings


@pytest.mark.parametrize(
    ("value", "unit", "digits", "expected"),
    [
        (0.0, VOLT, 3, ("0", "V")),
        (9e-7, VOLT, 3, ("0", "V")),
        (-9e-7, VOLT, 3, ("0", "V")),
        (1.1e-6, VOLT, 3, ("1.10", "µV")),
        (9e-14, AMPERE, 3, ("0", "A")),
        (1.1e-13, AMPERE, 3, ("110", "fA")),
        (0.005714, AMPERE, 3, ("5.71", "mA")),
        (0.05714, AMPERE, 3, ("57.1", "mA")),
        (0.5714, AMPERE, 3, ("571", "mA")),
        (0.0057149, AMPERE, 4, ("5.715", "mA")),
        (0.5714, AMPERE, 2, ("570", "mA")),
        (999.4, OHM, 3, ("999", "Ω")),
        (999.6, OHM, 3, ("1.00", "kΩ")),
        (0.9996, VOLT, 3, ("1.00", "V")),
        (999.96e3, OHM, 3, ("1.00", "MΩ")),
        (9.996, VOLT, 3, ("10.0", "V")),
        (-0.27349, VOLT, 3, ("-273", "mV")),
        (-999.6, OHM, 3, ("-1.00", "kΩ")),
        (1e12, OHM, 3, ("1.00", "TΩ")),
        (1.1, RATIO, 3, ("110", "%")),
        (0.0051, RATIO, 3, ("0.510", "%")),
        (25.0, RATIO, 3, ("2500", "%")),
        (25.0, CELSIUS, 3, ("25.0", "°C")),
        (-40.0, CELSIUS, 3, ("-40.0", "°C")),
    ],
)
def test_readings(value, unit, digits, expected):
    assert reading(value, unit, digits) == expected


@MANY
@given(st.sampled_from((VOLT, AMPERE, OHM, WATT)), st.floats(1e-5, 1e11), st.integers(2, 6), st.booleans())
def test_a_reading_is_the_value_to_its_digits(unit, magnitude, digits, negative):
    value = -magnitude if negative else magnitude
    number, prefixed = reading(value, unit, digits)
    scale = {"µ": 1e-6, "m": 1e-3, "": 1.0, "k": 1e3, "M": 1e6, "G": 1e9}[prefixed.removesuffix(unit.symbol)]
    assert float(number) * scale == pytest.approx(value, rel=0.501 * 10 ** (1 - digits), abs=0)
    assert 1 <= abs(float(number)) < 1000


@pytest.mark.parametrize(
    ("low", "high", "unit", "expected"),
    [
        (2.5e-3, 3.41e-3, AMPERE, ("2.50 – 3.41", "mA")),
        (5.0, 5.0, VOLT, ("", "V")),
        (5.0, 5.001, VOLT, ("", "V")),
        (0.0, 0.0, AMPERE, ("", "A")),
        (0.0, 5e-3, AMPERE, ("0 – 5.00", "mA")),
        (1e-14, 5e-3, AMPERE, ("0 – 5.00", "mA")),
        (-5e-3, 0.0, AMPERE, ("-5.00 – 0", "mA")),
        (0.5, 5.0, VOLT, ("0.50 – 5.00", "V")),
        (-0.5, 5.0, VOLT, ("-0.50 – 5.00", "V")),
        (-0.5, 0.5, VOLT, ("-500 – 500", "mV")),
        (0.9, 0.9996, VOLT, ("0.90 – 1.00", "V")),
        (8.9e-10, 5.09e-6, AMPERE, ("890 pA – 5.09 µA", "")),
        (0.8, 1.6, RATIO, ("80.0 – 160", "%")),
        (-40.0, 85.0, CELSIUS, ("-40.0 – 85.0", "°C")),
    ],
)
def test_spans(low, high, unit, expected):
    assert span(low, high, unit) == expected


def test_slopes_are_typed_and_read_in_volts_per_microsecond():
    for text in ("1 kV/us", "1kV/µs", "1000", "1 V/ns", "1e9 V/s", "1000 kV/ms", "1k"):
        assert parse(text, SLOPE) == pytest.approx(1e9), text
    assert (as_typed(1.5e9, SLOPE), in_query(2.5e7, SLOPE)) == ("1.5 kV/µs", "25V/us")
    assert reading(2.52e8, SLOPE) == ("252", "V/µs")
    assert span(2e6, 3e8, SLOPE) == ("2.00 – 300", "V/µs")
    with pytest.raises(QuantityError, match="is not a unit of this field"):
        parse("5 V", SLOPE)
