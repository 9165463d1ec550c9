"""Every reading that can be taken of a stage, sound and with each fault it may have: what a fault hunt is played with.

Nominal stage, one meter, leads on any two points of one side. All faults are solved together, so that nothing about
one of them, not even how long it takes, can be told from the work that is done. Which reading parts which faults is
here too; guessing at faults from the readings of a real specimen, with its tolerances, is not.
"""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from engine.build import build_all
from engine.faults import GOOD, faults_of
from engine.hypotheses import simulated
from engine.line_meter import AC, DC, LineMeter, readable
from engine.meter import METERS, Meter
from engine.once import once
from engine.operating import STATES
from engine.probing import Probe, leads_of
from engine.sampling import Samples

_AT_ONCE = 12  # pairs of points in one batch
_SUPPLY = {part: part for part in ("VCC", "VEE")}  # node to the supply that holds it


@dataclass(frozen=True, slots=True, eq=False)
class AllReadings:
    """What a meter shows on a stage at all pairs of points, with nothing wrong and with each fault.

    Attributes
    ----------
    meter : Meter
        The meter.
    leads : dict of str to tuple of str
        "input" and "output" to the points that leads can be put on, the return of the side last.
    pairs : tuple of tuple of (str, str)
        Every pair of points of one side, once.
    faults : tuple of Fault
        What is wrong; the first is that nothing is.
    values : ndarray, shape (faults, states, pairs)
        Readings without the meter's error, states in the order closed, open [V].
    couplings : tuple of str
        Range that each pair is read on: "dc", or "ac" where only what alternates tells something.
    """

    meter: Meter
    leads: dict
    pairs: tuple
    faults: tuple
    values: np.ndarray
    couplings: tuple

    def of(self, state, red, black):
        """Return one reading with every fault, or nothing where the leads are on opposite sides of the barrier.

        Parameters
        ----------
        state : str
            "closed" or "open".
        red : str
            Point that the reading is positive at.
        black : str
            The other point.

        Returns
        -------
        ndarray, shape (faults,), or None
            Readings without the meter's error [V].

        Raises
        ------
        KeyError
            If the stage has no such state or point.
        """
        sides = {point: side for side, points in self.leads.items() for point in points}
        if sides[red] != sides[black]:
            return None
        of_state = self.values[:, _STATE[state]]
        if red == black:
            return np.zeros(len(self.faults))
        if (red, black) in self.pairs:
            return of_state[:, self.pairs.index((red, black))]
        k = self.pairs.index((black, red))
        return of_state[:, k] if self.couplings[k] == AC else -of_state[:, k]

    def coupling(self, red, black):
        """Return the range that is used between two points.

        Parameters
        ----------
        red : str
            One of the points.
        black : str
            The other one.

        Returns
        -------
        str
            "dc" or "ac"; "dc" where they are one point, or on opposite sides of the barrier.
        """
        for pair in ((red, black), (black, red)):
            if pair in self.pairs:
                return self.couplings[self.pairs.index(pair)]
        return DC

    def visible(self):
        """Return for each fault whether some reading is surely another than with nothing wrong.

        Returns
        -------
        ndarray of bool, shape (faults,)
            Whether the meter can show it; the first entry, nothing wrong, is not visible.
        """
        sound = self.values[0]
        apart = np.abs(self.values - sound) > self.meter.error(self.values) + self.meter.error(sound)
        return apart.any(axis=(1, 2))

    def explained(self, shown, values):
        """Return for each fault whether it may be behind what is shown.

        Parameters
        ----------
        shown : float or ndarray
            What the meter shows, its error in it [V].
        values : ndarray
            What it would show without error, faults first [V].

        Returns
        -------
        ndarray of bool
            Whether what is shown lies within the error of the meter.
        """
        return np.abs(values - shown) <= self.meter.error(values) * (1.0 + _SAME)


_STATE = {state: k for k, state in enumerate(STATES)}
_SAME = 1e-9  # [-], of an error: rounding of floats


@once(64)
def all_readings(scenario):
    """Return what the meter of a stage shows at all pairs of points, with nothing wrong and with each fault.

    Parameters
    ----------
    scenario : Scenario
        The sound stage.

    Returns
    -------
    AllReadings
        Readings of the nominal stage.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.
    ConvergenceError
        If the solver fails, which is a defect.
    """
    faults = (GOOD, *faults_of(scenario))
    meter, leads = METERS[scenario.conditions.meter], leads_of(scenario)
    probes = [
        Probe(f"{red}-{black}", red, black, side, _SUPPLY.get(red, "") if black == points[-1] else "", "")
        for side, points in leads.items()
        for red, black in combinations(points, 2)
    ]
    probes, line = readable(scenario, probes), LineMeter(scenario, meter)
    pairs = tuple((probe.red, probe.black) for probe in probes)
    reached = {point for pair in pairs for point in pair}
    leads = {side: tuple(point for point in points if point in reached) for side, points in leads.items()}
    stage = build_all((scenario,), draw=Samples(scenario, 0).take(0))
    together = len(probes) if line.follows else _AT_ONCE
    shown = [
        simulated(stage, faults, probes[first : first + together], meter)[..., 0]
        for first in range(0, len(probes), together)
    ]
    values = np.concatenate(shown, axis=1).transpose(0, 2, 1)
    values.setflags(write=False)
    ready = line.ready(stage)
    couplings = {
        side: iter(line.couplings(ready, side, [(p.red, p.black) for p in probes if p.side == side]))
        for side in ("input", "output")
    }
    return AllReadings(meter, leads, pairs, faults, values, tuple(next(couplings[p.side]) for p in probes))
