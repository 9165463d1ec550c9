"""Many scenarios at once: those that are wired alike are one batch, solved and judged in one go."""

from dataclasses import dataclass

import numpy as np

from engine.build import build_all, wiring
from engine.errors import ScenarioError
from engine.findings import FAILING, judged
from engine.operating import observed
from engine.sizing import size

UNSIZED = "sizing"
"""Stands for the code of a finding where an "auto" resistor cannot be sized."""


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


def _batches(scenarios):
    """Yield places of scenarios that are wired alike, and their resistors; None for those that cannot be sized."""
    alike = {}
    for k, scenario in enumerate(scenarios):
        try:
            sized = size(scenario)
        except ScenarioError:
            yield (k,), None
            continue
        alike.setdefault(wiring(scenario), []).append((k, sized))
    for members in alike.values():
        places, sizes = zip(*members, strict=True)
        yield places, sizes


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
    for places, sizes in _batches(scenarios):
        if sizes is None:
            continue
        solved = observed(build_all(tuple(scenarios[k] for k in places), sizes=sizes))
        for k, place in enumerate(places):
            found[place] = solved.point(k)
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
    batch; ask `operating_points` where they matter.
    """
    columns = {}
    for places, sizes in _batches(scenarios):
        if sizes is None:
            _column(columns, UNSIZED, len(scenarios))[list(places)] = False
            continue
        stage = build_all(tuple(scenarios[k] for k in places), sizes=sizes)
        for finding in judged(observed(stage).point()):
            held = finding.severity not in FAILING
            if finding.holds is not None:
                held = finding.holds.reshape(len(places), stage.members).all(axis=1)
            _column(columns, finding.code, len(scenarios))[list(places)] = held
    holds = np.array(list(columns.values())).reshape(len(columns), len(scenarios)).T
    return Held(tuple(columns), holds)


def _column(columns, code, count):
    """Return the column of a finding, made where it is new."""
    return columns.setdefault(code, np.ones(count, dtype=bool))
