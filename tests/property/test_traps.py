"""Traps over everything that may be typed: they never fail, and what they offer can be built."""

import math

import numpy as np
import pytest

from engine import INPUTS, KEYS, OUTPUTS, TRAPS, findings_of, operating_point, scenario_from_query, traps_of
from engine.several import operating_points
from tests.property.scenarios import seeded

LONGEST = 400  # characters that still read as a remark


def checked(point):
    """Return the traps of a solved stage, whole ones."""
    scenario = point.scenario
    traps = traps_of(point, findings_of(point, remedies=False, slow=False))
    assert len({trap.field for trap in traps}) == len(traps)
    for trap in traps:
        value, limit, unit = trap.decides
        assert trap.code in TRAPS
        assert trap.field in KEYS
        assert math.isfinite(value)
        assert math.isfinite(limit)
        assert unit
        assert 0 < len(trap.text) < LONGEST
        if trap.mend is not None:
            assert trap.mend.scenario != scenario
            assert operating_point(trap.mend.scenario).states
    return traps


def test_traps_of_any_stage_are_whole_and_what_they_offer_can_be_built():
    assert any([checked(operating_point(scenario)) for scenario in seeded(150, 700)])


@pytest.mark.parametrize("side", [kind for kind in INPUTS if kind != "ac"])
def test_a_slip_is_far_from_what_is_asked_for_and_near_a_power_of_ten_of_it(side):
    """Resistors over six decades, with the currents that they are sized for typed beside them."""
    rng, typed = np.random.default_rng(20), []
    for load in OUTPUTS:
        for _ in range(4):
            R1, RL = 10.0 ** rng.uniform(0.5, 6.5, 2)
            typed.append(f"in={side}&out={load}&r1={R1:.0f}&rl={RL:.0f}&if={rng.choice((1, 5, 10))}mA")
    raised = 0
    for point in operating_points([scenario_from_query(query) for query in typed]):
        traps = checked(point)
        raised += len(traps)
        for trap in traps:
            if trap.code == "decade" and trap.field in ("r1", "rl"):
                value, exact, _ = trap.decides
                assert exact == point.sized[trap.field.upper()].exact
                away = abs(math.log10(value / exact))
                assert away > math.log10(3.0)
                assert abs(away - round(away)) <= math.log10(2.2)
                assert 1 <= round(away) <= 3
    assert raised
