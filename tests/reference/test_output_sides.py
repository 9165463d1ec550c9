"""Published figures of controller inputs, gate drivers, triac couplers, relays, and of levels between families."""

import math

import numpy as np
import pytest

from engine import FAMILIES, operating_point, scenario_from_query
from engine.coupler import Derating
from engine.logic import judge
from engine.outputs.controller import TYPES
from engine.outputs.gate import charge_power, driver_power, gate_resistor
from engine.outputs.half_cycle import on_loss, surge_resistor, trigger_voltage
from engine.outputs.relay import Decay, Relay

KUPHALDT = "T. R. Kuphaldt, Lessons in Electric Circuits, "
DRIVER = "Broadcom, HCPL-3120 data sheet, "
ABB = "ABB, Automation Builder 2.2, Technical data of the digital inputs"


def of(query, state="closed"):
    return operating_point(scenario_from_query(query)).states[state]


def level(name, V, current):
    """Return what an input of a type is at a voltage and a current, by the regions of the standard alone."""
    limits = TYPES[name]
    if V <= limits.V_off or current < limits.I_off:
        return "off"
    return "on" if V >= limits.V_on and current >= limits.I_on else "undefined"


# ---------------------------------------------------------------- IEC 61131-2


@pytest.mark.source(ABB + ": type 1, off up to 5 V, on from 15 V to 30 V, more than 2 mA at 15 V")
def test_type_1():
    limits = TYPES["1"]
    assert (limits.V_off, limits.V_on, limits.V_most, limits.I_on) == (5.0, 15.0, 30.0, 2e-3)
    load = scenario_from_query("out=controller&itype=1").output
    at = load.characteristic(np.array([15.0, 24.0, 30.0]))
    assert at[0] > 2e-3
    assert at[1] == pytest.approx(5e-3, rel=0.1)
    assert at[2] < 8e-3


@pytest.mark.source(
    "Beckhoff, EP8601-0022, Digital inputs: type 3, off up to 5 V, on from 11 V to 30 V, typically 3 mA"
)
def test_type_3():
    limits = TYPES["3"]
    assert (limits.V_off, limits.V_on, limits.V_most) == (5.0, 11.0, 30.0)
    load = scenario_from_query("out=controller&itype=3").output
    assert load.characteristic(np.array([24.0]))[0] == pytest.approx(3e-3, rel=0.17)


@pytest.mark.source(
    "Texas Instruments, SLVAG20, Introduction: as near 2 mA as possible, thresholds between 5 V and 11 V"
)
def test_one_input_within_types_1_and_3():
    load = scenario_from_query("out=controller&itype=3").output
    low, high = load.limits(np.ones(1))
    assert 5.0 <= low[0] < high[0] <= 11.0
    assert 2e-3 <= load.characteristic(np.array([11.0]))[0] < 3e-3


@pytest.mark.source(
    "Dutch course text on controller inputs: off below 5 V and 1.5 mA, on from 15 V with more than 2 mA"
)
def test_corners_of_voltage_and_current():
    assert level("3", 5.0, 1.4e-3) == "off"
    assert level("1", 15.0, 2.1e-3) == "on"
    assert level("1", 15.0, 1.9e-3) == "undefined"


@pytest.mark.source("Beckhoff, EP8601-0022, Digital inputs: nominally 24 V, -15 % to +20 %")
def test_the_supply_of_24_volts():
    nodes = of("out=controller&vccmin=20.4V&vccmax=28.8V").nodes
    assert (nodes["VCC"].low, nodes["VCC"].high) == pytest.approx((24 * 0.85, 24 * 1.20))
    assert of("out=controller&vccmin=20.4V&vccmax=28.8V").verdict.sure


@pytest.mark.source(
    ABB + ": an input of 3.5 kohm takes 7 mA at 24 V, 1.4 mA at 5 V, 4.3 mA at 15 V, under 9 mA at 30 V"
)
@pytest.mark.parametrize(
    ("V", "least", "most"), [(24.0, 6.5, 7.5), (5.0, 1.35, 1.45), (15.0, 4.25, 4.35), (30.0, 0, 9)]
)
def test_a_resistive_input(V, least, most):
    """As a receiver with that resistance behind a relay coupler of next to none."""
    state = of(f"out=pull-down&coupler=photo-relay&if=10mA&vcc={V}V&rl=100M&rin=3k5&vil=5V&vih=13V&vcctol=0%25")
    assert least <= state.currents["RIN"].value * 1e3 <= most


# ---------------------------------------------------------------- gate drivers


@pytest.mark.source(DRIVER + "page 19: VCC 15 V, VEE -5 V, VOL 2 V, 2.5 A ask for 7.2 ohm")
def test_gate_resistor_with_two_rails():
    assert gate_resistor(15.0, -5.0, 2.0, 2.5) == pytest.approx(7.2, abs=0.05)


@pytest.mark.source("Avago, ACPL-H342 data sheet, page 16: 18 V, VOL 2.3 V, 2.5 A ask for 6.28 ohm; 45 mW and 100 mW")
def test_gate_driver_with_one_rail():
    assert gate_resistor(18.0, 0.0, 2.3, 2.5) == pytest.approx(6.28, abs=0.005)
    assert driver_power(2.5e-3, 18.0, 0.0, 0.0) == pytest.approx(45e-3, abs=0.5e-3)
    assert driver_power(2.5e-3, 18.0, 4e-6, 25e3) == pytest.approx(145e-3, abs=0.5e-3)


@pytest.mark.source(DRIVER + "page 19: 85 mW + 104 mW = 189 mW at 4.25 mA, 20 V, 5.2 uJ, 20 kHz")
def test_power_of_a_gate_driver():
    assert driver_power(4.25e-3, 20.0, 0.0, 20e3) == pytest.approx(85e-3, abs=0.5e-3)
    assert driver_power(4.25e-3, 20.0, 5.2e-6, 20e3) == pytest.approx(189e-3, abs=0.5e-3)


@pytest.mark.source(DRIVER + "page 19 and note 3: 250 mW fall by 4.8 mW/K above 70 degC, to 178 mW at 85 degC")
def test_derated_limit_of_a_gate_driver():
    assert Derating(0.25, 70.0, 70.0 + 250 / 4.8).at(85.0) == pytest.approx(178e-3, abs=0.5e-3)


@pytest.mark.source("Avago, HCPL-3150 data sheet, page 16: 154 mW - 85 mW at 20 kHz leave 3.45 uJ")
def test_energy_that_is_left_for_switching():
    assert driver_power(4.25e-3, 20.0, 3.45e-6, 20e3) == pytest.approx(154e-3, abs=0.5e-3)


@pytest.mark.no_source("common practice: a charge moved through a voltage once in every cycle; 500 nC, 20 V, 20 kHz")
def test_gate_charge_identity():
    assert charge_power(500e-9, 20.0, 20e3) == pytest.approx(200e-3)
    whole = of("out=gate&if=10mA&vcc=15V&vee=-5V&qg=500nC&fsw=20kHz&rl=1R&vcctol=0%25").quantities["P_switch"]
    assert whole.value < 200e-3


# ---------------------------------------------------------------- triac couplers


@pytest.mark.source("Fairchild, AN-3003: R1 = 180 V / 1.2 A = 150 ohm; VinT = R1 IGT + VGT + VTM = 20 V")
def test_triac_coupler_on_115_volts():
    assert surge_resistor(180.0 / math.sqrt(2.0), 1.2) == pytest.approx(150.0, abs=0.5)
    assert trigger_voltage(150.0, 0.1, 2.0, 3.0) == pytest.approx(20.0, abs=0.5)
    half = of("out=ac-triac&if=20mA&vcc=127V&rl=150R&rload=1R&igt=100mA&vgt=2V&rgk=10M&tol=0%25").quantities
    assert half["V_trigger"].value == pytest.approx(20.0, abs=0.7)


@pytest.mark.source("Fairchild, MOC3052-M application guide, 2004: R = Vp / ITSM with ITSM 1 A")
def test_triac_coupler_on_230_volts():
    assert surge_resistor(230.0, 1.0) == pytest.approx(325.0, abs=0.5)
    exact = operating_point(scenario_from_query("out=ac-triac&if=20mA&il=1A&vcctol=0%25")).sized["RL"].exact
    assert exact == pytest.approx(325.0, abs=2.0)


@pytest.mark.source("Fairchild, MOC3052-M data sheet, 2004: 10 mA x 1.4 = 14 mA at -40 degC")
def test_a_trigger_current_grows_in_the_cold():
    cold, warm = (of(f"out=ac-load&if=20mA&ta={TA}C").quantities["IF_needed"].high for TA in (-40, 25))
    assert cold / warm == pytest.approx(1.4, abs=0.05)
    assert warm == pytest.approx(10e-3)


@pytest.mark.source("Texas Instruments, SOES025A, MOC3020-MOC3023: 100 mA on-state, VTM at most 3 V, holding 100 uA")
def test_classes_of_triac_couplers_lie_near_the_trade():
    state = of("out=ac-load&if=20mA&rl=3k3")
    assert state.drops["U1"].high < 3.0
    assert operating_point(scenario_from_query("out=ac-load&if=20mA")).scenario.coupling.data.IH < 1e-3


@pytest.mark.source("Omron, G3MB data sheet: 2 A at an on-drop of 1.6 V; 1.5 mA leak at 200 V, so 133 kohm")
def test_an_ac_relay():
    assert on_loss(1.6, 2.0) == pytest.approx(3.2, abs=0.05)
    C = 1.5e-3 / (2 * math.pi * 50 * 200.0)
    state = of(f"out=ac-triac&if=20mA&vcc=200V&csn={C:.6e}F&rsn=39R&rload=1R&vcctol=0%25", "open")
    assert 200.0 / state.quantities["ILOAD"].value == pytest.approx(133e3, rel=0.01)


# ---------------------------------------------------------------- relays


@pytest.mark.source("TE Connectivity, OEG OSA series: coils of 540 mW, 10 % either way; operate 75 %, release 5 %")
@pytest.mark.parametrize(("volts", "ohms"), [(5, 47), (6, 68), (9, 155), (12, 270), (24, 1100), (48, 4400)])
def test_coils(volts, ohms):
    query = f"out=relay&vcc={volts}V&vk={volts}V&rk={ohms}&kvmax=100V&ta=20C&kq=mosfet&kron=1m&kvth=1V&rl=1k&r3=10M"
    power = of(query).powers["K1"]
    assert power.value == pytest.approx(0.54, rel=0.1)
    load = Relay(V_nominal=float(volts))
    release, operate = load.limits(20.0)
    assert (release, operate) == pytest.approx((0.05 * volts, 0.75 * volts))


@pytest.mark.source("electro-tech-online, thread 167257: 100 mA of a 120 ohm coil through 680 ohm, measured 65 V peak")
def test_a_resistor_across_a_coil():
    peak = of("out=relay&rk=120&clamp=resistor&rclamp=680R&vcctol=0%25&ta=20C&rl=2k2", "open").quantities["V_peak"]
    assert peak.value - 12.0 == pytest.approx(65.0, rel=0.1)


@pytest.mark.source("Finder, 99.01: release takes about three times as long with a diode; TE: 0.7 V across it")
def test_a_diode_across_a_coil():
    diode, none = (of(f"out=relay&clamp={clamp}&vcctol=0%25", "open").quantities for clamp in ("diode", "none"))
    assert diode["V_peak"].value - 12.0 == pytest.approx(0.75, abs=0.1)
    assert diode["t_release"].value > 3.0 * none["t_release"].value


@pytest.mark.source("TE Connectivity, Relay coil suppression with dc relays: 1000 V to 1500 V without a clamp")
def test_no_clamp_across_a_coil():
    """An order of magnitude: it is bound by a capacitance that nobody states."""
    peak = of("out=relay&clamp=none", "open").quantities["V_peak"].value
    assert 500.0 < peak < 3000.0


@pytest.mark.source(KUPHALDT + "DC, chapter 16: 1 ohm, 1 H from 15 V: 14.547 A and 0.453 V after 3.5 s")
def test_a_coil_with_resistance_by_its_time_constant():
    """The rise from nothing to 15 A, seen as a fall of what is missing to it."""
    decay = Decay(1.0, np.array([1.0]), np.array([15.0]))
    assert decay.into_resistance(0.0, np.array([15.0 - 14.547]))[0] == pytest.approx(3.5, rel=1e-3)


# ---------------------------------------------------------------- levels between families


@pytest.mark.source(KUPHALDT + "Digital, chapter 3: TTL margins 0.3 V and 0.7 V; 5 V CMOS margins 1.45 V")
@pytest.mark.parametrize(
    ("family", "VOL", "VOH", "low", "high"), [("ttl", 0.5, 2.7, 0.3, 0.7), ("cmos4000", 0.05, 4.95, 1.45, 1.45)]
)
def test_noise_margins(family, VOL, VOH, low, high):
    VIL, VIH = FAMILIES[family].limits(5.0)
    assert (VIL - VOL, VOH - VIH) == pytest.approx((low, high))


@pytest.mark.source(
    KUPHALDT + "Digital, chapter 3: 2.7 V is no sure high for 5 V CMOS, 0.5 V is a sure low; 10 V asks for 7 V"
)
def test_ttl_into_cmos():
    limits = (np.array([limit]) for limit in FAMILIES["cmos4000"].limits(5.0))
    VIL, VIH = limits
    assert judge(np.array([2.7]), VIL, VIH).level == "undefined"
    assert judge(np.array([0.5]), VIL, VIH).level == "low"
    assert FAMILIES["cmos4000"].limits(10.0)[1] == 7.0
