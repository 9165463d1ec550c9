"""Many samples of a stage, judged and counted, against a root finder that takes samples one by one.

Times are those of the processor, so that others on the machine matter less.
"""

import time
from dataclasses import replace

import numpy as np

from engine import Plan, Run, scenario_from_query
from engine.build import build_all
from engine.sampling import Samples
from tests.benchmarks.yardstick import yardstick
from tests.equations import Stage, Values

SAMPLES, ALONE, REPEATS = 100_000, 300, 5
TARGET, SECONDS = 30.0, 1.5
NAMES = "VS", "R1", "CTR", "VCC", "RL", "shift", "ICEO", "down", "up"


def whole(scenario):
    """Return how long all samples take, findings and statistics included, the best of some; and how many fail."""
    best = np.inf
    for _ in range(REPEATS):
        start = time.process_time()
        run = Run(scenario, Plan(SAMPLES))
        while not run.finished:
            run.step()
        found = run.result()
        best = min(best, time.process_time() - start)
    return best, found.all.failing


def one_by_one(scenario):
    """Return how long one sample takes in both states where each is solved alone, without findings."""
    varied = build_all((scenario,), draw=Samples(scenario, 1).take(ALONE)).varied
    values = [replace(Values.nominal(scenario), **{n: float(varied[n][k]) for n in NAMES}) for k in range(1, ALONE + 1)]
    start = time.process_time()
    for one in values:
        for closed in (True, False):
            Stage(scenario, one, closed).by_root()
    return (time.process_time() - start) / ALONE


def main(arguments=()):
    """Measure, compare and print."""
    scenario = scenario_from_query("")
    before = yardstick()
    together, failing = whole(scenario)
    alone = one_by_one(scenario)
    each = together / SAMPLES
    print(f"  {SAMPLES:,} samples in both states: {together:.2f} s of one core (target {SECONDS} s), {failing} fail")
    print(f"  {each * 1e6:.1f} us each, against {alone * 1e6:.0f} us by scipy.optimize.root, nothing judged")
    print(f"  ratio {alone / each:.0f} (target {TARGET:.0f})")
    print(f"  yardstick {before:.1f} ms before, {yardstick():.1f} ms after")


if __name__ == "__main__":
    main()
