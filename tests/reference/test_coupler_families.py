"""Couplers made from published data-sheet lines, read on published test circuits."""

from dataclasses import replace

import numpy as np
import pytest

from engine import operating_point, scenario_from_query
from engine.coupler import load_card, model_of
from engine.coupler.bench import Wiring, measure

STEPS_FOR_DISPLAY = 0.1e-3  # [A], the digits that the published drive currents are printed with


def transistor(**lines):
    """Return the model of a phototransistor with some lines of a published part, the rest of a class of ours."""
    return model_of(replace(load_card("general"), **lines))


@pytest.mark.source(
    "Toshiba e-learning, How to use a photocoupler, chap5-13 and chap5-15: sample with CTR 200 %, rank GR 100-300 %"
)
@pytest.mark.parametrize(("IF", "IC"), [(5e-3, 10e-3), (10e-3, 20e-3)])
def test_collector_current_of_a_sample_with_a_ratio_of_200_percent(IF, IC):
    """The shape of the curve between the two published points is flat, as they say."""
    flat = ((1e-3, 0.8), (5e-3, 1.0), (10e-3, 1.0), (20e-3, 0.9))
    model = transistor(CTR_min=1.0, CTR_typ=2.0, CTR_max=3.0, CTR_shape=flat, knee=(5e-3, 1.0, 9e-3))
    assert measure(model, IF, Wiring(hold=5.0)).IO[0] == pytest.approx(IC, abs=0.5e-3)


@pytest.mark.source("Toshiba e-learning, How to use a photocoupler, chap5-15: rank GR gives 10 to 30 mA at 10 mA")
@pytest.mark.parametrize(("CTR", "IC"), [(1.0, 10e-3), (3.0, 30e-3)])
def test_collector_current_at_the_ends_of_a_rank(CTR, IC):
    flat = ((1e-3, 0.8), (5e-3, 1.0), (10e-3, 1.0), (20e-3, 0.9))
    model = transistor(CTR_min=1.0, CTR_typ=2.0, CTR_max=3.0, CTR_shape=flat, knee=(5e-3, 1.0, 9e-3))
    assert measure(model, 10e-3, Wiring(hold=5.0), CTR=CTR).IO[0] == pytest.approx(IC, rel=0.05)


# ---------------------------------------------------------------- logic gates


def gate():
    """Return the model of the published high-speed gate: 5 mA threshold, VOL 0.35 to 0.6 V at 13 mA, 100 uA off."""
    card = replace(
        load_card("fast-gate"),
        IF_on=5e-3, VOL=0.35, VOL_max=0.6, VOL_IOL=13e-3, IOH_max=100e-6, IOH_VO=5.5, supply=(4.5, 5.5),
    )  # fmt: skip
    return model_of(card)


@pytest.mark.source("Fairchild 6N137 data sheet, rev. 1.0.8, Recommended operating conditions: 6.3 mA, 20 % guard band")
def test_drive_with_a_guard_band_for_lost_light():
    """A part that has lost a fifth of its light needs 5 mA / 0.8; in steps of 0.1 mA the first that holds is 6.3 mA."""
    drives = np.arange(50, 80) * STEPS_FOR_DISPLAY
    VO = measure(gate(), drives, Wiring(feed=13e-3, VCC=5.0), threshold=5e-3 / 0.8).VO
    assert drives[(VO < 0.6).argmax()] == pytest.approx(6.3e-3)


@pytest.mark.source(
    "Fairchild 6N137 data sheet, rev. 1.0.8: VOL 0.35 V typical, 0.6 V max at 13 mA; IOH 100 uA at 5.5 V"
)
def test_levels_of_a_gate():
    VOL = [measure(gate(), 5.1e-3, Wiring(feed=13e-3, VCC=5.5), VOL=V).VO[0] for V in (0.35, 0.6)]
    assert VOL == pytest.approx([0.35, 0.6], abs=5e-3)
    assert measure(gate(), 0.0, Wiring(hold=5.5, VCC=5.5), IOH=100e-6).IO[0] == pytest.approx(100e-6, rel=0.01)


@pytest.mark.source("Fairchild 6N137 data sheet: 0.6 V at 13 mA, supply 5.5 V at most; (5.5 - 0.6) V / 13 mA = 377 ohm")
def test_least_load_resistor_of_a_gate():
    """The weakest part sinks the published 13 mA through the resistor that follows from its published lines."""
    query = "coupler=fast-gate&out=pull-up&vcc=5.5V&vcctol=0%25&tol=0%25&rl=377R&iin=0A&vs=24V&if=10mA&vil=0.8V&vih=2V"
    closed = operating_point(scenario_from_query(query)).states["closed"]
    assert closed.quantities["VOUT"].high == pytest.approx(0.6, abs=5e-3)
    assert closed.currents["RL"].low == pytest.approx(13e-3, abs=0.5e-3)


# ---------------------------------------------------------------- opto-triacs

GRADES = (30e-3, 15e-3, 10e-3, 5e-3)


def triac(IFT):
    """Return the model of a published grade: trigger current at 3 V, VTM 1.4 to 3 V at 100 mA, 100 uA holding."""
    card = replace(
        load_card("triac-random"),
        IF_off=0.1 * IFT, IF_typ=0.5 * IFT, IF_on=IFT, VTM=1.4, VTM_max=3.0, VTM_IT=100e-3, IH=100e-6,
        threshold_temperature=(), speed_IF=None, t_on=None,
    )  # fmt: skip
    return model_of(card)


@pytest.mark.source("Texas Instruments MOC3020 to MOC3023, SOES025A, 1998: IFT 30, 15, 10, 5 mA at most, at 3 V")
@pytest.mark.parametrize("IFT", GRADES)
def test_the_weakest_part_of_a_grade_triggers_at_its_current(IFT):
    model = triac(IFT)
    on = measure(model, np.array([0.98, 1.0]) * IFT, Wiring(feed=1e-3), threshold=IFT).VO
    assert on[0] > 100.0
    assert on[1] < 3.0


@pytest.mark.source("Texas Instruments MOC3020 to MOC3023, SOES025A, 1998: VTM 1.4 V typical, 3 V at most at 100 mA")
@pytest.mark.parametrize("VTM", [1.4, 3.0])
def test_on_state_voltage_either_way(VTM):
    model = triac(10e-3)
    for feed in (0.1, -0.1):
        assert abs(measure(model, 10e-3, Wiring(feed=feed), VTM=VTM).VO[0]) == pytest.approx(VTM, abs=0.05)


@pytest.mark.source(
    "Fairchild AN-3003, Applications of random phase triac drivers, as quoted: R1 IGT + VGT + VTM = 20 V with 150 ohm, "
    "0.1 A, 2 V"
)
def test_line_voltage_at_which_a_triac_is_triggered():
    """With the largest on-state voltage of the data sheet, which the published sum implies."""
    VTM = measure(triac(10e-3), 10e-3, Wiring(feed=0.1), VTM=3.0).VO[0]
    assert 150.0 * 0.1 + 2.0 + VTM == pytest.approx(20.0, abs=0.5)


# ---------------------------------------------------------------- relays


def relay():
    """Return the model of the published relay in its ac connection."""
    card = replace(
        load_card("photo-relay"),
        IF_off=0.4e-3, IF_typ=1.5e-3, IF_on=5e-3, R_on=0.4, R_on_max=0.5, R_on_IF=10e-3, R_on_IL=1.0,
        leakage_VL=60.0, VL_rating=60.0, threshold_temperature=(),
    )  # fmt: skip
    return model_of(card)


@pytest.mark.source("International Rectifier PVG612 data sheet, 2015: on resistance 500 mohm at most, ac connection")
def test_drop_and_power_of_a_relay_at_one_ampere():
    """The weakest part at its least control current: 1 A drops 0.5 V and takes 0.5 W."""
    read = measure(relay(), 5e-3, Wiring(feed=1.0), R_on=0.5, threshold=5e-3)
    assert read.VO[0] == pytest.approx(0.5, abs=0.05)
    assert read.VO[0] * read.IO[0] == pytest.approx(0.5, abs=0.05)


@pytest.mark.source("International Rectifier PVG612 data sheet, 2015: control 5 mA at least, off at 0.4 mA at most")
def test_control_currents_of_a_relay():
    """On at 5 mA even at its weakest, off just below 0.4 mA even at its strongest."""
    weakest = measure(relay(), [4.9e-3, 5e-3], Wiring(feed=1e-3), threshold=5e-3).VO
    strongest = measure(relay(), [0.39e-3, 0.41e-3], Wiring(feed=1e-3), threshold=0.4e-3).VO
    for off, on in (weakest, strongest):
        assert off > 60.0
        assert on == pytest.approx(0.4e-3, rel=0.01)
