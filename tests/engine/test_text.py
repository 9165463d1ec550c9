"""Scenarios as query strings and back."""

from dataclasses import replace
from urllib.parse import parse_qsl

import pytest
from hypothesis import given, settings

from engine import (
    INPUTS,
    KEYS,
    OUTPUTS,
    Conditions,
    Coupling,
    Scenario,
    ScenarioError,
    declared,
    pairs_from,
    query_from,
    scenario_from,
    scenario_from_query,
)
from engine.coupler import load_card, pack_card
from engine.inputs import ContactHigh, ContactLow, LogicOutput
from engine.outputs import Indicator, PullDown, PullUp
from tests.property.scenarios import scenarios


def problems_of(query):
    """Return the problems of a query string by field; there must be some."""
    with pytest.raises(ScenarioError) as caught:
        scenario_from_query(query)
    return {problem.field: problem for problem in caught.value.problems}


# ---------------------------------------------------------------- what is understood


def test_an_empty_query_is_the_default_scenario():
    assert scenario_from_query("") == Scenario()
    assert query_from(Scenario()) == ""


@pytest.mark.parametrize(("name", "kind"), [*INPUTS.items()])
def test_an_input_side_is_chosen_by_its_name(name, kind):
    assert scenario_from_query(f"in={name}").input == kind()


@pytest.mark.parametrize(("name", "kind"), [*OUTPUTS.items()])
def test_an_output_side_is_chosen_by_its_name(name, kind):
    assert scenario_from_query(f"out={name}").output == kind()


@pytest.mark.parametrize(
    ("query", "part", "name", "value"),
    [
        ("vs=36V", "input", "VS", 36.0),
        ("vs=36", "input", "VS", 36.0),
        ("vs=0.036%20kV", "input", "VS", 36.0),
        ("r1=6k8", "input", "R1", 6800.0),
        ("r1=6.8+k%CE%A9", "input", "R1", 6800.0),
        ("r1=auto", "input", "R1", "auto"),
        ("r1=+auto+", "input", "R1", "auto"),
        ("leak=none", "input", "R_leak", "none"),
        ("leak=1M", "input", "R_leak", 1e6),
        ("vstol=10%25", "input", "VS_tolerance", 0.1),
        ("ctr=typ", "coupling", "CTR", "typ"),
        ("ctr=min", "coupling", "CTR", "min"),
        ("ctr=max", "coupling", "CTR", "max"),
        ("ctr=95", "coupling", "CTR", 0.95),
        ("ctrmin=card", "coupling", "CTR_min", "card"),
        ("ctrmax=300%25", "coupling", "CTR_max", 3.0),
        ("coupler=low-drive", "coupling", "card", "low-drive"),
        ("rl=auto", "output", "RL", "auto"),
        ("vil=family", "output", "VIL", "family"),
        ("vih=2V2", "output", "VIH", 2.2),
        ("iin=1uA", "output", "I_leak", 1e-6),
        ("iin=0", "output", "I_leak", 0.0),
        ("logic=ttl", "output", "family", "ttl"),
        ("ta=-40C", "conditions", "TA", -40.0),
        ("ta=358.15K", "conditions", "TA", 85.0),
        ("sw=open", "conditions", "switch", "open"),
        ("series=E96", "conditions", "series", "E96"),
        ("round=up", "conditions", "rounding", "up"),
    ],
)
def test_one_field(query, part, name, value):
    scenario = scenario_from_query(query)
    usual = Scenario()
    assert getattr(getattr(scenario, part), name) == value
    assert scenario == replace(usual, **{part: replace(getattr(usual, part), **{name: value})})


def test_keys_of_another_kind_are_left_aside():
    assert scenario_from_query("in=logic&rc=nonsense&leak=1M&out=indicator&logic=ttl&vil=9kV") == Scenario(
        input=LogicOutput(), output=Indicator()
    )


def test_order_does_not_matter():
    pairs = [("in", "logic"), ("out", "pull-down"), ("vs", "5V"), ("ta", "60C"), ("active", "low")]
    assert scenario_from(pairs) == scenario_from(reversed(pairs))


# ---------------------------------------------------------------- what is written


@pytest.mark.parametrize(
    ("given", "canonical"),
    [
        ("r1=6800&in=contact-high&vs=48", "in=contact-high&r1=6k8"),
        ("in=contact-low&out=pull-up", ""),
        ("ta=25&tol=5%25&series=E24&round=nearest&sw=closed", ""),
        ("ta=298.15K", ""),
        ("sw=open&ta=60&vcc=5&out=pull-down&ctr=90&vs=24", "vs=24V&ctr=90%25&out=pull-down&vcc=5V&ta=60C&sw=open"),
        ("in=logic&vs=3.3&r1=auto", "in=logic"),
        ("vs=3.3", "vs=3.3V"),
        ("iin=0", "iin=0A"),
        ("if=12uA", "if=12uA"),
    ],
)
def test_the_canonical_form(given, canonical):
    scenario = scenario_from_query(given)
    written = query_from(scenario)
    assert sorted(written.split("&")) == sorted(canonical.split("&"))
    assert scenario_from_query(written) == scenario
    assert query_from(scenario_from_query(written)) == written


def test_the_order_of_the_canonical_form_is_that_of_the_parts():
    query = query_from(scenario_from_query("sw=open&out=indicator&ctr=90&in=logic&vcc=12&vs=5&active=low"))
    assert [key for key, _ in parse_qsl(query)] == ["in", "vs", "active", "ctr", "out", "vcc", "sw"]


def test_all_pairs_name_every_parameter_once():
    scenario = Scenario(input=ContactHigh(), output=PullDown())
    keys = [key for key, _ in pairs_from(scenario)]
    wanted = {"in", "out"} | {p.key for part in scenario.parts() for p in declared(part).values()}
    assert len(keys) == len(set(keys))
    assert set(keys) == wanted
    assert set(keys) <= KEYS
    assert scenario_from(pairs_from(scenario)) == scenario


def test_readable_pairs_are_written_as_printed_and_read_the_same():
    scenario = Scenario(input=ContactLow(R1=6800.0, IF=12e-6), conditions=Conditions(TA=-40.0))
    pairs = dict(pairs_from(scenario, readable=True))
    assert (pairs["r1"], pairs["if"], pairs["ta"], pairs["leak"]) == ("6.8 kΩ", "12 µA", "-40 °C", "none")
    assert scenario_from(pairs.items()) == scenario


@settings(max_examples=60, deadline=None)
@given(scenarios())
def test_every_scenario_comes_back_the_same(scenario):
    query = query_from(scenario)
    assert query.isascii()
    assert scenario_from_query(query) == scenario
    assert query_from(scenario_from_query(query)) == query


# ---------------------------------------------------------------- what is refused


def test_an_unknown_key_is_named_with_what_there_is():
    problem = problems_of("vx=5")["vx"]
    assert problem.reason == "there is no such field"
    assert problem.given == "5"
    assert problem.accepted == f"one of {', '.join(sorted(KEYS))}"


def test_keys_respect_case():
    assert problems_of("VS=5")["VS"].reason == "there is no such field"


def test_a_repeated_key_is_refused_even_with_the_same_value():
    problem = problems_of("vs=5&vs=5")["vs"]
    assert problem.reason == "vs is given more than once"
    assert problem.accepted == "one value"


def test_too_many_fields_are_refused_as_one_problem():
    with pytest.raises(ScenarioError) as caught:
        scenario_from([("nonsense", "1")] * 101)
    (problem,) = caught.value.problems
    assert (problem.field, problem.given, problem.accepted) == ("", "101 fields", "at most 100")
    with pytest.raises(ScenarioError) as caught:
        scenario_from([("nonsense", "1")] * 100)
    assert len(caught.value.problems) == 100


def test_every_rejected_field_is_reported_at_once():
    query = "vs=2kV&r1=fast&vstol=&ctr=best&coupler=none&rl=0&logic=ecl&ta=-300C&tol=51&series=E25&in=logic&zz=1"
    problems = problems_of(query)
    assert set(problems) == {"vs", "r1", "vstol", "ctr", "coupler", "rl", "logic", "ta", "tol", "series", "zz"}
    assert all(problem.reason and problem.accepted for problem in problems.values())


def test_an_unreadable_and_an_excessive_value_of_one_side_are_both_reported():
    assert set(problems_of("vs=abc&rc=1G")) == {"vs", "rc"}


@pytest.mark.parametrize(
    ("query", "field", "given", "accepted", "reason"),
    [
        ("vs=2000", "vs", "2000", "0 V to 1 kV", "'2000' is out of range for VS"),
        ("vs=-1mV", "vs", "-1mV", "0 V to 1 kV", "'-1mV' is out of range for VS"),
        ("vs=", "vs", "", "0 V to 1 kV", "it is empty"),
        ("vs=5A", "vs", "5A", "0 V to 1 kV", "'A' is not a unit of this field"),
        ("r1=0", "r1", "0", "1 Ω to 100 MΩ, or auto", "'0' is out of range for R1"),
        ("r1=AUTO", "r1", "AUTO", "1 Ω to 100 MΩ, or auto", "'AUTO' is not a number"),
        ("ta=0K", "ta", "0K", "-55 °C to 150 °C", "'0K' is out of range for TA"),
        ("tol=50.1", "tol", "50.1", "0 % to 50 %", "'50.1' is out of range for Resistor tolerance"),
        ("ctr=family", "ctr", "family", "1 % to 2000 %, or typ, min, max", "'family' is not a number"),
        ("sw=ajar", "sw", "ajar", "one of closed, open", "'ajar' is not a choice for Switch"),
        (
            "in=relay",
            "in",
            "relay",
            f"one of {', '.join(INPUTS)}",
            "'relay' is not a kind of side",
        ),
        ("out=lamp", "out", "lamp", f"one of {', '.join(OUTPUTS)}", "'lamp' is not a kind of side"),
    ],
)
def test_a_problem_quotes_what_was_typed(query, field, given, accepted, reason):
    (problem,) = problems_of(query).values()
    assert (problem.field, problem.given, problem.accepted, problem.reason) == (field, given, accepted, reason)


def test_contradicting_bin_ends_quote_what_was_typed():
    (problem,) = problems_of("ctrmin=2000+%25&ctrmax=90").values()
    assert problem.field == "ctrmin"
    assert problem.given == "2000 %"
    assert problem.reason == "CTR min is above CTR max"


def test_hostile_text_is_quoted_short_and_printable():
    long, dirty = "9" * 10_000, "\x00\x1b[2J<script>\r\n"
    with pytest.raises(ScenarioError) as caught:
        scenario_from([("vs", long), ("r1", dirty), (long, dirty), ("sw", long), ("in", long)])
    problems = caught.value.problems
    assert len(problems) == 5
    for problem in problems:
        assert len(problem.field) <= 40
        assert len(problem.given) <= 40
        assert len(problem.reason) < 100
        assert str(problem).isprintable()


def test_an_accepted_end_of_a_range_is_accepted():
    assert scenario_from_query("vs=1kV&r1=1R&ta=-55&tol=50").input == ContactLow(VS=1000.0, R1=1.0)
    assert scenario_from_query("vs=0").input == ContactLow(VS=0.0)
    assert scenario_from_query("coupler=wide-bin").coupling == Coupling(card="wide-bin")
    assert scenario_from_query("rl=100M").output == PullUp(RL=1e8)


# ---------------------------------------------------------------- a card of one's own


def test_a_card_of_ones_own_comes_back_the_same():
    packed = pack_card(load_card("wide-bin"))
    scenario = scenario_from_query(f"coupler=own&card={packed}")
    assert scenario.coupling.data == replace(load_card("wide-bin"), name="own")
    assert query_from(scenario) == f"coupler=own&card={packed}"
    assert scenario_from_query(query_from(scenario)) == scenario


def test_a_faulty_card_is_quoted_and_the_reason_left_as_it_is():
    """Its single letters stand in the words of the reason too."""
    problem = problems_of("coupler=own&card=a")["card"]
    assert (problem.given, problem.reason) == ("a", "file: its packed text is damaged")
    assert problems_of("coupler=own&card=")["card"].reason == "there is none yet"
    assert len(problems_of("card=" + "x" * 7000)["card"].given) <= 40


def test_a_coupler_with_a_threshold_is_read_before_the_side_that_it_goes_with():
    assert scenario_from_query("coupler=photo-relay&out=indicator").coupling.data.family == "mosfet-relay"
