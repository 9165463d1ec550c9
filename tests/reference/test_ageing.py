"""Light that is left after years: stress tests and planning figures as they are published."""

import math
from dataclasses import replace

import pytest

from engine.ageing import (
    HOURS_PER_YEAR,
    PLANS,
    StressTest,
    acceleration,
    remaining,
    remaining_from_stress,
    years_in_use,
)
from engine.constants import BOLTZMANN_EV

LIFETIME = "Avago/Broadcom, Calculate reliable LED lifetime performance in optocouplers, white paper: "
DRIVE = "Fairchild AN-3001, Optocoupler Input Drive Circuits, rev. 4.00, 2002, Fig. 6 (graph, +/-20 %): "

STRESS = StressTest(I=20e-3, T=398.0, hours=1000.0, loss=0.008, N=2.0, Ea_eV=0.43)
"""The worked example. Read: 1000 h, and 5 mA at 60 degC in use, after which 99.2 % are left. Inferred, as the copy at
hand has lost digits: 20 mA and 125 degC under stress, N = 2, Ea = 0.43 eV, temperatures in whole kelvins."""

ROUNDED = replace(STRESS, Ea_eV=0.43 * BOLTZMANN_EV / 8.62e-5)
"""The same with the constant as the example seems to round it, 8.62e-5 eV/K: only then all its digits come out."""

YEARS_DRAWN = 1e5 / HOURS_PER_YEAR


@pytest.mark.source(LIFETIME + "factor 184.7, 184,767 h, 21 years at 5 mA and 60 degC; stress and exponents inferred")
def test_hours_in_use_from_hours_under_stress():
    factor = acceleration(20e-3, 5e-3, 398.0, 333.0, 2.0, ROUNDED.Ea_eV)
    years = years_in_use(ROUNDED, 5e-3, 333.0)
    assert factor == pytest.approx(184.7, rel=5e-4)
    assert years * HOURS_PER_YEAR == pytest.approx(184_767, rel=5e-4)
    assert years == pytest.approx(21.0, abs=0.5)
    assert remaining_from_stress(ROUNDED, 5e-3, 333.0, years) == pytest.approx(0.992, abs=5e-4)


@pytest.mark.source(LIFETIME + "factor 184.7, which exact constants miss by 0.1 %")
@pytest.mark.parametrize(("T_stress", "T_use"), [(398.0, 333.0), (398.15, 333.15)])
def test_the_same_with_exact_constants(T_stress, T_use):
    """The exact constant gives 184.9 at whole kelvins, exact kelvins on top 184.5: on either side of the print."""
    assert acceleration(20e-3, 5e-3, T_stress, T_use, 2.0, 0.43) == pytest.approx(184.7, rel=1.2e-3)


def law_of_two(first, second):
    """Return the stress test at the second of two points (current, loss by the end) with the exponent of both."""
    paces = [-math.log1p(-loss) for _, loss in (first, second)]
    N = math.log(paces[1] / paces[0]) / math.log(second[0] / first[0])
    return StressTest(I=second[0], T=298.15, hours=1e5, loss=second[1], N=N, Ea_eV=0.43)


@pytest.mark.source(DRIVE + "after 100,000 h at 25 degC 2 % are lost at 10 mA, 7 % at 30 mA, 14 % at 60 mA")
def test_an_exponent_from_two_currents_foresees_a_third():
    law = law_of_two((10e-3, 0.02), (30e-3, 0.07))
    assert 1.0 - remaining_from_stress(law, 60e-3, 298.15, YEARS_DRAWN) == pytest.approx(0.14, rel=0.2)


@pytest.mark.source(DRIVE + "30 % at 75 mA after 100,000 h; 50 % at 100 mA after some 50,000 h")
@pytest.mark.parametrize(("IF", "loss", "share_of_time"), [(75e-3, 0.30, 1.0), (100e-3, 0.50, 0.5)])
def test_no_single_exponent_reaches_up_to_the_rating(IF, loss, share_of_time):
    """The curves fall much faster near the rating: a limit of the law, which foresees far too little there."""
    law = law_of_two((10e-3, 0.02), (60e-3, 0.14))
    foreseen = 1.0 - remaining_from_stress(law, IF, 298.15, share_of_time * YEARS_DRAWN)
    assert 1.2 * foreseen < 0.8 * loss


@pytest.mark.source("Vishay Application Note 02, doc. 83741 rev. 1.4, Example 1: 20 % lost over 10 years")
def test_the_slow_planning_figure():
    assert remaining(PLANS["slow"].loss, PLANS["slow"].years, 10.0) == pytest.approx(0.80)


@pytest.mark.source(
    "Sharp PC817X Series data sheet, D2-A03101EN, design considerations: 50 % of the light over 5 years"
)
def test_the_fast_planning_figure():
    assert remaining(PLANS["fast"].loss, PLANS["fast"].years, 5.0) == pytest.approx(0.50)


@pytest.mark.source(LIFETIME + "parts of AlGaAs lose less than 10 % over 30 years at 80 degC")
@pytest.mark.parametrize("name", PLANS)
def test_planning_figures_err_on_the_safe_side_of_better_parts(name):
    assert remaining(PLANS[name].loss, PLANS[name].years, 30.0) < 0.90
