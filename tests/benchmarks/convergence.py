"""Random wild scenarios by the thousand: every one must be solved, and the laws of circuits must hold."""

import argparse
import os
import time
from collections import Counter
from multiprocessing import Pool

from engine import ConvergenceError, query_from
from engine.build import build
from engine.circuit import solve
from tests.property.scenarios import seeded
from tests.property.test_solver import imbalance, left_over

CHUNK = 500


def solve_some(seed):
    """Solve one chunk; return iterations, worst residual and imbalance, the queries that failed, and the circuits."""
    iterations, worst, failed, circuits = Counter(), [0.0, 0.0], [], 0
    for scenario in seeded(CHUNK, seed):
        try:
            netlist = build(scenario).netlist
            circuits += netlist.batch
            solution = solve(netlist)
        except (ConvergenceError, FloatingPointError) as error:
            failed.append(f"{query_from(scenario)}: {error}")
            continue
        iterations[solution.iterations] += 1
        found = left_over(solution), imbalance(netlist, solution)
        worst = [max(pair) for pair in zip(worst, found, strict=True)]
        if max(found) >= 1:
            failed.append(
                f"{query_from(scenario)}: residual {found[0]:.3g}, imbalance {found[1]:.3g} of what is allowed"
            )
    return iterations, worst, failed, circuits


def main(arguments=None):
    """Solve, count and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--count", type=int, default=100_000)
    count = parser.parse_args(arguments).count
    iterations, worst, failed, circuits = Counter(), [0.0, 0.0], [], 0
    start = time.perf_counter()
    with Pool(os.cpu_count()) as pool:
        for some, extremes, wrong, number in pool.imap_unordered(solve_some, range(1000, 1000 + -(-count // CHUNK))):
            iterations += some
            worst = [max(pair) for pair in zip(worst, extremes, strict=True)]
            failed += wrong
            circuits += number
    solved = sum(iterations.values())
    print(f"  {solved + len(failed):,} scenarios, {circuits:,} circuits, in {time.perf_counter() - start:.0f} s")
    print(f"  failed: {len(failed)}")
    for line in failed[:20]:
        print(f"    {line}")
    ranked = sorted(iterations.elements())
    shares = {share: ranked[min(int(share * len(ranked)), len(ranked) - 1)] for share in (0.5, 0.95, 0.99, 0.999, 1.0)}
    print("  iterations of the slowest member:", ", ".join(f"{share:.1%} within {n}" for share, n in shares.items()))
    print(f"  worst residual: {worst[0]:.2g} of 1 nA + 1 ppm")
    print(f"  worst power imbalance: {worst[1]:.2g} of 1 ppm + 1 nA at the highest voltage")


if __name__ == "__main__":
    main()
