"""The drawing of an input on alternating voltage against the circuit it stands for."""

from collections import Counter

import pytest

from engine import operating_point, scenario_from_query
from tests.webapp.test_drawings import bare_terminals, loose_ends, net_at, nets, shorted_parts
from webapp.present.drawings import DRAWINGS
from webapp.present.schematic import schematic

STAGES = (
    "in=ac",
    "in=ac&nsplit=1",
    "in=ac&form=diode",
    "in=ac&form=bare",
    "in=ac&form=pair&coupler=two-way",
    "in=ac&cs=10u",
    "in=ac&dropper=capacitor",
    "in=ac&dropper=capacitor&rbd=none",
    "in=ac&dropper=capacitor&form=diode",
    "in=ac&dropper=capacitor&cs=10u",
)


@pytest.fixture(params=STAGES)
def drawn(request):
    point = operating_point(scenario_from_query(request.param))
    return point, DRAWINGS["ac"](point.scenario.input)


def test_wires_and_terminals_meet(drawn):
    _, layout = drawn
    assert (loose_ends(layout), bare_terminals(layout), shorted_parts(layout)) == ([], [], [])


def test_every_part_of_the_input_side_is_drawn_once(drawn):
    point, layout = drawn
    side = point.scenario.input
    assert Counter(symbol.part for symbol in layout.symbols if symbol.part) == Counter({"VS", *side.loop, *side.shunts})


def test_every_node_of_the_input_side_has_its_flag(drawn):
    point, layout = drawn
    nodes = [node for node, of in point.sides.items() if of == "input"]
    assert Counter(flag.node for flag in layout.flags) == Counter(nodes)


@pytest.mark.parametrize("state", ["closed", "open"])
def test_drops_are_differences_of_the_nodes_that_a_part_is_drawn_between(drawn, state):
    point, layout = drawn
    solved, joined = point.states[state], nets(layout)
    volts = {net_at(flag.at, joined): solved.nodes[flag.node].value for flag in layout.flags}
    for symbol in layout.symbols:
        if symbol.part:
            first, second = (volts.get(net_at(terminal, joined), 0.0) for terminal in symbol.terminals)
            assert abs(first - second) == pytest.approx(abs(solved.drops[symbol.part].value), rel=1e-6, abs=1e-9), (
                symbol
            )


def test_everything_stands_within_the_view_box(drawn):
    _, layout = drawn
    points = [point for wire in layout.wires for point in wire] + [flag.at for flag in layout.flags]
    assert all(0 < x < layout.width and 0 < y < layout.height for x, y in points)


def test_labels_tell_rms_volts_frequency_and_how_many_resistors():
    point = operating_point(scenario_from_query("in=ac&r1=100k&dropper=capacitor&cd=33n"))
    labels = {symbol.part: symbol.label for symbol in schematic(point, "closed")[0].symbols}
    assert labels["VS"] == ("230 V", "50 Hz")
    assert labels["R1"] == ("R1 2 × 50 kΩ",)
    assert labels["CD"] == ("CD 33 nF",)
