"""What a stage has to keep up with, a signal rate and a time of its edges, and which values of a resistor let it."""

from dataclasses import dataclass, replace

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

    @property
    def names(self):
        """Return what stands for all that is asked for."""
        given = ((EDGE_RATE, self.rate), (EDGE_TIME, self.transition))
        return tuple(name for name, asked in given if asked is not None)

    def without(self, names):
        """Return the same with less asked for.

        Parameters
        ----------
        names : tuple of str
            What is left out, `EDGE_RATE` or `EDGE_TIME`.

        Returns
        -------
        Pace
            What is left.
        """
        return Pace(None if EDGE_RATE in names else self.rate, None if EDGE_TIME in names else self.transition)

    def missed(self, timing):
        """Return what a stage does not keep up with.

        Parameters
        ----------
        timing : Timing or None
            Its edges; None where they are not followed, so that it surely keeps up with nothing.

        Returns
        -------
        tuple of str
            `EDGE_RATE`, `EDGE_TIME`, as far as they are missed.
        """
        found = []
        if self.rate is not None and (rate_of(timing) or 0.0) < self.rate * (1.0 - _ALIKE):
            found.append(EDGE_RATE)
        if self.transition is not None:
            time = transition_of(timing)
            if time is None or time > self.transition * (1.0 + _ALIKE):
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


def rate_of(timing):
    """Return the highest rate of a stage at worst.

    Parameters
    ----------
    timing : Timing or None
        Its edges.

    Returns
    -------
    float or None
        Rate; None where a level is not surely read at some corner, or edges are not followed [Hz].
    """
    return timing and timing.max_rate.low


def transition_of(timing):
    """Return how long the slower edge of a stage takes from 10 to 90 % of its swing, at worst.

    Parameters
    ----------
    timing : Timing or None
        Its edges.

    Returns
    -------
    float or None
        Time; None where it is never over at some corner, or edges are not followed [s].
    """
    times = [timing.edges[name].transition.high for name in ("on", "off")] if timing else [None]
    return None if None in times else max(times)


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


def last_kept(pace, stage_with, values):
    """Return the last of some values with which a stage keeps up.

    Parameters
    ----------
    pace : Pace
        What it has to keep up with.
    stage_with : callable
        From a value to the stage.
    values : sequence of float
        Values to choose from, in order [unit].

    Returns
    -------
    float or None
        The last that does; None if none of those tried does [unit].

    Notes
    -----
    Some values that divide the row evenly, then some between the last that does and the next, and so on; each round is
    one batch. A stretch that lies between two neighbours of the first round is not seen.
    """
    best, some = None, list(values)
    while some:
        places = np.unique(np.linspace(0, len(some) - 1, _AT_ONCE).round().astype(int))
        kept = np.flatnonzero(pace.kept([stage_with(some[k]) for k in places]))
        if not len(kept):
            break
        last = kept[-1]
        best = some[places[last]]
        some = some[places[last] + 1 : places[last + 1]] if last + 1 < len(places) else []
    return best


def largest_RL(scenario, rate, values):
    """Return the largest load resistor with which a rate holds at worst.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    rate : float
        Square-wave rate [Hz].
    values : sequence of float
        Resistances to choose from, rising [ohm].

    Returns
    -------
    float or None
        The largest that does; None if none of those tried does [ohm].
    """

    def with_RL(RL):
        return replace(scenario, output=replace(scenario.output, RL=RL))

    return last_kept(Pace(rate), with_RL, values)


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
        inner = (
            np.geomspace(low, high, 2 * _AT_ONCE) if holds is None else np.geomspace(holds, fails, _AT_ONCE + 2)[1:-1]
        )
        kept = np.flatnonzero(pace.kept([stage_with(float(value)) for value in inner]))
        if not len(kept) and holds is None:
            return None, float(inner[0])
        if len(kept):
            holds = float(inner[kept[-1]])
        beyond = kept[-1] + 1 if len(kept) else 0
        if beyond < len(inner):
            fails = float(inner[beyond])
    return holds, fails
