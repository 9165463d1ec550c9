"""Findings: what raises each rule, what does not, and whether its remedy holds."""

import math
from dataclasses import replace
from functools import cache

import pytest

from engine import (
    HAZARDOUS_DC,
    INPUTS,
    OUTPUTS,
    SEVERITIES,
    Conditions,
    Coupling,
    Scenario,
    findings_of,
    load_card,
    operating_point,
    pack_card,
    query_from,
    scenario_from_query,
)
from engine.findings import RULES, detector, drive
from engine.inputs import ContactLow, LogicOutput
from engine.outputs import PullUp
from tests.stages import alone, together


@cache
def point_of(query):
    return operating_point(scenario_from_query(query))


@cache
def found(query):
    """Return the findings on a scenario by code."""
    return {finding.code: finding for finding in findings_of(point_of(query))}


# code, a query that raises it, its severity, and a query just inside
RAISED = [
    ("saturation", "in=logic&out=indicator&il=2mA", "caution", "in=logic&out=indicator&rl=8k2"),
    ("saturation", "vcc=5&rl=1k&logic=cmos", "stop", "vcc=5&rl=3k3&logic=cmos"),
    ("saturation", "vcc=100&rl=1k&if=10mA&r1w=10", "stop", "vcc=100&rl=20k&if=10mA&r1w=10"),
    ("saturation", "if=1mA&rl=1k", "stop", "if=1mA&rl=6k8"),
    ("level-lit", "rl=1k&if=1mA", "stop", "rl=15k&if=1mA"),
    ("level-lit", "out=pull-down&rl=470", "stop", "out=pull-down"),
    ("level-lit", "vil=0.14", "caution", "vil=0.17"),
    ("level-dark", "rl=220k", "caution", "rl=200k"),
    ("level-dark", "ta=85&rl=100k", "caution", "ta=85&rl=33k"),
    ("level-dark", "out=pull-down&rl=200k", "caution", "out=pull-down&rl=130k"),
    ("led-current", "if=45mA&r1w=10", "caution", "if=40mA&r1w=10"),
    ("led-current", "if=60mA&r1w=10", "stop", "if=40mA&r1w=10"),
    ("led-current", "if=20mA&ta=95&r1w=5", "caution", "if=20mA&ta=85&r1w=5"),
    ("port-current", "in=logic&if=7.5mA", "caution", "in=logic&if=6mA"),
    ("port-current", "in=logic&if=9mA", "stop", "in=logic&if=6mA"),
    ("power-r1", "r1w=0.125", "stop", "r1w=0.18"),
    ("power-r1", "r1w=0.15", "caution", "r1w=0.18"),
    ("power-rl", "vcc=24&rl=2k2&if=20mA&r1w=3", "caution", "vcc=24&rl=2k6&if=20mA&r1w=3"),
    ("power-rl", "vcc=24&rl=1k5&if=20mA&r1w=3", "stop", "vcc=24&rl=1k5&if=20mA&r1w=3&rlw=1"),
    ("collector-current", "coupler=wide-bin&ctr=max&vcc=24&rl=100&if=20mA&r1w=3", "stop",
     "coupler=wide-bin&ctr=max&vcc=24&rl=560&if=20mA&r1w=3"),
    ("detector-power", "vcc=24&rl=100&if=5mA&r1w=10", "stop", "vcc=24&rl=1k3&if=5mA&r1w=10"),
    ("detector-power", "vcc=24&rl=100&if=4mA&r1w=10", "caution", "vcc=24&rl=1k3&if=4mA&r1w=10"),
    ("receiver-supply", "vcc=5&rl=6k8", "stop", "vcc=5&rl=6k8&logic=hct"),
    ("receiver-supply", "vcc=2.5&rl=6k8", "stop", "vcc=3&rl=6k8"),
    ("receiver-supply", "vcc=5&rl=6k8&logic=ttl&vcctol=6", "caution", "vcc=5&rl=6k8&logic=ttl"),
    ("level-dark", "if=8mA&r1w=1&leak=10k&out=pull-down", "stop", "if=8mA&r1w=1&leak=10M&out=pull-down"),
    ("level-dark", "in=two-wire&rb=none", "stop", "in=two-wire&rb=910R"),
    ("residual-light", "in=two-wire&rb=none", "caution", "in=two-wire&rb=910R"),
    ("residual-light", "leak=100k", "caution", "leak=100k&rb=1k"),
    ("residual-light", "in=logic&vs=5V&voh=3.3V&active=low", "caution", "in=logic&vs=5V&voh=3.3V&active=low&nd=1"),
    ("package-current", "in=logic&vs=5V&if=6mA&pins=8&ipack=40mA", "stop", "in=logic&vs=5V&if=4mA&pins=8&ipack=40mA"),
    ("package-current", "in=logic&vs=5V&if=5mA&pins=8&ipack=43mA", "caution",
     "in=logic&vs=5V&if=5mA&pins=8&ipack=45mA"),
    ("sensor-load", "in=two-wire&if=2mA&rb=none", "stop", "in=two-wire&if=4mA&rb=none"),
    ("sensor-load", "in=two-wire&imin=6mA", "caution", "in=two-wire&imin=5.9mA"),
    ("power-rb", "rb=4k7&rbat=input", "stop", "rb=4k7&rbat=input&rbw=1W"),
    ("power-rb", "rb=11k&rbat=input", "caution", "rb=12k&rbat=input"),
    ("power-b2", "in=limited&if=20mA", "stop", "in=limited&if=10mA"),
    ("power-b2", "in=limited&if=15mA", "caution", "in=limited&if=10mA"),
]  # fmt: skip

# a card whose line at the knee its transfer ratio contradicts
MISFIT = pack_card(replace(load_card("general"), knee=(10e-3, 1.0, 2e-3)))
FIT = pack_card(load_card("general"))

# the same where nothing within the stage's two resistors and their ratings would help, or not without other harm
WITHOUT_REMEDY = [
    ("saturation", "vcc=5&rl=100&r1=1M", "stop", "vcc=5&rl=10k&r1=10k"),
    ("level-lit", "in=logic&out=indicator&ilit=3mA", "stop", "in=logic&out=indicator&ilit=0.8mA"),
    ("level-dark", "out=indicator&idark=10nA", "caution", "out=indicator&idark=200nA"),
    ("level-dark", "logic=ttl&vcc=1.9", "stop", "logic=ttl&vcc=5"),
    ("port-current", "in=logic&if=9mA&rl=680", "stop", "in=logic&if=6mA&rl=680"),
    ("led-current", "ta=125", "stop", "ta=100"),
    ("power-r1", "vs=1000&r1=100&rc=10", "stop", "vs=1000&r1=10M"),
    ("collector-voltage", "vcc=72&rl=100k", "stop", "vcc=66&rl=100k"),
    ("collector-voltage", "vcc=68&rl=100k", "caution", "vcc=66&rl=100k"),
    ("detector-power", "ta=125", "stop", "ta=100"),
    ("outside-bin", "ctr=79.9", "note", "ctr=80"),
    ("outside-bin", "ctr=160.1", "note", "ctr=160"),
    ("receiver-supply", "vcc=24&rl=33k", "stop", "vcc=15&logic=cmos&rl=33k"),
    ("card-fit", f"coupler=own&card={MISFIT}", "note", f"coupler=own&card={FIT}"),
    ("hazardous-voltage", "vs=110", "note", "vs=109"),
    ("hazardous-voltage", "vcc=120", "note", "vcc=114"),
]
CASES = [*RAISED, *WITHOUT_REMEDY]


def test_every_rule_on_drive_and_detector_has_a_case_here():
    assert {code for code, *_ in CASES} == {*drive.RULES, *detector.RULES}


@pytest.mark.parametrize(("code", "query", "severity", "inside"), CASES)
def test_a_rule_is_raised(code, query, severity, inside):
    finding = found(query)[code]
    assert finding.severity == severity
    assert math.isfinite(finding.margin)
    assert finding.margin < 0
    assert finding.reason.endswith(".")


@pytest.mark.parametrize(("code", "query", "severity", "inside"), CASES)
def test_just_inside_it_is_not_raised(code, query, severity, inside):
    finding = found(inside).get(code)
    if severity == "note":
        assert finding is None
    else:
        assert finding.severity == "pass"
        assert finding.mend is None
        assert finding.margin >= 0


@pytest.mark.parametrize(("code", "query", "severity", "inside"), RAISED)
def test_its_remedy_makes_it_pass_and_changes_one_value_only(code, query, severity, inside):
    mend = found(query)[code].mend
    assert mend.text.startswith(("make R", "use a ", "read it with ", "put "))
    mended = query_from(mend.scenario)
    assert found(mended)[code].severity == "pass"
    before = set(query_from(scenario_from_query(query)).split("&"))
    added = {pair.split("=")[0] for pair in set(mended.split("&")) - before} - {"rbat"}
    gone = {pair.split("=")[0] for pair in before - set(mended.split("&"))}
    assert len(added | gone) == 1
    assert added | gone <= {"r1", "rl", "rb", "r1w", "rlw", "rbw", "limw", "logic", "nd"}


def failing(query):
    """Return the rank of every stop and caution by code, the gravest lowest."""
    return {code: SEVERITIES.index(f.severity) for code, f in found(query).items() if f.severity in ("stop", "caution")}


def test_a_remedy_that_breaks_another_rule_gives_way_to_a_smaller_one():
    """With R1 15 % clear of the port's limit 910 ohm would not saturate at worst; just within the limit it does."""
    query = "in=logic&if=9mA&rl=910"
    assert failing(query).keys() == {"port-current"}
    mended = query_from(found(query)["port-current"].mend.scenario)
    assert failing(mended) == {}
    assert mended == "in=logic&r1=300R&if=9mA&rl=910R"
    assert failing("in=logic&r1=360R&if=9mA&rl=910R").keys() == {"saturation"}


@pytest.mark.parametrize(
    ("code", "query", "also"),
    [
        ("level-lit", "rl=47k&vs=110V&if=0.1mA&r1w=0.05", "r1w=100mW"),
        ("detector-power", "out=pull-down&vcc=24&rl=100&if=10mA&r1w=10", "rlw=500mW"),
    ],
)
def test_a_remedy_that_overloads_a_resistor_asks_for_a_stronger_one_too(code, query, also):
    mend = found(query)[code].mend
    assert " and use a " in mend.text
    mended = query_from(mend.scenario)
    assert also in mended.split("&")
    assert found(mended)[code].severity == "pass"
    assert failing(mended).items() <= failing(query).items()


@pytest.mark.parametrize(("code", "query", "severity", "inside"), RAISED)
def test_a_remedy_makes_no_other_rule_worse(code, query, severity, inside):
    before, after = failing(query), failing(query_from(found(query)[code].mend.scenario))
    assert all(rank >= before.get(other, len(SEVERITIES)) for other, rank in after.items())


@pytest.mark.parametrize(("code", "query", "severity", "inside"), WITHOUT_REMEDY)
def test_where_nothing_would_help_there_is_no_remedy(code, query, severity, inside):
    assert found(query)[code].mend is None


@pytest.mark.parametrize(("code", "query", "severity", "inside"), RAISED)
def test_a_remedy_puts_no_resistor_beyond_what_may_be_fitted(code, query, severity, inside):
    scenario = found(query)[code].mend.scenario
    for R in (scenario.input.R1, scenario.output.RL):
        assert R == "auto" or 1.0 <= R <= 1e8


# ---------------------------------------------------------------- the figures of a finding


def test_a_pass_tells_the_worst_value_and_its_distance():
    point, findings = point_of(""), found("")
    IF = point.states["closed"].quantities["IF"].high
    led = findings["led-current"]
    assert (led.value, led.limit, led.unit) == (IF, 50e-3, "A")
    assert led.margin == pytest.approx((50e-3 - IF) / 50e-3)
    overdrive = point.states["closed"].quantities["overdrive"].low
    assert findings["saturation"].value == overdrive
    assert findings["saturation"].margin == pytest.approx(overdrive - 1.0)
    assert findings["power-r1"].value == point.states["closed"].powers["R1"].high
    assert findings["collector-voltage"].value == point.states["open"].quantities["VCE"].high


def test_levels_are_held_against_the_limits_of_the_receiver():
    lit, dark = found("")["level-lit"], found("")["level-dark"]
    assert (lit.limit, dark.limit, lit.unit) == (0.8, 2.0, "V")
    assert lit.value == pytest.approx(point_of("").states["closed"].quantities["VOUT"].high)
    assert dark.value == pytest.approx(point_of("").states["open"].quantities["VOUT"].low)
    assert lit.margin == pytest.approx((0.8 - lit.value) / 0.8)
    assert dark.margin == pytest.approx((dark.value - 2.0) / 2.0)


def test_an_indicator_is_judged_by_its_current():
    findings = found("out=indicator")
    assert (findings["level-lit"].unit, findings["level-lit"].limit) == ("A", 0.5e-3)
    assert findings["level-dark"].limit == 50e-6


@pytest.mark.parametrize(
    ("query", "code", "margin"),
    [
        ("ta=125", "led-current", -1.0),
        ("ta=125", "detector-power", -1.0),
        ("ta=125&vs=0&r1=1k&vcc=0&iin=0", "led-current", 0.0),
        ("vil=0", "level-lit", -1.0),
        ("vcc=0&logic=cmos", "level-dark", -1.0),
        ("vil=1e-320", "level-lit", -1.0),
    ],
)
def test_a_limit_of_nothing_is_kept_or_broken(query, code, margin):
    finding = found(query)[code]
    assert finding.margin == pytest.approx(margin)
    assert (finding.severity == "pass") == (margin == 0.0)


@pytest.mark.parametrize("TA", [25.0, 55.0, 90.0, 110.0])
def test_ratings_fall_with_the_ambient_temperature(TA):
    findings, card = found(f"ta={TA}C"), load_card("general")
    assert findings["led-current"].limit == pytest.approx(card.IF_rating.at(TA))
    assert findings["detector-power"].limit == pytest.approx(card.detector_power.at(TA))


def test_the_port_is_judged_where_there_is_one_only():
    assert "port-current" in found("in=logic")
    assert "port-current" not in found("")
    assert "port-current" not in found("in=contact-high")


def test_the_package_is_judged_where_its_limit_is_given_only():
    assert "package-current" not in found("in=logic&pins=8")
    one = found("in=logic&ipack=8mA")["package-current"]
    many = found("in=logic&ipack=8mA&pins=4")["package-current"]
    assert many.value == pytest.approx(4 * one.value)
    assert one.reason.startswith("Current of the package's only lit pin")
    assert many.reason.startswith("Current of 4 pins")


def test_a_package_leaves_each_pin_its_share_of_the_drive():
    mended = query_from(found("in=logic&vs=5V&if=6mA&pins=8&ipack=40mA")["package-current"].mend.scenario)
    assert 4e-3 < point_of(mended).states["closed"].currents["P1"].high <= 5e-3


def test_a_sensor_is_asked_for_its_load_where_it_lives_on_it_only():
    assert "sensor-load" in found("in=two-wire")
    assert "sensor-load" not in found("in=sourcing")


def test_a_residual_current_is_led_past_the_led_without_starving_it():
    query = "in=two-wire&rb=none"
    mended = query_from(found(query)["residual-light"].mend.scenario)
    dark, lit = (point_of(mended).states[state].quantities for state in ("open", "closed"))
    assert dark["VF"].high <= 0.8
    assert lit["overdrive"].low > 1.0
    assert failing(mended) == {}


def test_a_port_that_holds_the_led_lit_is_cured_by_diodes_and_others_by_a_bypass():
    port = found("in=logic&vs=5V&voh=2.4V&active=low")["residual-light"].mend
    contact = found("leak=100k")["residual-light"].mend
    assert port.text == "put 3 diodes in series with the LED"
    assert contact.text.startswith("put RB ")
    assert contact.text.endswith(" across the LED")


def test_light_that_the_output_does_not_heed_is_not_held_against_the_stage():
    finding = found("in=two-wire&rb=1k")["residual-light"]
    assert finding.value > 0.8
    assert (finding.severity, finding.margin) == ("pass", 0.0)
    assert "which the output does not heed" in finding.reason


def test_an_led_without_any_residual_current_is_not_asked_about():
    assert "residual-light" not in found("")


@pytest.mark.parametrize("query", [*alone(), *together()])
def test_findings_of_every_option_have_a_finite_margin_that_agrees_with_their_severity(query):
    for finding in found(query).values():
        assert math.isfinite(finding.margin)
        assert finding.severity == "note" or (finding.margin >= 0) == (finding.severity == "pass"), finding


def test_a_stage_without_load_current_says_nothing_of_saturation():
    assert "saturation" not in found("vcc=0")
    assert "saturation" not in found("vs=0&r1=1k")


def test_danger_begins_above_the_limit_of_touch():
    assert HAZARDOUS_DC == 120.0
    assert "hazardous-voltage" not in found("vs=120&vstol=0")
    assert found("vs=120.1&vstol=0")["hazardous-voltage"].value == pytest.approx(120.1)
    assert "dangerous to touch" in found("vs=200")["hazardous-voltage"].reason


@pytest.mark.parametrize("inside", INPUTS)
@pytest.mark.parametrize("outside", OUTPUTS)
def test_findings_come_gravest_first_then_in_the_order_of_the_rules(inside, outside):
    findings = findings_of(point_of(f"in={inside}&out={outside}&vcc=200&ctr=5&r1w=0.05"), remedies=False)
    ranks = [(SEVERITIES.index(f.severity), list(RULES).index(f.code)) for f in findings]
    assert ranks == sorted(ranks)
    assert len({f.code for f in findings}) == len(findings)
    assert {"caution", "stop"} & {f.severity for f in findings}


def test_the_default_stage_passes_everything():
    assert {finding.severity for finding in found("").values()} == {"pass"}


def test_a_finding_does_not_depend_on_the_state_that_is_looked_at():
    scenario = Scenario(input=ContactLow(R1_rating=0.125), output=PullUp(RL=1e3), coupling=Coupling(CTR=0.5))
    closed, opened = (
        [(f.code, f.severity, f.value) for f in findings_of(operating_point(scenario.showing(state)))]
        for state in ("closed", "open")
    )
    assert closed == opened


def test_a_remedy_keeps_series_and_conditions():
    scenario = Scenario(input=LogicOutput(IF=9e-3), conditions=Conditions(series="E96", tolerance=0.01, switch="open"))
    (finding,) = (f for f in findings_of(operating_point(scenario)) if f.code == "port-current")
    assert finding.mend.scenario.conditions == scenario.conditions
    assert finding.mend.scenario.coupling == scenario.coupling
