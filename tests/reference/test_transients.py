"""Transients of linear circuits against worked examples, and their closed forms."""

from dataclasses import replace

import numpy as np
import pytest

from engine.circuit import Capacitor, Coil, NetlistBuilder, transient

EXACT = 1e-7


def course(parts, start, until, stores, sources):
    """Return the course of a circuit of resistors from the nodes that `parts` names."""
    net = NetlistBuilder(1)
    nodes = {node for _, a, b, _ in parts for node in (a, b)} - {"return"}
    net.side("input", "return", *sorted(nodes))
    for node, volts in sources.items():
        net.source(node, node, volts)
    for part, a, b, ohms in parts:
        net.resistor(part, a, b, ohms)
    for store in stores:
        net.store(store)
    begin = {node: np.array([volts]) for node, volts in start.items()}
    return transient(net.build(), begin, np.array([until]), EXACT)


def at(found, node, t):
    """Return the voltage of a node at a time."""
    return np.interp(t, found.t[:, 0], found.voltages[node][:, 0])


@pytest.mark.source("Kuphaldt, Lessons in Electric Circuits, vol. DC, ch. 16: 15 V, 10 kohm, 100 uF")
def test_capacitor_that_is_charged():
    C = Capacitor("C", "A", "return", np.array([100e-6]))
    found = course([("R", "VS", "A", 10e3)], {"A": 0.0}, 7.25, [C], {"VS": 15.0})
    for t, volts in ((0.5, 5.902), (1.0, 9.482), (2.0, 12.970), (3.0, 14.253), (5.0, 14.899), (7.25, 14.989)):
        assert at(found, "A", t) == pytest.approx(volts, abs=1e-3), t
    for t, current in ((0.5, 909.8e-6), (1.0, 551.8e-6), (2.0, 203.0e-6), (3.0, 74.68e-6), (5.0, 10.11e-6)):
        assert (15.0 - at(found, "A", t)) / 10e3 == pytest.approx(current, rel=2e-3, abs=1e-8), t


@pytest.mark.source("Kuphaldt, Lessons in Electric Circuits, vol. DC, ch. 16: 20 V, 2 kohm, 500 ohm, 3 kohm, 100 uF")
def test_capacitor_behind_a_divider():
    parts = [("R1", "VS", "A", 2e3), ("R2", "A", "B", 500.0), ("R3", "B", "return", 3e3)]
    C = Capacitor("C", "A", "B", np.array([100e-6]))
    before = 20.0 * 3.0 / 5.0  # an empty capacitor is a short
    found = course(parts, {"A": before, "B": before}, 0.06, [C], {"VS": 20.0})
    assert at(found, "A", 0.06) - at(found, "B", 0.06) == pytest.approx(1.3325, abs=2e-4)


@pytest.mark.source("Kuphaldt, Lessons in Electric Circuits, vol. DC, ch. 16: 15 V, 1 ohm, 1 H")
def test_coil_that_is_switched_on():
    L = Coil("L", "A", "return", np.array([1.0]), np.zeros(1), np.zeros(1))
    found = course([("R", "VS", "A", 1.0)], {"A": 15.0}, 3.5, [L], {"VS": 15.0})
    assert at(found, "A", 3.5) == pytest.approx(0.453, abs=1e-3)
    assert 15.0 - at(found, "A", 3.5) == pytest.approx(14.547, abs=1e-3)


@pytest.mark.source("Kuphaldt, Lessons in Electric Circuits, vol. DC, ch. 16: from 5 A to 7.5 A with 0.5 s")
def test_coil_that_carries_a_current_already():
    L = Coil("L", "A", "return", np.array([1.0]), np.zeros(1), np.array([5.0]))
    found = course([("R", "VS", "A", 2.0)], {"A": 5.0}, 1.0, [L], {"VS": 15.0})
    for t, current in ((0.1, 5.453), (0.5, 6.580), (1.0, 7.162)):
        assert (15.0 - at(found, "A", t)) / 2.0 == pytest.approx(current, abs=1e-3), t


@pytest.mark.no_source("closed forms")
@pytest.mark.parametrize("spread", [1.0, 30.0])
def test_members_of_a_batch_go_their_own_way(spread):
    tau = np.array([1e-3, 1e-3 / spread, 1e-3 * spread])
    net = NetlistBuilder(3)
    net.side("input", "return", "VS", "A")
    net.source("VS", "VS", np.array([5.0, 3.0, -8.0]))
    net.resistor("R", "VS", "A", 1e3)
    net.store(Capacitor("C", "A", "return", tau / 1e3))
    found = transient(net.build(), {"A": np.array([0.0, 5.0, 1.0])}, 5.0 * tau, 1e-7)
    end, begin = np.array([5.0, 3.0, -8.0]), np.array([0.0, 5.0, 1.0])
    exact = end + (begin - end) * np.exp(-found.t / tau)
    assert np.abs(found.voltages["A"] - exact).max() < 1e-4 * 8.0
    assert found.t[-1] == pytest.approx(5.0 * tau)


@pytest.mark.no_source("closed form")
def test_a_damped_oscillation():
    """A coil and a capacitor with a resistor between them, underdamped."""
    R, L, C = 10.0, 1e-3, 1e-6
    net = NetlistBuilder(1)
    net.side("input", "return", "VS", "A", "B")
    net.source("VS", "VS", 1.0)
    net.resistor("R", "VS", "A", R)
    net.store(Coil("L", "A", "B", np.array([L]), np.zeros(1), np.zeros(1)))
    net.store(Capacitor("C", "B", "return", np.array([C])))
    found = transient(net.build(), {"A": np.array([1.0]), "B": np.zeros(1)}, np.array([1e-3]), 1e-7)
    damping = R / (2 * L)
    omega = np.sqrt(1 / (L * C) - damping**2)
    t = found.t[:, 0]
    exact = 1.0 - np.exp(-damping * t) * (np.cos(omega * t) + damping / omega * np.sin(omega * t))
    assert np.abs(found.voltages["B"][:, 0] - exact).max() < 1e-3
    assert replace(net.build().stores[0]).L[0] == L


@pytest.mark.no_source("closed form")
def test_a_winding_with_resistance_of_its_own():
    """Through its own resistance and one outside: I = V/R (1 - exp(-t R/L))."""
    coil = Coil("L", "A", "return", np.array([0.4]), np.array([270.0]), np.zeros(1))
    found = course([("R", "VS", "A", 30.0)], {"A": 12.0}, 5e-3, [coil], {"VS": 12.0})
    exact = 12.0 / 300.0 * (1.0 - np.exp(-found.t[:, 0] * 300.0 / 0.4))
    assert np.abs(found.coils["L"][:, 0] - exact).max() < 1e-4 * 12.0 / 300.0


@pytest.mark.source("Kuphaldt, Lessons in Electric Circuits, vol. AC, ch. 4: 5 ohm, 100 uF at 60 Hz: XC 26.5258 ohm")
def test_a_resistor_and_a_capacitor_on_an_alternating_source():
    """After many time constants the capacitor has its share of the source, and lags by the angle of both."""
    R, XC, f = 5.0, 26.5258, 60.0
    net = NetlistBuilder(1)
    net.side("input", "return", "VS", "A")
    net.source("VS", "VS", 0.0)
    net.resistor("R", "VS", "A", R)
    net.store(Capacitor("C", "A", "return", np.array([100e-6])))
    sources = {"VS": lambda t: 10.0 * np.sin(2.0 * np.pi * f * t)}
    found = transient(net.build(), {"A": np.zeros(1)}, np.array([3.0 / f]), 1e-5, sources, 1.0 / (200.0 * f))
    t, volts = found.t[:, 0], found.voltages["A"][:, 0]
    last = t > 2.0 / f
    amplitude, angle = 10.0 * XC / np.hypot(R, XC), np.arctan2(R, XC)
    exact = amplitude * np.sin(2.0 * np.pi * f * t - angle)
    assert np.abs(volts - exact)[last].max() < 1e-3 * amplitude
    assert volts[last].max() == pytest.approx(amplitude, rel=1e-3)


@pytest.mark.source(
    "Measured: 120 ohm coil on 12 V, 680 ohm in parallel, peak 65 V; discussion 167257 at electro-tech-online"
)
def test_a_resistor_beside_a_coil_bounds_its_voltage():
    """Contact opens: the coil's current goes on through the resistor. The coil's inductance is not stated."""
    begin = 12.0 / 120.0
    coil = Coil("K", "A", "return", np.array([0.2]), np.array([120.0]), np.array([begin]))
    stray = Capacitor("stray", "A", "return", np.array([1e-12]))
    found = course([("RC", "A", "return", 680.0)], {"A": 12.0}, 2e-3, [coil, stray], {})
    peak = -found.voltages["A"][:, 0].min()
    assert peak == pytest.approx(65.0, rel=0.1)
    assert peak == pytest.approx(680.0 * begin, rel=1e-2)
