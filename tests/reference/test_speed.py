"""Speed of a coupler whose card has the lines of a published part, against its published curves over the load.

The table of that sheet states 40 us for a turn-off at 1.9 kohm; its own graph gives 33 us at 1 kohm and 150 us at
10 kohm, so close to 50 us between them. A card with the table's line therefore falls short of the graph by a fifth to a
third; one with the graph's lines at 1 kohm follows it over two decades.
"""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from engine.coupler import charges_of, load_card, model_of, pulsed
from engine.coupler.charges import speed_tests
from engine.coupler.pulsed import Pulse

SHEET = "Toshiba TLP291-4 data sheet, 2011-09-08"
READ = 0.12  # [-], how closely its graph can be read
LOADS = 1e3, 10e3, 100e3  # [ohm]
T_OFF = dict(zip(LOADS, (33e-6, 150e-6, 1200e-6), strict=True))
T_STORAGE = dict(zip(LOADS, (20e-6, 30e-6, 140e-6), strict=True))
FOLLOWED = 0.3

TABLE = {"saturated_RL": 1.9e3, "saturated_on": 2e-6, "saturated_storage": 25e-6, "saturated_off": 40e-6}
GRAPH = {"saturated_RL": 1e3, "saturated_on": 2.5e-6, "saturated_storage": 20e-6, "saturated_off": 33e-6}


@cache
def part(of_graph=False):
    """Return the model of the part: what its sheet does not state is that of a general class."""
    card = replace(
        load_card("general"),
        CTR_min=0.5, CTR_max=4.0, ICEO=10e-9, ICEO_max=100e-9, ICEO_VCE=48.0, ICEO_doubling=7.85,
        linear_VCC=10.0, linear_IC=2e-3, linear_RL=100.0, linear_rise=2e-6, linear_fall=3e-6,
        saturated_VCC=5.0, saturated_IF=16e-3, **(GRAPH if of_graph else TABLE),
    )  # fmt: skip
    return model_of(card)


@cache
def edges(of_graph=False):
    """Return the times over the load resistor, at IF 16 mA and VCC 5 V."""
    model, n = part(of_graph), len(LOADS)
    pulse = Pulse(np.full(n, 5.0), np.full(n, 16e-3), np.array(LOADS), np.array([4e-4, 2e-3, 1e-2]))
    return pulsed(model, pulse, charges_of(model))


@pytest.mark.source(f"{SHEET}: tr 2, tf 3, tON 3, tOFF 3 us at VCC 10 V, IC 2 mA, RL 100 ohm")
def test_speed_without_saturation():
    """Only the rise time is a line that is met; the others follow, to the digits that they are printed with."""
    model = part()
    read = pulsed(model, speed_tests(model).pulse, charges_of(model))
    found = read.rise[0], read.fall[0], read.on[0], read.off[0]
    assert found == pytest.approx((2e-6, 3e-6, 3e-6, 3e-6), abs=0.5e-6)


@pytest.mark.source(f"{SHEET}: tON 2, ts 25, tOFF 40 us at RL 1.9 kohm, VCC 5 V, IF 16 mA")
def test_speed_with_saturation():
    model = part()
    read = pulsed(model, speed_tests(model).pulse, charges_of(model))
    assert (read.on[1], read.storage[1], read.off[1]) == pytest.approx((2e-6, 25e-6, 40e-6), abs=0.5e-6)


@pytest.mark.source(f"{SHEET}, p. 12, switching time over RL: tOFF 33, 150, 1200 us at 1, 10, 100 kohm")
@pytest.mark.parametrize(
    "RL",
    [
        1e3,
        10e3,
        pytest.param(
            100e3,
            marks=pytest.mark.xfail(
                strict=True, reason="32 % short: the table lies a fifth below the sheet's own graph"
            ),
        ),
    ],
)
def test_turn_off_over_the_load_from_the_table(RL):
    assert edges().off[LOADS.index(RL)] == pytest.approx(T_OFF[RL], rel=FOLLOWED)


@pytest.mark.source(f"{SHEET}, p. 12, switching time over RL: tOFF 33, 150, 1200 us at 1, 10, 100 kohm")
@pytest.mark.parametrize(
    "RL",
    [
        1e3,
        pytest.param(
            10e3,
            marks=pytest.mark.xfail(
                strict=True, reason="169 us, 171 us with the finest steps: 13 % above, 1 % too much"
            ),
        ),
        100e3,
    ],
)
def test_turn_off_over_the_load_from_the_graph_at_its_smallest_load(RL):
    """Two decades further on, about within what a graph can be read to."""
    assert edges(of_graph=True).off[LOADS.index(RL)] == pytest.approx(T_OFF[RL], rel=READ)


@pytest.mark.source(f"{SHEET}, p. 12, switching time over RL: ts 20, 30, 140 us at 1, 10, 100 kohm")
@pytest.mark.parametrize("of_graph", [False, True])
@pytest.mark.parametrize(
    "RL",
    [
        1e3,
        pytest.param(
            10e3,
            marks=pytest.mark.xfail(
                strict=True, reason="the model stores 48 to 61 us where the graph hardly rises yet"
            ),
        ),
        100e3,
    ],
)
def test_storage_over_the_load(RL, of_graph):
    assert edges(of_graph).storage[LOADS.index(RL)] == pytest.approx(T_STORAGE[RL], rel=FOLLOWED)


@pytest.mark.source(f"{SHEET}, p. 12, switching time over RL: tOFF - ts 13, 120, 1060 us; tON 2.5, 1.7, 1.4 us")
@pytest.mark.parametrize("of_graph", [False, True])
def test_what_grows_with_the_load_and_what_does_not(of_graph):
    """Once storage is over the output takes a time in proportion to RL; a turn-on hardly feels it."""
    read = edges(of_graph)
    assert read.fall[1:] / read.fall[:-1] == pytest.approx([120 / 13, 1060 / 120], rel=FOLLOWED)
    assert (np.diff(read.on) < 0).all()
    assert read.on[0] / read.on[-1] == pytest.approx(2.5 / 1.4, rel=FOLLOWED)


@pytest.mark.source(
    "California Eastern Laboratories, Designing for optocouplers with base pin, p. 3: toff ~ CCB x hFE x RL"
)
@pytest.mark.parametrize("line", ["beta", "C_bc"])
def test_turn_off_follows_collector_capacitance_and_gain(line):
    """Once storage is over: twice of either takes close to twice as long."""
    models = [part(), model_of(replace(part().card, beta=2 * part().card.beta)) if line == "beta" else part()]
    charges = charges_of(part())
    stored = [charges, replace(charges, C_bc=2 * charges.C_bc) if line == "C_bc" else charges]
    pulse = Pulse(np.array([5.0]), np.array([16e-3]), np.array([100e3]), np.array([2e-2]))
    once, twice = (pulsed(model, pulse, given).fall[0] for model, given in zip(models, stored, strict=True))
    assert twice / once == pytest.approx(2.0, rel=0.1)
