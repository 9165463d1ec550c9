"""What must hold of every finding: its margin agrees with its severity, its remedy mends it and does no other harm."""

import math
import random
from dataclasses import replace

import pytest

from engine import (
    FAMILIES,
    INPUTS,
    OUTPUTS,
    SEVERITIES,
    ScenarioError,
    findings_of,
    operating_point,
    pairs_from,
    query_from,
    scenario_from_query,
    size,
)
from engine.pairing import cards_for
from tests.equations import KNOWN
from tests.property.scenarios import seeded
from tests.stages import OPTIONS

AROUND = ["", "", "", *OPTIONS.values()]
LEAKS = ("none", "10k", "1M")


def everyday(count, seed, loads=OUTPUTS):
    """Yield scenarios of the kind that people draw, good and bad ones."""
    rng = random.Random(seed)
    while count:
        side, load = rng.choice(list(INPUTS)), rng.choice(list(loads))
        volts = rng.choice((3.3, 5)) if side == "logic" else rng.choice((5, 12, 24, 48, 110))
        query = (
            f"in={side}&out={load}&coupler={rng.choice(cards_for(load))}&vs={volts}&{rng.choice(AROUND)}"
            f"&if={10 ** rng.uniform(-4, -1.3):.6f}&r1w={rng.choice((0.1, 0.25))}&leak={rng.choice(LEAKS)}"
            f"&rl={10 ** rng.uniform(1.5, 6):.0f}&vcc={rng.choice((3.3, 5, 12, 24, 90))}"
            f"&logic={rng.choice(list(FAMILIES))}&ta={rng.choice((-20, 25, 60, 85, 110))}"
        )
        try:
            scenario = scenario_from_query(query)
            size(scenario)
        except ScenarioError:
            continue
        count -= 1
        yield scenario


def ranks(findings):
    """Return how grave every stop and caution is, by code; the gravest has the lowest rank."""
    return {f.code: SEVERITIES.index(f.severity) for f in findings if f.severity in ("stop", "caution")}


@pytest.mark.parametrize("seed", range(3))
def test_every_remedy_mends_what_it_is_offered_for_and_does_no_other_harm(seed):
    offered = 0
    for scenario in everyday(25, seed):
        findings = findings_of(operating_point(scenario))
        before = ranks(findings)
        for finding in findings:
            if finding.mend is None:
                continue
            offered += 1
            mended = findings_of(operating_point(finding.mend.scenario), remedies=False)
            story = f"{finding.code}, {query_from(scenario)}"
            assert {f.code: f.severity for f in mended}[finding.code] == "pass", story
            assert all(rank >= before.get(code, len(SEVERITIES)) for code, rank in ranks(mended).items()), story
    assert offered > 12


@pytest.mark.parametrize("seed", range(3))
def test_a_remedy_changes_resistors_their_ratings_diodes_or_the_receiver(seed):
    for scenario in everyday(25, seed + 20, KNOWN["out"]):
        if scenario.input.kind == "ac":
            continue
        pairs = dict(pairs_from(scenario))
        for finding in findings_of(operating_point(scenario)):
            assert finding.mend is None or finding.severity in ("stop", "caution")
            if finding.mend:
                mended = dict(pairs_from(finding.mend.scenario))
                changed = {key for key, text in mended.items() if pairs[key] != text}
                assert pairs.keys() == mended.keys()
                assert changed
                assert changed <= {"r1", "rl", "rb", "rbat", "r1w", "rlw", "rbw", "limw", "logic", "nd"}


def test_remedies_of_a_stage_of_which_a_rate_is_wanted_do_no_harm_either():
    rng, offered = random.Random(0), 0
    for scenario in everyday(8, 60, ("pull-up", "pull-down", "indicator")):
        rate = float(f"{10 ** rng.uniform(2, 4):.3g}")
        scenario = replace(scenario, conditions=replace(scenario.conditions, rate=rate))
        findings = findings_of(operating_point(scenario))
        before = ranks(findings)
        assert "edge-rate" in {finding.code for finding in findings}
        for finding in findings:
            if finding.mend:
                offered += 1
                mended = findings_of(operating_point(finding.mend.scenario), remedies=False)
                story = f"{finding.code}, {query_from(scenario)}"
                assert {f.code: f.severity for f in mended}[finding.code] == "pass", story
                assert all(rank >= before.get(code, len(SEVERITIES)) for code, rank in ranks(mended).items()), story
    assert offered > 3


def test_margin_and_severity_agree():
    for scenario in [*seeded(40, seed=9), *everyday(40, seed=9)]:
        point = operating_point(scenario)
        overlap = any(state.verdict.low_limit >= state.verdict.high_limit > 0 for state in point.states.values())
        for finding in findings_of(point, remedies=False, slow=False):
            assert math.isfinite(finding.margin), f"{finding.code}, {query_from(scenario)}"
            if finding.severity == "note" or (overlap and finding.code.startswith("level")):
                continue
            assert (finding.margin >= 0) == (finding.severity == "pass"), f"{finding.code}, {query_from(scenario)}"
