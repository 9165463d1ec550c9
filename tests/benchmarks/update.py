"""What one update of the explorer costs on one core, and which part of it is the engine's."""

import random
import statistics
import time

from engine import findings_of, operating_point, reasoning_of, scenario_from_query
from tests.benchmarks.yardstick import yardstick
from webapp.app import create_app
from webapp.present.explorer import explore
from webapp.present.stage import LATER
from webapp.routes.scenario import live_context
from webapp.settings import Settings

UPDATES = 400
ENGINE_TARGET, TARGET = 5.0, 8.0  # ms
LARGEST_TARGET = 12.0  # ms
REPEATS = 30
LARGE = {
    "every option around the LED": "nd=2&vz=10V&lamp=red&ri=100R&rb=470R&ap=diode&cf=1u&leak=10M",
    "two-wire sensor": "in=two-wire",
    "relay behind a transistor drive": "in=transistor&if=6mA&out=relay",
    "controller input from a port": "in=logic&vs=5V&if=8mA&iport=12mA&out=controller",
    "larger triac with a snubber": "in=logic&vs=5V&if=16mA&iport=30mA&out=ac-triac&csn=47n",
    "alternating line, resistor": "in=ac",
    "alternating line, capacitors": "in=ac&dropper=capacitor&cs=10u",
}
"""Stages with much to solve."""


class Request:
    """As much of a request as templates ask for."""

    def __init__(self, app):
        self.app = app


def queries():
    """Return the queries of a hand that drags supply, transfer ratio and load."""
    rng = random.Random(1)
    return [
        f"vs={rng.uniform(20, 70):.1f}V&ctr={rng.randrange(60, 300)}%25&rl={rng.choice((22, 33, 47, 68))}00"
        for _ in range(UPDATES)
    ]


def engine_part(query):
    """Solve, size, judge and explain."""
    scenario = scenario_from_query(query)
    point = operating_point(scenario)
    findings_of(point)
    reasoning_of(point, "closed")


def timed(work, arguments):
    """Return how long each call took, in ms, and how long beside the yardstick next to it."""
    times, ratios = [], []
    for argument in arguments:
        start = time.perf_counter()
        work(argument)
        times.append((time.perf_counter() - start) * 1e3)
        ratios.append(times[-1] / yardstick())
    return sorted(times), statistics.median(ratios)


def main(arguments=()):
    """Measure and print."""
    app = create_app(Settings())
    template = app.state.templates.env.get_template("fragments/_live.html")
    request = Request(app)

    def whole(query):
        return template.render(request=request, **live_context(explore(scenario_from_query(query))))

    for work in (engine_part, whole):
        timed(work, queries()[:30])
    rows = (("engine", timed(engine_part, queries()), ENGINE_TARGET), ("whole", timed(whole, queries()), TARGET))
    for name, (times, ratio), target in rows:
        median, p95 = statistics.median(times), times[int(0.95 * len(times))]
        print(
            f"  {name:7} median {median:6.2f} ms  p95 {p95:6.2f} ms  target {target} ms, {median / target:.2f} of it; "
            f"{ratio:.2f} yardsticks"
        )
    _large(whole, template, request)
    engine, whole_ = (statistics.median(times) for _, (times, _), _ in rows)
    lengths = sorted(yardstick() for _ in range(100))
    print(f"  the engine's share is {engine / whole_:.0%}; the fragment has {len(whole('')):,} characters")
    print(f"  a yardstick is {lengths[50]:.2f} ms now, {lengths[0]:.2f} ms at best")


def _large(whole, template, request):
    """Print how long stages with much to solve take, whole and while a slider is held."""

    def dragged(query):
        return template.render(request=request, **live_context(explore(scenario_from_query(query), LATER)))

    for name, query in LARGE.items():
        medians = []
        for work, start in ((whole, 20), (dragged, 60)):
            times, _ = timed(work, [f"{query}&ta={start + k}C" for k in range(REPEATS)])
            medians.append(statistics.median(times))
        print(f"  {name:34} whole {medians[0]:6.1f} ms, dragged {medians[1]:6.1f} ms (target {LARGEST_TARGET:.0f} ms)")


if __name__ == "__main__":
    main()
