"""Output sides alone: what the detector works on in either state, by hand."""

import numpy as np
import pytest

from engine import (
    FAMILIES,
    OUTPUTS,
    findings_of,
    load_card,
    operating_point,
    scenario_from_query,
)
from engine.diodes import COLOURS
from engine.outputs import Indicator, PullDown, PullUp
from tests.stages import kinds

STRONG = "r1=4k7&r1w=2W"


def both(query):
    states = operating_point(scenario_from_query(query)).states
    return states["closed"], states["open"]


def nominal(state, symbol):
    return state.quantities[symbol].value


def test_the_default_comes_first():
    assert list(OUTPUTS) == [
        "pull-up", "pull-down", "indicator", "controller", "relay", "gate", "dc-load", "ac-load", "ac-triac",
    ]  # fmt: skip


@pytest.mark.parametrize("kind", OUTPUTS)
def test_a_kind_carries_its_own_name(kind):
    assert OUTPUTS[kind].kind == kind
    assert {"RL", "U1"} <= set(OUTPUTS[kind]().loop)


def test_a_pull_up_inverts():
    closed, open_ = both(STRONG)
    assert nominal(closed, "VOUT") < 0.2
    assert nominal(open_, "VOUT") == pytest.approx(3.3, abs=1e-3)
    assert (closed.verdict.level, open_.verdict.level) == ("low", "high")


def test_a_pull_down_does_not():
    closed, open_ = both(f"out=pull-down&{STRONG}")
    assert nominal(closed, "VOUT") == pytest.approx(3.3 - nominal(closed, "VCE"), rel=1e-9)
    assert nominal(closed, "VOUT") > 3.1
    assert nominal(open_, "VOUT") == pytest.approx(0.0, abs=1e-3)
    assert (closed.verdict.level, open_.verdict.level) == ("high", "low")


@pytest.mark.parametrize("kind", ["pull-up", "pull-down"])
def test_the_dark_current_flows_through_the_load(kind):
    _, open_ = both(f"out={kind}&rl=1M&vcc=5V")
    card = load_card("general")
    expected = card.ICEO * (1 + card.beta * (1 + 5 / card.VA)) / (1 + card.beta * (1 + card.ICEO_VCE / card.VA))
    assert open_.drops["RL"].value == pytest.approx(expected * 1e6, rel=0.02)


@pytest.mark.parametrize("kind", ["pull-up", "pull-down"])
def test_leakage_of_the_receiver_moves_the_dark_output_by_its_drop_across_the_load(kind):
    """20 uA through 10 k are 200 mV, to common at the low supply and from the supply at the high one."""
    quiet, leaking = (
        both(f"out={kind}&rl=10k&tol=0%25&iin={leak}&ta=0C")[1].quantities["VOUT"] for leak in ("0A", "20uA")
    )
    if kind == "pull-up":
        assert quiet.low - leaking.low == pytest.approx(0.2, abs=1e-3)
        assert leaking.high - quiet.high == pytest.approx(0.0, abs=1e-3)
    else:
        assert leaking.high - quiet.high == pytest.approx(0.2, abs=1e-3)
        assert quiet.low - leaking.low == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize("kind", ["pull-up", "pull-down"])
@pytest.mark.parametrize("leak", ["100uA", "10mA"])
def test_leakage_ends_at_the_rails(kind, leak):
    for state in both(f"out={kind}&rl=10M&iin={leak}"):
        found = state.quantities["VOUT"]
        assert -1e-3 <= found.low
        assert found.high <= 3.3 * 1.05 + 1e-3


def test_the_nominal_receiver_does_not_leak():
    with_, without = (both(f"iin={leak}")[1].quantities["VOUT"].value for leak in ("1mA", "0A"))
    assert with_ == pytest.approx(without, abs=1e-9)


@pytest.mark.parametrize("family", FAMILIES)
def test_a_receiver_has_the_limits_and_the_leakage_of_its_family(family):
    output = PullUp(family=family, VCC=5.0)
    VCC = np.array([5.0, 4.0])
    for own, expected in zip(output.limits(VCC), FAMILIES[family].limits(VCC), strict=True):
        assert own == pytest.approx(expected)
    assert output.leakage == (FAMILIES[family].sinks, FAMILIES[family].sources)


def test_limits_and_leakage_of_ones_own_come_before_the_family():
    output = PullUp(family="ttl", VIL=0.5, VIH=2.5, I_leak=0.0)
    VIL, VIH = output.limits(np.array([5.0, 4.0]))
    assert VIL.tolist() == [0.5, 0.5]
    assert VIH.tolist() == [2.5, 2.5]
    assert output.leakage == (0.0, 0.0)


@pytest.mark.parametrize("kind", [PullUp, PullDown])
@pytest.mark.parametrize(
    ("limits", "field", "given", "accepted", "where"),
    [
        ({"VIL": 2.0, "VIH": 2.0}, "vil", "2V", "a voltage below 2 V, or family", ""),
        ({"VIL": 3.0, "VIH": 1.0}, "vil", "3V", "a voltage below 1 V, or family", ""),
        ({"VIL": 2.0}, "vil", "2V", "a voltage below 2 V, or family", ""),
        ({"VIH": 0.8}, "vih", "800mV", "a voltage above 800 mV, or family", ""),
        ({"VIL": 2.6, "family": "cmos", "VCC": 4.0, "VCC_tolerance": 0.1}, "vil", "2.6V",
         "a voltage below 2.52 V, or family", " at VCC = 3.6 V"),
        ({"VIH": 1.2, "family": "cmos", "VCC": 4.0, "VCC_tolerance": 0.1}, "vih", "1.2V",
         "a voltage above 1.32 V, or family", " at VCC = 4.4 V"),
    ],
)  # fmt: skip
def test_a_receiver_cannot_read_low_and_high_at_once(kind, limits, field, given, accepted, where):
    (problem,) = kind(**limits).contradictions()
    assert (problem.field, problem.given, problem.accepted) == (field, given, accepted)
    assert problem.reason == f"VIL is not below VIH{where}"


@pytest.mark.parametrize("kind", [PullUp, PullDown])
@pytest.mark.parametrize(
    "limits",
    [{}, {"VIL": 1.9}, {"VIH": 0.9}, {"VIL": 0.0, "VIH": 1000.0}, {"VCC": 0.0, "family": "cmos"},
     {"VIL": 1.5, "family": "cmos", "VCC": 2.5, "VCC_tolerance": 0.1}],
)  # fmt: skip
def test_a_gap_between_the_limits_of_a_receiver_is_enough(kind, limits):
    assert list(kind(**limits).contradictions()) == []


@pytest.mark.parametrize(
    ("limits", "field", "given", "accepted"),
    [
        ({"I_dark": 0.5e-3}, "idark", "500uA", "a current below 500 µA"),
        ({"I_dark": 2e-3, "I_lit": 1e-3}, "idark", "2mA", "a current below 1 mA"),
        ({"I_lit": 10e-6}, "ilit", "10uA", "a current above 50 µA"),
        ({"I_lit": 50e-6}, "ilit", "50uA", "a current above 50 µA"),
    ],
)
def test_an_indicator_cannot_be_dark_and_lit_at_once(limits, field, given, accepted):
    (problem,) = Indicator(**limits).contradictions()
    assert (problem.field, problem.given, problem.accepted) == (field, given, accepted)
    assert problem.reason == "Dark up to is not below Lit from"


@pytest.mark.parametrize("limits", [{}, {"I_dark": 0.49e-3}, {"I_lit": 51e-6}])
def test_a_gap_between_dark_and_lit_is_enough(limits):
    assert list(Indicator(**limits).contradictions()) == []


@pytest.mark.parametrize("kind", [PullUp, PullDown])
def test_what_a_pulled_load_needs(kind):
    needed = kind().needed_current(0.2, np.array([5.0, 0.1]), np.array([1e3, 1e3]), 298.15)
    assert needed == pytest.approx([4.8e-3, 0.0])
    assert kind().drop_beside_load(1e-3, 298.15) == 0.0


def test_an_indicator_drops_its_forward_voltage():
    closed, open_ = both(f"out=indicator&rl=5k6&vcc=15V&{STRONG}")
    IL = nominal(closed, "IL")
    VD = float(COLOURS["green"].VF(IL, 298.15))
    assert closed.drops["D1"].value == pytest.approx(VD, rel=1e-6)
    assert pytest.approx((15 - VD - nominal(closed, "VCE")) / 5600, rel=1e-6) == IL
    assert nominal(open_, "IL") < 1e-8
    assert (closed.verdict.level, open_.verdict.level) == ("lit", "dark")


@pytest.mark.parametrize("celsius", [-40, 25, 85])
@pytest.mark.parametrize("colour", COLOURS)
def test_what_an_indicator_needs_is_what_flows_at_that_voltage(colour, celsius):
    output, T = Indicator(colour=colour), celsius + 273.15
    VCC, RL = np.array([5.0, 15.0, 48.0]), np.array([330.0, 4700.0, 22e3])
    needed = output.needed_current(0.2, VCC, RL, T)
    drops = needed * RL + 0.2 + COLOURS[colour].VF(needed, T)
    assert drops == pytest.approx(VCC, rel=1e-9)
    assert output.needed_current(0.2, np.array([0.1]), np.array([1e3]), T)[0] < 1e-15


@pytest.mark.parametrize(("colour", "low", "high"), [("red", 1.5, 2.4), ("yellow", 1.7, 2.8), ("green", 1.7, 2.8)])
def test_colours_are_plausible_at_twenty_milliamperes(colour, low, high):
    """Between the ends that the open textbook's table of LEDs gives for the colour."""
    assert low < float(COLOURS[colour].VF(20e-3, 298.15)) < high


@pytest.mark.parametrize("colour", COLOURS)
def test_an_indicator_is_warmer_and_lower(colour):
    cold, hot = (float(COLOURS[colour].VF(5e-3, T)) for T in (273.15, 333.15))
    assert (hot - cold) / 60 == pytest.approx(-2e-3, abs=0.5e-3)


SIMPLE = "pull-up", "pull-down", "indicator"
EVERYDAY = "general", "low-drive", "wide-bin"


@pytest.mark.parametrize("card", EVERYDAY)
@pytest.mark.parametrize("inside", kinds())
@pytest.mark.parametrize("outside", SIMPLE)
def test_stages_as_they_are_offered_hold_at_every_corner(inside, outside, card):
    findings = findings_of(operating_point(scenario_from_query(f"in={inside}&out={outside}&coupler={card}")))
    assert [f for f in findings if f.severity != "pass" and f.code != "service-life"] == []
    assert all(f.value > 10.0 for f in findings if f.code == "service-life")


@pytest.mark.parametrize("colour", COLOURS)
def test_an_indicator_of_any_colour_holds_at_every_corner(colour):
    findings = findings_of(operating_point(scenario_from_query(f"out=indicator&colour={colour}")))
    assert [finding for finding in findings if finding.severity != "pass"] == []


@pytest.mark.parametrize(("limits", "level"), [("ilit=1mA&idark=50uA", "dim"), ("ilit=0.3mA&idark=50uA", "lit")])
def test_an_indicator_between_its_limits_is_dim(limits, level):
    closed, _ = both(f"out=indicator&rl=33k&{limits}&{STRONG}")
    assert closed.verdict.level == level
    assert closed.quantities["IL"].value == pytest.approx(0.39e-3, rel=0.05)


@pytest.mark.parametrize("kind", SIMPLE)
def test_no_supply_gives_no_load_current(kind):
    for state in both(f"out={kind}&vcc=0V&rl=1k&iin=0A" if kind != "indicator" else "out=indicator&vcc=0V&rl=1k"):
        assert nominal(state, "IL") == pytest.approx(0.0, abs=1e-6)
        assert nominal(state, "VCE") == pytest.approx(0.0, abs=1e-3)
