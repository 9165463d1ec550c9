"""Traps against published examples: the mistake that a text warns of is called out, with its own figures.

The coupler of an example is a card whose LED has the published forward voltage at the published current.
"""

import math
from dataclasses import replace

import pytest

from engine import Conditions, Coupling, Scenario, findings_of, load_card, operating_point, pack_card, traps_of
from engine.inputs import AcLine, ContactHigh, TwoWireSensor
from engine.outputs import DcLoad, PullUp

KUPHALDT = "T. R. Kuphaldt, Lessons in Electric Circuits, vol. III Semiconductors, ch. 3, Light-emitting diodes: "
DECADE = 0.1  # [V], by which the forward voltage of an infrared LED rises in a decade of current
RIGID = Conditions(tolerance=0.0)


def coupler(name, VF, IF, **lines):
    """Return a coupler whose LED has one forward voltage at one current, and nothing above it."""
    points = tuple((IF * share, VF + DECADE * math.log10(share)) for share in (0.1, 1.0, 2.5))
    card = replace(load_card(name), VF_points=points, VF_IF=IF, VF_min=VF - 0.1, VF_max=VF, **lines)
    return Coupling(card="own", own=pack_card(card))


def contact(VS, IF, R1):
    """Return a supply behind a contact that has no resistance to speak of."""
    return ContactHigh(VS=VS, VS_tolerance=0.0, IF=IF, R1=R1, R1_rating=5.0, R_contact=1e-3)


def looked_at(scenario):
    """Return the traps of a stage by code, and its findings by code."""
    point = operating_point(scenario)
    findings = findings_of(point)
    return {t.code: t for t in traps_of(point, findings)}, {f.code: f for f in findings}


# ---------------------------------------------------------------- the drop of the LED


@pytest.mark.source(
    "Panasonic, PhotoMOS blog, input limiting resistor and LED voltage drop: 5 V, 5 kohm for 1 mA, drop 1.25 V, "
    "operate current 0.9 mA; 0.75 mA and 3.75 kohm follow from these"
)
def test_relay_whose_resistor_leaves_out_the_drop_does_not_operate():
    relay = coupler("photo-relay", 1.25, 0.75e-3, IF_typ=0.8e-3, IF_on=0.9e-3)
    side = contact(5.0, 1e-3, 5e3)
    traps, findings = looked_at(Scenario(input=side, coupling=relay, output=DcLoad(), conditions=RIGID))
    trap = traps["led-drop-ignored"]
    assert trap.decides[0] == pytest.approx(0.75e-3, abs=0.005e-3)
    assert trap.decides[1] == 1e-3
    assert findings["turn-on"].severity == "stop"
    assert trap.mend.scenario.input.R1 == pytest.approx(3.75e3, rel=0.05)  # the next preferred value
    traps, findings = looked_at(trap.mend.scenario)
    assert traps == {}
    assert findings["turn-on"].severity == "pass"


@pytest.mark.source(KUPHALDT + "1.6 V, 20 mA, 6 V: 220 ohm")
def test_resistor_of_a_textbook_with_the_drop_ignored():
    trap = looked_at(
        Scenario(input=contact(6.0, 20e-3, 300.0), coupling=coupler("general", 1.6, 20e-3), conditions=RIGID)
    )[0]["led-drop-ignored"]
    assert trap.mend.scenario.input.R1 == 220.0


@pytest.mark.source(KUPHALDT + "1.6 V, 20 mA, 24 V: 1.12 kohm")
def test_at_24_volts_the_drop_of_one_led_is_not_called_out():
    side = contact(24.0, 20e-3, 1200.0)
    traps, _ = looked_at(Scenario(input=side, coupling=coupler("general", 1.6, 20e-3), conditions=RIGID))
    assert "led-drop-ignored" not in traps


# ---------------------------------------------------------------- decades


@pytest.mark.parametrize(
    ("VS", "VF", "IF", "ohms", "typed"),
    [
        pytest.param(
            6.0, 1.6, 20e-3, 220.0, 220e3, marks=pytest.mark.source(KUPHALDT + "1.6 V, 20 mA, 6 V: 220 ohm")
        ),
        pytest.param(
            24.0, 1.6, 20e-3, 1120.0, 11.0, marks=pytest.mark.source(KUPHALDT + "1.6 V, 20 mA, 24 V: 1.12 kohm")
        ),
        pytest.param(
            12.0, 1.8, 5e-3, 2040.0, 200e3,
            marks=pytest.mark.source("Wikipedia, LED circuit, example: 12 V, 1.8 V, 5 mA: 2040 ohm"),
        ),
    ],
)  # fmt: skip
def test_a_slip_names_the_published_resistor(VS, VF, IF, ohms, typed):
    side = contact(VS, IF, typed)
    trap = looked_at(Scenario(input=side, coupling=coupler("general", VF, IF), conditions=RIGID))[0]["decade"]
    assert trap.decides[0] == typed
    assert trap.decides[1] == pytest.approx(ohms, rel=1e-3)


# ---------------------------------------------------------------- a limit between two preferred values


@pytest.mark.source(
    "International Rectifier AN-101, Choosing an Input Resistor for a Microelectronic Relay: 4.5 V at least, 1.6 V, "
    "5 mA: less than 580 ohm"
)
def test_the_value_above_a_largest_resistor_is_the_wrong_one():
    relay = coupler("photo-relay", 1.6, 5e-3, IF_on=5e-3)
    scenario = Scenario(input=contact(4.5, 5e-3, 620.0), coupling=relay, output=DcLoad(), conditions=RIGID)
    trap = looked_at(scenario)[0]["rounded-wrong"]
    assert trap.mend.scenario.input.R1 == 560.0
    assert trap.mend.scenario.input.R1 < 580.0 < scenario.input.R1
    assert trap.decides[0] == pytest.approx((4.5 - 1.6) / 620.0 / 5e-3, rel=2e-3)


# ---------------------------------------------------------------- what flows, what heats, what leaks


@pytest.mark.source("electronics.stackexchange.com, TLP621-4 from 5 V to a 3.3 V port: 5 mA, CTR 120 %: IC 6 mA")
def test_ctr_times_if_is_not_what_a_pull_up_takes():
    side = contact(5.0, 5e-3, 760.0)
    coupling = replace(coupler("general", 1.2, 5e-3), CTR=1.2)
    load = PullUp(VCC=3.3, VCC_tolerance=0.0, IL=6e-3)
    trap = looked_at(Scenario(input=side, coupling=coupling, output=load, conditions=RIGID))[0]["ctr-times-if"]
    assert trap.decides[1] == pytest.approx(6e-3, rel=0.01)
    assert trap.decides[0] == pytest.approx(3.3 / 4.7e3, rel=0.05)


@pytest.mark.source(
    "electronics.stackexchange.com/a/201242: two resistors of 0.25 W bear 250 V rms at 125 kohm together"
)
def test_the_mean_power_of_a_line_resistor_is_half_of_its_peak():
    side = AcLine(V_line=250.0, VS_tolerance=0.0, R1=125e3, form="diode", R1_rating=1.0, split=1.0)
    trap = looked_at(Scenario(input=side, conditions=RIGID))[0]["peak-power"]
    mean, peak, _ = trap.decides
    assert mean == pytest.approx(2 * 0.25, rel=0.02)
    assert peak == pytest.approx(2.0 * mean, rel=0.02)


@pytest.mark.no_source("common practice: a coupler's LED is dark below 0.8 V")
@pytest.mark.parametrize(("VS", "I_off"), [(24.0, 1.5e-3), (28.0, 0.8e-3), (48.0, 0.5e-3)])
def test_the_supply_over_the_leakage_leaves_an_led_lit(VS, I_off):
    side = TwoWireSensor(VS=VS, I_off=I_off, R_bypass=VS / I_off)
    trap = looked_at(Scenario(input=side))[0]["bleeder-rule"]
    assert trap.decides[0] > 0.8
    offered = trap.mend.scenario.input
    assert offered.bypass_at == "led"
    assert offered.R_bypass < 0.8 / I_off < side.R_bypass
