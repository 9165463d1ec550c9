"""What must hold of every finding: its margin agrees with its severity, and its remedy mends it."""

import random

import pytest

from engine import (
    FAMILIES,
    INPUTS,
    OUTPUTS,
    ScenarioError,
    card_names,
    findings_of,
    operating_point,
    query_from,
    scenario_from_query,
    size,
)
from tests.property.scenarios import seeded

LEAKS = ("none", "10k", "1M")


def everyday(count, seed):
    """Yield scenarios of the kind that people draw, good and bad ones."""
    rng = random.Random(seed)
    while count:
        side = rng.choice(list(INPUTS))
        volts = rng.choice((3.3, 5)) if side == "logic" else rng.choice((5, 12, 24, 48, 110))
        query = (
            f"in={side}&out={rng.choice(list(OUTPUTS))}&coupler={rng.choice(card_names())}&vs={volts}"
            f"&if={10 ** rng.uniform(-4, -1.3):.6f}&r1w={rng.choice((0.1, 0.25))}&leak={rng.choice(LEAKS)}"
            f"&rl={10 ** rng.uniform(1.5, 6):.0f}&vcc={rng.choice((3.3, 5, 12, 24, 90))}"
            f"&logic={rng.choice(list(FAMILIES))}&ta={rng.choice((-20, 25, 60, 85, 110))}"
        )
        scenario = scenario_from_query(query)
        try:
            size(scenario)
        except ScenarioError:
            continue
        count -= 1
        yield scenario


@pytest.mark.parametrize("seed", range(3))
def test_every_remedy_mends_what_it_is_offered_for(seed):
    offered = 0
    for scenario in everyday(25, seed):
        for finding in findings_of(operating_point(scenario)):
            if finding.mend is None:
                continue
            offered += 1
            mended = {f.code: f for f in findings_of(operating_point(finding.mend.scenario))}
            assert mended[finding.code].severity == "pass", f"{finding.code}, {query_from(scenario)}"
    assert offered > 12


def test_margin_and_severity_agree():
    for scenario in [*seeded(40, seed=9), *everyday(40, seed=9)]:
        point = operating_point(scenario)
        overlap = any(state.verdict.low_limit >= state.verdict.high_limit for state in point.states.values())
        for finding in findings_of(point):
            if finding.severity == "note" or finding.limit <= 0 or (overlap and finding.code.startswith("level")):
                continue
            assert (finding.margin >= 0) == (finding.severity == "pass"), f"{finding.code}, {query_from(scenario)}"
