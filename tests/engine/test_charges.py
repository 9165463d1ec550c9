"""Charges that make a coupler slow: they meet the card's lines on speed, and nobody pays for them who does not ask."""

from dataclasses import replace

import numpy as np
import pytest

from engine import operating_point, scenario_from_query
from engine.build import build
from engine.circuit import Detector, NetlistBuilder
from engine.coupler import Charges, card_names, charges_of, lines_of, load_card, model_of, pulsed, stores_of
from engine.coupler.charges import _charges_of_card, speed_tests
from engine.coupler.pulsed import Pulse
from engine.errors import CardError

WITH_LINES = [name for name in card_names() if getattr(load_card(name), "linear_VCC", None) is not None]
LINEAR = dict.fromkeys(("linear_VCC", "linear_IC", "linear_RL", "linear_rise", "linear_fall"))
SATURATED = dict.fromkeys(
    ("saturated_VCC", "saturated_IF", "saturated_RL", "saturated_on", "saturated_storage", "saturated_off")
)


def test_every_shipped_coupler_with_a_transistor_states_its_speed():
    assert set(WITH_LINES) == {*card_names("phototransistor"), *card_names("photodarlington")}


@pytest.mark.parametrize("name", WITH_LINES)
def test_a_shipped_coupler_meets_its_own_lines(name):
    model = model_of(load_card(name))
    card, tests = model.card, speed_tests(model)
    read = pulsed(model, tests.pulse, charges_of(model))
    assert tests.names == ("linear", "saturated")
    assert [read.rise[0], read.fall[0]] == pytest.approx([card.linear_rise, card.linear_fall], rel=0.1)
    wanted = [card.saturated_on, card.saturated_storage, card.saturated_off]
    assert [read.on[1], read.storage[1], read.off[1]] == pytest.approx(wanted, rel=0.1)


@pytest.mark.parametrize(
    ("left_out", "changed", "untouched"),
    [(LINEAR, {"C_bc", "transit_R"}, {"transit_F"}), (SATURATED, {"transit_F"}, {"C_bc", "transit_R"})],
)
def test_a_test_that_a_card_leaves_out_moves_nothing(left_out, changed, untouched):
    card = replace(load_card("general"), **left_out)
    found, usual = charges_of(model_of(card)), Charges()
    assert all(getattr(found, name) != getattr(usual, name) for name in changed)
    assert all(getattr(found, name) == getattr(usual, name) for name in untouched)


def test_a_card_without_such_lines_has_what_is_usual_of_a_class():
    card = replace(load_card("general"), LED_capacitance=20e-12, **LINEAR, **SATURATED)
    assert charges_of(model_of(card)) == Charges(C_led=20e-12)
    assert charges_of(model_of(load_card("fast-gate"))) == Charges()


@pytest.mark.parametrize(
    ("line", "factor", "charge"),
    [("linear_rise", 1.3, "transit_F"), ("saturated_storage", 1.2, "transit_R"), ("saturated_off", 1.2, "C_bc")],
)
def test_a_longer_time_takes_more_charge(line, factor, charge):
    card = load_card("general")
    slower = replace(card, **{line: factor * getattr(card, line)})
    assert getattr(charges_of(model_of(slower)), charge) > 1.05 * getattr(charges_of(model_of(card)), charge)


@pytest.mark.parametrize(
    ("charge", "time"),
    [("C_led", "delay"), ("C_be", "on"), ("C_bc", "fall"), ("transit_F", "on"), ("transit_R", "storage")],
)
def test_every_charge_makes_a_coupler_slower(charge, time):
    model, n = model_of(load_card("general")), 4
    pulse = Pulse(np.full(n, 5.0), np.full(n, 10e-3), np.full(n, 2e3), np.full(n, 1e-3))
    more = replace(Charges(), **{charge: getattr(Charges(), charge) * np.array([0.5, 1.0, 2.0, 4.0])})
    times = getattr(pulsed(model, pulse, more), time)
    assert (np.diff(times) > 0.01 * times[:-1]).all()


def test_every_detector_of_a_cascade_and_every_led_of_a_pair_stores():
    for name, count in (("general", 3), ("two-way", 4), ("cascade", 5)):
        netlist = build(scenario_from_query(f"coupler={name}&il=5mA")).netlist
        stores = stores_of(netlist, Charges())
        assert len(stores) == count
        for device in netlist.devices:
            if isinstance(device, Detector):
                assert {(device.base, device.emitter), (device.base, device.inner)} <= {(s.a, s.b) for s in stores}
        assert all(len(store.C0) == netlist.batch for store in stores)
    assert stores_of(NetlistBuilder(1).build(), Charges()) == ()


def test_nobody_pays_who_does_not_ask():
    card = replace(load_card("general"), title="Not asked for yet")
    before = _charges_of_card.cache_info().misses
    model_of(card)
    lines_of(card)
    operating_point(scenario_from_query("coupler=with-base"))
    assert _charges_of_card.cache_info().misses == before
    charges_of(model_of(card))
    assert _charges_of_card.cache_info().misses == before + 1
    charges_of(model_of(card))
    assert _charges_of_card.cache_info().misses == before + 1


def test_a_current_that_no_light_gives_is_refused_by_its_line():
    card = replace(load_card("general"), linear_VCC=100.0, linear_IC=0.5)
    with pytest.raises(CardError) as caught:
        charges_of(model_of(card))
    assert caught.value.line == "speed.linear.IC"


@pytest.mark.parametrize("factor", [1e-2, 1e2])
def test_lines_that_no_charges_meet_give_the_nearest(factor):
    card = load_card("general")
    odd = replace(card, linear_rise=factor * card.linear_rise, linear_fall=factor * card.linear_fall)
    found = charges_of(model_of(odd))
    assert all(np.isfinite(getattr(found, name)) and getattr(found, name) > 0 for name in Charges.__dataclass_fields__)
