"""What a reading of the meter in a fault hunt costs: the request as a whole, on one core, kept on disk."""

import statistics
import tempfile
import time
from pathlib import Path

from starlette.testclient import TestClient

from engine import all_readings, scenario_from_query
from webapp.app import create_app
from webapp.hunting.rates import Allowance, Rates
from webapp.settings import Settings

TARGET = 20.0  # ms
STAGES = {
    "usual stage": "",
    "relay behind a sensor": "in=sinking&vs=24V&out=relay",
    "controller input behind a two-wire sensor": "in=two-wire&out=controller",
    "every option around the LED, relay": "nd=1&vz=4V&lamp=red&lampat=parallel&rb=1k&ap=diode&line=40R&out=relay",
}


def main(arguments=()):
    """Measure and print."""
    for name, query in STAGES.items():
        with tempfile.TemporaryDirectory() as folder:
            app = create_app(Settings(database=str(Path(folder) / "kept.sqlite3")))
            app.state.hunt_rates = Rates(*(Allowance(1e6, 1e6) for _ in range(4)))
            start = time.perf_counter()
            table = all_readings(scenario_from_query(query))
            solved = (time.perf_counter() - start) * 1e3
            times, work = _played(app, query, table)
            app.state.store.close()
        print(
            f"  {name:42} median {statistics.median(times):5.1f} ms  p95 {_late(times):5.1f} ms  "
            f"target {TARGET:.0f} ms; at work {statistics.median(work):.1f} ms, p95 {_late(work):.1f} ms, the rest "
            f"waits for disk and cores; all {table.values.size} readings solved once in {solved:.0f} ms"
        )


def _late(times):
    """Return what 95 % of some times stay below, in ms."""
    return sorted(times)[int(0.95 * len(times))]


def _played(app, query, table):
    """Return how long every reading of a stage took, and how long the processor was at work for it, in ms."""
    # One client for all: by itself it would start a thread and an event loop of its own for every request.
    with TestClient(app, follow_redirects=False) as client:
        return _all_read(client, query, table)


def _all_read(client, query, table):
    """Return the times of all readings, which one who takes part asks for one after the other."""
    path = client.post(f"/hunt/new?{query}", data={"fault": ""}).headers["Location"].partition("/watch/")[0]
    client.post(f"{path}/join", data={"nickname": "Ann"})
    times, work = [], []
    for sw in ("closed", "open"):
        for red, black in table.pairs:
            start, begun = time.perf_counter(), time.process_time()
            answer = client.post(f"{path}/meter", data={"sw": sw, "red": red, "black": black})
            times.append((time.perf_counter() - start) * 1e3)
            work.append((time.process_time() - begun) * 1e3)
            assert answer.status_code == 200
    return times, work


if __name__ == "__main__":
    main()
