"""Cards as people type them: what is typed reads back, and every wrong line is named."""

import pytest

from engine.coupler import card_from_typed, card_names, line_of, load_card, typed_lines, typed_of
from engine.coupler.families import CARD_FAMILIES
from engine.errors import ScenarioError
from engine.quantity import METRE, parse


def typed(name="general", **changed):
    """Return the typed lines of a shipped card with some changed; dots are written as two underscores."""
    lines = typed_of(load_card(name))
    lines |= {path.replace("__", "."): text for path, text in changed.items()}
    return lines


def refused(name="general", **changed):
    with pytest.raises(ScenarioError) as caught:
        card_from_typed("own", load_card(name).family, typed(name, **changed))
    return {problem.field: problem.reason for problem in caught.value.problems}


@pytest.mark.parametrize("name", card_names())
def test_a_card_reads_back_from_what_is_typed(name):
    card = load_card(name)
    assert card_from_typed(name, card.family, typed_of(card)) == card


@pytest.mark.parametrize("family", CARD_FAMILIES)
def test_every_line_of_a_family_is_asked_for_once(family):
    asked = [line.path for line in typed_lines(family)]
    assert len(asked) == len(set(asked))
    assert set(asked) == set(typed_of(load_card(card_names(family)[0])))
    assert all(line.accepted and line.longest > 0 for line in typed_lines(family))


def test_lists_have_a_syntax_that_people_write():
    card = card_from_typed(
        "own",
        "phototransistor",
        typed(
            LED__VF="100uA 1.00V,1 mA 1.09 V;\r\n10 mA 1180 mV, 0.05 A 1.27 V,",
            CTR__temperature="1mA: \u221230 C 130%, 0C 116 %,25C 100%\r\n5 mA: 0 C 108 %, 25 C 100 %, 60 °C 84 %;",
            LED__VF_volts_per_kelvin="-1.5",
        ),
    )
    assert card.VF_points == ((1e-4, 1.0), (1e-3, 1.09), (1e-2, 1.18), (5e-2, 1.27))
    assert card.CTR_temperature[0] == (1e-3, ((-30.0, 1.3), (0.0, 1.16), (25.0, 1.0)))
    assert card.VF_drift == -1.5e-3


@pytest.mark.parametrize(
    ("path", "text", "reason"),
    [
        ("title", "", "it is empty"),
        ("title", "a\x07b", "it is not text"),
        ("title", "x" * 81, "it is longer than 80 characters"),
        ("CTR.min", "much", "'much' is not a number; write 110 %"),
        ("CTR.min", "80 V", "'V' is not a unit of this field; write 110 %"),
        ("CTR.min", "1e9 %", "'1e9 %' is not within 0.01 % to 100000 %"),
        ("CTR.IF", "nan", "'nan' is not a finite number; write 5 mA or 0.005 A"),
        ("LED.VF", "1 mA", "'1 mA' is not a point of 2 values"),
        ("LED.VF", "1 mA 1 V, 2 mA", "'2 mA' is not a point of 2 values"),
        ("LED.VF", "1 mA 1 V", "give at least three points with rising current"),
        ("LED.VF", "1 mA 1 V, " * 25, "it has more than 24 entries"),
        ("LED.VF", "1" * 1201, "it is longer than 1200 characters"),
        ("LED.VF_volts_per_kelvin", "-1.5 V", "'-1.5 V' is not a number of mV/K"),
        ("LED.VF_volts_per_kelvin", "1e999", "inf is not within -0.1 to 0.1"),
        ("LED.IF_rating", "50 mA", "a point has 3 values"),
        ("LED.input", "three", "'three' is not one of single, pair"),
        ("CTR.temperature", "1 mA 25 C 100 %", "has no colon"),
        ("CTR.temperature", "1 mA: 25 C, 5 mA: 25 C 100 %", "'25 C' is not a point of 2 values"),
        ("detector.base_lead", "maybe", "'maybe' is neither yes nor no"),
        ("detector.knee", "10 mA, 1 V", "a point has 3 values"),
        ("insulation.material_group", "V", "'V' is not one of"),
    ],
)
def test_a_wrong_line_is_named(path, text, reason):
    found = refused(**{path.replace(".", "__"): text})
    assert list(found) == [path]
    assert reason in found[path]


def test_every_wrong_line_is_named_at_once():
    found = refused(CTR__min="x", detector__beta="", LED__VR_rating="5 mA", insulation__creepage="far")
    assert set(found) == {"CTR.min", "detector.beta", "LED.VR_rating", "insulation.creepage"}


@pytest.mark.parametrize(
    ("changed", "field", "reason"),
    [
        ({"CTR__min": "150 %"}, "CTR.min", "the values do not rise"),
        ({"LED__VF_limits__max": "1.01 V"}, "LED.VF_limits.min", "the values do not rise"),
        ({"detector__VCE_sat__IC": "40 mA"}, "detector.VCE_sat.typ", "above the current that the CTR gives"),
        ({"CTR__IF": "4 mA"}, "CTR.temperature", "the last at the test current"),
    ],
)
def test_what_contradicts_another_line_is_named(changed, field, reason):
    found = refused(**changed)
    assert list(found) == [field]
    assert reason in found[field]


def test_a_sentence_may_be_typed_in_several_lines():
    card = card_from_typed("own", "phototransistor", typed(summary="For the bench,\r\n  not for more."))
    assert card.summary == "For the bench, not for more."


def test_an_optional_line_may_stay_empty():
    card = card_from_typed("own", "phototransistor", typed(insulation__VISO=" ", insulation__material_group=""))
    assert (card.VISO, card.material) == (None, None)
    assert card.creepage == parse("7 mm", METRE)


@pytest.mark.parametrize(
    ("path", "line"),
    [
        ("CTR.min", "CTR.min"),
        ("CTR", "CTR.min"),
        ("detector.VCE_sat", "detector.VCE_sat.typ"),
        ("LED.VF_limits", "LED.VF_limits.min"),
        ("detector", "detector.VCE_sat.typ"),
        ("file", "title"),
    ],
)
def test_an_error_of_a_section_goes_to_a_line_of_it(path, line):
    assert line_of("phototransistor", path) == line
