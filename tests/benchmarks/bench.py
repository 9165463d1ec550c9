"""What a bench sheet costs on one core: every point a circuit of its own, all corners, each stage at its own supply."""

import statistics

from engine import bench_sheet, scenario_from_query
from tests.benchmarks.update import timed

TARGET, AC_TARGET = 60.0, 300.0  # ms
REPEATS = 15
STAGES = {
    "the usual stage": "",
    "a pointer": "meter=pointer",
    "two-wire sensor": "in=two-wire",
    "current-limited input": "in=limited",
    "controller input": "out=controller",
    "relay": "out=relay",
    "alternating line, pair of LEDs": "in=ac&form=pair&coupler=two-way",
    "alternating line, bridge": "in=ac",
    "larger triac": "out=ac-triac&coupler=triac-random&if=15mA",
}


def main(arguments=()):
    """Measure and print."""
    for name, query in STAGES.items():
        scenarios = [scenario_from_query(f"{query}&ta={20 + k}C") for k in range(REPEATS + 1)]
        bench_sheet(scenarios[0])
        times, ratio = timed(bench_sheet, scenarios[1:])
        target = AC_TARGET if "in=ac" in query or "out=ac" in query else TARGET
        median = statistics.median(times)
        print(
            f"  {name:34} median {median:6.1f} ms  most {times[-1]:6.1f} ms  target {target:.0f} ms, "
            f"{median / target:.2f} of it; {ratio:.1f} yardsticks"
        )


if __name__ == "__main__":
    main()
