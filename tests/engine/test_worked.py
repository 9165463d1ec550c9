"""The reasoning: loops close, Ohm's law and the node law hold, hand values are the hand calculation."""

import math
from functools import cache
from itertools import product

import pytest

from engine import INPUTS, OUTPUTS, STATES, operating_point, reasoning_of, scenario_from_query
from tests.each import of_each
from tests.stages import DRIVES, together

STAGES = [f"in={inside}&out={outside}" for inside in INPUTS for outside in OUTPUTS] + [
    "line=100&leak=1M",
    "in=contact-high&line=100&leak=1M&ta=85",
    "in=logic&active=low&vs=5&out=pull-down&vcc=24&logic=cmos",
    "rl=100&vcc=12",
    "out=indicator&colour=blue&vcc=5&il=10mA&if=2mA",
    "vs=0&r1=1k",
    "rin=10k&rpumin=20k&rpumax=60k",
    "swap=yes",
    "out=pull-down&swap=yes&rin=10k",
    "out=controller&flow=sourcing",
    "out=gate&if=10mA&vee=-8",
    "out=ac-triac&if=20mA&csn=10n",
    *DRIVES.values(),
    *together(),
]


@cache
def point_of(query):
    return operating_point(scenario_from_query(query))


def compared(query, name):
    return {c.symbol: c for c in reasoning_of(point_of(query), name).comparisons}


@of_each(product(STAGES, STATES))
def test_every_loop_closes(query, name):
    point = point_of(query)
    for loop in reasoning_of(point, name).loops:
        assert loop.volts == point.states[name].nodes[loop.source].value
        assert loop.volts - math.fsum(volts for _, volts in loop.terms) == pytest.approx(loop.left, abs=1e-12)
        assert abs(loop.left) < 1e-6


@of_each(STAGES)
def test_the_loops_hold_every_part_in_their_way(query):
    point = point_of(query)
    inside, outside = reasoning_of(point, "closed").loops
    assert (inside.side, inside.source) == ("input", "VS")
    assert (outside.side, outside.source) == ("output", "VCC")
    assert tuple(part for part, _ in inside.terms) == point.scenario.input.loop
    assert tuple(part for part, _ in outside.terms) == point.scenario.output.loop


@of_each(product(STAGES, STATES))
def test_ohms_law_holds_at_both_resistors(query, name):
    point = point_of(query)
    laws = reasoning_of(point, name).resistors
    assert [law.part for law in laws] == ["R1", "RL"]
    for law in laws:
        assert law.ohms == point.sized[law.part].chosen
        assert law.volts == pytest.approx(law.ohms * law.amperes, rel=1e-6, abs=1e-9)


@of_each(product(STAGES, STATES))
def test_the_node_law_holds_at_the_receiver(query, name):
    node = reasoning_of(point_of(query), name).node
    if not point_of(query).scenario.output.meeting:
        assert node is None
    else:
        assert node.node == "OUT"
        assert {"U1", "RL"} <= {part for part, _ in node.terms}
        assert math.fsum(current for _, current in node.terms) == pytest.approx(node.left, abs=1e-15)
        assert abs(node.left) < 1e-10


# ---------------------------------------------------------------- by hand


def test_a_saturated_stage_by_hand():
    by_hand = compared("r1=15k", "closed")
    # the general card: 1.18 V at 10 mA, a transfer ratio of 110 %
    IF = (48.0 - 1.18) / 15e3
    assert by_hand["IF"].by_hand == pytest.approx(IF)
    assert by_hand["IC available"].by_hand == pytest.approx(1.1 * IF)
    assert by_hand["IC"].by_hand == pytest.approx(3.3 / 4700.0)
    assert by_hand["VCE"].by_hand == 0.0
    assert "VCE taken as 0" in by_hand["IC"].formula
    assert by_hand["VCE"].formula == "saturated: 0"


def test_an_unsaturated_stage_by_hand():
    by_hand = compared("in=logic&vs=5&r1=3k3&vcc=12&rl=1k&ctr=80", "closed")
    IF = (5.0 - 1.18) / 3300.0
    assert by_hand["IF"].by_hand == pytest.approx(IF)
    assert by_hand["IC"].by_hand == pytest.approx(0.8 * IF)
    assert by_hand["VCE"].by_hand == pytest.approx(12.0 - 0.8 * IF * 1000.0)
    assert "less than the load needs" in by_hand["IC"].formula
    assert by_hand["VCE"].formula == "VCC - IC x RL"


@pytest.mark.parametrize(
    ("query", "IF"),
    [
        ("rb=1k18&r1=10k", (48.0 - 1.18) / 10e3 - 1e-3),
        ("rb=1k18&rbat=input&r1=10k", (48.0 - 1.18) / 10e3),
        ("nd=3&r1=10k", (48.0 - 1.18 - 3 * 0.7) / 10e3),
        ("vz=12V&r1=10k", (48.0 - 1.18 - 12.0) / 10e3),
        ("lamp=red&r1=10k", (48.0 - 1.18 - 1.8) / 10e3),
        ("lamp=red&lampat=parallel&r1=10k", (48.0 - 1.18) / 10e3),
        ("in=sinking&vs=24V&von=2V&r1=10k", (24.0 - 1.18 - 2.0) / 10e3),
        ("in=two-wire&vs=24V&von=5V&rb=none&r1=2k", (24.0 - 1.18 - 5.0) / 2e3),
        ("in=logic&vs=5V&voh=4V&r1=1k", (4.0 - 1.18) / 1e3),
        ("in=logic&vs=5V&voh=4V&r1=1k&active=low", (5.0 - 1.18) / 1e3),
        ("in=transistor&vs=12V&r1=2k", (12.0 - 1.18 - 0.1) / 2e3),
        ("in=transistor&vs=12V&r1=2k&qat=across", (12.0 - 1.18) / 2e3),
        ("in=transistor&vs=12V&r1=2k&q=mosfet", (12.0 - 1.18) / 2e3),
        ("in=limited&vs=36V&if=3mA&r1=470R", 3e-3),
        ("in=limited&vs=5V&if=3mA&vdo=0.3V&r1=2k", (5.0 - 1.18 - 0.3) / 2e3),
        ("in=measured&vi=10V 0A, 8V 5mA, 0V 10mA&if=5mA&r1=2k".replace(" ", "%20"), (8.0 - 1.18) / 2e3),
    ],
)
def test_what_stands_around_the_led_counts_by_hand(query, IF):
    by_hand = compared(query, "closed")["IF"]
    assert by_hand.by_hand == pytest.approx(IF)
    assert by_hand.by_hand == pytest.approx(by_hand.solved, rel=0.15)


def test_an_indicator_by_hand():
    by_hand = compared("out=indicator&vcc=15&rl=6k8&colour=green&r1=15k", "closed")
    assert by_hand["IC"].by_hand == pytest.approx((15.0 - 2.0) / 6800.0)
    assert by_hand["IC"].formula.startswith("(15.0 V - 2.00 V)")


def test_a_dark_stage_by_hand():
    up, down = compared("", "open"), compared("out=pull-down", "open")
    assert (up["IF"].by_hand, up["IC"].by_hand, up["VOUT"].by_hand) == (0.0, 0.0, 3.3)
    assert down["VOUT"].by_hand == 0.0
    assert "VOUT" not in compared("out=indicator", "open")


def test_a_supply_below_the_forward_voltage_gives_no_current_by_hand():
    assert compared("vs=0&r1=1k", "closed")["IF"].by_hand == 0.0
    assert compared("vs=0&r1=1k", "closed")["IC"].by_hand == 0.0


@of_each(product(STAGES, STATES))
def test_the_solved_column_is_the_solved_stage(query, name):
    found = point_of(query).states[name].quantities
    for symbol, comparison in compared(query, name).items():
        assert comparison.solved == found[symbol.replace(" ", "_")].value
        assert comparison.unit == found[symbol.replace(" ", "_")].unit
        assert comparison.why.endswith(".")
        assert comparison.formula


def test_by_hand_is_close_where_the_hand_calculation_holds():
    by_hand = compared("r1=15k", "closed")
    for symbol, within in (("IF", 0.02), ("IC available", 0.05), ("IC", 0.05)):
        assert by_hand[symbol].by_hand == pytest.approx(by_hand[symbol].solved, rel=within)


def test_a_leaking_contact_is_told_apart_from_a_clean_one():
    assert "leaks here" in compared("", "open")["IF"].why
    assert "still flows" in compared("leak=100k", "open")["IF"].why
