"""Limits of the load resistor at a TTL receiver, as an application note works them out."""

import numpy as np
import pytest

from engine import operating_point, scenario_from_query
from engine.outputs import PullDown, PullUp

VAN02 = "Vishay, Optocouplers in switching and logic circuits (VAN02), "
EXACT = "&vcc=5V&vcctol=0%25&tol=0%25&logic=ttl"
VCC = np.array([5.0])


def sure(query, state):
    """Return whether one state's level is read for sure."""
    return operating_point(scenario_from_query(query + EXACT)).states[state].verdict.sure


@pytest.mark.source(VAN02 + "example 1: VIL 0.8 V, IIL 1.6 mA, so RL below 500 ohm")
def test_largest_pull_down_that_a_ttl_input_leaves_low():
    assert sure("out=pull-down&rl=498R", "open")
    assert not sure("out=pull-down&rl=502R", "open")


@pytest.mark.source(VAN02 + "example 1: VIH 2 V at IC 8 mA asks for 250 ohm; 2.4 V across 390 ohm for 6.15 mA")
@pytest.mark.parametrize(("VIH", "RL", "milliamperes"), [(2.0, 250.0, 8.0), (2.4, 390.0, 6.15)])
def test_current_that_lifts_a_pull_down(VIH, RL, milliamperes):
    IC = PullDown().needed_current(5.0 - VIH, VCC, np.array([RL]), 298.15)[0]
    assert IC * 1e3 == pytest.approx(milliamperes, rel=1e-3)


@pytest.mark.source(VAN02 + "example 2: VIH 2 V, IIH 40 uA, ICEO 200 nA, so RL below 74.6 kohm")
def test_largest_pull_up_that_a_ttl_input_leaves_high():
    # Half of the published dark current, the card's at 25 degC, moves the limit by 0.25 %.
    assert sure("out=pull-up&rl=74k2", "open")
    assert not sure("out=pull-up&rl=75k2", "open")


@pytest.mark.source(VAN02 + "example 2: 656 ohm at IC 8 mA, VIL 0.8 V; 1875 ohm at 4 mA, VCEsat 0.5 V; IIL 1.6 mA")
@pytest.mark.parametrize(("VCE", "milliamperes", "RL"), [(0.8, 8.0, 656.0), (0.5, 4.0, 1875.0)])
def test_smallest_pull_up_that_a_collector_current_holds_low(VCE, milliamperes, RL):
    output = PullUp(family="ttl")
    IC = output.needed_current(VCE, VCC, np.array([RL]), 298.15)[0] + output.lit_leakage()
    assert IC * 1e3 == pytest.approx(milliamperes, rel=1e-3)


@pytest.mark.source(VAN02 + "example 2, as above")
def test_input_current_of_the_receiver_counts_as_load():
    query = "out=pull-up&rl=1875R&ctr=110%25"
    with_input, without = (
        operating_point(scenario_from_query(query + EXACT + more)).states["closed"].quantities["IC_needed"]
        for more in ("", "&iin=0A")
    )
    assert with_input.high - without.high == pytest.approx(1.6e-3)
    assert with_input.low == pytest.approx(without.low)
