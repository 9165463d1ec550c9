"""How often a fault is found by what a meter reads, and how long that takes, on stages of every kind.

Fresh stages are drawn from the tolerances, and every reading has an error within the meter's. A fault is found where
the first of the ranking is that fault, or one that no reading of the sheet tells from it.
"""

import time

import numpy as np

from engine import INPUTS, METERS, OUTPUTS, diagnose, scenario_from_query
from engine.build import build_all
from engine.hypotheses import hypotheses_of, simulated
from engine.sampling import Samples
from tests.benchmarks.yardstick import yardstick

SPECIMENS, SEED, FEW = 10, 2024, 4
TARGETS = 0.95, 0.85
SECONDS = 0.1
STAGES = (
    *(f"in={kind}" for kind in INPUTS if kind != "ac"),
    "in=transistor&q=mosfet&qat=across",
    "rb=2k2&ap=diode&cf=100nF",
    *(f"out={kind}&coupler={side.usual_coupler}&if=10mA" for kind, side in OUTPUTS.items() if not side.on_line),
    "coupler=with-base&rbe=470k",
    *(f"meter={kind}" for kind in METERS),
)


def right(found, fault):
    """Return whether a diagnosis comes first to a fault, or to one that no reading tells from it."""
    first = found.ranking[0]
    return fault in (first.fault, *first.same_readings_as)


def measure(query):
    """Return shares found by the whole sheet and by a few readings, unexplained ones, class size, and times."""
    scenario = scenario_from_query(query)
    start = time.perf_counter()
    known = hypotheses_of(scenario)
    first, each, found_by = time.perf_counter() - start, [], []
    meter, places = METERS[scenario.conditions.meter], list(known.places)
    stage = build_all((scenario,), draw=Samples(scenario, SEED).take(SPECIMENS))
    volts = simulated(stage, known.faults, known.probes, meter)[..., 1:]
    volts += np.random.default_rng(SEED).uniform(-1.0, 1.0, volts.shape) * meter.error(volts)
    for fault, one in zip(known.faults, volts, strict=True):
        for read in one.reshape(-1, SPECIMENS).T.tolist():
            start = time.perf_counter()
            whole = diagnose(scenario, [(*place, value) for place, value in zip(places, read, strict=True)])
            each.append(time.perf_counter() - start)
            few, readings = diagnose(scenario, []), []
            while few.next is not None and len(readings) < FEW:
                place = few.next.point, few.next.state
                readings.append((*place, read[known.places[place]]))
                few = diagnose(scenario, readings)
            found_by.append((right(whole, fault), right(few, fault), not whole.explained, len(readings)))
    size = np.mean([1 + len(known.alike(k)) for k in range(len(known.faults))])
    return np.mean(found_by, axis=0), size, first, float(np.median(each)), len(known.faults), len(places)


def main(arguments=()):
    """Measure and print."""
    before, worst = yardstick(), np.ones(2)
    for query in STAGES:
        (whole, few, unexplained, taken), size, first, each, faults, readings = measure(query)
        worst = np.minimum(worst, (whole, few))
        print(f"  {query}: {faults} faults, {readings} readings, {size:.1f} alike on average")
        print(
            f"    whole sheet {whole:.1%}, {FEW} suggested {few:.1%} ({taken:.1f} taken), unexplained {unexplained:.1%}"
        )
        print(f"    {each * 1e3:.1f} ms, the first time {first:.2f} s more", flush=True)
    print(f"  at worst {worst[0]:.1%} and {worst[1]:.1%} (targets {TARGETS[0]:.0%} and {TARGETS[1]:.0%})")
    print(f"  time of a whole sheet: target {SECONDS * 1e3:.0f} ms")
    print(f"  yardstick {before:.1f} ms before, {yardstick():.1f} ms after")


if __name__ == "__main__":
    main()
