"""Every direct-current drive with every option: solved, lawful and answered, on two kinds of output sides.

That each is drawn with every part once is held in `tests/webapp/test_drawings.py`.
"""

import json
from itertools import cycle, product
from urllib.parse import quote

import numpy as np
import pytest

from engine import STATES, declared, operating_point, scenario_from_query
from engine.build import build
from engine.circuit import solve
from engine.diodes import COLOURS
from engine.operating import Observed
from tests.each import of_each
from tests.property.scenarios import finite, seeded
from tests.property.test_solver import imbalance, left_over
from tests.stages import DRIVES, OPTIONS, alone, together

STAGES = [*DRIVES.values(), *alone(), *together()]
LOADS = ("pull-up", "indicator")


def test_random_scenarios_reach_every_option():
    """What the property tests draw is not only plain drives, and is not turned back to the usual for contradictions."""
    wanted = {"rb", "nd", "vz", "rh", "ri", "cf", "voh", "pins", "ipack", "imin", "hfe", "ires", "vi"}
    wanted |= {("rbat", "input"), ("rbat", "switch"), ("ap", "diode"), ("lampat", "parallel"), ("place", "return")}
    wanted |= {("q", "mosfet"), ("qat", "across"), *(("lamp", colour) for colour in COLOURS)}
    seen = set()
    for scenario in seeded(2500, seed=3):
        side = scenario.input
        for name, parameter in declared(side).items():
            value = getattr(side, name)
            if value != getattr(type(side)(), name):
                seen.add((parameter.key, value) if parameter.unit is None and not parameter.longest else parameter.key)
        if wanted <= seen:
            break
    assert not wanted - seen


def number(text):
    raise ValueError(f"{text} is no number of JSON")


@of_each(product(STAGES, LOADS))
def test_every_combination_is_solved_and_obeys_the_laws(query, load):
    scenario = scenario_from_query(f"{query}&out={load}")
    stage = build(scenario)
    solution = solve(stage.netlist)
    assert left_over(solution) < 1
    assert imbalance(stage.netlist, solution) < 1
    point = Observed(stage, solution).point()
    assert finite(point)
    assert tuple(point.states) == STATES
    lit, dark = (point.states[name].quantities["IF"].value for name in STATES)
    assert lit > 0.25 * scenario.input.IF
    assert dark < 0.2 * lit


def test_combinations_are_answered_in_finite_numbers(client):
    """A third of them, as every one is solved above."""
    for query, load in zip(STAGES[::3], cycle(LOADS), strict=False):
        answer = client.get(f"/api/stage?{query}&out={load}")
        assert answer.status_code == 200, query
        stage = json.loads(answer.text, parse_constant=number)
        assert {"closed", "open"} <= set(stage["states"]), query


def table(rng):
    """Return the text of a random table: up to seven points, steep and flat stretches among them."""
    volts, amperes = 10 ** rng.uniform(0, 3), 10 ** rng.uniform(-6, 1)
    count = rng.integers(0, 6)
    places = np.sort(rng.random(count))
    shares = np.sort(rng.random(count) ** rng.choice([0.1, 1.0, 5.0]))[::-1]
    points = [(0.0, 1.0), *zip(places, shares, strict=True), (1.0, 0.0)]
    return ", ".join(f"{place * volts:.6g}V {share * amperes:.6g}A" for place, share in points)


@pytest.mark.parametrize("seed", range(4))
def test_a_driver_of_any_table_is_solved_on_its_table(seed):
    rng = np.random.default_rng(seed)
    options = ["", *OPTIONS.values(), "vz=300V&lamp=blue&lampat=parallel&rh=86k8"]
    for _ in range(60):
        text, option = table(rng), str(rng.choice(options))
        more = "" if "rbat=switch" in option else f"&{option}"
        scenario = scenario_from_query(f"in=measured&vi={quote(text)}&r1={10 ** rng.uniform(0, 6):.3f}{more}")
        closed = operating_point(scenario).states["closed"]
        pairs = [entry.split() for entry in text.split(", ")]
        volts, amperes = ([float(pair[k][:-1]) for pair in pairs] for k in range(2))
        V, current = closed.nodes["VS"].value, closed.currents["VS"].value
        assert current == pytest.approx(np.interp(V, volts, amperes), rel=1e-6, abs=1e-6 * amperes[0] + 1e-9), text
