"""A capacitor at one instant among other elements."""

import numpy as np
import pytest

from engine.circuit import NetlistBuilder, Storage, solve

VOLTS, CURRENT = np.array([5.0, -3.0, 0.0]), np.array([1e-3, -2e-4, 0.0])


@pytest.mark.parametrize("G", [1e-9, 1e-3, 1.0])
def test_it_stands_where_the_circuit_agrees_with_it(G):
    # Behind 1 kohm a source of its voltage and what its current drops: then nothing moves, whatever the conductance.
    net = NetlistBuilder(3)
    net.side("input", "return", "VS", "A")
    net.source("VS", "VS", VOLTS + 1e3 * CURRENT)
    net.resistor("R1", "VS", "A", 1e3)
    net.device(Storage("C1", "A", "return", VOLTS, CURRENT, np.full(3, G)))
    solution = solve(net.build())
    assert solution.voltages["A"] == pytest.approx(VOLTS, abs=1e-9)
    assert solution.device_currents[0][:, 0] == pytest.approx(CURRENT, abs=1e-12)


def test_it_gives_way_by_its_conductance():
    one = Storage("C1", "A", "return", VOLTS, CURRENT, np.full(3, 1e-3))
    currents, slopes = one.evaluate(VOLTS[:, None] + 0.5)
    assert currents[:, 0] == pytest.approx(CURRENT + 0.5e-3)
    assert (slopes == 1e-3).all()


def test_part_of_a_batch_is_that_part():
    part = Storage("C1", "A", "return", VOLTS, CURRENT, np.arange(1.0, 4.0)).take(np.array([True, False, True]))
    assert part.volts.tolist() == [5.0, 0.0]
    assert part.current.tolist() == [1e-3, 0.0]
    assert part.G.tolist() == [1.0, 3.0]
    assert part.limits()[0].shape == (2, 1)
