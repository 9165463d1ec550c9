"""Whole stages against the same published equations, written anew and solved by general-purpose root finders."""

from dataclasses import replace

import pytest

from engine import STATES, operating_point, scenario_from_query
from tests.equations import KNOWN, Stage, Values

KINDS = [f"in={side}&out={load}" for side in KNOWN["in"] for load in KNOWN["out"]]
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
AROUND = [
    "&rb=1k",
    "&rb=4k7&rbat=input",
    "&rb=220k&rbat=switch",
    "&nd=3&leak=1M",
    "&lamp=green",
    "&ri=270R",
    "&nd=2&ri=100R&rb=1k5&leak=100k",
]
OPTIONS = [
    (f"in={side}&vs=24V&r1=4k7{more}", state)
    for side in ("contact-low", "contact-high", "sinking", "sourcing", "two-wire", "logic", "limited")
    for more in AROUND
    for state in STATES
    if not (side == "logic" and (state == "open" or "switch" in more))
    and not (side in ("sinking", "sourcing", "two-wire") and "switch" in more)
    and not ("lamp" in more and state == "open")
]
OPTIONS += [(f"in={side}&vs=24V&r1=4k7&vz=6.2V", "closed") for side in KNOWN["in"]]

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


@pytest.mark.parametrize(("query", "state"), OPTIONS)
def test_what_stands_around_the_led_against_bracketing(query, state):
    scenario = scenario_from_query(query)
    assert_same(Stage(scenario, Values.nominal(scenario), state == "closed").by_root(), query, state)


@pytest.mark.parametrize("query", [kind for kind in KINDS if "limited" not in kind])
def test_a_corner_against_a_general_root_finder(query):
    scenario = scenario_from_query(query + "&vstol=10%25&tol=5%25&vcctol=5%25&iin=0A&idark=50uA&rb=none")
    nominal = Values.nominal(scenario)
    low, high = scenario.coupling.ratios()[1:]
    weakest = replace(nominal, VS=nominal.VS * 0.9, R1=nominal.R1 * 1.05, CTR=low)
    strongest = replace(nominal, VS=nominal.VS * 1.1, R1=nominal.R1 * 0.95, CTR=high)
    found = operating_point(scenario).states["closed"].quantities["IF"]
    # The forward voltage moves the ends too, by its tolerance over the resistor at the most.
    margin = 0.2 / (nominal.R1 * 0.95)
    assert found.low <= Stage(scenario, weakest, True).by_root()["IF"] <= found.low + margin
    assert found.high - margin <= Stage(scenario, strongest, True).by_root()["IF"] <= found.high
