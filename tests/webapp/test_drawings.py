"""Every drawing against the circuit it stands for: whole, connected, each number once."""

from collections import Counter
from functools import cache
from itertools import cycle, pairwise, product

import pytest

from engine import INPUTS, OUTPUTS, operating_point, scenario_from_query
from tests.each import of_each
from tests.stages import DRIVES, alone, together
from webapp.present.drawings import DRAWINGS
from webapp.present.drawings.coupler import fitted
from webapp.present.drawings.parts import TERMINALS, WIDTHS, Flag, Layout, Symbol

INPUT_DRAWINGS = (*DRIVES.values(), *alone(), *together())
"""Every direct-current input side with what changes its drawing."""

COUPLERS = (
    *(f"coupler=with-base&rbe=100k&out={out}" for out in ("pull-up", "pull-down", "indicator")),
    "coupler=two-way",
    "coupler=cascade",
    "coupler=fast-gate&vcc=5V",
)
"""Every coupler that changes a drawing."""

OUTPUT_DRAWINGS = (
    "rin=10k",
    "rpumin=20k&rpumax=60k",
    "rin=10k&rpumin=20k&rpumax=60k",
    "swap=yes",
    "out=pull-down&rin=10k",
    "out=pull-down&swap=yes",
    "out=controller&flow=sinking",
    "out=controller&flow=sourcing",
    *(
        f"out=relay&clamp={clamp}&kq={kind}"
        for clamp in ("none", "diode", "zener", "resistor")
        for kind in ("npn", "mosfet")
    ),
    "out=gate&if=10mA",
    "out=gate&if=10mA&vcc=15V&vee=-8V",
    "out=dc-load&if=10mA",
    "out=ac-load&if=20mA",
    "out=ac-load&if=20mA&csn=10nF",
    "out=ac-triac&if=20mA",
    "out=ac-triac&if=20mA&csn=10nF",
)
"""Every output side with what changes its drawing."""

STAGES = [
    *(f"{side}&out={load}" for side, load in zip(INPUT_DRAWINGS, cycle(OUTPUTS), strict=False)),
    *COUPLERS,
    *OUTPUT_DRAWINGS,
]


@cache
def laid_out(query):
    """Return a solved stage and the layouts of both sides."""
    point = operating_point(scenario_from_query(query))
    coupling = point.scenario.coupling
    return point, {side: fitted(DRAWINGS[part.kind](part), side, coupling) for side, part in sides_of(point)}


def sides_of(point):
    return ("input", point.scenario.input), ("output", point.scenario.output)


@pytest.mark.parametrize("kinds", [INPUTS, OUTPUTS])
def test_every_kind_has_a_module_and_a_drawing(kinds):
    assert kinds.keys() <= DRAWINGS.keys()
    assert set(DRAWINGS) == {*INPUTS, *OUTPUTS}
    for name, kind in kinds.items():
        assert kind.kind == name
        assert kind.__module__.startswith("engine.")


def on_segment(point, start, end):
    """Whether a point lies on an upright or level segment, its ends included."""
    (x, y), (x1, y1), (x2, y2) = point, start, end
    return min(x1, x2) <= x <= max(x1, x2) and min(y1, y2) <= y <= max(y1, y2)


def on_wire(point, wire):
    return any(on_segment(point, *segment) for segment in pairwise(wire))


def terminals_of(layout):
    return [terminal for symbol in layout.symbols for terminal in symbol.terminals]


def loose_ends(layout):
    """Return the ends of wires that touch neither a terminal nor another wire."""
    terminals = set(terminals_of(layout))
    return [
        end
        for wire in layout.wires
        for end in (wire[0], wire[-1])
        if end not in terminals and not any(on_wire(end, other) for other in layout.wires if other is not wire)
    ]


def bare_terminals(layout):
    """Return the terminals of symbols that no wire meets."""
    return [point for point in terminals_of(layout) if not any(on_wire(point, wire) for wire in layout.wires)]


def shorted_parts(layout):
    """Return the parts of which one run of wires joins two terminals."""
    joined = nets(layout)
    return [
        symbol.part
        for symbol in layout.symbols
        if symbol.part and len({net_at(t, joined) for t in symbol.terminals}) < len(symbol.terminals)
    ]


def nets(layout):
    """Return the wires in groups that touch; wires that cross in their midst do not touch."""
    groups = []
    for wire in layout.wires:
        touching = [group for group in groups if any(touch(wire, other) for other in group)]
        groups = [group for group in groups if group not in touching] + [[wire, *(w for g in touching for w in g)]]
    return groups


def touch(one, other):
    return any(on_wire(end, other) for end in (one[0], one[-1])) or any(on_wire(e, one) for e in (other[0], other[-1]))


def net_at(point, groups):
    return next((index for index, group in enumerate(groups) if any(on_wire(point, w) for w in group)), None)


@of_each(STAGES)
def test_every_wire_ends_on_a_terminal_or_a_wire(query):
    _, layouts = laid_out(query)
    assert {side: loose_ends(layout) for side, layout in layouts.items()} == {"input": [], "output": []}


@of_each(STAGES)
def test_every_terminal_is_met_by_a_wire(query):
    _, layouts = laid_out(query)
    assert {side: bare_terminals(layout) for side, layout in layouts.items()} == {"input": [], "output": []}


@of_each(STAGES)
def test_no_wire_bridges_a_part(query):
    _, layouts = laid_out(query)
    assert {side: shorted_parts(layout) for side, layout in layouts.items()} == {"input": [], "output": []}


@of_each(STAGES)
def test_wires_run_upright_or_level(query):
    _, layouts = laid_out(query)
    for layout in layouts.values():
        for wire in layout.wires:
            assert all((x1 == x2) != (y1 == y2) for (x1, y1), (x2, y2) in pairwise(wire)), wire


@of_each(STAGES)
def test_wires_meet_at_a_dot_where_three_do(query):
    _, layouts = laid_out(query)
    for layout in layouts.values():
        ends = {end for wire in layout.wires for end in (wire[0], wire[-1])} - set(terminals_of(layout))
        assert ends == set(layout.dots)


@of_each(STAGES)
def test_every_part_of_the_circuit_is_drawn_once(query):
    point, layouts = laid_out(query)
    drawn = Counter(symbol.part for layout in layouts.values() for symbol in layout.symbols if symbol.part)
    assert drawn == Counter(point.states["closed"].currents.keys())


@of_each(STAGES)
def test_each_side_shows_its_own_nodes_and_its_reference(query):
    point, layouts = laid_out(query)
    for side, layout in layouts.items():
        shown = Counter(flag.node for flag in layout.flags)
        assert shown == Counter(node for node, of in point.sides.items() if of == side)
        assert [symbol.kind for symbol in layout.symbols].count("reference") == 1


@of_each(STAGES)
def test_nodes_are_where_the_circuit_has_them(query):
    """A flag's pole stands on the wire that joins just the parts whose drops differ by its node."""
    point, layouts = laid_out(query)
    for side, layout in layouts.items():
        joined = nets(layout)
        at = {flag.node: net_at(flag.at, joined) for flag in layout.flags}
        reference = next(s for s in layout.symbols if s.kind == "reference")
        at[dict(sides_of(point))[side].reference] = net_at(reference.terminals[0], joined)
        assert None not in at.values()
        assert len(set(at.values())) == len(at) == len(joined)


@of_each(STAGES)
def test_what_switches_is_drawn_between_its_nodes(query):
    """A box or a transistor has more leads than two; those that carry the current meet the nodes it switches."""
    point, layouts = laid_out(query)
    side, layout = point.scenario.input, layouts["input"]
    if side.kind in ("measured", "ac"):
        return
    joined = nets(layout)
    at = {flag.node: net_at(flag.at, joined) for flag in layout.flags}
    at[side.reference] = net_at(next(s for s in layout.symbols if s.kind == "reference").terminals[0], joined)
    symbol = next(s for s in layout.symbols if s.part == side.switch_part)
    assert {at[node] for node in side.switched} <= {net_at(t, joined) for t in symbol.terminals}


@of_each(product(STAGES, ("closed", "open")))
def test_drops_are_differences_of_the_nodes_that_a_part_is_drawn_between(query, state):
    point, layouts = laid_out(query)
    solved = point.states[state]
    for side, layout in layouts.items():
        joined = nets(layout)
        volts = {net_at(flag.at, joined): solved.nodes[flag.node].value for flag in layout.flags}
        for symbol in layout.symbols:
            if symbol.part and len(symbol.terminals) == 2:
                first, second = (volts.get(net_at(t, joined), 0.0) for t in symbol.terminals)
                drop = abs(solved.drops[symbol.part].value)
                assert abs(first - second) == pytest.approx(drop, rel=1e-6, abs=1e-9), (side, symbol.part)


@of_each(STAGES)
def test_currents_point_the_way_they_flow(query):
    """A positive current enters its part where the voltage is higher; the arrow stands on a wire of that part."""
    point, layouts = laid_out(query)
    solved = point.states["closed"]
    for side, layout in layouts.items():
        joined = nets(layout)
        volts = {net_at(flag.at, joined): solved.nodes[flag.node].value for flag in layout.flags}
        for arrow in layout.arrows:
            terminals = next(s.terminals for s in layout.symbols if s.part == arrow.part)
            behind, ahead = ends_of_wire_at(arrow, layout)
            enters = ahead in terminals
            assert enters or behind in terminals, (side, arrow)
            near = ahead if enters else behind
            far = next(t for t in terminals if t != near)
            drop = volts.get(net_at(near, joined), 0.0) - volts.get(net_at(far, joined), 0.0)
            assert solved.currents[arrow.part].value * (drop if enters else -drop) > 0, (side, arrow)


def ends_of_wire_at(arrow, layout):
    """Return where the wire under an arrow comes from and leads to, along the arrow."""
    tip = (arrow.x, arrow.y)
    dx, dy = {0: (1, 0), 90: (0, 1), 180: (-1, 0), 270: (0, -1)}[arrow.turn]
    wire = next(wire for wire in layout.wires if on_wire(tip, wire))
    (x1, y1), (x2, y2) = next(segment for segment in pairwise(wire) if on_segment(tip, *segment))
    along = (x2 - x1) * dx + (y2 - y1) * dy
    assert along, "the arrow stands across its wire"
    return (wire[0], wire[-1]) if along > 0 else (wire[-1], wire[0])


@of_each(STAGES)
def test_everything_stands_within_the_view_box(query):
    _, layouts = laid_out(query)
    for layout in layouts.values():
        points = [p for wire in layout.wires for p in wire] + terminals_of(layout) + [f.at for f in layout.flags]
        assert layout.width in WIDTHS
        assert all(0 < x < layout.width and 0 < y < layout.height for x, y in points)


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_turned_terminals_keep_their_distance(turn):
    symbol = Symbol("port", "P1", 100, 100, turn)
    reach = sorted((x - 100) ** 2 + (y - 100) ** 2 for x, y in symbol.terminals)
    assert reach == sorted(x * x + y * y for x, y in TERMINALS["port"])
    assert Symbol("resistor", "R1", 0, 0, 90).terminals == ((0, -36), (0, 36))


class TestFaultsAreFound:
    RESISTOR = Symbol("resistor", "R1", 50, 50)

    def layout(self, *wires, symbols=(RESISTOR,)):
        return Layout(symbols, wires, (), (Flag("A", 0, 0, (0, 0)),), ())

    def test_a_wire_that_stops_short(self):
        assert loose_ends(self.layout(((13, 50), (0, 50)))) == [(13, 50), (0, 50)]

    def test_a_terminal_without_a_wire(self):
        assert bare_terminals(self.layout(((14, 50), (0, 50)))) == [(86, 50)]

    def test_a_bridged_part(self):
        around = ((14, 50), (14, 90), (86, 90), (86, 50))
        assert shorted_parts(self.layout(around)) == ["R1"]
        assert shorted_parts(self.layout(around[:3], around[2:])) == ["R1"]
        assert shorted_parts(self.layout(around[:2], around[2:])) == []
