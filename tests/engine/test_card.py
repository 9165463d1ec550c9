"""Coupler cards: every line is needed, and what is wrong is named."""

import tomllib
from importlib import resources

import pytest

from engine.coupler import Card, Derating, card_names, load_card
from engine.coupler.card import card_from
from engine.errors import CardError


@pytest.fixture
def table():
    return tomllib.loads((resources.files("engine.coupler") / "classes" / "general.toml").read_text(encoding="utf-8"))


def place(table, line):
    """Return the table that holds the last word of a dotted line, and that word."""
    *path, last = line.split(".")
    for word in path:
        table = table[word]
    return table, last


def refusal(table):
    with pytest.raises(CardError) as caught:
        card_from("sample", table)
    assert caught.value.card == "sample"
    assert str(caught.value) == f"card sample, {caught.value.line}: {caught.value.reason}"
    return caught.value


QUANTITIES = [
    "LED.VF_limits.IF", "LED.VF_limits.min", "LED.VF_limits.max", "LED.VR_rating",
    "CTR.min", "CTR.typ", "CTR.max", "CTR.IF", "CTR.VCE",
    "detector.VCE_sat.typ", "detector.VCE_sat.max", "detector.VCE_sat.IF", "detector.VCE_sat.IC",
    "detector.ICEO.typ", "detector.ICEO.max", "detector.ICEO.VCE",
    "detector.VCEO_rating", "detector.IC_rating", "detector.early_voltage",
]  # fmt: skip
NUMBERS = ["LED.VF_volts_per_kelvin", "detector.ICEO.doubles_per_kelvin", "detector.beta"]
RATINGS = ["LED.IF_rating", "LED.power_rating", "detector.power_rating"]
POINTS = ["LED.VF", "CTR.shape"]
EVERY = ["title", "summary", *QUANTITIES, *NUMBERS, *RATINGS, *POINTS, "CTR.temperature", "detector.knee"]


def test_the_lines_listed_here_are_all_that_a_card_has(table):
    def lines(branch, path=()):
        for name, entry in branch.items():
            yield from lines(entry, (*path, name)) if isinstance(entry, dict) else [".".join((*path, name))]

    assert sorted(lines(table)) == sorted(EVERY)


@pytest.mark.parametrize("line", EVERY)
def test_a_missing_line_is_named(table, line):
    inside, name = place(table, line)
    del inside[name]
    error = refusal(table)
    assert (error.line, error.reason) == (line, "the line is missing")


@pytest.mark.parametrize("section", ["LED", "CTR", "detector", "detector.ICEO"])
def test_a_section_that_is_none_names_its_first_line(table, section):
    inside, name = place(table, section)
    inside[name] = "nothing"
    assert refusal(table).line.startswith(f"{section}.")


@pytest.mark.parametrize("line", QUANTITIES)
@pytest.mark.parametrize("text", ["", "much", "1 furlong", ["1"], True])
def test_a_quantity_that_cannot_be_read_is_named(table, line, text):
    inside, name = place(table, line)
    inside[name] = text
    error = refusal(table)
    assert error.line == line
    assert "; write " in error.reason


@pytest.mark.parametrize("line", NUMBERS)
@pytest.mark.parametrize("value", ["400", True, [1.0], {}])
def test_a_plain_number_must_be_one(table, line, value):
    inside, name = place(table, line)
    inside[name] = value
    error = refusal(table)
    assert (error.line, error.reason) == (line, "it is not a plain number")


@pytest.mark.parametrize("line", [*RATINGS, "detector.knee"])
@pytest.mark.parametrize("row", [[], ["1 W", "55 C"], ["1", "2", "3", "4"], "50 mA", 7])
def test_a_row_of_three_must_have_three(table, line, row):
    inside, name = place(table, line)
    inside[name] = row
    error = refusal(table)
    assert (error.line, error.reason) == (line, "a point has 3 values")


@pytest.mark.parametrize("line", POINTS)
@pytest.mark.parametrize("points", [[["1 mA"]], ["1 mA", "2 mA", "3 mA"], [["1 mA", "1 V", "1"]]])
def test_points_must_be_pairs(table, line, points):
    inside, name = place(table, line)
    inside[name] = points
    error = refusal(table)
    assert (error.line, error.reason) == (line, "a point has 2 values")


@pytest.mark.parametrize(("line", "named"), [("LED.VF", "VF"), ("CTR.shape", "CTR shape")])
@pytest.mark.parametrize("order", [[0, 1], [3, 2, 1, 0], [0, 1, 1, 2]])
def test_points_must_be_three_and_rise_in_current(table, line, named, order):
    inside, name = place(table, line)
    inside[name] = [inside[name][k] for k in order]
    error = refusal(table)
    assert (error.line, error.reason) == (named, "give at least three points with rising current")


@pytest.mark.parametrize("point", [["0 C"], ["0 C", "110 %", "1"], "0 C", ["0 V", "110 %"], ["0 C", "warm"]])
def test_a_wrong_point_of_a_temperature_curve_is_named(table, point):
    table["CTR"]["temperature"][0]["points"][0] = point
    assert refusal(table).line == "CTR.temperature"


def test_a_wrong_current_of_a_temperature_curve_is_named(table):
    table["CTR"]["temperature"][0]["IF"] = "1 V"
    assert refusal(table).line == "CTR.temperature"


@pytest.mark.parametrize(
    ("line", "text", "named"),
    [
        ("CTR.min", "120 %", "CTR"),
        ("CTR.max", "100 %", "CTR"),
        ("CTR.min", "-10 %", "CTR"),
        ("detector.VCE_sat.typ", "0.4 V", "VCE_sat"),
        ("detector.VCE_sat.typ", "-0.1 V", "VCE_sat"),
        ("detector.ICEO.max", "1 nA", "ICEO"),
        ("LED.VF_limits.min", "1.4 V", "VF"),
    ],
)
def test_values_must_rise_from_min_over_typ_to_max(table, line, text, named):
    inside, name = place(table, line)
    inside[name] = text
    error = refusal(table)
    assert (error.line, error.reason) == (named, "the values do not rise from min over typ to max")


# ---------------------------------------------------------------- what is read


def test_lines_are_read_in_si_units(table):
    card = card_from("sample", table)
    assert (card.name, card.title) == ("sample", "General-purpose coupler")
    assert card.VF_points[0] == (100e-6, 1.0)
    assert (card.CTR_min, card.CTR_typ, card.CTR_max, card.CTR_IF, card.CTR_VCE) == (0.8, 1.1, 1.6, 5e-3, 5.0)
    assert card.CTR_shape[-1] == (50e-3, 0.4)
    assert card.CTR_temperature[1] == (5e-3, ((-30.0, 1.12), (0.0, 1.08), (25.0, 1.0), (60.0, 0.84), (100.0, 0.62)))
    assert card.knee == (10e-3, 1.0, 7e-3)
    assert (card.ICEO, card.ICEO_max, card.ICEO_VCE, card.ICEO_doubling) == (2e-9, 100e-9, 20.0, 7.5)
    assert card.IF_rating == Derating(50e-3, 55.0, 125.0)
    assert (card.beta, card.VA) == (400.0, 110.0)


def test_a_rating_falls_between_its_two_temperatures():
    rating = Derating(50e-3, 55.0, 125.0)
    assert [rating.at(TA) for TA in (-55.0, 55.0, 90.0, 125.0, 150.0)] == pytest.approx([50e-3, 50e-3, 25e-3, 0.0, 0.0])


def test_the_general_card_is_first():
    names = card_names()
    assert names[0] == "general"
    assert len(set(names)) == len(names) > 1


@pytest.mark.parametrize("name", card_names())
def test_every_shipped_card_is_read(name):
    card = load_card(name)
    assert isinstance(card, Card)
    assert card.name == name
    assert card.title
    assert card.summary.endswith(".")


@pytest.mark.parametrize("name", card_names())
def test_the_temperature_curves_of_a_shipped_card_rise_and_end_at_the_test_current(name):
    card = load_card(name)
    currents = [IF for IF, _ in card.CTR_temperature]
    assert currents == sorted(set(currents))
    assert currents[-1] == card.CTR_IF
    for _, points in card.CTR_temperature:
        degrees = [TA for TA, _ in points]
        assert degrees == sorted(set(degrees))
        assert (25.0, 1.0) in points


@pytest.mark.parametrize("name", ["", "other", "../card", "general.toml"])
def test_a_card_that_does_not_exist_is_refused_with_what_there_is(name):
    with pytest.raises(CardError) as caught:
        load_card(name)
    assert caught.value.line == "name"
    assert "general" in caught.value.reason
