"""Both edges of a stage, nominal and corners, on one core, against a general integrator on the same equations."""

import statistics
import time

from engine import scenario_from_query, timing_of
from engine.edges import edges_of
from tests.benchmarks.update import timed
from tests.reference.test_edges import Stage

TARGET, FASTER = 60.0, 10.0  # ms, times
REPEATS = 9
STAGES = {
    "the usual stage": "",
    "pulled down": "out=pull-down&rl=10k",
    "indicator": "out=indicator",
    "cascade into a controller": "out=controller",
    "filtered, loaded": "cf=100n&cl=1n&rl=10k",
}
COMPARED = "iin=0A&rc=1mR"  # a stage whose equations are written anew in the reference tests


def integrated():
    """Return how long the general integrator takes for both edges of one nominal stage, as long as ours follow [s]."""
    scenario = scenario_from_query(COMPARED)
    (edges,) = edges_of((scenario,))
    lit, dark = Stage(scenario, True), Stage(scenario, False)
    resting = dark.course([0.0, 0.3, scenario.output.VCC, scenario.output.VCC], 20.0).y[:, -1]
    started = time.perf_counter()
    turned = lit.course(resting, float(edges.on[0].t[-1])).y[:, -1]
    dark.course(turned, float(edges.off[0].t[-1]))
    return time.perf_counter() - started, 2 * len(edges.on)


def main(arguments=()):
    """Measure and print."""
    for name, query in STAGES.items():
        scenarios = [scenario_from_query(f"{query}&ta={20 + k}C") for k in range(REPEATS + 1)]
        timing_of(scenarios[0])
        times, ratio = timed(timing_of, scenarios[1:])
        median = statistics.median(times)
        print(
            f"  {name:26} median {median:6.1f} ms  most {times[-1]:6.1f} ms  target {TARGET:.0f} ms, "
            f"{median / TARGET:.2f} of it; {ratio:.1f} yardsticks"
        )
    scenario = scenario_from_query(COMPARED)
    ours = []
    for _ in range(REPEATS):
        started = time.perf_counter()
        edges_of((scenario,))
        ours.append(time.perf_counter() - started)
    theirs, edges = integrated()
    per_edge, per_ours = theirs / 2, statistics.median(ours) / edges
    print(
        f"  one edge: {1e3 * per_ours:.1f} ms within the batch, {1e3 * per_edge:.1f} ms by a general integrator "
        f"(Radau, rtol 1e-8): {per_edge / per_ours:.0f} times as fast, wished {FASTER:.0f}"
    )


if __name__ == "__main__":
    main()
