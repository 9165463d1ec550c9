"""Cards of every family: each line is needed, what is wrong is named, and what is written reads back the same."""

import base64
import math
import tomllib
import zlib
from copy import deepcopy
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.coupler import (
    CARD_FAMILIES,
    LONGEST_CARD,
    LONGEST_PACKED,
    TransistorCard,
    card_from_toml,
    card_names,
    card_to_toml,
    lines_of,
    load_card,
    model_of,
    pack_card,
    unpack_card,
)
from engine.coupler.files import card_from
from engine.coupler.lines import lines_declared
from engine.errors import CardError

ONE_OF_EACH = tuple(card_names(family)[-1] for family in CARD_FAMILIES)
NONSENSE = (None, "", "x", 0, -1, 1e308, math.nan, [], {}, [[]], True, "0", "-1", "1e308", [None], {"IF": 1})
PACKED = "its packed text is"


def table_of(name):
    """Return a shipped card as parsed tables, every line of it, to be changed."""
    return deepcopy(parsed(name))


@cache
def parsed(name):
    return tomllib.loads(card_to_toml(load_card(name)))


def refusal(table):
    with pytest.raises(CardError) as caught:
        card_from("sample", table)
    return caught.value


def inside(table, path):
    """Return the table that holds the last word of a dotted line, and that word."""
    *sections, last = path.split(".")
    for section in sections:
        table = table[section]
    return table, last


def required(name):
    return [line.path for line in lines_declared(load_card(name)).values() if not line.optional]


def test_every_family_has_a_card():
    assert {load_card(name).family for name in card_names()} == set(CARD_FAMILIES)
    assert len(card_names("opto-triac")) == 2
    assert {load_card(name).inhibit is None for name in card_names("opto-triac")} == {True, False}
    assert any(load_card(name).base_lead for name in card_names("phototransistor"))
    assert any(load_card(name).input == "pair" for name in card_names("phototransistor"))


def test_a_file_that_names_no_family_is_a_phototransistor():
    table = table_of("general")
    del table["family"]
    assert card_from("general", table) == load_card("general")


@pytest.mark.parametrize("family", ["", "relay", 5, [], {}, None, True, "x" * 500])
def test_a_family_that_is_none_is_refused_with_those_that_are(family):
    error = refusal(table_of("general") | {"family": family})
    assert error.line == "family"
    assert "logic-gate" in error.reason
    assert len(error.reason) < 200


@pytest.mark.parametrize("name", ONE_OF_EACH)
def test_a_missing_line_is_named(name):
    for line in required(name):
        table = table_of(name)
        section, last = inside(table, line)
        del section[last]
        error = refusal(table)
        assert (error.line, error.reason) == (line, "the line is missing")


@pytest.mark.parametrize("name", ONE_OF_EACH)
@pytest.mark.parametrize("line", ["extra", "LED.extra", "insulation.extra", "LED.VF_limits.extra"])
def test_a_line_that_does_not_exist_is_refused(name, line):
    """A misspelt optional line would otherwise be lost without a word."""
    table = table_of(name)
    section, last = inside(table, line)
    section[last] = "1 V"
    error = refusal(table)
    assert (error.line, error.reason) == (line, "there is no such line")


def test_a_section_that_is_optional_must_still_be_one():
    error = refusal(table_of("general") | {"insulation": "5 kV"})
    assert (error.line, error.reason) == ("insulation", "it is not a section")


@pytest.mark.parametrize("name", ONE_OF_EACH)
def test_nonsense_anywhere_is_refused_by_its_line_or_can_be_calibrated(name):
    usable, refused = {}, []
    for line in [line.path for line in lines_declared(load_card(name)).values()]:
        for value in NONSENSE:
            table = table_of(name)
            try:
                section, last = inside(table, line)
            except KeyError:
                continue
            section[last] = value
            try:
                usable[card_from("sample", table)] = line
            except CardError as error:
                refused.append((line, error.line))
    assert refused
    known = [line.path for line in lines_declared(load_card(name)).values()]
    for line, named in refused:
        assert any(path == named or path.startswith(f"{named}.") for path in known), line
        assert named.split(".")[0] in (line.split(".")[0], "threshold"), line
    for card, line in usable.items():
        read = [entry.modelled for entry in lines_of(card) if entry.modelled is not None]
        assert np.isfinite(read).all(), line


@pytest.mark.parametrize(
    ("name", "line", "value", "named", "complaint"),
    [
        ("fast-gate", "threshold.off", "3 mA", "threshold", "do not rise"),
        ("fast-gate", "threshold.on", "2 mA", "threshold", "do not rise"),
        ("fast-gate", "output.VOL.max", "0.2 V", "output.VOL", "do not rise"),
        ("fast-gate", "output.VOL.IF", "4 mA", "output.VOL.IF", "do not rise"),
        ("fast-gate", "supply.VCC", ["6 V", "5 V"], "supply.VCC", "do not rise"),
        ("fast-gate", "threshold.temperature", [["25 C", "100 %"]], "threshold.temperature", "at least two"),
        ("fast-gate", "threshold.temperature", [["0 C", "1"], ["9 C", "1"]], "threshold.temperature", "no point"),
        ("push-pull", "supply.UVLO_off", ["11 V", "12.4 V", "13 V"], "supply.UVLO_off", "above"),
        ("push-pull", "output.drop_high.max", "1 V", "output.drop_high", "do not rise"),
        ("photo-relay", "output.R_on.max", "2 ohm", "output.R_on", "do not rise"),
        ("photo-relay", "output.connection", "both", "output.connection", "not one of ac, dc"),
        ("triac-zero", "output.VTM.max", "1 V", "output.VTM", "do not rise"),
        ("triac-zero", "output.IH", "200 mA", "output.IH", "do not rise"),
        ("two-way", "CTR.symmetry", ["110 %", "120 %"], "CTR.symmetry", "do not rise"),
        ("two-way", "LED.input", "single", "CTR.symmetry", "one direction"),
        ("two-way", "LED.input", "triple", "LED.input", "not one of single, pair"),
        ("with-base", "detector.base_lead", "yes", "detector.base_lead", "neither true nor false"),
        ("with-base", "detector.knee", ["10 mA", "1 V", "9 mA"], "detector.knee", "above the current"),
        ("general", "insulation.material_group", "IV", "insulation.material_group", "not one of I, II"),
        ("general", "insulation.CTI", 100, "insulation.CTI", "too low for the material group"),
        ("general", "title", "x" * 81, "title", "longer than 80"),
        ("general", "LED.VF", [["1 mA", "1 V"]] * 25, "LED.VF", "more than 24"),
    ],
)
def test_contradictions_are_named(name, line, value, named, complaint):
    table = table_of(name)
    section, last = inside(table, line)
    section[last] = value
    error = refusal(table)
    assert error.line == named
    assert complaint in error.reason


def test_a_lockout_has_both_voltages():
    table = table_of("push-pull")
    del table["supply"]["UVLO_off"]
    assert refusal(table).line == "supply.UVLO_off"
    del table["supply"]["UVLO_on"]
    assert "UVLO" not in model_of(card_from("sample", table)).spread()


@pytest.mark.parametrize(
    ("CTI", "group"), [(None, None), (600, "I"), (599, "II"), (175, "IIIa"), (174, "IIIb"), (50, None)]
)
def test_the_material_group_follows_from_the_tracking_index(CTI, group):
    card = replace(load_card("general"), material=None, CTI=CTI)
    assert card.group() == group
    assert replace(card, CTI=None, material="II").group() == "II"


# ---------------------------------------------------------------- lines that no device can meet


@pytest.mark.parametrize(
    ("name", "line", "value", "named"),
    [
        ("general", "detector.VCE_sat.typ", "5 mV", "detector.VCE_sat"),
        ("general", "detector.knee", ["10 mA", "50 mV", "9 mA"], "detector.knee"),
        ("cascade", "detector.VCE_sat.typ", "0.1 V", "detector.VCE_sat"),
        ("general", "LED.VF", [["1 mA", "1 V"], ["2 mA", "3 V"], ["50 mA", "3.1 V"]], "LED.VF"),
    ],
)
def test_a_line_that_cannot_be_met_at_all_is_named(name, line, value, named):
    table = table_of(name)
    section, last = inside(table, line)
    section[last] = value
    if line == "LED.VF":
        table["LED"]["VF_limits"] |= {"IF": "2 mA", "min": "2 V", "max": "4 V"}
    card = card_from("sample", table)
    with pytest.raises(CardError) as caught:
        model_of(card)
    assert caught.value.line == named


def test_a_model_is_made_once_for_equal_cards():
    again = card_from_toml("general", card_to_toml(load_card("general")))
    assert again is not load_card("general")
    assert model_of(again) is model_of(load_card("general"))
    assert hash(again) == hash(load_card("general"))


# ---------------------------------------------------------------- there and back


@pytest.mark.parametrize("name", card_names())
def test_a_card_that_is_written_reads_back_the_same(name):
    card = load_card(name)
    text = card_to_toml(card)
    assert card_from_toml(name, text) == card
    assert len(text.encode()) < LONGEST_CARD
    assert unpack_card(name, pack_card(card)) == card
    assert len(pack_card(card)) < LONGEST_PACKED / 4


@settings(max_examples=80, deadline=None)
@given(st.sampled_from(card_names()), st.floats(0.97, 1.03), st.text(min_size=1, max_size=80))
def test_a_changed_card_that_is_written_reads_back_the_same(name, factor, title):
    def changed(value):
        return float(f"{value * factor:.12g}")

    card = load_card(name)
    IF_rating = replace(card.IF_rating, limit=changed(card.IF_rating.limit))
    points = tuple((changed(IF), VF) for IF, VF in card.VF_points)
    changes = {"IF_rating": IF_rating, "VF_points": points, "VF_drift": card.VF_drift * factor}
    if isinstance(card, TransistorCard):
        changes |= {"beta": card.beta * factor, "ICEO_max": changed(card.ICEO_max)}
    else:
        changes |= {"IF_on": changed(card.IF_on)} if factor < 1.0 < card.IF_on / card.IF_typ * factor else {}
    if title.isprintable() and title.strip():
        changes["title"] = title
    card = replace(card, **changes)
    assert card_from_toml(name, card_to_toml(card)) == card
    assert unpack_card(name, pack_card(card)) == card


def packed(raw):
    return base64.urlsafe_b64encode(zlib.compress(raw, 9)).decode().rstrip("=")


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", "cut short"),
        ("a", "damaged"),
        ("abcd", "damaged"),
        ("!!!!", "damaged"),
        ("é" * 8, "damaged"),
        ("A" * (LONGEST_PACKED + 1), "longer than 6000 characters"),
        (packed(b"title = 'x'")[:-4], "cut short"),
        (packed(b"\xff\xfe"), "damaged"),
        (packed(b"a" * (LONGEST_CARD + 1)), "longer than 8192 bytes"),
        (packed(b"a" * 4_000_000), "longer than 8192 bytes"),
        (packed(b"[" * 8000), "not TOML"),
        (packed(b"a = " + b"[" * 4000), "nested too deeply"),
        (packed(b"a = " + b"9" * 5000), "not TOML"),
        (packed(b".".join([b"a"] * 3000) + b" = 1"), "missing"),
    ],
)
def test_a_packed_card_that_is_none_is_refused(text, reason):
    with pytest.raises(CardError) as caught:
        unpack_card("own", text)
    assert reason in caught.value.reason
    assert caught.value.card == "own"


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=200))
def test_any_text_is_a_card_or_a_refusal(text):
    for read in (card_from_toml, unpack_card):
        with pytest.raises(CardError):
            read("own", text)
