"""Traps: what raises each one, what close by does not, the figures that decide, and what is offered instead."""

import math
from functools import cache

import pytest

from engine import (
    INPUTS,
    KEYS,
    OUTPUTS,
    SEVERITIES,
    TRAPS,
    findings_of,
    operating_point,
    query_from,
    scenario_from_query,
    traps_of,
)


@cache
def solved(query):
    """Return a stage, solved, and what was found on it."""
    point = operating_point(scenario_from_query(query))
    return point, findings_of(point)


@cache
def trapped(query):
    """Return the traps of a stage by the field they are about."""
    return {trap.field: trap for trap in traps_of(*solved(query))}


def told(query):
    """Return field and code of every trap of a stage."""
    return {(field, trap.code) for field, trap in trapped(query).items()}


# code, field, a query that raises it, and one close by that does not
RAISED = [
    ("led-drop-ignored", "r1", "in=contact-high&vs=5V&r1=5k&if=1mA", "in=contact-high&vs=5V&r1=4k7&if=1mA"),
    ("led-drop-ignored", "r1", "in=sourcing&vs=5V&r1=1k&if=5mA", "in=sourcing&vs=48V&r1=9k53&if=5mA&r1w=1"),
    ("bleeder-rule", "rb", "in=two-wire&rb=33k", "in=two-wire&rb=27k"),
    ("bleeder-rule", "rb", "in=sourcing&vs=36V&ioff=1mA&rb=36k", "in=sourcing&vs=36V&ioff=1mA&rb=22k"),
    ("bleeder-rule", "rb", "leak=100k&rb=110k&rbat=input", "leak=100k&rb=110k&rbat=switch"),
    ("ctr-times-if", "il", "if=5mA&il=5.5mA", "if=5mA&il=4.5mA"),
    ("ctr-times-if", "il", "if=5mA&il=5.5mA&rl=auto", "if=5mA&il=2.7mA&rl=auto"),
    ("peak-power", "r1w", "in=ac&r1=33k&r1w=1.6", "in=ac&r1=33k&r1w=1.1"),
    ("decade", "r1", "r1=220R", "r1=470R"),
    ("decade", "r1", "vs=2.23V&if=5mA&r1=220k", "vs=2.23V&if=5mA&r1=560R"),
    ("decade", "r1", "if=20mA&rl=1k&r1=23k", "if=20mA&r1=6k8&rl=1k"),
    ("decade", "rl", "rl=100R", "rl=150R"),
    ("decade", "rl", "rl=470k&il=0.68mA", "rl=12k&il=0.68mA"),
    ("decade", "rb", "in=two-wire&rb=10k", "in=two-wire&rb=3k3"),
    ("rounded-wrong", "r1", "in=logic&if=6.6mA", "in=logic&if=6.4mA"),
    ("rounded-wrong", "r1", "in=logic&vs=5V&if=4.8mA&pins=8&ipack=43mA", "in=logic&vs=5V&if=4.8mA&pins=8&ipack=45mA"),
    ("rounded-wrong", "rl", "r1=9k1&rl=1k", "r1=8k2&rl=1k"),
    ("rounded-wrong", "rl", "r1=9k1&rl=1k", "r1=9k1&rl=1k01"),
]  # fmt: skip
QUERIES = [(code, field, query) for code, field, query, _ in RAISED]


def test_every_trap_has_a_case_here():
    assert {code for code, *_ in RAISED} == set(TRAPS)


def test_every_trap_teaches_a_sentence():
    for lesson in TRAPS.values():
        assert lesson.title.endswith(".")
        assert lesson.title.count(". ") == 0


@pytest.mark.parametrize(("code", "field", "query"), QUERIES)
def test_a_trap_is_raised(code, field, query):
    trap = trapped(query)[field]
    value, limit, unit = trap.decides
    assert trap.code == code
    assert field in KEYS
    assert trap.text[-1] in ".?"
    assert math.isfinite(value)
    assert math.isfinite(limit)
    assert unit in {"A", "V", "W", "ohm", "1"}


@pytest.mark.parametrize(("code", "field", "query", "close"), RAISED)
def test_close_by_it_is_not_raised(code, field, query, close):
    assert (field, code) not in told(close)


@pytest.mark.parametrize("query", [f"in={side}&out={load}" for side in INPUTS for load in OUTPUTS])
def test_defaults_are_blamed_for_nothing_but_a_step(query):
    assert {code for _, code in told(query)} <= {"rounded-wrong"}


# ---------------------------------------------------------------- the figures that decide


def test_what_flows_with_the_drop_ignored_is_what_is_solved():
    query = "in=contact-high&vs=5V&r1=5k&if=1mA"
    IF = solved(query)[0].states["closed"].quantities["IF"].value
    assert trapped(query)["r1"].decides == (IF, 1e-3, "A")
    assert 0.7e-3 < IF < 0.8e-3


def test_the_dark_voltage_decides_on_a_bypass():
    point, _ = solved("in=two-wire&rb=33k")
    value, limit, unit = trapped("in=two-wire&rb=33k")["rb"].decides
    assert (limit, unit) == (0.8, "V")
    assert value == point.states["open"].quantities["VF"].value > limit


def test_a_load_sets_what_flows_through_a_saturated_detector():
    closed = solved("if=5mA&il=5.5mA")[0].states["closed"].quantities
    IC, most, unit = trapped("if=5mA&il=5.5mA")["il"].decides
    assert (IC, unit) == (closed["IC"].value, "A")
    assert most == pytest.approx(1.1 * closed["IF"].value)
    assert closed["overdrive"].value > 8.0


def test_all_that_the_coupler_gives_is_too_much_to_ask_for():
    closed = solved("if=5mA&il=5.5mA&rl=auto")[0].states["closed"].quantities
    assert trapped("if=5mA&il=5.5mA&rl=auto")["il"].decides == (closed["overdrive"].low, 1.0, "1")


def test_the_mean_heats_and_not_the_peak():
    query = "in=ac&r1=33k&r1w=1.6"
    mean, peak, unit = trapped(query)["r1w"].decides
    assert unit == "W"
    assert mean == solved(query)[0].states["closed"].powers["R1"].value
    assert peak == pytest.approx(2.0 * 230.0**2 / 33e3)


@pytest.mark.parametrize(
    ("query", "times"),
    [
        ("vs=2.23V&if=5mA&r1=220k", "1000 times too large"),
        ("r1=220R", "100 times too small"),
        ("if=20mA&rl=1k&r1=23k", "10 times too large"),
    ],
)
def test_a_slip_tells_how_many_decades(query, times):
    trap = trapped(query)["r1"]
    assert times in trap.text
    assert trap.decides[1] == solved(query)[0].sized["R1"].exact


@pytest.mark.parametrize("times", [0.34, 0.5, 1.0, 2.0, 2.9])
@pytest.mark.parametrize("query", ["if=20mA", "vcc=5V&rl=100R", "in=logic&if=9mA", "out=gate&if=2mA"])
def test_what_is_within_three_times_of_what_is_asked_for_is_no_slip(query, times):
    R1 = solved(query)[0].sized["R1"].exact * times
    assert not any(code == "decade" for field, code in told(f"{query}&r1={R1:.6g}") if field == "r1")


def test_below_what_a_limiter_needs_a_resistor_is_no_slip():
    assert told("in=limited&r1=100R&if=15mA") == set()


def test_a_current_that_nobody_typed_is_asked_for_by_nobody():
    """At 24 V the RL that was there before is far from one for the current that was there before."""
    assert told("vcc=24V&logic=cmos") == set()
    assert told("rl=470k") == set()


def test_a_step_misses_what_its_finding_says():
    (finding,) = (f for f in solved("r1=9k1&rl=1k")[1] if f.code == "saturation")
    trap = trapped("r1=9k1&rl=1k")["rl"]
    assert trap.decides == (finding.value, finding.limit, finding.unit)
    assert "E24" in trap.text


def test_a_value_between_two_steps_was_not_rounded_to_the_wrong_side_if_it_is_nearer_than_exact():
    """240 ohm were rounded down from 244 ohm; 220 ohm lie on the other side, and 270 ohm do not help."""
    assert told("in=logic&if=7.5mA") == set()


# ---------------------------------------------------------------- what is offered


def failing(query):
    return {f.code: SEVERITIES.index(f.severity) for f in solved(query)[1] if f.severity in SEVERITIES[:2]}


@pytest.mark.parametrize(("code", "field", "query"), QUERIES)
def test_what_is_offered_is_out_of_the_trap_and_breaks_nothing(code, field, query):
    mend = trapped(query)[field].mend
    if mend is None:
        assert code in {"ctr-times-if", "peak-power", "bleeder-rule", "decade"}
        return
    mended = query_from(mend.scenario)
    before, after = failing(query), failing(mended)
    assert (field, code) not in told(mended)
    assert all(rank >= before.get(other, len(SEVERITIES)) for other, rank in after.items())


@pytest.mark.parametrize(
    ("query", "field", "text", "mended"),
    [
        ("in=contact-high&vs=5V&r1=5k&if=1mA", "r1", "make R1 3.9 kΩ", "in=contact-high&vs=5V&r1=3k9&if=1mA"),
        ("r1=220R", "r1", "make R1 22 kΩ", "r1=22k"),
        ("vs=2.23V&if=5mA&r1=220k", "r1", "make R1 220 Ω", "vs=2.23V&r1=220R&if=5mA"),
        ("in=logic&if=6.6mA", "r1", "make R1 300 Ω", "in=logic&r1=300R&if=6.6mA"),
        ("if=5mA&il=5.5mA&rl=auto", "il", "size RL for 2.7 mA", "if=5mA&rl=auto&il=2.7mA"),
        ("in=two-wire&rb=33k", "rb", "put RB 820 Ω across the LED", "in=two-wire"),
    ],
)
def test_a_better_value_is_offered(query, field, text, mended):
    mend = trapped(query)[field].mend
    assert (mend.text, query_from(mend.scenario)) == (text, mended)


def test_a_value_in_the_right_decade_that_overloads_a_part_is_told_but_not_offered():
    trap = trapped("if=20mA&rl=1k&r1=23k")["r1"]
    assert trap.mend is None
    assert "2.34 kΩ" in trap.text


# ---------------------------------------------------------------- together


def test_a_value_has_one_explanation():
    """110 kohm are VS over the leakage, and also about a hundred times what keeps the LED dark."""
    assert told("leak=100k&rb=150k&vs=36V") == {("rb", "decade")}
    assert told("leak=100k&rb=110k&vs=36V") == {("rb", "bleeder-rule")}


def test_two_values_may_both_be_wrong():
    assert told("rl=470k&il=0.68mA&r1=1M5") == {("r1", "decade"), ("rl", "decade")}


def test_without_findings_nothing_is_blamed_on_a_failure():
    point, _ = solved("r1=220R")
    assert traps_of(point, ()) == ()
