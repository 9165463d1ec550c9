"""Where leads go, and what a meter shows there: against closed forms with its resistance in them."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from engine import INPUTS, METERS, OUTPUTS, ScenarioError, crosses, leads_of, probes_of, read, scenario_from_query
from engine.build import build
from engine.circuit import Junction, NetlistBuilder, solve
from engine.devices import JunctionParams
from engine.sizing import size
from tests.stages import DRIVES, alone

DIGITAL, POINTER = METERS["digital"], METERS["pointer"]


def divider(V, R):
    """Return two equal resistors at a source, and beside them a diode that blocks."""
    net = NetlistBuilder(len(V))
    net.side("input", "return", "VS", "M", "Z")
    net.side("output", "common", "VCC")
    net.source("VS", "VS", np.array(V))
    net.source("VCC", "VCC", 5.0)
    net.resistor("RA", "VS", "M", np.array(R))
    net.resistor("RB", "M", "return", np.array(R))
    net.resistor("RZ", "VS", "Z", 1e3)
    net.conductance("RX", "VCC", "common", 1e-3)
    params = JunctionParams(np.full(len(V), 1e-15), np.full(len(V), 0.0257))
    net.device(Junction("D", "return", "Z", params, np.full(len(V), -1.0)))
    return net.build()


def kinds():
    """Return a query for every kind of either side, with a coupler that fits."""
    found = [f"in={kind}&coupler=two-way&form=pair" if kind == "ac" else f"in={kind}" for kind in INPUTS]
    return found + [f"out={kind}&coupler={OUTPUTS[kind].usual_coupler}" for kind in OUTPUTS]


def test_a_meter_of_10_megohm_reads_a_third_between_two_such_resistors():
    netlist = divider([1.0, 30.0], [10e6, 10e6])
    assert solve(netlist).voltages["M"] == pytest.approx([0.5, 15.0])
    assert read(netlist, [("M", "return")], DIGITAL)[0] == pytest.approx([1 / 3, 10.0], rel=1e-9)


def test_each_pair_is_read_alone():
    netlist = divider([3.0], [10e6])
    pairs = [("M", "return"), ("VS", "M"), ("VS", "return"), ("return", "M")]
    assert read(netlist, pairs, DIGITAL)[:, 0] == pytest.approx([1.0, 1.0, 3.0, -1.0], rel=1e-9)


@pytest.mark.parametrize(
    ("V", "R", "shown"),
    [
        (30.0, 100e3, 15.0 * 1e6 / 1.05e6),  # stays on the range of 50 V, 1 megohm
        (20.8, 2e6, 10.4 * 50e3 / 1.05e6),  # on 50 V 5.2 V, on 10 V 1.73 V, so it ends on 2.5 V
    ],
)
def test_a_pointer_is_turned_down_as_long_as_the_reading_fits(V, R, shown):
    assert read(divider([V], [R]), [("M", "return")], POINTER)[0, 0] == pytest.approx(shown, rel=1e-9)


def test_across_the_open_contact_the_meter_closes_the_loop():
    scenario = scenario_from_query("r1=15k&vs=24V")
    led, R1, T = scenario.coupling.model.led, size(scenario)["R1"].chosen, 298.15
    current = brentq(lambda i: 24.0 - i * (R1 + 10e6) - float(led.VF(i, T)), 1e-12, 1e-3)
    netlist = build(scenario).netlist
    shown = read(netlist, [("K", "return")], DIGITAL)[0, netlist.batch // 2]
    assert shown == pytest.approx(current * 10e6, rel=2e-4)
    assert shown < 23.6


def test_between_the_sides_nothing_is_read():
    scenario = scenario_from_query("")
    netlist = build(scenario).netlist
    for pair in (("K", "OUT"), ("return", "common"), ("OUT", "VS")):
        assert crosses(scenario, *pair)
        with pytest.raises(ValueError, match="opposite sides"):
            read(netlist, [("VS", "K"), pair], DIGITAL)
    assert not crosses(scenario, "VS", "return")
    with pytest.raises(ValueError, match="no lead"):
        crosses(scenario, "VS", "CI")
    with pytest.raises(ValueError, match="no lead"):
        read(netlist, [("VS", "nowhere")], DIGITAL)
    assert read(netlist, [], DIGITAL).shape == (0, netlist.batch)


@pytest.mark.parametrize("query", [*kinds(), *DRIVES.values(), "coupler=with-base&rbe=1M", "coupler=cascade"])
def test_leads_go_where_one_can_reach_and_probes_lie_between_them(query):
    scenario = scenario_from_query(query)
    leads, probes = leads_of(scenario), probes_of(scenario)
    assert leads["input"][-1] == scenario.input.reference
    assert leads["output"][-1] == scenario.output.reference
    nodes = set(leads["input"] + leads["output"])
    assert not [node for node in nodes if node.endswith("J") or node in ("AI", "CI")]
    assert ("B" in nodes) == ("rbe" in query)
    assert all({probe.red, probe.black} <= set(leads[probe.side]) and probe.red != probe.black for probe in probes)
    assert len({probe.id for probe in probes}) == len(probes)
    assert len({frozenset((probe.red, probe.black)) for probe in probes}) == len(probes)
    assert [probe.side for probe in probes] == sorted(probe.side for probe in probes)
    parts = {probe.part for probe in probes}
    assert {"VS", "R1", "LED", "VCC"} <= parts
    assert {"OUT", "U1"} & parts
    assert [probe.words for probe in probes if probe.words == f"across {probe.part}"] == []


@pytest.mark.parametrize("query", [*list(alone())[::7], *kinds()])
def test_a_meter_shows_no_more_than_stands_there_without_it_on_passive_loads(query):
    scenario = scenario_from_query(query)
    netlist = build(scenario).netlist
    nominal = netlist.take(np.array([0, netlist.batch // 2]))
    pairs = [(probe.red, probe.black) for probe in probes_of(scenario)]
    bare = solve(nominal).voltages
    without = np.array([bare[red] - bare[black] for red, black in pairs])
    shown = {kind: read(nominal, pairs, meter) for kind, meter in METERS.items()}
    for found in shown.values():
        assert np.isfinite(found).all()
        assert (np.abs(found) <= np.abs(without) * (1 + 1e-6) + 1e-6).all()
    assert (np.abs(shown["loading"]) <= np.abs(shown["digital"]) * (1 + 1e-6) + 1e-6).all()


def test_a_faulty_stage_is_read_too():
    netlist = build(scenario_from_query("")).netlist
    broken = replace(netlist, resistors=tuple(replace(r, G=r.G * (r.part != "R1")) for r in netlist.resistors))
    shown = read(broken, [("VS", "A"), ("A", "K")], DIGITAL)
    assert shown[0, 0] == pytest.approx(48.0, abs=1.5)  # the LED hangs on the meter's own current
    assert shown[1, 0] == pytest.approx(0.0, abs=1e-3)


def test_a_resistor_that_cannot_be_sized_is_refused():
    with pytest.raises(ScenarioError):
        probes_of(scenario_from_query("vs=0.5V"))
