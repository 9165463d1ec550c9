"""Many operating points in one batch, against a general root finder that takes them one by one."""

import time
from dataclasses import replace

import numpy as np

from engine import scenario_from_query
from engine.build import build, place_coupler
from engine.circuit import NetlistBuilder, solve
from tests.equations import Stage, Values

POINTS = 2000
TARGET = 30.0


def points(rng):
    """Return values all over the place that a class might visit."""
    return {
        "VS": rng.uniform(10, 72, POINTS),
        "R1": 10 ** rng.uniform(3.3, 4.7, POINTS),
        "CTR": rng.uniform(0.5, 3.0, POINTS),
        "VCC": rng.uniform(2, 12, POINTS),
        "RL": 10 ** rng.uniform(3, 5, POINTS),
    }


def netlist_of(scenario, values):
    """Return one batch with a member for each point, from the parts that a stage is built of."""
    model = scenario.coupling.model
    net = NetlistBuilder(POINTS)
    closed, T = np.ones(POINTS, dtype=bool), np.full(POINTS, scenario.conditions.TA + 273.15)
    nothing = np.zeros(POINTS)
    more = {"ICEO": np.full(POINTS, model.card.ICEO), "shift": nothing, "down": nothing, "up": nothing}
    scenario.input.wire(net, closed, scenario.conditions.TA, values | more)
    scenario.output.wire(net, scenario.conditions.TA, values | more)
    place_coupler(net, scenario, model, T, closed, values | more)
    return net.build()


def main(arguments=()):
    """Measure, compare and print."""
    scenario = scenario_from_query("r1=10k")
    values = points(np.random.default_rng(3))
    solve(netlist_of(scenario, values))
    batched = []
    for _ in range(5):
        start = time.perf_counter()
        solution = solve(netlist_of(scenario, values))
        batched.append(time.perf_counter() - start)
    stages = [
        Stage(scenario, replace(Values.nominal(scenario), **{n: float(a[k]) for n, a in values.items()}), True)
        for k in range(POINTS)
    ]
    start = time.perf_counter()
    found = [stage.by_root() for stage in stages]
    alone = time.perf_counter() - start
    VCE = np.array([point["VCE"] for point in found])
    apart = float(np.abs(solution.voltages["OUT"] - VCE).max())
    ratio = alone / min(batched)
    print(
        f"  {POINTS:,} points: batch {min(batched) * 1e3:.1f} ms, scipy.optimize.root one by one {alone * 1e3:.0f} ms"
    )
    print(f"  ratio {ratio:.0f} (target {TARGET:.0f}); largest difference {apart:.1e} V")
    corners, seconds = _stage()
    print(f"  one stage with its {corners} corners in both states: {seconds * 1e3:.2f} ms")


def _stage():
    """Return how many corners a state has, and how long one stage takes, the best of many."""
    netlist = build(scenario_from_query("")).netlist
    best = 1.0
    for _ in range(50):
        start = time.perf_counter()
        solve(netlist)
        best = min(best, time.perf_counter() - start)
    return netlist.batch // 2 - 1, best


if __name__ == "__main__":
    main()
