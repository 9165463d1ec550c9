"""Every finding by itself: its example raises it, the one just inside does not, its remedy mends it, harming none."""

import math
from functools import cache

import pytest

from engine import SEVERITIES, ScenarioError, findings_of, operating_point, query_from, scenario_from_query
from engine.findings import FAILING, RULES
from engine.findings.examples import EXAMPLES, NEAR

RANKS = {severity: rank for rank, severity in enumerate(SEVERITIES)}
NARROW = 0.08  # beyond which an example is not close to its limit


@cache
def found(query):
    """Return the findings on a scenario by code."""
    return {finding.code: finding for finding in findings_of(operating_point(scenario_from_query(query)))}


def mended(code):
    """Return the query string of an example with its remedy."""
    return query_from(found(EXAMPLES[code].raises)[code].mend.scenario)


MENDED = [code for code, example in EXAMPLES.items() if not example.unmended]


def test_there_is_an_example_of_every_finding_in_the_order_of_the_rules():
    assert list(EXAMPLES) == list(RULES)


@pytest.mark.parametrize("code", RULES)
def test_a_rule_tells_all_that_is_to_be_known_of_it(code):
    rule = RULES[code]
    assert rule.code == code
    assert 1 <= len(rule.title.split()) <= 4
    assert rule.asks.endswith("?")
    for text in (rule.why, rule.limit_from, rule.worst_where, rule.mends):
        assert text[0].isupper() or text[0].isdigit()
        assert text.endswith(".")
    assert rule.severities
    assert set(rule.severities) <= set(SEVERITIES) - {"pass"}
    assert list(rule.severities) == sorted(rule.severities, key=RANKS.get)
    assert callable(rule.measure)


@pytest.mark.parametrize("code", RULES)
def test_its_example_raises_it(code):
    example, finding = EXAMPLES[code], found(EXAMPLES[code].raises)[code]
    assert finding.severity == example.severity
    assert finding.severity in RULES[code].severities
    assert finding.margin < 0
    assert finding.condition
    assert finding.reason.endswith(".")


@pytest.mark.parametrize("code", RULES)
def test_just_inside_it_holds(code):
    example, finding = EXAMPLES[code], found(EXAMPLES[code].inside).get(code)
    if example.severity == "note":
        assert finding is None
        return
    assert finding.severity == "pass"
    assert finding.mend is None
    assert 0.0 <= finding.margin
    if example.near is not None:
        assert finding.margin <= example.near
        assert abs(finding.value - finding.limit) <= example.near * abs(finding.limit) + 1e-12


def test_just_inside_is_close():
    assert all(example.near is None or example.near <= NARROW for example in EXAMPLES.values())
    assert NEAR < NARROW
    within_steps = {code for code, example in EXAMPLES.items() if example.near is None}
    assert within_steps == {"barrier-bridged", "card-fit", "swapped", "zero-crossing", "creepage", "clearance"}


@pytest.mark.parametrize("code", MENDED)
def test_its_remedy_makes_it_pass(code):
    assert found(mended(code))[code].severity == "pass"


@pytest.mark.parametrize("code", MENDED)
def test_its_remedy_makes_no_other_graver(code):
    before = {other: RANKS[finding.severity] for other, finding in found(EXAMPLES[code].raises).items()}
    after = found(mended(code)).items()
    worse = {o for o, f in after if f.severity in FAILING and RANKS[f.severity] < before.get(o, len(RANKS))}
    assert worse == set()


@pytest.mark.parametrize("code", sorted(set(RULES) - set(MENDED)))
def test_where_nothing_is_offered_the_data_says_why(code):
    assert found(EXAMPLES[code].raises)[code].mend is None
    assert EXAMPLES[code].unmended


@pytest.mark.parametrize("code", RULES)
def test_findings_of_all_examples_have_a_severity_that_their_rule_names(code):
    for query in (EXAMPLES[code].raises, EXAMPLES[code].inside):
        for other, finding in found(query).items():
            assert finding.severity in ("pass", *RULES[other].severities), other
            assert math.isfinite(finding.margin)
            assert finding.severity == "note" or (finding.margin >= 0) == (finding.severity == "pass"), other


@pytest.mark.parametrize("code", RULES)
def test_findings_that_go_member_by_member_agree_with_their_severity(code):
    for query in (EXAMPLES[code].raises, EXAMPLES[code].inside):
        for other, finding in found(query).items():
            if finding.holds is not None:
                assert bool(finding.holds.all()) == (finding.severity not in FAILING), other


# ---------------------------------------------------------------- reverse voltage


def test_a_port_of_a_higher_supply_reverses_the_led_by_the_difference():
    finding = found("in=logic&vs=5V&vstol=0&active=low&voh=9V")["led-reverse"]
    assert finding.value == pytest.approx(4.0, rel=1e-6)
    assert (finding.severity, finding.limit) == ("pass", 6.0)


def test_a_port_that_lights_by_going_high_has_no_level_above_its_supply():
    with pytest.raises(ScenarioError, match="VOH is above VS"):
        scenario_from_query("in=logic&vs=5V&voh=9V")


def test_a_bare_led_meets_the_crest_of_the_line_backwards_and_a_diode_takes_it():
    bare, guarded = (found(f"in=ac&vac=24V&vstol=0&form={form}")["led-reverse"] for form in ("bare", "diode"))
    assert bare.value == pytest.approx(24.0 * math.sqrt(2.0), rel=1e-4)
    assert bare.severity == "stop"
    assert bare.mend.scenario.input.form == "diode"
    assert 0.5 < guarded.value < 0.8


@pytest.mark.parametrize("query", ["", "in=ac", "in=ac&form=pair&coupler=two-way", "in=logic&active=low"])
def test_an_led_that_meets_no_reverse_voltage_is_not_asked_about(query):
    assert "led-reverse" not in found(query)


def test_behind_a_capacitor_a_bare_led_is_refused():
    with pytest.raises(ScenarioError, match="a capacitor passes no direct current"):
        scenario_from_query("in=ac&form=bare&dropper=capacitor")


# ---------------------------------------------------------------- the LED's power and least current


def test_led_power_is_voltage_times_current_and_its_rating_falls_with_heat():
    point = operating_point(scenario_from_query("if=30mA&r1w=5W&ta=90C"))
    lit, finding = point.states["closed"].quantities, found("if=30mA&r1w=5W&ta=90C")["led-power"]
    worst = int((lit["IF"].members * lit["VF"].members).argmax())
    assert finding.value == pytest.approx(lit["IF"].members[worst] * lit["VF"].members[worst], rel=1e-6)
    assert finding.limit == pytest.approx(70e-3 * (125.0 - 90.0) / (125.0 - 55.0))


@pytest.mark.parametrize(
    ("query", "severity", "limit"),
    [("if=50uA", "caution", 100e-6), ("if=0.5mA", "note", 1e-3), ("", "pass", 1e-3)],
)
def test_too_little_current_is_a_caution_off_the_card_and_a_note_where_parts_differ_more(query, severity, limit):
    finding = found(query)["led-current-low"]
    assert (finding.severity, finding.limit) == (severity, limit)


@pytest.mark.parametrize("query", ["out=dc-load", "in=ac", "vs=0&r1=1k"])
def test_least_current_is_asked_where_a_transfer_ratio_hangs_on_it_only(query):
    assert "led-current-low" not in found(query)


# ---------------------------------------------------------------- the barrier


def test_a_bridged_barrier_stands_above_all_others_and_tells_of_the_voltage():
    findings = findings_of(operating_point(scenario_from_query("bridge=returns&rl=100R&vb=230V&r1w=50mW")))
    assert (findings[0].code, findings[0].severity) == ("barrier-bridged", "stop")
    assert "nothing is isolated" in findings[0].reason
    assert "230 V between the sides" in findings[0].reason
    assert "between the sides" not in found("bridge=returns")["barrier-bridged"].reason


def test_joined_returns_change_no_voltage_within_either_side():
    apart, joined = (operating_point(scenario_from_query(q)) for q in ("rl=6k8", "rl=6k8&bridge=returns"))
    for state in apart.states:
        assert apart.states[state].nodes == joined.states[state].nodes


def test_clearance_is_asked_where_a_voltage_is_given_and_the_card_tells_its_own():
    assert "clearance" not in found("oc=4")
    assert found("vb=230V")["clearance"].value == pytest.approx(7e-3)


def test_beyond_the_tables_no_clearance_is_enough():
    finding = found("vb=1.2kV")["clearance"]
    assert (finding.severity, finding.margin) == ("stop", -1.0)
    assert "No clearance is tabulated" in finding.reason


# ---------------------------------------------------------------- what the reasons tell


def test_a_missing_clamp_is_named():
    assert "No clamp" in found("out=relay&clamp=none")["flyback-peak"].reason
    assert "No clamp" not in found("out=relay&clamp=zener&vclamp=36V")["flyback-peak"].reason


def test_heat_around_a_resistor_is_named_where_it_counts():
    assert "it may take 76 %" in found("ta=90C")["power-r1"].reason
    assert "may take" not in found("ta=70C")["power-r1"].reason
