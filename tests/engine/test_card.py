"""Coupler cards: every line is needed, and what is wrong is named."""

import math
import tomllib
from copy import deepcopy
from dataclasses import asdict
from importlib import resources

import pytest

from engine.coupler import Card, Derating, card_from_toml, card_names, load_card, model_of
from engine.coupler.files import card_from
from engine.errors import CardError

GENERAL = (resources.files("engine.coupler") / "classes" / "general.toml").read_text(encoding="utf-8")


@pytest.fixture
def table():
    return tomllib.loads(GENERAL)


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
SPEED = [
    *(f"speed.linear.{name}" for name in ("VCC", "IC", "RL", "rise", "fall")),
    *(f"speed.saturated.{name}" for name in ("VCC", "IF", "RL", "on", "storage", "off")),
]
FREE = [
    "family",
    "LED.capacitance",
    *SPEED,
    *(f"insulation.{name}" for name in ("VISO", "VIORM", "creepage", "clearance", "material_group", "C_io")),
]
EVERY = ["title", "summary", *QUANTITIES, *NUMBERS, *RATINGS, *POINTS, "CTR.temperature", "detector.knee"]


def test_the_lines_listed_here_are_all_that_a_card_has(table):
    def lines(branch, path=()):
        for name, entry in branch.items():
            yield from lines(entry, (*path, name)) if isinstance(entry, dict) else [".".join((*path, name))]

    assert sorted(lines(table)) == sorted([*EVERY, *FREE])


@pytest.mark.parametrize("line", EVERY)
def test_a_missing_line_is_named(table, line):
    inside, name = place(table, line)
    del inside[name]
    error = refusal(table)
    assert (error.line, error.reason) == (line, "the line is missing")


@pytest.mark.parametrize("line", SPEED)
def test_a_test_of_speed_is_there_in_full_or_not_at_all(table, line):
    inside, name = place(table, line)
    del inside[name]
    test = line.rpartition(".")[0]
    assert refusal(table).line == test
    del table["speed"][test.rpartition(".")[2]]
    assert getattr(card_from("sample", table), line.removeprefix("speed.").replace(".", "_")) is None


@pytest.mark.parametrize(
    ("line", "text", "complaint"),
    [
        ("speed.linear.IC", "45 mA", "saturate"),
        ("speed.saturated.RL", "100 ohm", "does not saturate"),
        ("speed.saturated.off", "20 us", "before"),
    ],
)
def test_a_test_of_speed_that_cannot_be_is_refused(table, line, text, complaint):
    inside, name = place(table, line)
    inside[name] = text
    error = refusal(table)
    assert error.line == line.rpartition(".")[0]
    assert complaint in error.reason


@pytest.mark.parametrize("section", ["LED", "CTR", "detector", "detector.ICEO"])
def test_a_section_that_is_none_names_its_first_line(table, section):
    inside, name = place(table, section)
    inside[name] = "nothing"
    assert refusal(table).line.startswith(f"{section}.")


@pytest.mark.parametrize("line", QUANTITIES)
@pytest.mark.parametrize("text", ["", "much", "1 furlong", ["1"], True, 1, 0.5, None, {}])
def test_a_quantity_that_cannot_be_read_is_named(table, line, text):
    inside, name = place(table, line)
    inside[name] = text
    error = refusal(table)
    assert error.line == line
    assert "; write " in error.reason


@pytest.mark.parametrize("line", QUANTITIES)
@pytest.mark.parametrize("text", ["0", "-1", "1e6", "1e308"])
def test_a_quantity_that_no_coupler_has_is_named(table, line, text):
    inside, name = place(table, line)
    inside[name] = text
    error = refusal(table)
    assert error.line == line
    assert error.reason.startswith(f"'{text}' is not within ")


@pytest.mark.parametrize("line", NUMBERS)
@pytest.mark.parametrize("value", [-1, 1e308, -1e308, math.nan, math.inf, 10**400])
def test_a_plain_number_that_no_coupler_has_is_named(table, line, value):
    inside, name = place(table, line)
    inside[name] = value
    error = refusal(table)
    assert error.line == line
    assert "is not within" in error.reason


@pytest.mark.parametrize("line", ["title", "summary"])
@pytest.mark.parametrize("value", [None, "", "  ", 5, ["a"], {}, True])
def test_title_and_summary_must_be_text(table, line, value):
    table[line] = value
    error = refusal(table)
    assert (error.line, error.reason) == (line, "it is not text")


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


@pytest.mark.parametrize("line", [*POINTS, "CTR.temperature"])
@pytest.mark.parametrize("value", [None, "x", 5, 0.5, True, {}, {"IF": "1 mA"}])
def test_what_must_be_a_list_is_named_where_it_is_none(table, line, value):
    inside, name = place(table, line)
    inside[name] = value
    error = refusal(table)
    assert (error.line, error.reason) == (line, "it is not a list")


@pytest.mark.parametrize("line", POINTS)
@pytest.mark.parametrize("order", [[], [0], [0, 1], [3, 2, 1, 0], [0, 1, 1, 2]])
def test_points_must_be_three_and_rise_in_current(table, line, order):
    inside, name = place(table, line)
    inside[name] = [inside[name][k] for k in order]
    error = refusal(table)
    assert (error.line, error.reason) == (line, "give at least three points with rising current")


def test_the_forward_voltage_must_rise_with_current(table):
    table["LED"]["VF"][2][1] = "1.05 V"
    error = refusal(table)
    assert (error.line, error.reason) == ("LED.VF", "the forward voltage does not rise with current")


@pytest.mark.parametrize(("low", "high"), [("1.2 V", "1.35 V"), ("1.05 V", "1.1 V")])
def test_the_limits_of_the_forward_voltage_must_hold_the_typical_one(table, low, high):
    """The card's typical forward voltage at 10 mA is 1.18 V."""
    table["LED"]["VF_limits"] |= {"min": low, "max": high}
    error = refusal(table)
    assert (error.line, error.reason) == ("LED.VF_limits", "the typical forward voltage lies outside of them")


def test_the_saturation_test_must_be_within_what_the_ctr_gives(table):
    """At 10 mA the typical CTR of 110 % has fallen to 88 % of itself: 9.68 mA."""
    table["detector"]["VCE_sat"]["IC"] = "9.6 mA"
    assert card_from("sample", table).VCE_sat_IC == 9.6e-3
    table["detector"]["VCE_sat"]["IC"] = "9.7 mA"
    error = refusal(table)
    assert (error.line, error.reason) == ("detector.VCE_sat", "its IC is above the current that the CTR gives there")


@pytest.mark.parametrize("line", RATINGS)
@pytest.mark.parametrize(("knee", "zero"), [("125 C", "125 C"), ("126 C", "125 C"), ("25 C", "-1 C"), ("0 C", "0 C")])
def test_a_rating_must_begin_to_fall_before_nothing_is_left(table, line, knee, zero):
    inside, name = place(table, line)
    inside[name][1:] = [knee, zero]
    error = refusal(table)
    assert (error.line, error.reason) == (line, "the rating must begin to fall before nothing is left")


# ---------------------------------------------------------------- curves over temperature


@pytest.mark.parametrize("entry", [None, "x", 5, [], {}, {"IF": "1 mA"}, {"points": [["25 C", "100 %"]]}])
def test_a_temperature_curve_needs_current_and_points(table, entry):
    table["CTR"]["temperature"][0] = entry
    error = refusal(table)
    assert (error.line, error.reason) == ("CTR.temperature", "a curve has IF and points")


@pytest.mark.parametrize("points", [[], [["25 C", "100 %"]], [["60 C", "80 %"], ["25 C", "100 %"]]])
def test_a_temperature_curve_needs_two_points_with_rising_temperature(table, points):
    table["CTR"]["temperature"][0]["points"] = points
    error = refusal(table)
    assert error.line == "CTR.temperature"
    assert error.reason == "give at least two points with rising temperature in every curve"


def test_a_temperature_curve_goes_through_its_reference(table):
    table["CTR"]["temperature"][1]["points"][2][1] = "99 %"
    error = refusal(table)
    assert (error.line, error.reason) == ("CTR.temperature", "a curve has no point of 100 % at 25 °C")


@pytest.mark.parametrize("order", [[], [0], [1], [1, 0], [1, 1]])
def test_two_temperature_curves_rise_to_the_test_current(table, order):
    table["CTR"]["temperature"] = [table["CTR"]["temperature"][k] for k in order]
    error = refusal(table)
    assert error.line == "CTR.temperature"
    assert error.reason == "give at least two curves with rising current, the last at the test current"


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
        ("detector.VCE_sat.typ", "0.4 V", "detector.VCE_sat"),
        ("detector.ICEO.max", "1 nA", "detector.ICEO"),
        ("LED.VF_limits.min", "1.4 V", "LED.VF_limits"),
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
    at_once = Derating(50e-3, 0.0, 0.0)
    assert [at_once.at(TA) for TA in (-1.0, 1.0)] == [50e-3, 0.0]


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


@pytest.mark.parametrize("name", card_names("phototransistor", "photodarlington"))
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


def test_text_that_is_no_toml_is_refused_with_its_place():
    with pytest.raises(CardError, match=r"it is not TOML: .*line 2") as caught:
        card_from_toml("sample", "title = 'a'\nsummary = 5 V\n")
    assert (caught.value.card, caught.value.line) == ("sample", "file")
    assert card_from_toml("general", GENERAL) == load_card("general")


# ---------------------------------------------------------------- anything anywhere

ABSENT = object()
NONSENSE = (
    ABSENT, None, "", "x", 0, -1, 1e308, math.nan, math.inf, [], {}, [[]], True,
    "0", "-1", "1e308", "nan", [None], {"IF": 1},
)  # fmt: skip


def paths(branch, path=()):
    """Yield the path of every subtree and leaf below a branch of a card."""
    entries = branch.items() if isinstance(branch, dict) else enumerate(branch) if isinstance(branch, list) else ()
    for key, below in entries:
        yield (*path, key)
        yield from paths(below, (*path, key))


def with_nonsense(table, path, value):
    """Return a copy of a card with something else, or nothing, at one place."""
    changed = inside = deepcopy(table)
    for key in path[:-1]:
        inside = inside[key]
    if value is ABSENT:
        del inside[path[-1]]
    else:
        inside[path[-1]] = value
    return changed


@pytest.mark.parametrize("table", [None, "x", 0, [], {}, [[]], True])
def test_a_card_that_is_nothing_at_all_is_refused(table):
    assert refusal(table).line == "title"


def names_a_line_of(error, section):
    """Whether an error names a line of a section, or a group of its lines, or what is none there."""
    if error.reason == "there is no such line":
        return error.line.startswith(f"{section}.")
    named = [line for line in (*EVERY, *FREE) if line == error.line or line.startswith(f"{error.line}.")]
    return bool(named) and all(line.split(".")[0] == section for line in named)


@pytest.mark.parametrize("section", ["title", "summary", "LED", "CTR", "detector", "speed"])
def test_nonsense_anywhere_is_refused_by_its_line_or_can_be_calibrated(table, section):
    usable, refused = {}, []
    for path in paths({section: table[section]}):
        for value in NONSENSE:
            try:
                usable[card_from("sample", with_nonsense(table, path, value))] = path
            except CardError as error:
                refused.append(error)
    assert [error for error in refused if not names_a_line_of(error, section)] == []
    for card, path in usable.items():
        assert all(math.isfinite(value) for value in flat(asdict(card)) if isinstance(value, float)), path
        try:
            model = model_of(card)
        except CardError as error:
            refused.append(error)
            continue
        parameters = model.RC, model.gamma, model.gain, model.led.IS, model.led.n, model.led.RS
        assert all(math.isfinite(value) and value > 0 for value in parameters), path
    assert refused


def flat(entry):
    """Yield every value in nested records and tuples."""
    if isinstance(entry, dict | list | tuple):
        for below in entry.values() if isinstance(entry, dict) else entry:
            yield from flat(below)
    else:
        yield entry
