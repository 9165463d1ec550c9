"""Whole stages against the same published equations, written anew and solved by general-purpose root finders."""

from dataclasses import replace

import pytest

from engine import INPUTS, OUTPUTS, STATES, operating_point, scenario_from_query
from tests.equations import Stage, Values

KINDS = [f"in={side}&out={load}" for side in INPUTS for load in OUTPUTS]
WARM = [
    "",
    "&ta=85C&ctr=60%25",
    "&leak=200k",
    "&active=low&rl=1k",
    "&coupler=wide-bin&ctr=max",
    "&coupler=low-drive&r1=47k",
]
COLD = ["&ta=-40C&rl=47k", "&ta=-55C&coupler=wide-bin"]
CASES = [(kind + more, state) for kind in KINDS for more in WARM for state in STATES]
CASES += [(kind + more, "closed") for kind in KINDS for more in COLD]

pytestmark = pytest.mark.source(
    "Device equations: W. Shockley, Bell System Technical Journal 28(3), 1949; J. J. Ebers and J. L. Moll, Proc. IRE "
    "42(12), 1954; J. M. Early, Proc. IRE 40(11), 1952; G. M. Kull et al., IEEE Trans. Electron Devices 32(6), 1985. "
    "Solved by scipy.optimize.root and scipy.optimize.brentq."
)


def assert_same(found, query, state):
    solved = operating_point(scenario_from_query(query)).states[state].quantities
    for symbol, value in found.items():
        allowed = 1e-13 if symbol.startswith("I") else 2e-8
        assert solved[symbol].value == pytest.approx(value, rel=1e-6, abs=allowed), symbol


@pytest.mark.parametrize(("query", "state"), CASES)
def test_against_a_general_root_finder(query, state):
    scenario = scenario_from_query(query)
    assert_same(Stage(scenario, Values.nominal(scenario), state == "closed").by_root(), query, state)


@pytest.mark.parametrize(("query", "state"), CASES[::3])
def test_against_nested_bracketing(query, state):
    scenario = scenario_from_query(query)
    assert_same(Stage(scenario, Values.nominal(scenario), state == "closed").by_bracketing(), query, state)


@pytest.mark.parametrize("query", KINDS)
def test_a_corner_against_a_general_root_finder(query):
    scenario = scenario_from_query(query + "&vstol=10%25&tol=5%25&vcctol=5%25&iin=0A&idark=50uA")
    nominal = Values.nominal(scenario)
    low, high = scenario.coupling.ratios()[1:]
    weakest = replace(nominal, VS=nominal.VS * 0.9, R1=nominal.R1 * 1.05, CTR=low)
    strongest = replace(nominal, VS=nominal.VS * 1.1, R1=nominal.R1 * 0.95, CTR=high)
    found = operating_point(scenario).states["closed"].quantities["IF"]
    # The forward voltage moves the ends too, by its tolerance over the resistor at the most.
    margin = 0.2 / (nominal.R1 * 0.95)
    assert found.low <= Stage(scenario, weakest, True).by_root()["IF"] <= found.low + margin
    assert found.high - margin <= Stage(scenario, strongest, True).by_root()["IF"] <= found.high
