"""What a stage has to keep up with, a signal rate and a time of its edges, and which values of a resistor let it."""

from dataclasses import dataclass

import numpy as np

from engine.errors import ConvergenceError
from engine.timing import timings_of

EDGE_RATE, EDGE_TIME = "edge-rate", "edge-time"
"""Code of the finding on a signal rate, and what stands for it where a time of the edges is asked for."""

_AT_ONCE = 8  # [-], values that are looked at together
_ALIKE = 1e-9  # [-], what a rate or a time may miss what is asked for by and still meet it


@dataclass(frozen=True, slots=True)
class Pace:
    """What edges have to keep up with at the slowest corner.

    Attributes
    ----------
    rate : float or None
        Square-wave rate; None where none is asked for [Hz].
    transition : float or None
        Time from 10 to 90 % of the swing that neither edge exceeds; None where none is asked for [s].
    """

    rate: float | None = None
    transition: float | None = None

    @property
    def asked(self):
        """Return whether anything is asked for."""
        return self.rate is not None or self.transition is not None

    def missed(self, timing):
        """Return what a stage does not keep up with.

        Parameters
        ----------
        timing : Timing or None
            Its edges; None where they are not followed, which is not held against it.

        Returns
        -------
        tuple of str
            `EDGE_RATE`, `EDGE_TIME`, as far as they are missed.
        """
        if timing is None:
            return ()
        found = []
        if self.rate is not None and (timing.max_rate.low or 0.0) < self.rate * (1.0 - _ALIKE):
            found.append(EDGE_RATE)
        if self.transition is not None:
            times = [timing.edges[name].transition.high for name in ("on", "off")]
            if None in times or max(times) > self.transition * (1.0 + _ALIKE):
                found.append(EDGE_TIME)
        return tuple(found)

    def kept(self, scenarios):
        """Return which stages keep up.

        Parameters
        ----------
        scenarios : sequence of Scenario
            The stages.

        Returns
        -------
        list of bool
            In their order.
        """
        return [not self.missed(timing) for timing in followed(scenarios)]


def followed(scenarios):
    """Return the edges of stages, those that are wired alike as one batch.

    Parameters
    ----------
    scenarios : sequence of Scenario
        The stages.

    Returns
    -------
    list of Timing or None
        In their order; None where edges are not followed, or one does not come to rest.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.
    """
    try:
        return timings_of(scenarios)
    except ConvergenceError:
        # One that is not found takes the others of its batch along.
        return [followed((one,))[0] for one in scenarios] if len(scenarios) > 1 else [None]


def largest(pace, stage_with, values):
    """Return the largest value with which a stage keeps up.

    Parameters
    ----------
    pace : Pace
        What it has to keep up with.
    stage_with : callable
        From a value to the stage.
    values : sequence of float
        Values to choose from, rising [unit].

    Returns
    -------
    float or None
        The largest that does; None if none of those tried does [unit].

    Notes
    -----
    Some values that divide the range evenly, then some between the last that does and the next, and so on; each round
    is one batch. A stretch that lies between two neighbours of the first round is not seen.
    """
    best, some = None, list(values)
    while some:
        tried = [some[k] for k in np.unique(np.linspace(0, len(some) - 1, _AT_ONCE).round().astype(int))]
        kept = np.flatnonzero(pace.kept([stage_with(value) for value in tried]))
        if len(kept):
            best = tried[kept[-1]]
        if len(tried) == len(some) or not len(kept):
            break
        above = tried[kept[-1] + 1] if kept[-1] + 1 < len(tried) else best
        some = [value for value in some if best < value < above]
    return best


def upper_end(pace, stage_with, low, high, found_to):
    """Return up to which value a stage keeps up.

    Parameters
    ----------
    pace : Pace
        What it has to keep up with.
    stage_with : callable
        From a value to the stage.
    low : float
        The smallest value that is looked at, above 0 [unit].
    high : float
        The largest [unit].
    found_to : float
        What the end is found to, relative to itself [-].

    Returns
    -------
    tuple of (float or None, float or None)
        The largest value with which it keeps up, None if there is none; the smallest beyond with which it does not,
        None at the end of what is looked at [unit].
    """
    holds, fails = None, None
    while holds is None or (fails is not None and fails / holds > 1.0 + found_to):
        inner = np.geomspace(low, high, 2 * _AT_ONCE) if holds is None else np.geomspace(holds, fails, _AT_ONCE + 2)[1:-1]
        kept = np.flatnonzero(pace.kept([stage_with(float(value)) for value in inner]))
        if not len(kept) and holds is None:
            return None, float(inner[0])
        if len(kept):
            holds = float(inner[kept[-1]])
        beyond = kept[-1] + 1 if len(kept) else 0
        if beyond < len(inner):
            fails = float(inner[beyond])
    return holds, fails
