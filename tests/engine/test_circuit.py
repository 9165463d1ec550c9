"""The direct-current solver on circuits whose answer is known."""

from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import lambertw

from engine.circuit import Junction, NetlistBuilder, solve
from engine.devices import JunctionParams
from engine.errors import ConvergenceError

RESISTANCE = st.floats(1e-2, 1e8)
MANY = settings(max_examples=60, deadline=None)


def diode(batch=1, anode="D", cathode="return", IS=1e-14, nVT=0.04, knee=0.7):
    params = JunctionParams(np.full(batch, IS), np.full(batch, nVT))
    return Junction("D", anode, cathode, params, np.full(batch, knee))


def beside_a_diode(batch=1):
    """Return a builder with a source and a diode loop, to which linear parts can be added."""
    net = NetlistBuilder(batch)
    net.side("input", "return", "VS", "D")
    net.source("VS", "VS", 10.0)
    net.resistor("RD", "VS", "D", 1e3)
    net.device(diode(batch))
    return net


def divided(net, *parts):
    """Add resistors in a row from the source to the return and return the solution and their node names."""
    nodes = ["VS", *(f"N{k}" for k in range(1, len(parts))), "return"]
    net.side("input", "return", *nodes[1:-1])
    for k, G in enumerate(parts):
        net.conductance(f"R{k}", nodes[k], nodes[k + 1], G)
    return solve(net.build())


# ---------------------------------------------------------------- linear circuits


@MANY
@given(RESISTANCE, RESISTANCE)
def test_a_divider_divides(above, below):
    solution = divided(beside_a_diode(), 1.0 / above, 1.0 / below)
    assert solution.voltages["N1"][0] == pytest.approx(10.0 * below / (above + below), rel=1e-9)
    for current in solution.resistor_currents[1:]:
        assert current[0] == pytest.approx(10.0 / (above + below), rel=1e-9)


@MANY
@given(st.lists(RESISTANCE, min_size=3, max_size=6))
def test_a_row_of_resistors_drops_in_proportion(row):
    solution = divided(beside_a_diode(), *(1.0 / R for R in row))
    passed = np.cumsum(row)
    for k in range(1, len(row)):
        expected = 10.0 * (1.0 - passed[k - 1] / passed[-1])
        assert solution.voltages[f"N{k}"][0] == pytest.approx(expected, rel=1e-9, abs=1e-9)


def test_a_loaded_divider():
    net = beside_a_diode()
    net.side("input", "return", "N")
    for part, a, b, R in (("R1", "VS", "N", 1e3), ("R2", "N", "return", 2e3), ("R3", "N", "return", 2e3)):
        net.resistor(part, a, b, R)
    solution = solve(net.build())
    assert solution.voltages["N"][0] == pytest.approx(5.0)
    assert [current[0] for current in solution.resistor_currents[1:]] == pytest.approx([5e-3, 2.5e-3, 2.5e-3])


@pytest.mark.parametrize("small", [1e-3, 0.1, 1.0])
@pytest.mark.parametrize("place", [0, 1, 2])
def test_an_open_element_stops_the_current_beside_a_small_resistance(small, place):
    row = [1.0 / small, 1e-3, 1.0 / small]
    row[place] = 0.0
    solution = divided(beside_a_diode(), *row)
    assert [current[0] for current in solution.resistor_currents[1:]] == [0.0, 0.0, 0.0]
    for k in (1, 2):
        assert solution.voltages[f"N{k}"][0] == pytest.approx(10.0 if k <= place else 0.0)


def test_a_nearly_open_element_keeps_its_tiny_current_beside_a_small_resistance():
    solution = divided(beside_a_diode(), 1.0 / 1e-3, 1e-12, 1.0 / 1e-3)
    for current in solution.resistor_currents[1:]:
        assert current[0] == pytest.approx(10e-12, rel=1e-6)


def test_current_is_counted_from_a_to_b():
    net = beside_a_diode()
    net.resistor("R1", "VS", "return", 1e3)
    net.resistor("R2", "return", "VS", 1e3)
    *_, forth, back = solve(net.build()).resistor_currents
    assert (forth[0], back[0]) == pytest.approx((10e-3, -10e-3))


def test_members_of_a_batch_do_not_know_each_other():
    R = np.geomspace(1.0, 1e6, 7)
    solution = divided(beside_a_diode(7), 1.0 / R, 1e-3)
    assert solution.voltages["N1"] == pytest.approx(10.0 * 1e3 / (R + 1e3))


# ---------------------------------------------------------------- a diode


@MANY
@given(st.floats(0.0, 1000.0), st.floats(1.0, 1e7))
def test_a_diode_behind_a_resistor_agrees_with_its_closed_form(volts, R):
    net = NetlistBuilder(1)
    net.side("input", "return", "VS", "D")
    net.source("VS", "VS", volts)
    net.resistor("R", "VS", "D", R)
    net.device(diode())
    IS, nVT = 1e-14, 0.04
    exponent = (volts + IS * R) / nVT
    log = np.log(IS * R / nVT) + exponent
    w = lambertw(np.exp(log)).real if log < 600 else None
    if w is None:
        w = log - np.log(log)
        for _ in range(20):
            w = w * (1.0 + log - np.log(w)) / (1.0 + w)
    expected = nVT / R * w - IS
    solution = solve(net.build())
    assert solution.resistor_currents[0][0] == pytest.approx(expected, rel=1e-6, abs=1e-13)
    assert solution.device_currents[0][0, 0] == pytest.approx(expected, rel=1e-6, abs=1e-12)
    assert solution.source_currents["VS"][0] == pytest.approx(expected, rel=1e-6, abs=1e-12)


@pytest.mark.parametrize("guess", [0.0, 0.3, 0.7, 1.5])
def test_the_answer_does_not_depend_on_where_the_iteration_begins(guess):
    net = NetlistBuilder(1)
    net.side("input", "return", "VS", "D")
    net.source("VS", "VS", 5.0)
    net.resistor("R", "VS", "D", 1e3)
    net.device(diode(knee=guess))
    # (5 V - V) / 1 kohm = IS exp(V / nVT): V = 1.0667 V by hand iteration, 3.933 mA
    V = solve(net.build()).voltages["D"][0]
    assert (5.0 - V) / 1e3 == pytest.approx(1e-14 * np.expm1(V / 0.04), rel=1e-6)


def test_a_reversed_diode_blocks():
    net = NetlistBuilder(1)
    net.side("input", "return", "VS", "D")
    net.source("VS", "VS", -100.0)
    net.resistor("R", "VS", "D", 1e3)
    net.device(diode())
    solution = solve(net.build())
    assert solution.voltages["D"][0] == pytest.approx(-100.0, abs=1e-6)
    assert abs(solution.resistor_currents[0][0]) < 1e-12


# ---------------------------------------------------------------- two sides, floating nodes


def two_sides(link_volts):
    net = beside_a_diode()
    net.side("output", "common", "VCC", "OUT")
    net.source("VCC", "VCC", link_volts)
    net.resistor("RA", "VCC", "OUT", 1e3)
    net.resistor("RB", "OUT", "common", 3e3)
    return net.build()


def test_each_side_has_its_own_reference():
    netlist = two_sides(8.0)
    solution = solve(netlist)
    assert netlist.references == {"input": "return", "output": "common"}
    assert (netlist.nodes["D"], netlist.nodes["OUT"]) == ("input", "output")
    assert solution.voltages["return"][0] == solution.voltages["common"][0] == 0.0
    assert solution.voltages["OUT"][0] == pytest.approx(6.0)


def test_one_side_does_not_move_the_other():
    low, high = solve(two_sides(1.0)), solve(two_sides(1000.0))
    assert low.voltages["D"][0] == pytest.approx(high.voltages["D"][0], abs=1e-9)
    assert low.source_currents["VS"][0] == pytest.approx(high.source_currents["VS"][0], rel=1e-9)


def test_a_diode_behind_an_open_element_rests_at_zero():
    net = NetlistBuilder(2)
    net.side("input", "return", "VS", "D")
    net.source("VS", "VS", 1000.0)
    net.conductance("S1", "VS", "D", np.array([0.0, 1e-3]))
    net.device(diode(2))
    solution = solve(net.build())
    assert solution.voltages["D"][0] == pytest.approx(0.0, abs=1e-6)
    assert solution.resistor_currents[0][0] == 0.0
    assert solution.resistor_currents[0][1] == pytest.approx(0.999, rel=1e-3)


def test_the_current_law_holds_at_every_free_node():
    solution = solve(two_sides(8.0))
    for node, left in solution.residual.items():
        assert abs(left[0]) <= 1e-9 * solution.throughput[node][0] + 1e-15
    assert solution.iterations >= 1


def test_source_current_is_what_the_circuit_takes():
    solution = solve(two_sides(8.0))
    assert solution.source_currents["VCC"][0] == pytest.approx(2e-3)


# ---------------------------------------------------------------- no operating point


@dataclass(frozen=True)
class Numberless:
    """An element whose current is no number anywhere."""

    part = "X"
    controls = (("D", "return"),)
    branches = (("return", "N"),)
    shunts = (("N", "return"),)
    turning = (False,)
    steep = (False,)

    def start(self):
        return np.zeros((1, 1))

    def evaluate(self, v):
        return np.full((len(v), 1), np.nan), np.zeros((len(v), 1, 1))

    def limits(self):
        return np.ones((1, 1)), np.full((1, 1), np.inf)

    def take(self, index):
        return self


def test_a_circuit_without_an_answer_is_reported_with_its_node():
    net = beside_a_diode()
    net.side("input", "return", "N")
    net.resistor("RN", "N", "return", 1e3)
    net.device(Numberless())
    with np.errstate(all="ignore"), pytest.raises(ConvergenceError) as caught:
        solve(net.build())
    assert caught.value.node in ("N", "D")
    assert caught.value.iterations >= 1
    assert not caught.value.residual <= 1e-10
    assert caught.value.scenario == ""


def test_a_node_inside_of_a_part_lies_on_the_side_of_the_node_beside_it():
    net = NetlistBuilder(1)
    net.side("input", "return", "VS")
    net.side("output", "common", "VCC")
    net.inside("VS", "A")
    net.inside("common", "B", "C")
    assert net.build().nodes == {"VS": "input", "VCC": "output", "A": "input", "B": "output", "C": "output"}
    with pytest.raises(KeyError):
        net.inside("nowhere", "D")


# ---------------------------------------------------------------- beginning near the answer


def test_a_circuit_solved_from_near_is_the_one_solved_from_the_start_and_takes_fewer_iterations():
    before, loaded = solve(beside_a_diode().build()).voltages, beside_a_diode()
    loaded.resistor("meter", "D", "return", 1e7)
    afresh, near = solve(loaded.build()), solve(loaded.build(), before)
    assert near.voltages["D"][0] == pytest.approx(afresh.voltages["D"][0], rel=1e-9)
    assert near.iterations < afresh.iterations


@pytest.mark.parametrize("away", [-50.0, 0.0, 1e3])
def test_a_beginning_that_is_far_off_does_no_harm(away):
    net = beside_a_diode().build()
    off = {node: volts + away * (node == "D") for node, volts in solve(net).voltages.items()}
    assert solve(net, off).voltages["D"][0] == pytest.approx(solve(net).voltages["D"][0], rel=1e-9)
