"""What R1 and RL may be, against limits that an application note and a guide work out, through whole stages.

A limit is looked for to 0.025 %, which comes on top of the printed digits.
"""

from dataclasses import replace

import pytest

from engine import Conditions, Coupling, Scenario, operating_point, pack_card, size
from engine.choose import size_for
from engine.coupler import load_card
from engine.inputs import ContactHigh, LogicOutput
from engine.outputs import PullDown, PullUp
from engine.preferred import preferred
from engine.resized import Resized
from engine.windows import PRECISION, windows_at, windows_of
from engine.wishes import Wishes, asked_of

VAN02 = "Vishay Application Note 02, doc. 83741 rev. 1.4, "
EXACT = Conditions(TA=25.0, tolerance=0.0)


def own(card):
    """Return the choice of a card that is not shipped."""
    return Coupling(card="own", own=pack_card(card))


def half(**lines):
    """Return a coupler of 50 % at every current and temperature, with the LED of the note: 1.2 V at 10 mA."""
    flat, warm = tuple((IF, 1.0) for IF in (1e-3, 16e-3, 20e-3)), ((25.0, 1.0), (60.0, 1.0))
    usual = {
        "CTR_min": 0.5, "CTR_typ": 0.5, "CTR_max": 0.5, "CTR_IF": 16e-3, "CTR_shape": flat,
        "CTR_temperature": ((8e-3, warm), (16e-3, warm)),
        "VF_points": ((1e-3, 1.1), (10e-3, 1.2), (100e-3, 1.3)), "VF_IF": 10e-3, "VF_min": 1.2, "VF_max": 1.2,
        "VCE_sat": 0.5, "VCE_sat_max": 0.5, "VCE_sat_IF": 16e-3, "VCE_sat_IC": 4e-3, "knee": (16e-3, 1.0, 6e-3),
    }  # fmt: skip
    return replace(load_card("general"), **(usual | lines))


def driven(output, card, IF=16e-3):
    """Return a stage whose LED gets one current exactly."""
    side = ContactHigh(VS=24.0, VS_tolerance=0.0, IF=IF, R1_rating=1.0)
    scenario = Scenario(input=side, output=output, coupling=own(card), conditions=EXACT)
    return replace(scenario, input=replace(side, R1=size(scenario)["R1"].exact))


def ttl(kind=PullUp, **more):
    """Return a load resistor at a TTL input on an exact supply of 5 V."""
    return kind(**({"VCC": 5.0, "VCC_tolerance": 0.0, "family": "ttl", "RL_rating": 1.0} | more))


def limit(window, side, code):
    """Return where a finding limits a resistor from one side."""
    (found,) = (bound.R for bound in window.bounds if (bound.side, bound.code) == (side, code))
    return found


@pytest.mark.source(
    VAN02 + "Example 2: ICEO 200 nA at 60 degC, IIH 40 uA: RL below 74.6 kohm at 2 V, 64.7 kohm at 2.4 V"
)
@pytest.mark.parametrize(("VIH", "most"), [(2.0, 74.6e3), (2.4, 64.7e3)])
def test_largest_pull_up_at_the_dark_current_of_a_warm_detector(VIH, most):
    """The card's dark current at 25 degC is what becomes 200 nA at 60 degC, doubling in 7.5 K."""
    card = replace(load_card("general"), ICEO=1e-9, ICEO_max=200e-9 / 2 ** (35 / 7.5), ICEO_VCE=3.0, ICEO_doubling=7.5)
    warm = replace(EXACT, TA_max=60.0)
    scenario = Scenario(input=ContactHigh(), output=ttl(VIH=VIH), coupling=own(card), conditions=warm)
    window = windows_of(scenario)["RL"]
    assert window.high.code == "level-dark"
    assert window.high.R == pytest.approx(most, abs=50.0 + PRECISION * most)
    assert "60 °C" in window.high.condition


@pytest.mark.source(VAN02 + "Example 2: RL above 656 ohm at the edge of saturation, 8 mA, 0.8 V, IIL 1.6 mA")
def test_smallest_pull_up_at_the_edge_of_saturation():
    """The card's saturation voltage is the note's 0.8 V."""
    scenario = driven(ttl(RL=1e3), half(VCE_sat=0.8, VCE_sat_max=0.8, knee=(16e-3, 1.5, 6e-3)))
    assert limit(windows_of(scenario)["RL"], "lower", "saturation") == pytest.approx(656.0, abs=0.5 + PRECISION * 656)


@pytest.mark.source(VAN02 + "Example 2: RL above 1875 ohm: 0.5 V at 4 mA, half of 8 mA, IIL 1.6 mA")
def test_smallest_pull_up_in_full_saturation():
    """Half of the collector current is an overdrive of two."""
    trial = Resized(driven(ttl(RL=2e3), half()), asked_of(Wishes(overdrive=2.0)))
    window = windows_at(trial, (trial.present["R1"], 2e3), ("RL",))["RL"]
    assert window.low.code == "overdrive"
    assert window.low.R == pytest.approx(1875.0, abs=0.5 + PRECISION * 1875)


@pytest.mark.source(VAN02 + "Example 1: VIL 0.8 V, IIL 1.6 mA: RL below 500 ohm")
def test_largest_emitter_resistor_at_a_ttl_input():
    window = windows_of(driven(ttl(PullDown, RL=400.0), half(CTR_VCE=3.0)))["RL"]
    assert limit(window, "upper", "level-dark") == pytest.approx(500.0, abs=0.5)


@pytest.mark.source(VAN02 + "Example 1: VIH 2 V, IC 8 mA at 16 mA and 50 %: RL above 250 ohm")
def test_smallest_emitter_resistor_that_lifts_a_ttl_input():
    """The note leaves out what the input takes while high."""
    scenario = driven(ttl(PullDown, RL=400.0, I_leak=0.0), half(CTR_VCE=3.0))
    assert limit(windows_of(scenario)["RL"], "lower", "level-lit") == pytest.approx(250.0, abs=0.5)


@pytest.mark.source(
    "Texas Instruments SLVA689, I2C Bus Pullup Resistor Calculation: 966.667 ohm at 3.3 V; the formula (VDD - VOL) / "
    "IOL from Microchip's guide on external pull-ups; 0.4 V and 3 mA of the fast mode from memory"
)
def test_smallest_pull_up_that_a_sink_current_holds():
    """An output that sinks 3 mA at 0.4 V: a coupler of 50 % with 6 mA in its LED."""
    output = PullUp(VCC=3.3, VCC_tolerance=0.0, RL=1e3, I_leak=0.0)
    scenario = driven(output, half(VCE_sat=0.4, VCE_sat_max=0.4), IF=6e-3)
    assert limit(windows_of(scenario)["RL"], "lower", "saturation") == pytest.approx(966.667, rel=5e-4)


@pytest.mark.source(
    VAN02
    + "Example 1: RL 390 ohm, VIH 2.4 V, CTR 50 %, 5 V, VF 1.2 V, VOL 0.4 V: IF 12.3 mA, RV 276 ohm, 270 ohm fitted"
)
def test_largest_input_resistor_of_an_unsaturated_follower():
    """The note's stage is not saturated on purpose, so its R1 is where the level is just read."""
    IF = 12.3e-3
    side = LogicOutput(VS=5.0, VS_tolerance=0.0, IF=IF, R_port=0.4 / IF, active="low", I_port=1.0, R1=270.0)
    output = ttl(PullDown, RL=390.0, VIH=2.4, I_leak=0.0)
    scenario = Scenario(input=side, output=output, coupling=own(half(CTR_VCE=2.6)), conditions=EXACT)
    window = windows_of(scenario)["R1"]
    found = limit(window, "upper", "level-lit")
    assert found == pytest.approx(276.0, abs=0.5 + 0.3)  # the LED's 1.2 V are stated at 10 mA: 9 mV more at 12.3 mA
    assert preferred(found, "E24", "down") == 270.0


@pytest.mark.source(
    VAN02
    + "Example 2: RL 5.1 kohm, VCE 0.5 V, IIL 1.6 mA, CTR 25 %, VF 1.2 V, VOL 0.4 V. It prints 317 ohm, having put "
    "5.5 V for 4.5 V; 342 ohm is derived from its own formulas"
)
def test_a_whole_design_with_a_given_load_resistor():
    """A quarter of the LED current is half of the card's 50 %: an overdrive of two."""
    IF = 9.93e-3
    side = LogicOutput(VS=5.0, VS_tolerance=0.0, IF=IF, R_port=0.4 / IF, active="low", I_port=1.0)
    scenario = Scenario(input=side, output=ttl(RL=5.1e3), coupling=own(half()), conditions=EXACT)
    wishes = Wishes(overdrive=2.0, keep=("RL",))
    trial = Resized(scenario, asked_of(wishes))
    window = windows_at(trial, (trial.present["R1"], 5.1e3), ("R1",))["R1"]
    assert window.high.code == "overdrive"
    assert window.high.R == pytest.approx(342.0, abs=0.5)
    sizing = size_for(scenario, wishes)
    assert sizing.conflict is None
    assert sizing.chosen["R1"].R == 330.0
    assert sizing.chosen["R1"].above == ("overdrive",)
    assert sizing.chosen["RL"].R == 5.1e3
    closed = operating_point(sizing.scenario).states["closed"]
    assert closed.quantities["CTR_needed"].high < 0.25
