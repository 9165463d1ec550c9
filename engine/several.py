"""Many scenarios at once: those that are wired alike are one batch, solved and judged in one go."""

from dataclasses import dataclass

import numpy as np

from engine.build import Corners, build_all, wiring
from engine.errors import ScenarioError
from engine.findings import FAILING, judged
from engine.inputs.side import InputSide
from engine.joining import UnlikeError, joined, parted
from engine.joining import solved as solution_of
from engine.operating import Observed
from engine.parameter import declared
from engine.sizing import size

UNSIZED = "sizing"
"""Stands for the code of a finding where an "auto" resistor cannot be sized."""

_DRIVEN = 1e-9  # [A], current below which a stage is not asked for a transfer ratio


@dataclass(frozen=True, slots=True)
class Held:
    """Which findings hold in which of several scenarios, at every corner.

    Attributes
    ----------
    codes : tuple of str
        Codes of the findings that any of them has; `UNSIZED` among them where a resistor cannot be sized.
    holds : ndarray of bool, shape (scenarios, codes)
        Whether each holds; where a scenario has no such finding it does.
    """

    codes: tuple
    holds: np.ndarray

    @property
    def all(self):
        """Return whether every finding holds, shape (scenarios,)."""
        return self.holds.all(axis=1)

    def failing(self, k):
        """Return the codes of the findings that do not hold in one scenario.

        Parameters
        ----------
        k : int
            Which scenario.

        Returns
        -------
        tuple of str
            Codes, in the order of importance.
        """
        return tuple(code for code, held in zip(self.codes, self.holds[k], strict=True) if not held)


class _Some(Corners):
    """Some of the corners."""

    def __init__(self, corners, chosen):
        self.members = len(chosen)
        self.ways = {name: ends[chosen] for name, ends in corners.ways.items()}


def _drawn(scenario, chosen):
    """Return what makes the members of a scenario: all corners (None), or those that are chosen of so many."""
    if not chosen:
        return None
    conditions = scenario.conditions
    own = (part.spreads(conditions.tolerance) for part in (scenario.input, scenario.output))
    corners = Corners(*own, conditions.TA_ends != (conditions.TA, conditions.TA))
    return _Some(corners, chosen[corners.members]) if corners.members in chosen else None


def _shape(scenario, wired):
    """Return what scenarios must have in common to be solved together, however they are built."""
    side = scenario.input
    kept = [getattr(side, name) for name in declared(side) if name not in InputSide.by_value]
    return (type(side), *kept, *wired[1:])


def solved(scenarios, chosen=None):
    """Yield several stages, solved in as few batches as there are shapes among them.

    Parameters
    ----------
    scenarios : sequence of Scenario
        The stages.
    chosen : dict of int to ndarray of int or None
        How many members a stage has to those of them that are built, the nominal one first; all if None.

    Yields
    ------
    tuple of (tuple of int, Observed or None)
        Places in `scenarios` and what is read off there; None for those that cannot be sized.

    Raises
    ------
    ConvergenceError
        If the solver fails, which is a defect.
    """
    shapes = {}
    for k, scenario in enumerate(scenarios):
        try:
            sized = size(scenario)
        except ScenarioError:
            yield (k,), None
            continue
        wired = wiring(scenario)
        alike = shapes.setdefault(_shape(scenario, wired), {})
        alike.setdefault(wired, []).append((k, sized))
    for alike in shapes.values():
        for places, stage in _built(scenarios, alike.values(), chosen):
            for which, seen in _seen(stage):
                yield tuple(places[k] for k in which), seen


def _built(scenarios, wired, chosen):
    """Yield places and stage of scenarios that can be solved together: of all, unless that proves impossible."""
    built = []
    for members in wired:
        places, sizes = zip(*members, strict=True)
        some = tuple(scenarios[k] for k in places)
        built.append((places, build_all(some, _drawn(some[0], chosen), sizes)))
    try:
        yield sum((places for places, _ in built), ()), joined([stage for _, stage in built])
    except UnlikeError:
        yield from built


def _seen(stage):
    """Yield scenarios of a stage and what is read off: apart those that no ratio is told of, as nothing drives them."""
    solution = solution_of(stage)
    seen, count = Observed(stage, solution), len(stage.scenarios)
    ratios = seen.more[0].arrays
    if count == 1 or "overdrive" in ratios or "IC_needed" not in ratios:
        yield range(count), seen
        return
    currents = seen.currents["LED"][: stage.count], ratios["IC_needed"]
    least = np.array([current.reshape(count, -1).min(axis=1) for current in currents])
    kinds = (least > _DRIVEN).cumprod(axis=0).sum(axis=0)
    for kind in np.unique(kinds):
        which = np.flatnonzero(kinds == kind)
        yield which, Observed(*parted(stage, solution, which))


def operating_points(scenarios):
    """Return several solved stages.

    Parameters
    ----------
    scenarios : sequence of Scenario
        The stages.

    Returns
    -------
    list of OperatingPoint or None
        In the order of `scenarios`; None where an "auto" resistor cannot be sized.

    Raises
    ------
    ConvergenceError
        If the solver fails, which is a defect.
    """
    found = [None] * len(scenarios)
    for places, seen in solved(scenarios):
        for k, place in enumerate(places if seen else ()):
            found[place] = seen.point(k)
    return found


def held_by(scenarios):
    """Return which findings hold in several stages, at every corner.

    Parameters
    ----------
    scenarios : sequence of Scenario
        The stages.

    Returns
    -------
    Held
        In the order of `scenarios`.

    Raises
    ------
    ConvergenceError
        If the solver fails, which is a defect.

    Notes
    -----
    Findings that do not go member by member (those over the cycle of a line) are judged on the first scenario of each
    batch; ask `operating_points` where they matter. Slow rules, which follow edges over time, are not asked:
    `engine.pace` tells which of many stages keep up with a signal rate, or `findings_of` of one.
    """
    columns = {}
    for places, seen in solved(scenarios):
        if seen is None:
            _column(columns, UNSIZED, len(scenarios))[list(places)] = False
            continue
        for finding in judged(seen.point()):
            held = finding.severity not in FAILING
            if finding.holds is not None:
                held = finding.holds.reshape(len(places), -1).all(axis=1)
            _column(columns, finding.code, len(scenarios))[list(places)] = held
    holds = np.array(list(columns.values())).reshape(len(columns), len(scenarios)).T
    return Held(tuple(columns), holds)


def _column(columns, code, count):
    """Return the column of a finding, made where it is new."""
    return columns.setdefault(code, np.ones(count, dtype=bool))
