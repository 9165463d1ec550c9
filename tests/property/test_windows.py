"""Windows, chosen resistors and bleeders of many usual stages, against each of them built anew, at all corners."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from engine import ScenarioError, findings_of, off_state_of, operating_point, scenario_from_query, size_for, windows_of
from engine.findings import FAILING
from engine.preferred import preferred
from engine.resized import Resized
from engine.several import operating_points
from engine.windows import PRECISION
from engine.wishes import Wishes, missed
from tests.stages import DRIVES, OPTIONS

LOADS = ("pull-up", "pull-down", "indicator", "controller", "relay", "dc-load")
CONDITIONS = ("", "tamin=-20C&tamax=70C", "years=10", "tol=1%25&series=E96", "ta=50C&years=5&ageing=fast")
COUNT = 20


def usual(seed):
    """Return a usual stage: a drive, a load, some option around the LED, values within a factor of a few."""
    rng = np.random.default_rng(seed)
    drives, options = list(DRIVES.values()), ["", *OPTIONS.values()]
    while True:
        parts = (
            drives[rng.integers(len(drives))],
            options[rng.integers(len(options)) if rng.random() < 0.4 else 0],
            f"out={LOADS[rng.integers(len(LOADS))]}",
            CONDITIONS[rng.integers(len(CONDITIONS))],
        )
        try:
            scenario = scenario_from_query("&".join(part for part in parts if part))
            IF, IL = (value * rng.uniform(0.5, 2.5) for value in (scenario.input.IF, scenario.output.IL))
            scenario = replace(
                scenario, input=replace(scenario.input, IF=float(IF)), output=replace(scenario.output, IL=float(IL))
            )
            operating_point(scenario)
        except ScenarioError:
            continue
        return scenario


@cache
def usual_with_windows(seed):
    """Return a usual stage and its windows, for all tests that look at it."""
    scenario = usual(seed)
    return scenario, windows_of(scenario)


def failing(scenarios, wishes=None):
    """Return what fails in each of several stages, every one built as it stands."""
    every = []
    for point in operating_points(scenarios):
        found = {f.code for f in findings_of(point, remedies=False) if f.severity in FAILING}
        every.append(found | set(missed(wishes, point) if wishes else ()))
    return every


@pytest.mark.parametrize("seed", range(COUNT))
def test_every_limit_is_one(seed):
    scenario, windows = usual_with_windows(seed)
    trial, bounds, tried = Resized(scenario), [b for window in windows.values() for b in window.bounds], []
    for bound in bounds:
        beyond = bound.R * (1.0 + 2.0 * PRECISION) ** (1 if bound.side == "upper" else -1)
        tried += [trial.fitted(**(trial.present | {bound.part: R})) for R in (bound.R, beyond)]
    found = failing(tried)
    for bound, inside, outside in zip(bounds, found[::2], found[1::2], strict=True):
        assert bound.code not in inside, bound
        assert bound.code in outside, bound


@pytest.mark.parametrize("seed", range(COUNT))
def test_within_a_window_fails_only_what_fails_elsewhere_too(seed):
    scenario, windows = usual_with_windows(seed)
    trial = Resized(scenario)
    places = [
        (part, float(R)) for part, window in windows.items() if not window.empty for R in np.geomspace(*window.ends, 5)
    ]
    present, *every = failing([scenario, *(trial.fitted(**(trial.present | {part: R})) for part, R in places)])
    for (part, R), found in zip(places, every, strict=True):
        window = windows[part]
        unmoved = found & present if window.holds_present else found
        assert found - set(window.elsewhere) <= unmoved - set(window.always), (part, R)


@pytest.mark.parametrize("seed", range(COUNT))
def test_what_is_chosen_holds_or_is_told_to_fail(seed):
    scenario, _ = usual_with_windows(seed)
    sizing = size_for(scenario)
    told = set(sizing.conflict.failing) if sizing.conflict else set()
    trial = Resized(sizing.scenario)
    beyond = [
        (stops, trial.fitted(**(trial.present | {part: preferred(chosen.R * nudge, sizing.series, way)})))
        for part, chosen in sizing.chosen.items()
        if not chosen.kept
        for stops, way, nudge in ((chosen.below, "down", 0.999999), (chosen.above, "up", 1.000001))
    ]
    here, *there = failing([sizing.scenario, *(tried for _, tried in beyond)], Wishes())
    assert here == told
    for (stops, tried), found in zip(beyond, there, strict=True):
        assert set(stops) == found - told - {"power-r1", "power-rl"}, tried


@pytest.mark.parametrize("seed", range(COUNT // 3))
def test_a_bleeder_leaves_the_led_dark(seed):
    rng = np.random.default_rng(seed)
    query = ("leak={:.0f}k", "in=sourcing&ioff={:.1f}mA", "in=two-wire&rb=none&ioff={:.2f}mA")[seed % 3]
    amount = rng.uniform(5, 200) if seed % 3 == 0 else rng.uniform(0.2, 2.0)
    state = off_state_of(scenario_from_query(query.format(amount)))
    assert state.leaking
    for cure in state.cures:
        assert operating_point(cure.scenario).states["open"].quantities["VF"].high <= 0.8
