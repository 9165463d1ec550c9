"""The bench sheet: windows against corners and simulated good units, figures against what is known otherwise."""

from dataclasses import replace

import numpy as np
import pytest

from engine import STATES, bench_sheet, loose_checks, over_cycle, read, scenario_from_query
from engine.build import build, build_all
from engine.sampling import Samples

UNITS = 300
QUERIES = [
    "", "in=sinking", "in=limited&out=controller", "out=relay", "out=pull-down&tamin=0C&tamax=50C", "meter=pointer",
    "meter=loading&in=two-wire", "coupler=fast-gate&if=10mA", "in=transistor&out=indicator", "years=5&vs=24V",
]  # fmt: skip


def pairs_of(sheet):
    return [(row.probe.red, row.probe.black) for row in sheet.rows]


@pytest.mark.parametrize("dist", ["uniform", "normal"])
@pytest.mark.parametrize("query", QUERIES)
def test_windows_hold_simulated_good_units(query, dist):
    scenario = scenario_from_query(query)
    sheet = bench_sheet(scenario)
    stage = build_all((scenario,), draw=Samples(scenario, 7, dist).take(UNITS))
    shown = read(stage.netlist, pairs_of(sheet), sheet.meter)
    off = np.random.default_rng(7).uniform(-1.0, 1.0, shown.shape)
    shown = (shown + off * sheet.meter.error(shown)).reshape(len(sheet.rows), 2, -1)
    for row, both in zip(sheet.rows, shown, strict=True):
        for state, readings in zip(STATES, both, strict=True):
            found = row.states[state]
            inside = ((readings >= found.low) & (readings <= found.high)).mean()
            assert inside >= 0.99, (row.probe.id, state)


@pytest.mark.parametrize("query", QUERIES)
def test_windows_are_those_of_all_corners_and_no_wider(query):
    scenario = scenario_from_query(query)
    sheet, netlist = bench_sheet(scenario), build(scenario).netlist
    shown = read(netlist, pairs_of(sheet), sheet.meter)
    error = sheet.meter.error(shown)
    low, high = ((shown + way * error).reshape(len(sheet.rows), 2, -1) for way in (-1, 1))
    for k, row in enumerate(sheet.rows):
        for s, state in enumerate(STATES):
            found = row.states[state]
            assert found.low == pytest.approx(low[k, s].min(), rel=1e-5, abs=1e-6)
            assert found.high == pytest.approx(high[k, s].max(), rel=1e-5, abs=1e-6)
            assert found.low <= found.expected <= found.high


def test_a_supply_reads_what_it_may_be_with_the_error_of_the_meter():
    rows = {row.probe.id: row for row in bench_sheet(scenario_from_query("vs=20V&vstol=10%25")).rows}
    found = rows["vs"].states["closed"]
    assert (found.expected, found.bare) == (20.0, 20.0)
    assert found.low == pytest.approx(18.0 - 18.0 * 0.005 - 0.02)
    assert found.high == pytest.approx(22.0 + 22.0 * 0.005 + 0.02)


def test_a_loop_of_little_current_is_read_with_the_meter_in_it():
    """Across the open contact 10 Mohm of the meter divide with R1; the LED keeps nearly a volt of it."""
    rows = {row.probe.id: row.states for row in bench_sheet(scenario_from_query("in=contact-high&r1=1M")).rows}
    VF = rows["led"]["closed"].bare
    assert rows["r1"]["closed"].bare == pytest.approx(48.0 - VF, abs=1e-4)
    assert rows["s1"]["open"].expected == pytest.approx((48.0 - VF) / 1.1, abs=0.1)


def test_what_the_meter_loads_is_told():
    rows = {row.probe.id: row for row in bench_sheet(scenario_from_query("meter=loading")).rows}
    contact = rows["s1"].states["open"]
    assert contact.bare == pytest.approx(48.0, abs=0.1)
    assert contact.expected < 46.0


@pytest.mark.parametrize("form", ["pair&coupler=two-way", "diode", "bridge"])
def test_on_a_line_means_and_rms_are_those_over_the_cycle(form):
    scenario = scenario_from_query(f"in=ac&form={form}")
    rows, cycle = {row.probe.id: row for row in bench_sheet(scenario).rows}, over_cycle(scenario)
    rms = {one.symbol: one.rms.value for one in cycle.electrical}
    assert rows["vs"].coupling == rows["r1"].coupling == "ac"
    assert rows["vs"].states["closed"].expected == pytest.approx(230.0, rel=1e-6)
    assert rows["r1"].states["closed"].expected == pytest.approx(rms["V R1"], rel=2e-3)
    assert rows["out"].coupling == "dc"
    assert rows["out"].states["closed"].expected == pytest.approx(cycle.figures["out_average"].value, abs=0.06)


@pytest.mark.parametrize("query", ["in=ac&form=pair&coupler=two-way", "in=ac&form=diode&out=indicator"])
def test_windows_on_a_line_hold_simulated_good_units(query):
    scenario = scenario_from_query(query)
    sheet, turn = bench_sheet(scenario), (np.arange(48) + 0.5) * np.pi / 24
    netlist = build_all((scenario,), draw=Samples(scenario, 7, "uniform").take(30)).netlist
    each = netlist.take(np.tile(np.arange(netlist.batch), len(turn)))
    node, crest = each.sources["VS"]
    each = replace(each, sources=each.sources | {"VS": (node, crest * np.repeat(np.sin(turn), netlist.batch))})
    shown = read(each, pairs_of(sheet), sheet.meter).reshape(len(sheet.rows), len(turn), 2, -1)
    for row, found in zip(sheet.rows, shown, strict=True):
        readings = found.mean(axis=0) if row.coupling == "dc" else np.sqrt((found**2).mean(axis=0))
        for state, values in zip(STATES, readings, strict=True):
            window, off = row.states[state], 0.01 * abs(row.states[state].expected)  # of instants that are fewer
            assert ((values >= window.low - off) & (values <= window.high + off)).mean() >= 0.99, (row.probe.id, state)


@pytest.mark.parametrize(
    "query",
    [
        "in=ac&dropper=capacitor",
        "in=ac&form=bridge&cs=10uF",
        "in=ac&co=1uF",
        "out=ac-load&coupler=triac-random&if=15mA&csn=10nF",
        "out=ac-triac&coupler=triac-random&if=15mA",
        "in=ac&out=ac-load&coupler=triac-random",
    ],
)
def test_where_no_figure_is_given_a_sentence_says_why(query):
    rows = bench_sheet(scenario_from_query(query)).rows
    left = [row for row in rows if None in row.states.values()]
    assert all(row.remark.endswith(".") for row in left)
    assert any(None not in row.states.values() for row in rows)
    given = [found for row in rows for found in row.states.values() if found]
    assert all(np.isfinite([found.low, found.expected, found.high]).all() for found in given)
    assert all(found.low <= found.expected <= found.high for found in given)


def test_a_load_on_the_line_gets_nearly_all_of_it_while_lit():
    rows = {
        row.probe.id: row for row in bench_sheet(scenario_from_query("out=ac-load&coupler=triac-random&if=15mA")).rows
    }
    assert rows["rl"].coupling == "ac"
    assert rows["rl"].states["closed"].expected == pytest.approx(230.0, rel=0.02)
    assert rows["rl"].states["open"].expected == pytest.approx(0.0, abs=0.1)
    assert rows["u1"].states["open"].expected == pytest.approx(230.0, rel=0.01)


def checks_of(query):
    return {check.id: check for check in loose_checks(scenario_from_query(query))}


def test_an_led_shows_its_forward_voltage_one_way_and_nothing_the_other():
    led = scenario_from_query("").coupling.model.led
    checks = checks_of("")
    assert checks["led-forward"].expected == pytest.approx(float(led.VF(1e-3, 298.15)), rel=1e-3)
    low, high = scenario_from_query("").coupling.model.VF_shifts()
    window = checks["led-forward"].low, checks["led-forward"].high
    assert window == pytest.approx([checks["led-forward"].expected + shift for shift in (low, high)], abs=0.01)
    assert checks["led-backward"].expected is checks["led-backward"].low is None
    pair = checks_of("coupler=two-way")
    assert pair["led-backward"].expected == pytest.approx(pair["led-forward"].expected)


@pytest.mark.parametrize(
    ("query", "low", "high"),
    [
        ("", 0.05, 0.3), ("coupler=cascade", 0.5, 0.9), ("coupler=fast-gate&if=10mA", 0.005, 0.2),
        ("coupler=triac-random&out=ac-load", 0.9, 1.4), ("coupler=push-pull&out=gate", 29.0, 30.0),
    ],
)  # fmt: skip
def test_an_output_conducts_with_the_led_driven_and_not_without(query, low, high):
    checks = checks_of(query)
    assert low < checks["output-lit"].expected <= high
    dark = checks["output-dark"]
    assert dark.expected is None or abs(dark.expected) < 1e-3


def test_a_relay_without_contacts_shows_the_resistance_of_its_card():
    card = scenario_from_query("coupler=photo-relay&out=dc-load").coupling.data
    lit = checks_of("coupler=photo-relay&out=dc-load")["output-lit"]
    assert lit.unit == "ohm"
    assert lit.expected == pytest.approx(card.R_on, rel=1e-3)
    assert lit.high == pytest.approx(card.R_on_max * 1.01, rel=1e-3)


def test_a_hot_bin_widens_the_window_and_a_pointer_is_not_used_on_diodes():
    usual, wide = checks_of("")["led-forward"], checks_of("tamin=-20C&tamax=70C&meter=pointer")["led-forward"]
    assert wide.low < usual.low < usual.high < wide.high
    assert wide == checks_of("tamin=-20C&tamax=70C")["led-forward"]
