"""The off state: every leak and its current, the bleeder that cures it, and what a rule in print leaves."""

from dataclasses import replace

import pytest

from engine import findings_of, operating_point, scenario_from_query
from engine.findings import FAILING
from engine.findings.drive import DARK_VF
from engine.off_state import PLACES, off_state_of
from engine.preferred import preferred

LEAKING = (
    "leak=10k", "in=contact-high&ires=2mA&r1=3k&vs=24V", "in=sourcing&ioff=1.5mA", "in=sinking&ioff=1mA",
    "in=two-wire&rb=none", "in=two-wire", "in=logic&active=low&vs=5V&voh=3.3V", "in=limited&leak=20k",
    "leak=10k&tamin=-20C&tamax=85C&years=10", "leak=50k&series=E96&tol=1%25",
)  # fmt: skip


@pytest.mark.parametrize("query", LEAKING)
def test_the_bleeder_is_the_largest_that_leaves_the_led_dark(query):
    state = off_state_of(scenario_from_query(query))
    assert state.leaking
    assert {cure.place for cure in state.cures} == set(PLACES)
    for cure in state.cures:
        assert (cure.scenario.input.R_bypass, cure.scenario.input.bypass_at) == (cure.R, cure.place)
        solved = operating_point(cure.scenario)
        assert cure.VF == solved.states["open"].quantities["VF"].high <= DARK_VF
        series = cure.scenario.conditions.series
        assert preferred(cure.R, series) == cure.R
        larger = replace(cure.scenario.input, R_bypass=preferred(cure.R * 1.000001, series, "up"))
        beyond = operating_point(replace(cure.scenario, input=larger))
        assert beyond.states["open"].quantities["VF"].high > DARK_VF


@pytest.mark.parametrize("query", LEAKING)
def test_its_power_and_the_lit_stage_are_those_of_the_stage_with_it(query):
    scenario = scenario_from_query(query)
    before = {f.code for f in findings_of(operating_point(scenario), remedies=False) if f.severity in FAILING}
    for cure in off_state_of(scenario).cures:
        solved = operating_point(cure.scenario)
        found = {f.code: f.severity for f in findings_of(solved, remedies=False)}
        assert cure.power == max(state.powers["RB"].high for state in solved.states.values())
        assert found["power-rb"] == "pass"
        assert cure.rating >= cure.power
        assert set(cure.failing) == {code for code, severity in found.items() if severity in FAILING}
        assert set(cure.worse) == set(cure.failing) - before
        assert cure.IF == solved.states["closed"].quantities["IF"]
        assert cure.overdrive == solved.states["closed"].quantities["overdrive"].low


def test_across_the_input_it_takes_far_more_power():
    led, across = off_state_of(scenario_from_query("leak=10k")).cures
    assert across.power > 100.0 * led.power


@pytest.mark.parametrize(
    ("query", "field", "flows"),
    [
        ("in=contact-high&ires=2mA&r1=3k&vs=24V", "ires", 2e-3),
        ("in=sourcing&ioff=1.5mA", "ioff", 1.5e-3),
        ("in=two-wire", "ioff", 0.8e-3),
        ("in=ac&ileak=1mA", "ileak", None),
        ("in=logic&active=low&vs=5V&voh=3.3V", "voh", None),
        ("rb=100k&rbat=switch", "rb", None),
        ("leak=10k", "leak", None),
    ],
)
def test_every_leak_of_an_input_is_listed_with_its_current(query, field, flows):
    state = off_state_of(scenario_from_query(query))
    (leak,) = [leak for leak in state.leaks if leak.side == "input"]
    assert leak.field == field
    assert leak.stated
    assert leak.flows.low <= leak.flows.value <= leak.flows.high
    assert leak.flows.high > 1e-5
    if flows:
        assert leak.flows.value == pytest.approx(flows, rel=1e-3)


def test_two_leaks_of_one_contact_share_its_current():
    scenario = scenario_from_query("in=contact-high&leak=100k&ires=1mA&vs=24V")
    ohmic, electronic, *_ = off_state_of(scenario).leaks
    through = operating_point(scenario).states["open"].currents["S1"].value
    assert ohmic.flows.value + electronic.flows.value == pytest.approx(through)
    assert electronic.flows.value == pytest.approx(1e-3, rel=1e-6)


def test_the_output_tells_of_the_dark_current_at_the_hottest_and_of_the_receiver():
    cool, warm = (off_state_of(scenario_from_query(query)) for query in ("", "tamax=70C"))
    dark = [next(leak for leak in state.leaks if leak.name.startswith("Detector")) for state in (cool, warm)]
    assert dark[1].flows.high == pytest.approx(dark[0].flows.high * 2.0 ** (45 / 7.5), rel=0.05)
    assert "70 °C" in dark[1].name
    (receiver,) = [leak for leak in warm.leaks if leak.field == "iin"]
    assert receiver.flows.high == pytest.approx(5e-6)
    assert warm.output.code == "level-dark"
    assert warm.output.margin < cool.output.margin
    assert (warm.name, warm.level) == ("VOUT", "high")


@pytest.mark.parametrize("query", ["", "in=measured", "in=transistor", "in=ac", "in=logic"])
def test_where_nothing_leaks_nothing_is_cured(query):
    state = off_state_of(scenario_from_query(query))
    assert not state.leaking
    assert state.cures == state.rules == ()
    assert state.uncured.startswith("Nothing leaks")
    assert state.dark


def test_a_line_that_leaks_has_no_bleeder_here():
    state = off_state_of(scenario_from_query("in=ac&ileak=1mA"))
    assert state.leaking
    assert not state.dark
    assert state.cures == ()
    assert "no place for a bleeder" in state.uncured


def test_a_leak_that_lights_nothing_needs_no_bleeder():
    state = off_state_of(scenario_from_query("leak=1000G"))
    assert state.leaking
    assert state.dark
    assert state.cures == ()
    assert "dark by itself" in state.uncured


def test_a_bypass_across_the_switch_is_a_leak_and_no_cure():
    state = off_state_of(scenario_from_query("rb=100k&rbat=switch"))
    assert state.leaking
    assert not state.dark
    assert state.cures == ()
    assert "across the switch" in state.uncured


def test_a_bypass_that_is_there_is_told_and_what_it_may_be_at_most():
    state = off_state_of(scenario_from_query("in=two-wire"))
    assert state.present == ("led", 820.0)
    assert state.dark
    assert state.cures[0].R >= 820.0


@pytest.mark.parametrize(
    "query", ["leak=10k", "in=two-wire", "in=sourcing&ioff=1.5mA", "in=contact-high&ires=2mA&vs=24V"]
)
def test_the_supply_over_the_leakage_leaves_the_led_lit(query):
    scenario = scenario_from_query(query)
    state = off_state_of(scenario)
    assert [rule.place for rule in state.rules] == list(PLACES)
    for rule in state.rules:
        assert rule.VF > DARK_VF
        bled = replace(scenario.input, R_bypass=rule.R, bypass_at=rule.place)
        solved = operating_point(replace(scenario, input=bled)).states["open"]
        assert rule.VF == solved.quantities["VF"].high
    assert state.rules[1].V > 2.0 * DARK_VF


def test_the_same_series_resistor_stays_where_auto_has_no_room_beside_the_bleeder():
    """Across the input of a port, a small bleeder pulls the level down so far that no R1 gives the wanted current."""
    state = off_state_of(scenario_from_query("in=logic&active=low&vs=5V&voh=3.3V&rport=2k&if=0.8mA"))
    assert state.leaking
    for cure in state.cures:
        assert operating_point(cure.scenario).states["open"].quantities["VF"].high <= DARK_VF
