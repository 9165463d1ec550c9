"""The transfer ratio at the end of its life, and inputs with a threshold, through cards and stages."""

import math
from dataclasses import replace

import pytest

from engine import Conditions, Coupling, Scenario, life_of, operating_point, pack_card, size
from engine.coupler import load_card
from engine.inputs import ContactHigh, CurrentLimited

TEMPERATURE, AGEING, TOLERANCE = 0.83, 0.80, 0.75


def own(card):
    """Return the choice of a card that is not shipped."""
    return Coupling(card="own", own=pack_card(card))


@pytest.mark.source("Vishay Application Note 02, doc. 83741 rev. 1.4, Example 1: 49.8 % left of 100 %, after 10 years")
@pytest.mark.parametrize(("CTR_min", "years"), [(TOLERANCE * AGEING, 0.0), (TOLERANCE, 10.0)])
def test_transfer_ratio_that_is_left_at_the_end_of_life(CTR_min, years):
    """The card's curve over temperature, the lower end of its bin, and ageing: within the bin or as years."""
    warm = ((25.0, 1.0), (60.0, TEMPERATURE))
    flat = ((1e-3, 1.0), (10e-3, 1.0), (20e-3, 1.0))
    card = replace(
        load_card("general"),
        CTR_min=CTR_min, CTR_typ=1.0, CTR_max=1.0, CTR_IF=10e-3, CTR_shape=flat,
        CTR_temperature=((5e-3, warm), (10e-3, warm)), knee=(10e-3, 1.0, 8e-3),
    )  # fmt: skip
    scenario = Scenario(
        input=ContactHigh(VS=24.0, VS_tolerance=0.0, IF=10e-3, R1_rating=1.0),
        coupling=own(card),
        conditions=Conditions(TA=60.0, tolerance=0.0, series="E192", years=years, ageing="slow"),
    )
    found = operating_point(scenario).states["closed"].quantities["CTR_available"]
    assert found.low == pytest.approx(0.498, abs=0.0005)


@pytest.mark.source(
    "Fairchild 6N137 data sheet, rev. 1.0.8: 5 mA threshold, 6.3 mA with a guard band of 20 % of the light"
)
def test_threshold_that_has_grown_by_a_guard_band():
    """The published figure is 5 mA / 0.8 = 6.25 mA rounded up: what a part asks for that has lost a fifth."""
    card = replace(load_card("fast-gate"), IF_on=5e-3)
    aged = Conditions(years=10.0, ageing="slow")
    needed = operating_point(Scenario(coupling=own(card), conditions=aged)).states["closed"].quantities["IF_needed"]
    assert needed.high == pytest.approx(6.25e-3, rel=1e-3)
    assert math.ceil(needed.high / 0.1e-3) * 0.1e-3 == pytest.approx(6.3e-3)


@pytest.mark.source(
    "Fairchild 6N137 data sheet, rev. 1.0.8: 6.3 mA least drive, for a 5 mA threshold and 20 % of the light"
)
def test_the_least_drive_that_lasts_for_the_guard_band():
    """In steps of the printed digits the published current is the least one that lasts until a fifth is lost."""
    coupling = own(replace(load_card("fast-gate"), IF_on=5e-3))

    def lasts(IF):
        side = CurrentLimited(VS=20.0, IF=IF, limit_tolerance=0.0, VS_tolerance=0.0)
        return life_of(
            Scenario(input=side, coupling=coupling, conditions=Conditions(ageing="slow"))
        ).chosen.ends_in_year

    least = next(step for step in range(50, 100) if (lasts(step * 0.1e-3) or 0.0) >= 10.0)
    assert least * 0.1e-3 == pytest.approx(6.3e-3, rel=1e-9)


@pytest.mark.source(
    "Avago HCPL-3700 data sheet p. 7: ITH+ 1.96, 2.5, 3.11 mA and VTH+ 3.35, 3.7, 4.05 V at the dc pins; the "
    "resistor for 24 V, 8.12 kohm typical, is derived from them"
)
def test_series_resistor_of_an_input_with_a_threshold():
    """An input that is 3.7 V high when its 2.5 mA flow, switched at 24 V."""
    VF = ((0.5e-3, 3.55), (2.5e-3, 3.70), (10e-3, 3.95))
    card = replace(
        load_card("fast-gate"),
        VF_points=VF, VF_IF=2.5e-3, VF_min=3.35, VF_max=4.05, IF_off=1.96e-3, IF_typ=2.5e-3, IF_on=3.11e-3,
        VOL_IF=3.2e-3,
    )  # fmt: skip
    scenario = Scenario(input=ContactHigh(VS=24.0, IF=2.5e-3, R_contact=1e-3), coupling=own(card))
    assert size(scenario)["R1"].exact == pytest.approx(8.12e3, rel=2e-3)
