"""How often a fault is found by what a meter reads, and how long that takes, on every kind of stage.

Fresh stages are drawn from the tolerances, and every reading has an error within the meter's. A fault is found where
the first of the ranking is that fault, or one that no reading of the sheet tells from it. Beside it, what share of
good stages lies within the windows of the bench sheet.
"""

import argparse
import time
from dataclasses import dataclass

import numpy as np

from engine import METERS, STATES, bench_sheet, diagnose, scenario_from_query
from engine.build import build_all
from engine.faults import GOOD
from engine.hypotheses import hypotheses_of, simulated
from engine.line_meter import on_line
from engine.probing import read
from engine.sampling import Samples
from tests.benchmarks.yardstick import yardstick
from tests.catalogue import on_lines, stages

SPECIMENS, SEED, FEW, UNITS = 6, 2024, 4, 400
TARGETS = 0.95, 0.85
WINDOW = 0.99  # share of good stages within every window
SECONDS, FIRST = 0.1, 3.0  # of a whole sheet, and of the first time
WORST = 8  # stages that are named at the end


@dataclass(frozen=True, slots=True)
class Measured:
    """One stage: what was found, over all its cases, and how long it took.

    Attributes
    ----------
    query : str
        The stage.
    cases : int
        Specimens of all faults.
    whole, few : float
        Shares found by the whole sheet and by a few suggested readings.
    taken : float
        Suggested readings that were taken, on average.
    unexplained : float
        Share of cases that no single fault is said to explain.
    alike : float
        Faults of a class, on average.
    each, first : float
        Time of a whole sheet once the stage is known, and what the first one takes more [s].
    window : float
        Least share of good stages within a window.
    missed : tuple of str
        Faults that were not found, by the whole sheet first, each with how often.
    """

    query: str
    cases: int
    whole: float
    few: float
    taken: float
    unexplained: float
    alike: float
    each: float
    first: float
    window: float
    missed: tuple

    @property
    def short(self):
        """Return whether a target is missed."""
        return self.whole < TARGETS[0] or self.few < TARGETS[1] or self.window < WINDOW or self.each > SECONDS


def right(found, fault):
    """Return whether a diagnosis comes first to a fault, or to one that no reading tells from it."""
    first = found.ranking[0]
    return fault in (first.fault, *first.same_readings_as)


def measure(query):
    """Return what a stage gives."""
    scenario = scenario_from_query(query)
    start = time.perf_counter()
    known = hypotheses_of(scenario)
    first, each, found, missed = time.perf_counter() - start, [], [], {}
    begin, volts = diagnose(scenario, []), _specimens(scenario, known)
    for fault, one in zip(known.faults, volts, strict=True):
        for sheet in one.reshape(-1, SPECIMENS).T.tolist():
            whole, seconds = _whole(scenario, known, sheet)
            few, taken = _few(scenario, known, sheet, begin)
            each.append(seconds)
            found.append((right(whole, fault), right(few, fault), taken, not whole.explained))
            for n, what in enumerate(("whole", "few")):
                if not found[-1][n]:
                    missed[fault.id, what] = missed.get((fault.id, what), 0) + 1
    size = np.mean([1 + len(known.alike(k)) for k in range(len(known.faults))])
    names = tuple(
        f"{name} ({what} {count})" for (name, what), count in sorted(missed.items(), key=lambda m: m[0][::-1])
    )
    shares = (float(share) for share in np.mean(found, axis=0))
    return Measured(
        query, len(found), *shares, float(size), float(np.median(each)), first, windows(scenario), names[::-1]
    )


def _specimens(scenario, known):
    """Return what the meter shows, its error in it, with every fault in fresh stages."""
    meter, stage = METERS[scenario.conditions.meter], _drawn(scenario, SPECIMENS)
    volts = simulated(stage, known.faults, known.probes, meter)[..., 1:]
    return volts + np.random.default_rng(SEED).uniform(-1.0, 1.0, volts.shape) * meter.error(volts)


def _drawn(scenario, count):
    """Return fresh stages after the nominal one."""
    return build_all((scenario,), draw=Samples(scenario, SEED).take(count))


def _whole(scenario, known, sheet):
    """Return the diagnosis by all readings, and its time."""
    start = time.perf_counter()
    whole = diagnose(scenario, [(*place, sheet[k]) for place, k in known.places.items()])
    return whole, time.perf_counter() - start


def _few(scenario, known, sheet, found):
    """Return the diagnosis by the readings that are suggested, and how many they were."""
    readings = []
    while found.next is not None and len(readings) < FEW:
        place = found.next.point, found.next.state
        readings.append((*place, sheet[known.places[place]]))
        found = diagnose(scenario, readings)
    return found, len(readings)


def windows(scenario):
    """Return the least share of good stages whose reading lies within its window."""
    sheet, stage = bench_sheet(scenario), _drawn(scenario, UNITS)
    rows = [row for row in sheet.rows if None not in row.states.values()]
    if on_line(scenario):
        volts = simulated(stage, [GOOD], [row.probe for row in rows], sheet.meter)[0]
    else:
        pairs = [(row.probe.red, row.probe.black) for row in rows]
        volts = read(stage.netlist, pairs, sheet.meter).reshape(len(pairs), 2, -1)
    volts += np.random.default_rng(SEED).uniform(-1.0, 1.0, volts.shape) * sheet.meter.error(volts)
    return min(
        float(((one >= row.states[state].low) & (one <= row.states[state].high)).mean())
        for row, both in zip(rows, volts, strict=True)
        for state, one in zip(STATES, both, strict=True)
    )


def _tell(one):
    """Print one stage."""
    print(f"  {one.query}{'   BELOW TARGET' if one.short else ''}")
    print(
        f"    {one.cases} cases, {one.alike:.1f} alike on average; whole sheet {one.whole:.1%}, {FEW} suggested "
        f"{one.few:.1%} ({one.taken:.1f} taken), unexplained {one.unexplained:.1%}; windows {one.window:.1%}; "
        f"{one.each * 1e3:.1f} ms, first {one.first:.2f} s"
    )
    if one.short:
        print(f"    missed: {', '.join(one.missed)}")


def _tell_all(all_of, seconds):
    """Print what all stages come to."""
    cases = sum(one.cases for one in all_of)
    for name, share, target in (
        ("whole sheet", lambda one: one.whole, TARGETS[0]),
        (f"{FEW} suggested readings", lambda one: one.few, TARGETS[1]),
        ("good stages within windows", lambda one: one.window, WINDOW),
    ):
        ranked = sorted(all_of, key=share)
        mean = sum(share(one) * one.cases for one in all_of) / cases
        print(f"  {name}: {mean:.2%} on average, at worst {share(ranked[0]):.1%} (target {target:.0%} on every stage)")
        for one in ranked[:WORST]:
            print(f"    {share(one):.1%}  {one.query}")
    each, first = max(all_of, key=lambda one: one.each), max(all_of, key=lambda one: one.first)
    print(f"  a whole sheet {each.each * 1e3:.1f} ms at most (target {SECONDS * 1e3:.0f} ms): {each.query}")
    print(f"  the first time {first.first:.2f} s more at most (target {FIRST:.0f} s): {first.query}")
    below = [one.query for one in all_of if one.short]
    print(f"  {len(all_of)} stages, {cases} cases, {seconds:.0f} s; below a target: {len(below)}")
    print("".join(f"    {query}\n" for query in below), end="")


def main(arguments=()):
    """Measure and print all stages, or those that have one of some texts in their query."""
    parser = argparse.ArgumentParser(prog="diagnosis")
    parser.add_argument("--only", action="append", default=[], help="part of the query of the stages that are measured")
    only, before, start, all_of = parser.parse_args(list(arguments)).only, yardstick(), time.perf_counter(), []
    for query in (*stages(), *on_lines()):
        if not only or any(text in query for text in only):
            all_of.append(measure(query))
            _tell(all_of[-1])
    if all_of:
        _tell_all(all_of, time.perf_counter() - start)
    print(f"  yardstick {before:.1f} ms before, {yardstick():.1f} ms after")


if __name__ == "__main__":
    main()
