"""Edges into loads that store something of their own, and of couplers that decide by a threshold."""

from dataclasses import replace

import numpy as np
import pytest

from engine import scenario_from_query, size, timing_of
from engine.build import Corners
from engine.coupler import delays_of
from engine.edges import edges_of
from engine.outputs.relay import Decay, winding

ROOM = 25.0  # [degC], ambient of a bare stage


def edges(query):
    return edges_of((scenario_from_query(query),))[0]


@pytest.fixture(scope="module")
def clamped():
    """Return a relay stage by its clamp."""
    return {clamp: edges(f"out=relay&clamp={clamp}") for clamp in ("diode", "zener", "resistor")}


@pytest.mark.parametrize("clamp", ["diode", "zener", "resistor"])
def test_a_coil_dies_away_as_its_closed_form_says(clamped, clamp):
    scenario = scenario_from_query(f"out=relay&clamp={clamp}")
    load, course = scenario.output, clamped[clamp].off[0]
    R = winding(load.R_coil, ROOM)
    decay = Decay(load.L_coil, np.array(R), np.array(course.y[0] / R))
    high, low = 0.8 * course.y[0], 0.2 * course.y[0]
    if clamp == "resistor":
        expected = [float(decay.into_resistance(load.R_clamp, np.array(v / R))) for v in (high, low)]
    else:
        V = 0.62 + (load.V_clamp if clamp == "zener" else 0.0)
        expected = [float(decay.into_voltage(V, np.array(v / R))) for v in (high, low)]
    found = [course.reached(share) for share in (0.2, 0.8)]
    assert found[1] - found[0] == pytest.approx(expected[1] - expected[0], rel=0.03)


def test_a_coil_is_switched_on_with_its_inductance_over_its_resistance(clamped):
    """The transistor's own resistance adds some percent."""
    load, course = scenario_from_query("out=relay").output, clamped["diode"].on[0]
    tau = load.L_coil / winding(load.R_coil, ROOM)
    assert course.reached(0.9) - course.reached(0.1) == pytest.approx(np.log(9.0) * tau, rel=0.03)


def test_more_clamp_voltage_releases_sooner(clamped):
    diode, zener = (clamped[clamp].off[0].valid() for clamp in ("diode", "zener"))
    assert zener < 0.4 * diode
    assert "zener" in timing_of(scenario_from_query("out=relay")).limited_by


def test_a_coil_without_clamp_is_not_followed():
    assert timing_of(scenario_from_query("out=relay&clamp=none")) is None


def test_a_gate_charges_through_its_resistor():
    """One time constant of the gate's charge over its swing; the driver's drop and the resistor at the gate beside."""
    scenario = scenario_from_query("out=gate&coupler=push-pull&rl=22R&r1=1k2")
    load, card = scenario.output, scenario.coupling.model.card
    C = load.QG / load.VCC
    for name, R in (("on", card.drop_high / card.drop_high_IO), ("off", card.VOL / card.VOL_IO)):
        course = getattr(edges("out=gate&coupler=push-pull&rl=22R&r1=1k2"), name)[0]
        rise = course.reached(0.9) - course.reached(0.1)
        assert rise == pytest.approx(np.log(9.0) * (R + 22.0) * C, rel=0.02)


def test_more_gate_charge_takes_longer():
    few, many = (timing_of(scenario_from_query(f"out=gate&coupler=push-pull&r1=1k2&qg={Q}")) for Q in ("50n", "200n"))
    assert many.edges["on"].transition.value == pytest.approx(4.0 * few.edges["on"].transition.value, rel=0.05)


@pytest.mark.parametrize(
    ("output", "name"), [("pull-up", "fast-gate"), ("dc-load", "photo-relay"), ("gate", "push-pull")]
)
def test_the_output_of_a_threshold_lags_by_the_delay_of_its_card(output, name):
    """Weak specimens are the slowest to be lit, strong ones the slowest to go dark."""
    scenario = scenario_from_query(f"out={output}&coupler={name}&r1=1k2&vcc={'5V' if output == 'pull-up' else '16V'}")
    delays, found = delays_of(scenario.coupling.model), timing_of(scenario).edges
    for edge, own in (("on", delays.on), ("off", delays.off)):
        beside = found[edge].delay.value - own.typical
        assert 0.0 <= beside < 0.5e-6
        assert found[edge].delay.high >= own.largest
        assert found[edge].delay.low < own.typical


def test_corners_of_loads_are_the_slowest_there_are():
    scenario = scenario_from_query("out=relay&clamp=zener")
    own = (part.spreads(scenario.conditions.tolerance) for part in (scenario.input, scenario.output))
    (every,), (few,) = edges_of((scenario,), Corners(*own, False)), edges_of((scenario,))
    for name in ("on", "off"):
        slowest, looked_at = (max(course.valid() for course in getattr(one, name)) for one in (every, few))
        assert looked_at == pytest.approx(slowest, rel=0.02)


def test_edges_of_a_relay_begin_and_end_at_rest(clamped):
    for found in clamped.values():
        for on, off in zip(found.on, found.off, strict=True):
            assert on.y[0] == pytest.approx(off.end, abs=1e-3 * on.end)
            assert on.y[-1] == pytest.approx(on.end, rel=0.011)
            assert off.y[0] == pytest.approx(on.end, rel=1e-3)
            assert off.y[-1] == pytest.approx(off.end, abs=0.09 * on.end)


def test_a_small_transistor_stores_less_than_the_coupler():
    """A transistor in the input loop must not be given the charge of a phototransistor."""
    plain, through = (timing_of(scenario_from_query(query)) for query in ("", "in=transistor"))
    delay = through.edges["off"].delay.value
    assert delay == pytest.approx(plain.edges["off"].delay.value, rel=0.05)


def test_a_batch_of_relays_agrees_with_each_alone():
    scenario = scenario_from_query("out=relay")
    other = replace(scenario, output=replace(scenario.output, RL=4 * size(scenario)["RL"].chosen))
    together = edges_of((scenario, other))
    for found, alone in zip(together, (scenario, other), strict=True):
        single = edges_of((alone,))[0]
        assert found.off[0].valid() == pytest.approx(single.off[0].valid(), rel=1e-3)
