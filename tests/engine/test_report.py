"""The report of a card: every line beside what the model reads, measured by solving."""

import math
from dataclasses import replace

import pytest

from engine.coupler import calibrated, card_names, lines_of, load_card, model_of, speed_lines_of
from engine.coupler.bench import Wiring, measure
from engine.quantity import UNITS


@pytest.fixture(params=card_names())
def card(request):
    return load_card(request.param)


def test_a_shipped_card_is_met_in_every_line(card):
    lines = lines_of(card)
    assert [line for line in lines if not line.met] == []
    answered = [line for line in lines if line.modelled is not None]
    assert len(answered) >= 15
    for line in answered:
        apart = line.modelled - line.stated
        assert line.deviation == pytest.approx(apart if line.unit == "V" else apart / line.stated)
        assert abs(line.deviation) <= (20e-3 if line.unit == "V" else 0.05)
    assert {line.unit for line in lines} <= set(UNITS)


TRANSISTOR_TIMES = ["Rise time", "Fall time", "Turn-on time", "Storage time", "Turn-off time"]
TIMES = {
    "logic-gate": ["tPHL typ", "tPHL max", "tPLH typ", "tPLH max"],
    "gate-driver": ["tPLH typ", "tPLH max", "tPHL typ", "tPHL max"],
    "mosfet-relay": ["Turn-on time typ", "Turn-on time max", "Turn-off time typ", "Turn-off time max"],
    "opto-triac": ["Turn-on time typ", "Turn-on time max"],
}


def test_a_shipped_card_is_met_in_every_line_on_speed(card):
    lines = speed_lines_of(card)
    times = [line for line in lines if line.modelled is not None]
    assert [line for line in lines if not line.met] == []
    assert [line.name for line in times] == TIMES.get(card.family, TRANSISTOR_TIMES)
    assert all(abs(line.deviation) <= 0.1 and line.unit == "s" for line in times)


def test_a_test_of_speed_that_is_not_stated_is_not_listed():
    card = load_card("general")
    without = dict.fromkeys(("linear_VCC", "linear_IC", "linear_RL", "linear_rise", "linear_fall"))
    names = [line.name for line in speed_lines_of(replace(card, LED_capacitance=None, **without))]
    assert names == ["Turn-on time", "Storage time", "Turn-off time"]


def test_a_time_that_follows_from_others_is_told_where_it_does_not_fit():
    card = load_card("general")
    lines = speed_lines_of(replace(card, linear_fall=2 * card.linear_fall))
    assert [line.name for line in lines if not line.met] == ["Fall time"]


EVERY_FAMILY = {"VF", "VF drift per 20 K", "VF min", "VF max", "IF", "VR", "LED power", "VISO", "Creepage"}
TRANSISTOR = {"CTR typ", "CTR over its test value", "CTR over its value at 25 °C", "VCE(sat) typ", "IC at the knee",
              "ICEO typ", "ICEO over its value at 25 °C", "VCEO", "IC", "Detector power"}  # fmt: skip
THRESHOLD = {"Threshold IF, off", "Threshold IF, typ", "Threshold IF, on", "Output power"}
LISTED = {
    "phototransistor": TRANSISTOR,
    "photodarlington": TRANSISTOR,
    "logic-gate": THRESHOLD | {"VOL typ", "IOH max", "ICC typ", "VCC min", "IOL", "VO"},
    "gate-driver": THRESHOLD
    | {"VCC − VOH typ", "VOL typ", "ICC max", "UVLO on, typ", "UVLO off, max", "Peak current out"},
    "mosfet-relay": THRESHOLD | {"R(on) typ", "R(on) max", "Off leakage max", "VL", "IL"},
    "opto-triac": THRESHOLD | {"VTM typ", "VTM max", "Off leakage typ", "IH", "VDRM", "ITSM", "IT"},
}


def test_every_line_is_listed(card):
    names = {line.name for line in lines_of(card)}
    assert EVERY_FAMILY | LISTED[card.family] <= names
    ratings = {"VCEO", "IC", "Detector power", "IOL", "VO", "VL", "IL", "VDRM", "ITSM", "IT", "VISO", "VF min"}
    assert {line.name for line in lines_of(card) if line.modelled is None} >= ratings & names


def test_a_small_misfit_is_told_and_not_refused():
    """A forward voltage that bends as no LED's does, by 60 mV at one point."""
    card = load_card("general")
    points = tuple((IF, VF + 0.06 * (IF == 1e-3)) for IF, VF in card.VF_points)
    lines = lines_of(replace(card, VF_points=points))
    missed = [line for line in lines if not line.met]
    assert {line.name for line in missed} == {"VF"}
    assert all(20e-3 < abs(line.deviation) < 60e-3 for line in missed)


def test_what_is_modelled_is_measured_not_copied():
    """A stated dark current above what the shape of the model allows shows up as a reading of its own."""
    card = load_card("general")
    read = {line.name: line for line in lines_of(card)}
    assert read["CTR max"].modelled != read["CTR max"].stated
    assert read["ICEO typ"].modelled != read["ICEO typ"].stated


# ---------------------------------------------------------------- what no line states, yet must hold


def test_a_cascade_stays_above_a_base_emitter_voltage():
    model = calibrated("cascade")
    read = measure(model, 10e-3, Wiring(feed=100e-6)).VO[0]
    assert 0.5 < read < 0.75


def test_a_base_resistor_takes_its_share_of_the_light():
    model = calibrated("with-base")
    plain, loaded = (measure(model, 5e-3, Wiring(hold=5.0), RBE=R).IO[0] for R in (None, 100e3))
    VBE = 0.0257 * math.log(loaded / model.IS)
    gain = model.gain * (1 + 5.0 / model.card.VA) / (1 + model.card.CTR_VCE / model.card.VA)
    assert loaded == pytest.approx(plain - VBE / 100e3 * gain, rel=0.02)


def test_a_strong_base_resistor_leaves_nothing_but_the_photocurrent():
    model = calibrated("with-base")
    read = measure(model, 2e-3, Wiring(hold=5.0), RBE=10e3).IO[0]
    assert read == pytest.approx(2e-3 * 0.8 * 0.75 / model.gain, rel=0.1)


def test_a_pair_gives_light_either_way_and_a_single_led_does_not():
    both, one = calibrated("two-way"), calibrated("general")
    turned = Wiring(hold=5.0, turned=True)
    assert measure(both, 2e-3, turned).IO[0] == pytest.approx(measure(both, 2e-3, Wiring(hold=5.0)).IO[0])
    assert measure(both, 2e-3, turned).VF[0] == pytest.approx(-measure(both, 2e-3, Wiring(hold=5.0)).VF[0])
    assert measure(one, 0.0, turned).IO[0] < 1e-8


def test_a_driver_is_low_while_its_supply_is_too_low():
    model = calibrated("push-pull")
    outputs = [measure(model, 10e-3, Wiring(feed=0.0, VCC=VCC)).VO[0] for VCC in (11.0, 12.2, 12.4, 15.0)]
    assert outputs[:2] == pytest.approx([0.0, 0.0], abs=1e-3)
    assert outputs[2:] == pytest.approx([12.4, 15.0], abs=1e-3)


def test_a_driver_follows_its_threshold():
    model = calibrated("push-pull")
    outputs = measure(model, [0.4e-3, 2.4e-3, 2.6e-3, 6e-3], Wiring(feed=0.0, VCC=15.0)).VO
    assert outputs == pytest.approx([0.0, 0.0, 15.0, 15.0], abs=1e-3)


@pytest.mark.parametrize("volts", [0.01, 0.5, 60.0])
def test_an_ac_relay_and_a_triac_do_the_same_either_way(volts):
    for name in ("photo-relay", "triac-random"):
        model = calibrated(name)
        for IF in (0.0, 20e-3):
            there, back = (measure(model, IF, Wiring(hold=v)).IO[0] for v in (volts, -volts))
            assert there == pytest.approx(-back, rel=1e-6)
            assert there > 0


def test_a_dc_relay_conducts_backwards_through_its_diode():
    card = replace(load_card("photo-relay"), connection="dc")
    model = model_of(card)
    assert -0.8 < measure(model, 0.0, Wiring(feed=-10e-3)).VO[0] < -0.5
    assert measure(model, 0.0, Wiring(hold=60.0)).IO[0] < 1e-9


def test_a_triac_that_is_on_keeps_most_of_a_volt_at_little_current():
    model = calibrated("triac-random")
    volts = [measure(model, 20e-3, Wiring(feed=IT)).VO[0] for IT in (1e-3, 10e-3, 100e-3)]
    assert 0.8 < volts[0] < volts[1] < volts[2] == pytest.approx(1.7, abs=1e-3)


def test_a_cold_triac_needs_more_current():
    """The card states 140 % at -40 degC."""
    model = calibrated("triac-random")
    on = measure(model, [6.9e-3, 7.1e-3], Wiring(hold=3.0), TA=-40.0).IO
    assert on[0] < 1e-9
    assert on[1] > 10e-3


def test_the_weakest_specimen_is_the_first_of_the_ends(card):
    for nominal, weakest, strongest in model_of(card).spread().values():
        assert min(weakest, strongest) <= nominal <= max(weakest, strongest)
    spread = model_of(card).spread()
    if "threshold" in spread:
        assert spread["threshold"] == (card.IF_typ, card.IF_on, card.IF_off)
    else:
        assert spread["CTR"] == (card.CTR_typ, card.CTR_min, card.CTR_max)
