"""Drives of the LED against worked examples, each as a scenario that is sized or solved.

The coupler of an example is a card whose LED has the published forward voltage at the published current.
"""

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from engine import FAMILIES, Conditions, Coupling, Scenario, findings_of, load_card, operating_point, pack_card, size
from engine.inputs import ContactHigh, ContactLow, LogicOutput, SinkingSensor, TransistorDrive, TwoWireSensor
from engine.logic import judge
from engine.outputs import PullUp

VAN02 = "Vishay, Optocouplers in switching and logic circuits (VAN02), "
AN3001 = "Fairchild AN-3001, Optocoupler Input Drive Circuits, rev. 4.00, 2002, "
KUPHALDT = "T. R. Kuphaldt, Lessons in Electric Circuits, "
DECADE = 0.1  # [V], by which the forward voltage of an infrared LED rises in a decade of current
RIGID = {"tolerance": 0.0}


@cache
def led_of(VF, IF):
    """Return a coupler whose LED has one forward voltage at one current."""
    points = tuple((IF * share, VF + DECADE * math.log10(share)) for share in (0.1, 1.0, 2.5))
    card = replace(load_card("general"), VF_points=points, VF_IF=IF, VF_min=VF - 0.1, VF_max=VF + 0.1)
    return Coupling(card="own", own=pack_card(card))


def sized(side, VF, **conditions):
    """Return R1 for a drive whose LED has the given forward voltage at its drive current."""
    scenario = Scenario(input=side, coupling=led_of(VF, side.IF), conditions=Conditions(**(RIGID | conditions)))
    return size(scenario)["R1"]


def solved(side, VF, IF):
    """Return a drive on an LED of the given forward voltage at a current, solved."""
    return operating_point(Scenario(input=side, coupling=led_of(VF, IF), conditions=Conditions(**RIGID)))


def contact(VS, IF, **more):
    """Return a supply behind a contact that has no resistance to speak of."""
    return ContactHigh(VS=VS, VS_tolerance=0.0, IF=IF, R_contact=1e-3, **more)


# ---------------------------------------------------------------- a supply and a resistor


@pytest.mark.source(KUPHALDT + "vol. III Semiconductors, ch. 3, Light-emitting diodes: 1.6 V, 20 mA")
@pytest.mark.parametrize(("VS", "ohms", "watts"), [(6.0, 220.0, 88e-3), (24.0, 1120.0, 448e-3)])
def test_resistor_and_its_power_at_20_milliamperes(VS, ohms, watts):
    assert sized(contact(VS, 20e-3), 1.6).exact == pytest.approx(ohms, rel=1e-3)
    closed = solved(contact(VS, 20e-3, R1=ohms), 1.6, 20e-3).states["closed"]
    assert closed.powers["R1"].value == pytest.approx(watts, rel=1e-3)


@pytest.mark.source(KUPHALDT + "ch. 3: an eighth and a quarter of a watt are too small for 448 mW")
@pytest.mark.parametrize(("rating", "severity"), [(0.125, "stop"), (0.25, "stop"), (0.5, "pass")])
def test_power_ratings_for_24_volts(rating, severity):
    point = solved(contact(24.0, 20e-3, R1=1120.0, R1_rating=rating), 1.6, 20e-3)
    (finding,) = (finding for finding in findings_of(point) if finding.code == "power-r1")
    assert finding.severity == severity
    if severity == "pass":
        assert 1.0 - finding.margin == pytest.approx(0.90, abs=0.01)  # half a watt would run at 90 %


@pytest.mark.source(KUPHALDT + "ch. 3: 1 kohm gives slightly more than 20 mA; 22.4 and 14.9 mA derived from it")
def test_preferred_values_beside_1120_ohms():
    more, less = (
        solved(contact(24.0, 20e-3, R1=R1), 1.6, 20e-3).states["closed"].quantities["IF"].value for R1 in (1e3, 1.5e3)
    )
    assert more == pytest.approx(22.4e-3, abs=0.05e-3)
    assert less == pytest.approx(14.9e-3, abs=0.05e-3)


@pytest.mark.source("f-alpha.net, Experiment 3, current-limiting resistor: 9 V, 2.0 V, 15 mA: 466 ohm, next up 470 ohm")
def test_red_led_on_9_volts():
    R1 = sized(contact(9.0, 15e-3), 2.0, series="E12", rounding="up")
    assert R1.exact == pytest.approx(466.0, abs=1.0)
    assert R1.chosen == 470.0


@pytest.mark.source("Wikipedia, LED circuit, example: 1.8 V, 5 mA on 12 V and on 9 V")
@pytest.mark.parametrize(
    ("VS", "ohms", "rounding", "preferred"), [(12.0, 2040.0, "down", 2000.0), (9.0, 1440.0, "up", 1500.0)]
)
def test_led_of_5_milliamperes(VS, ohms, rounding, preferred):
    R1 = sized(contact(VS, 5e-3), 1.8, series="E24", rounding=rounding)
    assert R1.exact == pytest.approx(ohms, abs=0.5)
    assert R1.chosen == preferred


@pytest.mark.source(
    "International Rectifier AN-101, Choosing an Input Resistor for a Microelectronic Relay: 4.5 V at least, 1.6 V, "
    "5 mA: less than 580 ohm"
)
def test_relay_on_its_lowest_supply():
    assert sized(contact(4.5, 5e-3), 1.6).exact == pytest.approx(580.0, abs=0.5)
    # The published rule as the product asks for it: a supply of 5 V less 10 % still turns the relay on.
    side = replace(contact(5.0, 5e-3, R1=580.0), VS_min=4.5, VS_max=5.5)
    IF = solved(side, 1.5, 5e-3).states["closed"].quantities["IF"]
    # The card's largest VF is 0.1 V above its typical one, the published 1.6 V.
    assert IF.low == pytest.approx(5e-3, rel=1e-3)


@pytest.mark.source("Panasonic PhotoMOS blog: 5 kohm at 5 V, 1.25 V, 0.9 mA; 0.75 mA and 3.75 kohm derived from it")
def test_a_resistor_chosen_without_the_forward_voltage_fails_to_operate():
    IF = solved(contact(5.0, 1e-3, R1=5e3), 1.25, 0.75e-3).states["closed"].quantities["IF"].value
    assert IF == pytest.approx(0.75e-3, rel=1e-3)
    assert IF < 0.9e-3
    assert sized(contact(5.0, 1e-3), 1.25).exact == pytest.approx(3750.0, rel=1e-3)


@pytest.mark.source("itecnotes, selecting solid state relay (community answer: arithmetic only): 3.3 V, 1.5 V, 7.5 mA")
def test_relay_from_a_port():
    side = LogicOutput(VS=3.3, IF=7.5e-3, R_port=0.01)
    assert sized(side, 1.5).exact == pytest.approx(240.0, abs=0.5)


@pytest.mark.source(
    "Electronic Design, Basic min/max analysis sets resistor values for photocoupler circuit, 2019: rails less 10 %"
)
@pytest.mark.parametrize(("rail", "lowest", "printed"), [(5.0, 4.5, 0.05), (3.3, 3.0, 0.05)])
def test_lowest_rails(rail, lowest, printed):
    # The copy ends before its resistors; the rails are what it gives, 2.97 V printed as 3.0 V.
    assert ContactLow(VS=rail, VS_tolerance=0.1).VS_ends[0] == pytest.approx(lowest, abs=printed)


@pytest.mark.source("Electrical engineering questions and answers, TLP621-4 (community): 5 V, 1.2 V, 5 mA, 120 %")
def test_five_volts_into_a_port_of_3_volts():
    R1 = sized(contact(5.0, 5e-3), 1.2).exact
    assert R1 == pytest.approx(760.0, abs=0.5)
    scenario = Scenario(
        input=contact(5.0, 5e-3, R1=R1),
        coupling=replace(led_of(1.2, 5e-3), CTR=1.2, CTR_min=1.2, CTR_max=1.2),
        output=PullUp(VCC=5.0, RL=1.0),
        conditions=Conditions(**RIGID),
    )
    assert operating_point(scenario).states["closed"].quantities["IC"].value == pytest.approx(6e-3, rel=0.01)


@pytest.mark.source("Texas Instruments ISOM811x, SLLSFS9: R1 < (VIN - VF)/IFmin, RPULLUP > (V - VCEsat)/ICmax")
def test_design_procedure_of_an_emulated_coupler():
    # Formulas read; 1 mA, 1.2 V, 0.3 V, 5 mA are of its table 10-1; 3.8 kohm and 940 ohm follow from them at 5 V.
    assert sized(contact(5.0, 1e-3), 1.2).exact == pytest.approx(3800.0, rel=1e-3)
    needed = PullUp().needed_current(0.3, np.array([5.0]), np.array([940.0]), 298.15)[0]
    assert needed == pytest.approx(5e-3, rel=1e-6)


# ---------------------------------------------------------------- what drives it has a drop


@pytest.mark.source(VAN02 + "example 2 with its load current put right: 4.5 V over 5.1 kohm, not 5.5 V")
def test_drive_of_a_saturated_collector_resistor_stage():
    # Published: IL 1.08 mA, IC 2.68 mA, IF 10.72 mA, 317 ohm, after a slip (5.5 V). Put right: 0.882, 2.482, 9.93, 342.
    output = PullUp(family="ttl")
    IL = output.needed_current(0.5, np.array([5.0]), np.array([5.1e3]), 298.15)[0]
    assert IL == pytest.approx(0.882e-3, abs=0.0005e-3)
    IC = IL + output.lit_leakage()
    assert IC == pytest.approx(2.482e-3, abs=0.0005e-3)
    IF = IC / 0.25
    assert IF == pytest.approx(9.93e-3, abs=0.005e-3)
    assert sized(SinkingSensor(VS=5.0, V_on=0.4, IF=IF), 1.2).exact == pytest.approx(342.0, abs=0.5)
    # The steps that the slip does not touch, as published.
    assert sized(SinkingSensor(VS=5.0, V_on=0.4, IF=2.68e-3 / 0.25), 1.2).exact == pytest.approx(317.0, abs=0.5)


@pytest.mark.source(AN3001 + "Fig. 12: transistor in series, VSAT 0.4 V, VF 1.2 V, 20 mA from 5 V: 170 ohm")
def test_transistor_in_series():
    # An open-collector output stands for the published saturation voltage, which a small transistor stays below.
    assert sized(SinkingSensor(VS=5.0, V_on=0.4, IF=20e-3), 1.2).exact == pytest.approx(170.0, abs=0.5)
    side = TransistorDrive(VS=5.0, IF=20e-3, R1=170.0, R_base=1e3)
    closed = solved(side, 1.2, 20e-3).states["closed"]
    assert closed.drops["Q1"].value < 0.4
    assert closed.quantities["IF"].value == pytest.approx((5.0 - 1.2 - closed.drops["Q1"].value) / 170.0, rel=0.01)
    assert closed.quantities["IF"].value > 20e-3


@pytest.mark.source(AN3001 + "Fig. 14: transistor across the LED, VF 1.2 V, 20 mA from 5 V: 190 ohm")
def test_transistor_across_the_led():
    side = TransistorDrive(VS=5.0, VS_tolerance=0.0, IF=20e-3, lies="across", R_base=1e3)
    assert sized(side, 1.2).exact == pytest.approx(190.0, abs=0.5)
    states = solved(replace(side, R1=190.0), 1.2, 20e-3).states
    assert states["closed"].quantities["IF"].value == pytest.approx(20e-3, rel=1e-3)
    # The note asks of the transistor to stay below the LED's threshold; more current flows while it conducts.
    assert states["open"].quantities["VF"].value < 0.8
    assert states["open"].currents["Q1"].value > 20e-3


@pytest.mark.source(AN3001 + "Fig. 13: R1 = (VCC - VF - VBE - VCEsat)/IF with 0.6 V and 0.4 V; 140 ohm derived from it")
def test_follower_booster():
    # There is no pnp follower among the drives: a sensor with both of its drops, 1.0 V, stands in.
    assert sized(SinkingSensor(VS=5.0, V_on=1.0, IF=20e-3), 1.2).exact == pytest.approx(140.0, abs=0.5)


@pytest.mark.source("Fairchild 6N138/6N139 data sheet, 11/2/04, Fig. 1, R1 = (VDD1 - VDF - VOL1)/IF: CMOS")
@pytest.mark.parametrize(("VS", "ohms"), [(5.0, 2000.0), (10.0, 5100.0)])
def test_split_darlington_from_cmos(VS, ohms):
    # The table does not state the driver's VOL; 0.4 V, 1.3 V and 1.6 mA come within its 8 %.
    assert sized(SinkingSensor(VS=VS, V_on=0.4, IF=1.6e-3), 1.3).exact == pytest.approx(ohms, rel=0.08)


@pytest.mark.source("Texas Instruments SLVA689, I2C Bus Pullup Resistor Calculation: 3.3 V, 0.4 V, 3 mA: 966.667 ohm")
def test_smallest_pull_up_of_an_open_collector():
    # The largest, 1.77 kohm, is one of rise time and not of direct current.
    needed = PullUp(VCC=3.3).needed_current(0.4, np.array([3.3]), np.array([966.667]), 298.15)[0]
    assert needed == pytest.approx(3e-3, rel=0.0005)


# ---------------------------------------------------------------- threshold and leakage


@pytest.mark.source(AN3001 + "Fig. 7: IFT = VF/R2, R1 = (VA - VF)/IFT (formula only)")
def test_threshold_set_by_a_resistor_across_the_led():
    VF, VA, IFT = 1.0, 5.0, 5e-3
    side = ContactHigh(VS=VA, R_contact=1e-3, R1=(VA - VF) / IFT, R_bypass=VF / IFT)
    below, at, above = (
        solved(replace(side, VS=VS), 1.2, 10e-3).states["closed"].quantities["IF"].value
        for VS in (0.8 * VA, VA, 2 * VA)
    )
    assert below < 0.02 * IFT
    assert at < 0.1 * IFT
    # Beyond the threshold the LED takes what R1 gives, less the little more that its own voltage drives past it.
    assert above == pytest.approx((2 * VA - VA) / side.R1, rel=0.25)


@pytest.mark.source(AN3001 + "Fig. 7: a resistor across the LED that leaves the driver's leakage less than about 0.8 V")
@pytest.mark.parametrize(("volts", "severity"), [(0.78, "pass"), (0.95, "caution")])
def test_leakage_that_a_bypass_leads_past_the_led(volts, severity):
    side = TwoWireSensor(VS=24.0, I_off=1.5e-3, R_bypass=volts / 1.5e-3, IF=8e-3)
    point = operating_point(Scenario(input=side, output=PullUp(RL=47e3), conditions=Conditions(**RIGID)))
    (finding,) = (finding for finding in findings_of(point) if finding.code == "residual-light")
    assert finding.limit == pytest.approx(0.8)
    assert finding.value <= volts + 1e-6
    assert finding.severity == severity


# ---------------------------------------------------------------- noise margins


@pytest.mark.source(KUPHALDT + "vol. IV Digital, ch. 3, noise margins of TTL and of CMOS at 5 V")
@pytest.mark.parametrize(
    ("family", "VOL", "VOH", "margins"), [("ttl", 0.5, 2.7, (0.3, 0.7)), ("cmos", 0.05, 4.95, (1.45, 1.45))]
)
def test_noise_margins(family, VOL, VOH, margins):
    limits = np.array([FAMILIES[family].limits(5.0)] * 2).T
    low, high = (judge(np.array([volts]), *limits[:, :1]) for volts in (VOL, VOH))
    assert (low.level, high.level) == ("low", "high")
    (value, VIL), (output, VIH) = low.nearest_above, high.nearest_below
    assert (VIL - value, output - VIH) == pytest.approx(margins, abs=1e-9)


@pytest.mark.source(KUPHALDT + "vol. IV Digital, ch. 3: a TTL output drives CMOS low, but not surely high")
def test_ttl_into_cmos():
    read = {volts: judge(np.array([volts]), *np.array([FAMILIES["cmos"].limits(5.0)]).T) for volts in (0.5, 2.7)}
    assert (read[0.5].level, read[0.5].sure) == ("low", True)
    assert not read[2.7].sure
    assert FAMILIES["cmos"].limits(10.0)[1] == pytest.approx(7.0)
