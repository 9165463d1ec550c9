"""Many scenarios in one batch against each of them alone."""

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest

from engine import INPUTS, OUTPUTS, ScenarioError, findings_of, operating_point, scenario_from_query
from engine.findings import FAILING
from engine.several import UNSIZED, held_by, operating_points, solved
from tests.stages import DRIVES

SPANS = (
    ("input", "VS", (0.5, 2.0)), ("input", "IF", (0.3, 3.0)),
    ("output", "VCC", (0.6, 1.8)), ("output", "IL", (0.2, 5.0)),
)  # fmt: skip
QUERIES = [
    *DRIVES.values(),
    *(f"out={load}" for load in OUTPUTS),
    "tamin=-20C&tamax=80C&years=10",
    "in=ac&dropper=capacitor",
]


def differing(query):
    """Return scenarios that differ from the one of a query in one or two fields each."""
    scenario, rng = scenario_from_query(query), np.random.default_rng(5)
    made = [scenario]
    for part, field, (low, high) in SPANS:
        for share in rng.uniform(low, high, 3):
            record = getattr(scenario, part)
            if not hasattr(record, field) or isinstance(getattr(type(record), field, None), property):
                continue
            try:
                made.append(replace(scenario, **{part: replace(record, **{field: getattr(record, field) * share})}))
            except ScenarioError:
                continue
    for celsius in (-40.0, 90.0):
        made.append(replace(scenario, conditions=replace(scenario.conditions, TA=celsius, TA_min="ta", TA_max="ta")))
    for R in (330.0, 47e3):
        made.append(replace(scenario, output=replace(scenario.output, RL=R)))
        if hasattr(scenario.input, "R1"):
            made.append(replace(scenario, input=replace(scenario.input, R1=R)))
    return made


@lru_cache(maxsize=64)
def alone(scenario):
    """Return a scenario solved by itself, once for all tests in turn that look at it; None where it cannot be."""
    try:
        return operating_point(scenario)
    except ScenarioError:
        return None


@pytest.mark.parametrize("query", QUERIES, scope="module")
def test_scenarios_of_one_batch_are_solved_as_alone(query):
    scenarios = differing(query)
    for together, one in zip(operating_points(scenarios), map(alone, scenarios), strict=True):
        assert (together is None) == (one is None)
        if one is None:
            continue
        assert (together.scenario, together.sized) == (one.scenario, one.sized)
        for name, state in one.states.items():
            for kind in ("quantities", "nodes", "currents", "powers"):
                expected = {key: (r.value, r.low, r.high) for key, r in getattr(state, kind).items()}
                solved = {key: (r.value, r.low, r.high) for key, r in getattr(together.states[name], kind).items()}
                assert solved.keys() == expected.keys()
                for key, numbers in expected.items():
                    assert solved[key] == pytest.approx(numbers, rel=2e-6, abs=2e-9), (name, kind, key)
            assert together.states[name].verdict.level == state.verdict.level


@pytest.mark.parametrize("query", [query for query in QUERIES if not query.startswith("in=ac")], scope="module")
def test_what_holds_in_a_batch_is_what_holds_alone(query):
    scenarios = differing(query)
    held = held_by(scenarios)
    for k, scenario in enumerate(scenarios):
        point = alone(scenario)
        if point is None:
            assert UNSIZED in held.failing(k)
            continue
        failing = {f.code for f in findings_of(point, remedies=False) if f.severity in FAILING}
        assert set(held.failing(k)) == failing, scenario
        assert held.all[k] == (not failing)


def test_every_kind_of_side_takes_part():
    assert {scenario_from_query(q).input.kind for q in QUERIES} == set(INPUTS)
    assert {scenario_from_query(q).output.kind for q in QUERIES} == set(OUTPUTS)


@pytest.mark.parametrize("query", ["r1=10k", "r1=10k&out=pull-down", "in=sinking&r1=10k&rl=300k", "in=logic&r1=330R"])
def test_stages_without_drive_take_nothing_from_the_others(query):
    scenario = scenario_from_query(query)
    scenarios = [scenario]
    scenarios += [replace(scenario, input=replace(scenario.input, VS=volts)) for volts in (0.0, 0.4, 2.0, 30.0)]
    scenarios += [replace(scenario, output=replace(scenario.output, VCC=volts)) for volts in (0.0, 0.1, 5.0)]
    held, points = held_by(scenarios), operating_points(scenarios)
    assert "saturation" in held.codes
    for k, one in enumerate(scenarios):
        found = findings_of(operating_point(one), remedies=False)
        failing = {f.code for f in found if f.severity in FAILING}
        assert set(held.failing(k)) - {"led-current-low"} == failing - {"led-current-low"}
        ratios = operating_point(one).states["closed"].quantities.keys()
        assert points[k].states["closed"].quantities.keys() == ratios


@pytest.mark.parametrize("query", ["in=logic&vs=12V&voh=11V", "in=sinking", "in=two-wire", "in=limited", "vz=3V"])
def test_stages_that_are_built_apart_are_solved_together(query):
    assert (
        len(list(solved(differing(query)))) <= 3
    )  # those without and with what differs in shape, and what has no size


def test_some_members_give_what_they_give_among_all():
    scenarios = differing("in=two-wire")[:5]
    ((_, whole),) = solved(scenarios)
    chosen = np.array([0, 3, 17])
    ((_, some),) = solved(scenarios, {whole.stage.members: chosen})
    for k in range(len(scenarios)):
        expected = whole.point(k).states["closed"].quantities["VCE"].members[chosen]
        assert some.point(k).states["closed"].quantities["VCE"].members == pytest.approx(expected, rel=1e-6, abs=1e-9)
