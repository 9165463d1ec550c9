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
from engine.meter import METERS, Meter
from engine.once import once
from engine.operating import STATES
from engine.probing import Probe, leads_of
from engine.sampling import Samples

_AT_ONCE = 12  # pairs of points in one batch


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
    """

    meter: Meter
    leads: dict
    pairs: tuple
    faults: tuple
    values: np.ndarray

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
        return -of_state[:, self.pairs.index((black, red))]

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
        If the stage is on alternating voltage, or an "auto" resistor cannot be sized.
    ConvergenceError
        If the solver fails, which is a defect.
    """
    faults = (GOOD, *faults_of(scenario))
    meter, leads = METERS[scenario.conditions.meter], leads_of(scenario)
    probes = [
        Probe(f"{red}-{black}", red, black, side, "", "")
        for side, points in leads.items()
        for red, black in combinations(points, 2)
    ]
    pairs = tuple((probe.red, probe.black) for probe in probes)
    stage = build_all((scenario,), draw=Samples(scenario, 0).take(0))
    shown = [
        simulated(stage, faults, probes[first : first + _AT_ONCE], meter)[..., 0]
        for first in range(0, len(probes), _AT_ONCE)
    ]
    values = np.concatenate(shown, axis=1).transpose(0, 2, 1)
    values.setflags(write=False)
    return AllReadings(meter, leads, pairs, faults, values)
