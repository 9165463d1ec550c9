"""Ranges against corners that are solved one by one, by equations of their own, and against points in between."""

from dataclasses import asdict, replace
from itertools import product

import numpy as np
import pytest

from engine import STATES, operating_point, scenario_from_query
from engine.coupler import calibrated
from engine.sizing import size
from tests.equations import KNOWN, Stage, Values

KINDS = [f"in={side}&out={load}" for side in KNOWN["in"] for load in KNOWN["out"]]
KINDS += [f"in=contact-low&r1=15k&out={load}&{more}" for load in KNOWN["out"] for more in ("rb=1k", "nd=3", "ri=1k")]
"""Stages on direct current; alternating voltage has equations of its own in `tests/engine/test_cycle.py`."""

WARM = [f"in=contact-low&out={load}&tamin=-30C&tamax=95C&years=8&ageing=fast" for load in KNOWN["out"]]
"""The same over a range of temperatures, to the end of their service."""

LOOSE = "&ta=70C&leak=300k&vstol=20%25&vcctol=10%25&tol=10%25&iin=20uA"


def ends(scenario):
    """Return the two ends of everything that varies, by the names of `Values`."""
    side, load, tolerance = scenario.input, scenario.output, scenario.conditions.tolerance
    model, sized = scenario.coupling.model, size(scenario)
    card, (_, low, high) = model.card, scenario.coupling.ratios()
    typical = float(model.led.VF(card.VF_IF, 298.15))
    VCC = load.VCC_ends
    own = [[{"RB": side.R_bypass * (1 + way * tolerance)} for way in (-1, 1)]] if side.R_bypass != "none" else []
    if side.kind == "limited":
        own.append([{"limit": side.IF * (1 + way * side.limit_tolerance)} for way in (-1, 1)])
    return [
        *own,
        [{"VS": volts} for volts in side.VS_ends],
        [{"R1": sized["R1"].chosen * (1 + way * tolerance)} for way in (-1, 1)],
        [{"RL": sized["RL"].chosen * (1 + way * tolerance)} for way in (-1, 1)],
        [{"shift": card.VF_min - typical}, {"shift": card.VF_max - typical}],
        [
            {"CTR": low * 0.5 ** (scenario.conditions.years / 5), "ICEO": card.ICEO},
            {"CTR": high, "ICEO": card.ICEO_max},
        ],
        [{"VCC": VCC[0]}, {"VCC": VCC[1]}],
        [{"down": 1.0}, {"up": 1.0}],
    ]


def surroundings(scenario):
    """Return the stage at the nominal temperature alone, then at both ends where there are any."""
    conditions = scenario.conditions
    return [
        replace(scenario, conditions=replace(conditions, TA=T, TA_min="ta", TA_max="ta", years=0.0))
        for T in dict.fromkeys((conditions.TA, *conditions.TA_ends))
    ]


def with_changes(scenario, changes):
    return replace(Values.nominal(scenario), **{name: value for change in changes for name, value in change.items()})


@pytest.mark.parametrize("kind", KINDS + WARM)
@pytest.mark.parametrize("state", STATES)
def test_ranges_are_the_extremes_of_the_corners(kind, state):
    scenario = scenario_from_query(kind + LOOSE)
    found = operating_point(scenario).states[state].quantities
    corners = [Values.nominal(scenario), *(with_changes(scenario, changes) for changes in product(*ends(scenario)))]
    alone = [Stage(one, values, state == "closed").by_root() for one in surroundings(scenario) for values in corners]
    for symbol in alone[0]:
        values = [answer[symbol] for answer in alone]
        expected = {"value": values[0], "low": min(values), "high": max(values)}
        allowed = 1e-12 if symbol.startswith("I") else 1e-7
        solved = {name: value for name, value in asdict(found[symbol]).items() if name in expected}
        assert solved == pytest.approx(expected, rel=1e-6, abs=allowed), symbol


@pytest.mark.parametrize("kind", KINDS + WARM)
@pytest.mark.parametrize("state", STATES)
def test_nothing_within_the_tolerances_lies_outside_of_the_ranges(kind, state):
    scenario, rng = scenario_from_query(kind + LOOSE), np.random.default_rng(4)
    found = operating_point(scenario).states[state].quantities
    watched = {"IF", "VF", "IC", "VCE", "IL", scenario.output.observed}
    for _ in range(25):
        shares = rng.random(len(ends(scenario)) + 1)
        between = [
            {name: low[name] + share * (high[name] - low[name]) for name in low.keys() & high.keys()}
            for (low, high), share in zip(ends(scenario), shares, strict=False)
        ]
        values = with_changes(scenario, [*between, {"down": shares[-2], "up": shares[-1]}])
        here = scenario if kind not in WARM else surroundings(scenario)[0]
        low, high = scenario.conditions.TA_ends
        there = replace(here, conditions=replace(here.conditions, TA=low + rng.random() * (high - low)))
        answer = Stage(there, values, state == "closed").by_root()
        for symbol in watched:
            margin = 1e-9 + 1e-6 * abs(answer[symbol])
            assert found[symbol].low - margin <= answer[symbol] <= found[symbol].high + margin, symbol


def test_forward_voltage_spread_is_the_cards_at_every_temperature():
    """At the current that the card's limits are stated for, fed through a resistor that makes it nearly constant."""
    card = calibrated("general").card
    for celsius in (-40, 25, 100):
        scenario = scenario_from_query(f"vs=1kV&vstol=0%25&tol=0%25&r1=99k886&ta={celsius}C")
        found = operating_point(scenario).states["closed"].quantities["VF"]
        assert found.high - found.low == pytest.approx(card.VF_max - card.VF_min, rel=2e-3)
