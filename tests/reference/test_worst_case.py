"""Worst cases of an application note and of data sheets, worked through whole stages rather than by their formulas.

Cards are built from the published lines; what a source leaves open is said beside it.
"""

from dataclasses import replace

import numpy as np
import pytest

from engine import Conditions, Coupling, Scenario, operating_point, pack_card, scenario_from_query, size
from engine.coupler import load_card, model_of
from engine.coupler.bench import Wiring, measure
from engine.devices import junction
from engine.inputs import ContactHigh, LogicOutput
from engine.outputs import PullUp

VAN02 = "Vishay Application Note 02, doc. 83741 rev. 1.4, Example 2: "
TOSHIBA = "Toshiba TLP291-4 data sheet, 2011-09-08: "
EXACT = Conditions(TA=25.0, tolerance=0.0, series="E192")


def own(card):
    """Return the choice of a card that is not shipped."""
    return Coupling(card="own", own=pack_card(card))


def ttl(RL, **receiver):
    """Return a load resistor at a TTL input on an exact supply of 5 V."""
    return PullUp(VCC=5.0, VCC_tolerance=0.0, RL=RL, family="ttl", **receiver)


def noted():
    """Return the coupler of the application note: 50 % at 16 mA, 0.5 V where half of that is asked for.

    The note states no curve over current or temperature: flat. The bend of the family beyond 0.5 V is ours.
    """
    flat, warm = tuple((IF, 1.0) for IF in (1e-3, 16e-3, 20e-3)), ((25.0, 1.0), (60.0, 1.0))
    return replace(
        load_card("general"),
        CTR_min=0.5, CTR_typ=0.5, CTR_max=0.5, CTR_IF=16e-3, CTR_shape=flat,
        CTR_temperature=((8e-3, warm), (16e-3, warm)),
        VF_points=((1e-3, 1.1), (10e-3, 1.2), (100e-3, 1.3)), VF_IF=10e-3, VF_min=1.2, VF_max=1.2,
        VCE_sat=0.5, VCE_sat_max=0.5, VCE_sat_IF=16e-3, VCE_sat_IC=4e-3, knee=(16e-3, 1.0, 6e-3),
    )  # fmt: skip


def driven(RL):
    """Return the lit state of the note's coupler at 16 mA with a load resistor at a TTL input."""
    side = ContactHigh(VS=24.0, VS_tolerance=0.0, IF=16e-3, R1_rating=1.0)
    point = operating_point(Scenario(input=side, output=ttl(RL), coupling=own(noted()), conditions=EXACT))
    return point.states["closed"]


# ---------------------------------------------------------------- limits of the load resistor


@pytest.mark.source(VAN02 + "ICEO 200 nA at 60 degC, IIH 40 uA: RL below 74.6 kohm at 2 V, below 64.7 kohm at 2.4 V")
@pytest.mark.parametrize(("VIH", "limit"), [(2.0, 74.6e3), (2.4, 64.7e3)])
def test_largest_pull_up_at_the_dark_current_of_a_warm_detector(VIH, limit):
    """The card's dark current at 25 degC is what becomes 200 nA at 60 degC, doubling in 7.5 K."""
    card = replace(load_card("general"), ICEO=1e-9, ICEO_max=200e-9 / 2 ** (35 / 7.5), ICEO_VCE=3.0, ICEO_doubling=7.5)
    warm = replace(EXACT, TA=60.0)

    def sure(RL):
        scenario = Scenario(input=ContactHigh(), output=ttl(RL, VIH=VIH), coupling=own(card), conditions=warm)
        return operating_point(scenario).states["open"].verdict.sure

    assert sure(limit * (1 - 1e-3))
    assert not sure(limit * (1 + 1e-3))


@pytest.mark.source(VAN02 + "8 mA at 50 % and 16 mA, halved for saturation: RL above 1875 ohm holds 0.5 V at 4 mA")
def test_smallest_pull_up_that_saturates():
    lit = driven(1875.0)
    assert lit.quantities["IC"].high == pytest.approx(4e-3, rel=1e-3)
    assert lit.quantities["VOUT"].high == pytest.approx(0.5, rel=0.01)
    assert lit.quantities["overdrive"].low == pytest.approx(2.0, rel=0.01)
    assert lit.verdict.sure


@pytest.mark.source(
    VAN02 + "RL above 656 ohm at the edge of saturation, 8 mA at 0.8 V, which the note does not rest on"
)
def test_the_edge_of_saturation_is_no_design():
    """All of CTR x IF flows at 0.8 V only if the knee is sharp; that of a real part is soft, hence the halving."""
    lit = driven(656.0)
    assert lit.quantities["IC_available"].low == pytest.approx(8e-3, rel=0.01)
    assert lit.quantities["VOUT"].high > 0.8
    assert not lit.verdict.sure


# ---------------------------------------------------------------- a whole design


@pytest.mark.source(
    VAN02
    + "RL 5.1 kohm, VCE 0.5 V, IIL 1.6 mA, CTR 25 %, VF 1.2 V, VOL 0.4 V. It prints 1.08 mA, 2.68 mA, 10.72 mA and "
    "317 ohm, having put 5.5 V for 4.5 V; 0.882 mA, 2.482 mA, 9.93 mA and 342 ohm are derived from its own formulas"
)
def test_a_whole_design_step_by_step():
    IF = 9.93e-3
    side = LogicOutput(VS=5.0, VS_tolerance=0.0, IF=IF, R_port=0.4 / IF, active="low")
    scenario = Scenario(input=side, output=ttl(5.1e3), coupling=own(noted()), conditions=EXACT)
    assert size(scenario)["R1"].exact == pytest.approx(342.0, abs=0.5)

    fitted = replace(scenario, input=replace(side, R1=342.0))
    lit = operating_point(fitted).states["closed"]
    assert lit.quantities["IC_needed"].low == pytest.approx(0.882e-3, abs=0.5e-6)
    assert lit.quantities["IC_needed"].high == pytest.approx(2.482e-3, abs=0.5e-6)
    assert lit.quantities["IC_needed"].high / 0.25 == pytest.approx(IF, abs=5e-6)
    assert lit.quantities["IF"].value == pytest.approx(IF, rel=2e-3)
    assert lit.quantities["CTR_needed"].high == pytest.approx(0.25, rel=2e-3)
    assert lit.quantities["VOUT"].high < 0.5
    assert lit.verdict.sure


@pytest.mark.source(VAN02 + "halved twice, 317 ohm is rounded up to 330 ohm: less than the 10.72 mA that it works out")
def test_a_resistor_rounded_up_drives_less():
    """What its own, mistaken, 2.68 mA would ask for is 10.72 mA; 330 ohm leave 10.3 mA."""
    side = LogicOutput(VS=5.0, VS_tolerance=0.0, R_port=0.4 / 10.72e-3, active="low", IF=10.72e-3)
    scenario = Scenario(input=side, output=ttl(5.1e3), coupling=own(noted()), conditions=EXACT)
    assert size(scenario)["R1"].exact == pytest.approx(317.0, abs=0.5)
    found = operating_point(replace(scenario, input=replace(side, R1=330.0))).states["closed"].quantities["IF"].value
    assert found == pytest.approx(10.72e-3 * 317 / 330, rel=5e-3)


# ---------------------------------------------------------------- factors that multiply

DRIVES = (("2mA", "85C"), ("1mA", "-30C"), ("10mA", "70C"), ("500uA", "60C"))
CARDS = ("general", "low-drive", "wide-bin", "two-way", "with-base")
STILL, MOVING = "&vstol=0%25&tol=0%25", "&vstol=5%25&tol=2%25"


class Factors:
    """Ratio of transfer of one stage with one thing changed at a time."""

    def __init__(self, name, IF, TA):
        self.name, self.IF, self.TA = name, IF, TA
        card = load_card(name)
        self.test = f"{card.CTR_IF * 1e3:g}mA"
        self.pinned = f"&ctrmin={card.CTR_typ * 100:g}%25&ctrmax={card.CTR_typ * 100:g}%25"

    def ratio(self, IF, TA, more=STILL, end="value"):
        """Return the ratio of transfer at a drive and an ambient temperature."""
        query = f"in=contact-high&vs=24V&r1w=1W&series=E192&coupler={self.name}&if={IF}&ta={TA}{more}"
        return getattr(operating_point(scenario_from_query(query)).states["closed"].quantities["CTR_available"], end)

    def product(self, drive_of_warmth):
        """Return the product of the factors; that of temperature is taken at a drive of its own."""
        whole, used = self.ratio(self.test, "25C"), self.ratio(self.IF, "25C")
        of_current = used / whole
        of_warmth = self.ratio(drive_of_warmth, self.TA) / self.ratio(drive_of_warmth, "25C")
        of_bin = self.ratio(self.test, "25C", STILL + "&ctr=min") / whole
        of_drive = self.ratio(self.IF, "25C", MOVING + self.pinned, "low") / used
        return whole * of_current * of_warmth * of_bin * of_drive


@pytest.mark.source(
    "Toshiba, FAQ opto-020: the ratio is derated by factors that multiply, for LED current, temperature and a margin; "
    "it prints no figures, so the method is what is compared"
)
@pytest.mark.parametrize("name", CARDS)
@pytest.mark.parametrize(("IF", "TA"), DRIVES)
def test_factors_one_at_a_time_multiply_to_the_worst_corner(name, IF, TA):
    """The margin is that of the bin and of the drive. Ageing is held against its source where it is a factor alone."""
    factors = Factors(name, IF, TA)
    assert factors.product(IF) == pytest.approx(factors.ratio(IF, TA, MOVING, "low"), rel=0.02)


@pytest.mark.source(
    "Sharp PC817X Series data sheet, D2-A03101EN, Fig. 9: 47 % are left at 1 mA, 60 % at 5 mA, at 100 degC"
)
@pytest.mark.parametrize("name", ["general", "wide-bin", "with-base"])
def test_the_factor_of_temperature_is_that_of_the_drive_in_use(name):
    """Taken at the current of the data sheet instead, the product promises too much in the heat."""
    factors = Factors(name, "500uA", "60C")
    assert factors.product(factors.test) > 1.1 * factors.ratio("500uA", "60C", MOVING, "low")


# ---------------------------------------------------------------- saturated, and dark


@pytest.mark.source(
    TOSHIBA
    + "rank GB is 100 % to 400 % at 5 mA and 5 V, but 60 % typical and 30 % at least at 1 mA and 0.4 V; 0.2 V typical "
    "at 1 mA and 0.2 mA. Typical 200 % and the shape over current are not printed but ours"
)
def test_saturated_ratio_of_a_rank():
    """One collector meets both typical lines to 7 %: 0.56 for 0.60, as saturation test and knee are fitted together.

    The smallest specimen keeps 0.50, more than the 0.30 that the sheet answers for: no typical line tells that limit.
    """
    card = replace(
        load_card("general"),
        CTR_min=1.0, CTR_typ=2.0, CTR_max=4.0, knee=(1e-3, 0.4, 0.6e-3),
        VCE_sat=0.2, VCE_sat_max=0.4, VCE_sat_IF=1e-3, VCE_sat_IC=0.2e-3,
    )  # fmt: skip
    typical, least = (measure(model_of(card), 1e-3, Wiring(hold=0.4), CTR=CTR).IO[0] / 1e-3 for CTR in (2.0, 1.0))
    assert typical == pytest.approx(0.60, abs=0.05)
    assert 0.30 <= least < typical < 1.0


@pytest.mark.source(
    "Vishay Application Note 02, doc. 83741 rev. 1.4: half of the ratio is to guarantee saturation; 0.4 V at 1 mA from "
    + TOSHIBA
    + "its saturated ratio"
)
@pytest.mark.parametrize("name", CARDS)
def test_half_of_the_ratio_is_left_in_saturation_at_a_small_current(name):
    """At 1 mA. Our cards bend early: at 10 mA and more, half of the ratio leaves them above 0.4 V."""
    model = model_of(load_card(name))
    whole = measure(model, 1e-3, Wiring(hold=model.card.CTR_VCE)).IO[0]
    assert measure(model, 1e-3, Wiring(feed=0.5 * float(whole))).VO[0] < 0.4


def class_of_toshiba(**lines):
    """Return the card of the published part's dark lines and forward voltages, the rest of a class of ours."""
    return replace(
        load_card("general"),
        CTR_min=1.0, CTR_typ=2.0, CTR_max=4.0, knee=(10e-3, 1.0, 12e-3), VCEO=80.0,
        VF_points=((1e-3, 1.1), (10e-3, 1.2), (50e-3, 1.3)), VF_IF=10e-3, VF_min=1.1, VF_max=1.4,
        ICEO=0.01e-6, ICEO_max=0.1e-6, ICEO_VCE=48.0, **lines,
    )  # fmt: skip


@pytest.mark.source(TOSHIBA + "ICEO at 48 V: 0.01 uA typical and 0.1 uA at most at 25 degC, 2 uA and 50 uA at 85 degC")
@pytest.mark.parametrize(
    ("doubling", "which", "digit", "published"), [(7.85, "value", 0.05e-6, 2e-6), (6.7, "high", 0.5e-6, 50e-6)]
)
def test_dark_current_of_a_stage_in_the_heat(doubling, which, digit, published):
    """Doubling in 7.85 K and in 6.7 K are derived from the two pairs: a card has one, for a worst case the shorter."""
    card = class_of_toshiba(ICEO_doubling=doubling)
    output = PullUp(VCC=48.0, VCC_tolerance=0.0, RL=1e3, family="cmos", I_leak=0.0)
    scenario = Scenario(input=ContactHigh(), output=output, coupling=own(card), conditions=replace(EXACT, TA=85.0))
    found = operating_point(scenario).states["open"].quantities["IC"]
    assert getattr(found, which) == pytest.approx(published, abs=digit)


@pytest.mark.source(TOSHIBA + "IC(off) 10 uA at most at VF 0.7 V and VCE 48 V; VF 1.1, 1.2 and 1.4 V at 10 mA")
def test_collector_current_at_a_forward_voltage_that_is_left():
    """The strongest specimen in everything: smallest forward voltage, largest ratio, largest dark current."""
    model = model_of(class_of_toshiba(ICEO_doubling=7.85))
    T = np.array([298.15])
    IF = [float(junction(np.array([0.7]), model.led.junction(T, shift))[0][0]) for shift in (model.VF_shifts()[0], 0.0)]
    strongest, typical = (measure(model, drive, Wiring(hold=48.0), CTR=4.0, ICEO=0.1e-6).IO[0] for drive in IF)
    dark = measure(model, 0.0, Wiring(hold=48.0), CTR=4.0, ICEO=0.1e-6).IO[0]
    assert dark < typical < strongest <= 10e-6
