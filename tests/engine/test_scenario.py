"""Scenarios as records: bounds, bins of the transfer ratio, states."""

import base64
import zlib
from dataclasses import FrozenInstanceError, replace

import pytest

from engine import (
    INPUTS,
    OUTPUTS,
    CardError,
    Conditions,
    Coupling,
    Scenario,
    ScenarioError,
    card_names,
    declared,
    load_card,
)
from engine.coupler import card_to_toml, pack_card
from engine.inputs import ContactLow, LogicOutput
from engine.outputs import Indicator, PullDown, PullUp
from engine.scenario import refused

PARTS = [
    *(("input", kind) for kind in INPUTS.values()),
    ("coupling", Coupling),
    *(("output", kind) for kind in OUTPUTS.values()),
    ("conditions", Conditions),
]
NUMBERS = [(part, kind, name, p) for part, kind in PARTS for name, p in declared(kind).items() if p.unit]
WORDS = [(part, kind, name, p) for part, kind in PARTS for name, p in declared(kind).items() if p.words]


def names(case):
    part, kind, name, _ = case
    return f"{part}-{kind.__name__}-{name}"


def problems_of(**parts):
    with pytest.raises(ScenarioError) as caught:
        Scenario(**parts)
    return caught.value.problems


def test_the_default_scenario_is_a_contact_and_a_pull_up():
    scenario = Scenario()
    assert scenario.parts() == (ContactLow(), Coupling(), PullUp(), Conditions())


@pytest.mark.parametrize("case", NUMBERS, ids=names)
def test_bounds_are_accepted_and_what_is_beyond_is_not(case):
    _, kind, name, p = case
    for value in (p.low, p.high):
        assert not [problem for problem in refused(kind(**{name: value})) if "out of range" in problem.reason]
    step = 1e-6 * (p.high - p.low)
    for value in (p.low - step, p.high + step, float("nan"), float("inf")):
        (problem,) = refused(kind(**{name: value}))
        assert problem.field == p.key
        assert problem.accepted == p.accepted
        assert f"is out of range for {p.symbol}" in problem.reason


@pytest.mark.parametrize("case", WORDS, ids=names)
def test_every_word_is_accepted_and_no_other(case):
    _, kind, name, p = case
    for word in p.words:
        assert not [problem for problem in refused(kind(**{name: word})) if "not a choice" in problem.reason]
    (problem,) = refused(kind(**{name: "sideways"}))
    assert (problem.field, problem.given) == (p.key, "sideways")
    assert problem.reason == f"'sideways' is not a choice for {p.symbol}"


def test_a_number_is_no_choice():
    (problem,) = problems_of(conditions=Conditions(switch=1))
    assert (problem.field, problem.given) == ("sw", "1")


def test_problems_of_all_parts_come_at_once_in_the_order_of_the_parts():
    problems = problems_of(
        input=ContactLow(VS=-1.0, R_contact=0.0),
        coupling=Coupling(CTR=50.0),
        output=PullUp(RL=0.0),
        conditions=Conditions(TA=200.0),
    )
    assert [problem.field for problem in problems] == ["vs", "rc", "ctr", "rl", "ta"]


def test_the_ends_of_a_bin_must_be_in_order():
    (problem,) = problems_of(coupling=Coupling(CTR_min=1.2, CTR_max=1.1))
    assert (problem.field, problem.given, problem.reason) == ("ctrmin", "120%", "CTR min is above CTR max")
    assert Scenario(coupling=Coupling(CTR_min=1.1, CTR_max=1.1)).coupling.ratios() == (1.1, 1.1, 1.1)


@pytest.mark.parametrize(
    ("output", "field", "given", "reason"),
    [
        (PullUp(VIL=2.0, VIH=1.0), "vil", "2V", "VIL is not below VIH"),
        (PullDown(VIH=0.8), "vih", "800mV", "VIL is not below VIH"),
        (Indicator(I_dark=2e-3, I_lit=1e-3), "idark", "2mA", "Dark up to is not below Lit from"),
        (Indicator(I_lit=10e-6), "ilit", "10uA", "Dark up to is not below Lit from"),
    ],
)
def test_limits_of_an_output_must_leave_a_gap(output, field, given, reason):
    (problem,) = problems_of(output=output)
    assert (problem.field, problem.given, problem.reason) == (field, given, reason)


# ---------------------------------------------------------------- transfer ratios


@pytest.mark.parametrize("card", card_names("phototransistor", "photodarlington"))
def test_words_mean_the_values_of_the_card(card):
    lines = load_card(card)
    bin_ = lines.CTR_min, lines.CTR_max
    assert Coupling(card=card).ratios() == (lines.CTR_typ, *bin_)
    assert Coupling(card=card, CTR="min").ratios() == (lines.CTR_min, *bin_)
    assert Coupling(card=card, CTR="max").ratios() == (lines.CTR_max, *bin_)


@pytest.mark.parametrize(
    ("coupling", "ratios"),
    [
        (Coupling(CTR=0.9), (0.9, 0.8, 1.6)),
        (Coupling(CTR=0.5), (0.5, 0.5, 1.6)),
        (Coupling(CTR=2.5), (2.5, 0.8, 2.5)),
        (Coupling(CTR_min=1.0), (1.1, 1.0, 1.6)),
        (Coupling(CTR_min=1.2), (1.2, 1.2, 1.6)),
        (Coupling(CTR_max=1.0), (1.0, 0.8, 1.0)),
        (Coupling(CTR="min", CTR_min=0.3), (0.3, 0.3, 1.6)),
        (Coupling(CTR="max", CTR_max=3.0), (3.0, 0.8, 3.0)),
        (Coupling(CTR=1.0, CTR_min=1.0, CTR_max=1.0), (1.0, 1.0, 1.0)),
    ],
)
def test_the_bin_is_widened_to_the_specimen(coupling, ratios):
    assert coupling.ratios() == ratios


@pytest.mark.parametrize(
    ("coupling", "ratio"),
    [
        (Coupling(CTR_min=2.0), 2.0),
        (Coupling(CTR_min=2.0, CTR="max"), 2.0),
        (Coupling(CTR_max=0.5), 0.5),
        (Coupling(CTR_max=0.5, CTR="min"), 0.5),
    ],
)
def test_a_given_end_beyond_the_other_end_of_the_card_is_heeded(coupling, ratio):
    assert coupling.bin() == (ratio, ratio)
    assert coupling.ratios() == (ratio, ratio, ratio)


def test_an_unknown_card_is_named():
    with pytest.raises(CardError, match="there is no such card; there are general"):
        Coupling(card="other").ratios()


# ---------------------------------------------------------------- records


def test_showing_another_state_changes_nothing_else():
    scenario = Scenario(input=LogicOutput(), output=Indicator(), conditions=Conditions(TA=60.0))
    shown = scenario.showing("open")
    assert shown.conditions == Conditions(TA=60.0, switch="open")
    assert shown.parts()[:3] == scenario.parts()[:3]
    assert shown.showing("closed") == scenario
    with pytest.raises(ScenarioError):
        scenario.showing("ajar")


def test_scenarios_are_values():
    assert Scenario() == Scenario()
    assert hash(Scenario(input=LogicOutput())) == hash(Scenario(input=LogicOutput()))
    assert Scenario() != Scenario(conditions=Conditions(TA=26.0))
    with pytest.raises(FrozenInstanceError):
        Scenario().input = LogicOutput()


def test_a_replaced_part_is_checked_again():
    with pytest.raises(ScenarioError):
        replace(Scenario(), conditions=Conditions(tolerance=0.6))


# ---------------------------------------------------------------- the card


def test_a_shipped_card_is_found_with_its_model():
    coupling = Coupling(card="wide-bin")
    assert coupling.data is load_card("wide-bin")
    assert coupling.model.card is coupling.data
    assert coupling.has_ratio
    assert not Coupling(card="photo-relay").has_ratio


def test_a_card_of_ones_own_is_used():
    own = replace(load_card("general"), CTR_typ=1.3, CTR_max=1.8)
    coupling = Coupling(card="own", own=pack_card(own))
    assert coupling.data == replace(own, name="own")
    assert Scenario(coupling=coupling).coupling.ratios() == (1.3, 0.8, 1.8)
    assert coupling.spread()["CTR"] == (1.3, 0.8, 1.8)
    assert Coupling(card="own", own=pack_card(own), CTR=1.0).spread()["CTR"] == (1.0, 0.8, 1.8)


GENERAL = card_to_toml(load_card("general"))


def packed(text):
    return base64.urlsafe_b64encode(zlib.compress(text.encode())).decode().rstrip("=")


@pytest.mark.parametrize(
    ("own", "reason"),
    [
        ("", "there is none yet"),
        ("abc", "file: its packed text is damaged"),
        (packed("title = 'x'"), "summary: the line is missing"),
        (packed(card_to_toml(load_card("general")).replace('typ = "110 %"', 'typ = "1 V"')), "CTR.typ: "),
        (
            packed(
                card_to_toml(load_card("general")).replace('VCE_sat = { typ = "100 mV"', 'VCE_sat = { typ = "5 mV"')
            ),
            "detector.VCE_sat: no detector",
        ),
    ],
)
def test_a_faulty_card_of_ones_own_is_refused_with_its_line(own, reason):
    (problem,) = problems_of(coupling=Coupling(card="own", own=own))
    assert problem.field == "card"
    assert problem.reason.startswith(reason)
    assert len(problem.given) <= 40


def test_a_text_that_is_too_long_is_refused_even_where_it_is_not_used():
    (problem,) = problems_of(coupling=Coupling(own="x" * 6001))
    assert (problem.field, problem.reason) == ("card", "Own card has 6001 characters")
    assert problem.accepted == "text of at most 6000 characters"
    assert Scenario(coupling=Coupling(own="x" * 6000)).coupling.data is load_card("general")


def test_a_base_resistor_needs_a_base():
    (problem,) = problems_of(coupling=Coupling(RBE=1e6))
    assert (problem.field, problem.given) == ("rbe", "1M")
    assert problem.reason == "the base of this coupler is not brought out"
    assert Scenario(coupling=Coupling(card="with-base", RBE=1e6)).coupling.RBE == 1e6


@pytest.mark.parametrize("card", card_names("gate-driver", "opto-triac"))
def test_a_coupler_whose_output_does_not_go_with_the_side_is_refused(card):
    (problem,) = problems_of(coupling=Coupling(card=card), output=PullUp())
    assert (problem.field, problem.given) == ("coupler", card)
