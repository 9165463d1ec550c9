"""Random scenarios over everything that the declarations accept, wild ones included.

The ranges come from the declarations, so a new parameter takes part without a word here.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from hypothesis import strategies as st

from engine import INPUTS, OUTPUTS, Conditions, Coupling, Scenario, ScenarioError, declared
from engine.coupler import card_names, load_card, pack_card
from engine.pairing import mismatches
from engine.parameter import Parameter
from engine.quantity import COUNT
from engine.sizing import size

WAYS = ("default", "anywhere", "anywhere", "anywhere", "low", "high", "word")
TEXTS = ("", *(pack_card(load_card(name)) for name in card_names("phototransistor", "photodarlington")))
DECADES = 9  # below the upper end, where the lower end is zero

TABLES = ("24V 0A, 0V 10mA", "0V 2A, 1V 2A, 900V 0.1uA, 1kV 0A", "48V 0A, 47V 1mA, 5V 1.2mA, 0V 1.2mA")

Pick = Callable[[Sequence], object]
Share = Callable[[], float]

ASKED_ELSEWHERE = ("rate", "meter")
"""Fields that change no circuit; tests of their own ask for them."""


def seeded(count: int, seed: int):
    """Yield so many random scenarios, the same ones for the same seed."""
    rng = np.random.default_rng(seed)

    def pick(choices):
        return choices[rng.integers(len(choices))]

    for _ in range(count):
        yield solvable(lambda: random_scenario(pick, rng.random))


@st.composite
def scenarios(draw) -> Scenario:
    """Draw a scenario that can be built; it shrinks towards the default stage."""

    def pick(choices):
        return draw(st.sampled_from(choices))

    return solvable(lambda: random_scenario(pick, lambda: draw(st.floats(0, 1))))


def solvable(make: Callable[[], Scenario]) -> Scenario:
    """Return a scenario whose "auto" parts can be sized, by fitting 1 kohm and 1 uF where they cannot."""
    scenario = make()
    try:
        size(scenario)
    except ScenarioError:
        capacitor = {"CD": 1e-6} if "CD" in declared(scenario.input) else {}
        fitted = {"input": {"R1": 1e3, **capacitor}, "output": {"RL": 1e3}}
        parts = {
            name: type(part)(**{field: getattr(part, field) for field in declared(part)} | fitted[name])
            for name, part in (("input", scenario.input), ("output", scenario.output))
        }
        return Scenario(**parts, coupling=scenario.coupling, conditions=scenario.conditions)
    return scenario


def random_scenario(pick: Pick, share: Share) -> Scenario:
    """Return a scenario of random kinds with random values."""
    sides = pick(tuple(INPUTS.values())), pick(tuple(OUTPUTS.values()))
    side_in, coupling, side_out, conditions = (
        random_record(kind, pick, share) for kind in (sides[0], Coupling, sides[1], Conditions)
    )
    output = _with_a_gap(side_out)
    side_in = _with_a_gap(side_in)
    coupling = _that_fits(_sorted_bin(coupling), side_in, output)
    if getattr(output, "swap", "no") == "yes" and not coupling.has_ratio:
        output = replace(output, swap="no")
    if side_in.needs_pair and coupling.data.input != "pair":
        side_in = type(side_in)(form="bridge")
    return Scenario(input=side_in, coupling=coupling, output=output, conditions=_with_a_gap(conditions))


def random_record(kind: type, pick: Pick, share: Share):
    """Return a record of one kind with random values."""
    usual = kind()
    varied = {name: parameter for name, parameter in declared(kind).items() if name not in ASKED_ELSEWHERE}
    return kind(**{name: random_value(p, getattr(usual, name), pick, share) for name, p in varied.items()})


def random_value(parameter: Parameter, default, pick: Pick, share: Share):
    """Return a value that a parameter accepts: its default, an end, a word, a text, or anything in between."""
    if parameter.longest:
        return pick(TABLES if parameter.key == "vi" else TEXTS)
    if parameter.unit is None:
        return pick(parameter.words)
    way = pick(WAYS)
    if way == "default" or (way == "word" and not parameter.words):
        return default
    if way == "word":
        return pick(parameter.words)
    if way == "low":
        return parameter.low
    if way == "high":
        return parameter.high
    value = between(parameter.low, parameter.high, share())
    return float(round(value)) if parameter.unit is COUNT else value


def between(low: float, high: float, share: float) -> float:
    """Return a value at a share of the way, by ratio unless there are negative values; short enough to be typed."""
    if low < 0:
        value = low + share * (high - low)
    else:
        start = low or high * 10.0**-DECADES
        value = start * (high / start) ** share
    return min(max(float(f"{value:.6g}"), low), high)


def _sorted_bin(coupling: Coupling) -> Coupling:
    """Return a coupling whose bin has its ends in order."""
    ends = [value for value in (coupling.CTR_min, coupling.CTR_max) if value != "card"]
    return replace(coupling, CTR_min=min(ends), CTR_max=max(ends)) if len(ends) == 2 else coupling


def _that_fits(coupling: Coupling, side_in, output) -> Coupling:
    """Return a coupling that goes with its sides: another card where the one at hand does not."""
    if coupling.card == "own" and not coupling.own:
        coupling = replace(coupling, own=TEXTS[1])
    if side_in.needs_pair and coupling.data.input != "pair":
        coupling = replace(coupling, card="two-way")
    if list(mismatches(coupling, output)):
        coupling = replace(coupling, card=output.usual_coupler)
    return coupling if getattr(coupling.data, "base_lead", False) else replace(coupling, RBE="none")


def _with_a_gap(side):
    """Return a side without contradictions: what is named as wrong has its default, until nothing is."""
    usual = type(side)()
    attributes = {p.key: name for name, p in declared(side).items()}
    while wrong := {attributes[problem.field] for problem in side.contradictions()}:
        if all(getattr(side, name) == getattr(usual, name) for name in wrong):
            return usual
        side = replace(side, **{name: getattr(usual, name) for name in wrong})
    return side


def numbers(point) -> list[float]:
    """Return every number in a solved stage."""
    found = []
    for state in point.states.values():
        for ranges in (state.quantities, state.nodes, state.currents, state.drops, state.powers):
            found += [value for entry in ranges.values() for value in (entry.value, entry.low, entry.high)]
        found += [state.verdict.low_limit, state.verdict.high_limit]
    return found


def finite(point) -> bool:
    """Whether every number in a solved stage is finite."""
    return all(math.isfinite(value) for value in numbers(point))
