"""What must hold of every input on alternating voltage, wild ones included, over the whole cycle."""

from dataclasses import replace

import numpy as np

from engine import Conditions, ScenarioError, findings_of, operating_point, over_cycle, pulse_tables, query_from, size
from engine.constants import ZERO_CELSIUS
from engine.cycle import over_the_cycle
from engine.cycling.period import drive_values
from engine.inputs import AcLine
from engine.outputs import Indicator, PullDown, PullUp
from engine.scenario import Coupling, Scenario
from tests.property.scenarios import _with_a_gap, finite, random_record


def stages(count, seed):
    """Yield so many random stages on alternating voltage whose parts can be sized."""
    rng = np.random.default_rng(seed)

    def pick(choices):
        return choices[rng.integers(len(choices))]

    while count:
        side = _with_a_gap(random_record(AcLine, pick, rng.random))
        load = _with_a_gap(random_record(pick((PullUp, PullDown, Indicator)), pick, rng.random))
        card = "two-way" if side.needs_pair else pick(("general", "low-drive", "wide-bin", "cascade"))
        try:
            conditions = random_record(Conditions, pick, rng.random)
            scenario = Scenario(input=side, coupling=Coupling(card=card), output=load, conditions=conditions)
            size(scenario)
        except ScenarioError:
            continue
        count -= 1
        yield scenario


def test_every_stage_is_solved_over_the_cycle():
    for scenario in stages(60, seed=3):
        query = query_from(scenario)
        point, cycle = operating_point(scenario), over_cycle(scenario)
        assert finite(point), query
        assert np.isfinite(cycle.IF).all(), query
        assert (cycle.IF >= 0.0).all(), query
        assert cycle.out is None or np.isfinite(cycle.out).all(), query
        ranges = [*cycle.figures.values(), *cycle.powers.values()]
        ranges += [found for one in cycle.electrical for found in (one.rms, one.peak, one.average)]
        assert all(found.low <= found.value <= found.high for found in ranges), query
        assert all(np.isfinite([found.low, found.high]).all() for found in ranges), query
        assert all(
            0.0 <= width <= 1.0 / scenario.input.f + 1e-12
            for t in pulse_tables(scenario)
            for row in t.widths
            for width in row
        )


def test_findings_on_wild_stages_are_finite():
    for scenario in stages(12, seed=5):
        for finding in findings_of(operating_point(scenario), slow=False):
            assert np.isfinite([finding.value, finding.limit, finding.margin]).all(), query_from(scenario)


def test_the_line_delivers_what_the_parts_take():
    """Over a cycle nothing is left in the capacitors; the rule of integration loses a little where all is sudden."""
    for scenario in stages(60, seed=4):
        side = scenario.input
        values = drive_values(scenario, size(scenario))
        T = scenario.conditions.TA + ZERO_CELSIUS
        cycle = over_the_cycle(side.loop_of(scenario.coupling.model.led, T, values), 1024)
        apparent = np.sqrt(np.mean(cycle.v**2, axis=1) * np.mean(cycle.i**2, axis=1))
        left = np.abs(cycle.delivered - sum(cycle.powers.values()))
        assert (left <= 3e-3 * apparent + 1e-12).all(), query_from(scenario)


def test_more_voltage_gives_more_light():
    for scenario in stages(15, seed=6):
        side = replace(scenario.input, VS_min="tol", VS_max="tol", R1=1e4, CD=100e-9)
        more = replace(side, V_line=min(1.5 * side.V_line, 1000.0))
        averages = [
            next(one for one in over_cycle(replace(scenario, input=one)).electrical if one.symbol == "IF").average.value
            for one in (side, more)
        ]
        assert averages[0] <= averages[1] * (1 + 1e-6) + 1e-12
