"""Bands against brute force: every value of the span solved at all corners, and random values solved alone."""

import random
from bisect import bisect_left
from dataclasses import replace

import numpy as np
import pytest

from engine import ScenarioError, declared, findings_of, operating_point, query_from, scenario_from_query
from engine.bands import IMPOSSIBLE, bands_of
from engine.findings import FAILING
from engine.several import UNSIZED, held_by
from engine.track import lattice
from tests.property.test_remedies import everyday

SPANS = {
    "vs": (0.0, 72.0, "linear"), "r1": (100.0, 1e6, "log"), "if": (1e-4, 5e-2, "log"), "ctr": (0.1, 6.0, "log"),
    "vcc": (0.0, 30.0, "linear"), "rl": (100.0, 1e6, "log"), "il": (1e-4, 5e-2, "log"), "ta": (-40.0, 125.0, "linear"),
}  # fmt: skip
PLACES = {
    "vs": ("input", "VS"), "r1": ("input", "R1"), "if": ("input", "IF"), "ctr": ("coupling", "CTR"),
    "vcc": ("output", "VCC"), "rl": ("output", "RL"), "il": ("output", "IL"), "ta": ("conditions", "TA"),
}  # fmt: skip
GOOD = [
    "", "in=sinking", "in=two-wire&rb=none", "in=logic&vs=12V&voh=11V", "in=limited", "in=measured", "in=transistor",
    "out=indicator", "out=pull-down", "vs=24V&if=10mA&out=dc-load", "vs=24V&if=10mA&out=gate", "vz=10V",
    "in=logic&vs=5V&if=16mA&iport=30mA&out=ac-triac&csn=47n", "tamin=-20C&tamax=70C&years=10",
    "rl=auto&vcc=5V&logic=hct",
]  # fmt: skip
BAD = ["rl=1k", "r1=47k", "if=12mA", "vcc=5V", "ta=120C", "vs=60V&r1=3k3", "ctr=25%25&rl=auto", "in=sinking&rl=470k"]
"""Stages that something is wrong with, which one parameter may mend."""

SLOW = ["out=relay", "in=logic&vs=5V&if=8mA&iport=12mA&out=controller"]
"""Stages with many corners."""


def spans(scenario):
    keys = {p.key for part in scenario.parts() for p in declared(part).values()}
    return {key: span for key, span in SPANS.items() if key in keys and (key != "ctr" or scenario.coupling.has_ratio)}


def moved(scenario, key, value):
    part, name = PLACES[key]
    freed = {"if": {"R1": "auto"}, "il": {"RL": "auto"}}.get(key, {})
    try:
        return replace(scenario, **{part: replace(getattr(scenario, part), **{name: value}, **freed)})
    except ScenarioError:
        return None


def failing(scenario):
    if scenario is None:
        return {IMPOSSIBLE}
    try:
        found = findings_of(operating_point(scenario), remedies=False)
    except ScenarioError:
        return {UNSIZED}
    return {finding.code for finding in found if finding.severity in FAILING}


def everywhere(scenario, key, value):
    """Return every value of a span that may end a band, and what fails there, all corners asked."""
    low, high, scale = SPANS[key]
    unit = next(p.unit for part in scenario.parts() for p in declared(part).values() if p.key == key)
    stops = sorted({*lattice(low, high, scale, unit), value})
    made = [moved(scenario, key, stop) for stop in stops]
    held = held_by([one for one in made if one is not None])
    found = iter(range(len(held.holds)))
    return stops, [(IMPOSSIBLE,) if one is None else held.failing(next(found)) for one in made]


def stretch(stops, fails, value):
    """Return first and last place of the run of values around or nearest to one at which nothing fails."""
    passing = [k for k, codes in enumerate(fails) if not codes]
    if not passing:
        return None
    first = last = min(passing, key=lambda k: abs(k - bisect_left(stops, value)))
    while first > 0 and not fails[first - 1]:
        first -= 1
    while last < len(stops) - 1 and not fails[last + 1]:
        last += 1
    return first, last


def compared(scenario, bands):
    """Yield what differs between some bands of a scenario and brute force, apart from rounded resistors."""
    for key, band in bands.items():
        stops, fails = everywhere(scenario, key, band.value)
        run, story = stretch(stops, fails, band.value), (key, band, query_from(scenario))
        if run is None:
            least = min((len(codes) for codes in fails if not {UNSIZED, IMPOSSIBLE} & set(codes)), default=1)
            yield from [story] if band.low is not None or len(band.conflict) > least + 1 else []
            continue
        if band.low is None:
            yield story
            continue
        first, last = run
        beyond = [fails[k] if 0 <= k < len(fails) else ("",) for k in (first - 1, last + 1)]
        ends = (stops[first], band.low, band.low_set_by), (stops[last], band.high, band.high_set_by)
        for (stop, end, code), codes in zip(ends, beyond, strict=True):
            # A resistor that is rounded anew may break a finding between two values of the slider already.
            rounded = key in ("vs", "vcc", "ta") and code and stops[first] <= end <= stops[last]
            if not ((stop == end and code in codes) or rounded):
                yield (*story, (stop, end), codes)


def some(bands, number):
    """Return every second band, the others for the next stage; of `variants` all are tried, if not by brute force."""
    return dict(list(bands.items())[number % 2 :: 2])


@pytest.mark.parametrize("query", GOOD)
def test_bands_are_those_of_brute_force(query):
    scenario = scenario_from_query(query)
    assert list(compared(scenario, some(bands_of(scenario, spans(scenario)), GOOD.index(query)))) == []


@pytest.mark.parametrize("query", SLOW)
def test_bands_with_many_corners_are_those_of_brute_force(query):
    scenario = scenario_from_query(query)
    bands = bands_of(scenario, spans(scenario))
    assert list(compared(scenario, {key: bands[key] for key in ("r1", "vcc")})) == []


@pytest.mark.parametrize("query", BAD)
def test_the_nearest_stretch_of_a_stage_that_fails_is_that_of_brute_force(query):
    scenario = scenario_from_query(query)
    bands = bands_of(scenario, spans(scenario))
    assert any(band.low is not None and not band.here for band in bands.values())
    assert list(compared(scenario, some(bands, BAD.index(query)))) == []


def test_what_excludes_a_stretch_is_that_of_brute_force():
    empty = []
    for number, scenario in enumerate(everyday(6, 24, ("pull-up", "pull-down", "indicator", "dc-load", "ac-load"))):
        if scenario.input.kind != "ac":
            bands = bands_of(scenario, spans(scenario))
            assert list(compared(scenario, some(bands, number))) == []
            empty += [band.conflict for band in bands.values()]
    assert len(set(filter(None, empty))) > 2


def variants(seed):
    """Yield good stages with other currents, tolerances, series and roundings."""
    rng = random.Random(seed)
    for query in (*GOOD, *SLOW):
        scenario = scenario_from_query(query)
        for _ in range(5):
            conditions = replace(
                scenario.conditions,
                tolerance=rng.choice((0.01, 0.05, 0.1)),
                series=rng.choice(("E6", "E12", "E24", "E96")),
                rounding=rng.choice(("nearest", "up", "down")),
            )
            output = replace(scenario.output, RL=rng.choice((scenario.output.RL, "auto")))
            tried = replace(scenario, conditions=conditions, output=output)
            if not failing(tried):
                yield tried
                break


def between(low, high, rng):
    if low > 0 and rng.random() < 0.5:
        return low * (high / low) ** rng.random()
    return low + (high - low) * rng.random()


def test_all_holds_within_and_the_named_finding_breaks_just_outside():
    rng, within, beyond = random.Random(1), 0, 0
    for scenario in variants(1):
        for key, band in bands_of(scenario, spans(scenario)).items():
            story = (key, band, query_from(scenario))
            assert band.low is not None, story
            assert band.low <= band.high
            assert band.here == (band.low <= band.value <= band.high)
            for value in [band.low, band.high, *(between(band.low, band.high, rng) for _ in range(2))]:
                assert failing(moved(scenario, key, value)) == set(), (value, *story)
                within += 1
            for code, value in ((band.low_set_by, band.below), (band.high_set_by, band.above)):
                assert (code == "") == (value is None), story
                if code:
                    assert code in failing(moved(scenario, key, value)), (value, *story)
                    beyond += 1
    assert within > 400
    assert beyond > 100


@pytest.mark.parametrize("query", ["", "in=sinking", "out=relay"])
def test_what_breaks_lies_within_a_step_of_the_end(query):
    scenario = scenario_from_query(query)
    for key, band in bands_of(scenario, spans(scenario)).items():
        low, high, scale = SPANS[key]
        place = np.log if scale == "log" else float
        step = max((place(high) - place(low)) / 100, np.log(15 / 13) if scale == "log" else 0.0)
        for end, value in ((band.low, band.below), (band.high, band.above)):
            assert value is None or abs(place(value) - place(end)) <= 1.5 * step, (key, band)
