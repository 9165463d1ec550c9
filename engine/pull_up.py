"""The largest load resistor that is fast enough: for a wanted rate, or a wanted transition of the slower edge."""

import math
from dataclasses import dataclass

import numpy as np

from engine.errors import Problem, QuantityError, ScenarioError
from engine.findings import RULES
from engine.pace import followed, rate_of, transition_of
from engine.parameter import declared
from engine.preferred import ladder
from engine.quantity import HERTZ, OHM, SECOND, as_typed, parse, reading
from engine.several import held_by
from engine.timing import why_untimed
from engine.tradeoff import refitted, tradeoff_of

RATES = (1e-3, 1e9)
"""Wanted rates that are accepted [Hz]."""

EDGES = (1e-9, 1e3)
"""Wanted transitions that are accepted [s]."""

_BEYOND = 100.0  # [-], how far beyond the ladder is looked, either way
_TRIED, _ROUNDS = 8, 4  # values at a time; how often what is looked through is narrowed
_HELD = 12  # values whose findings are looked at together


@dataclass(frozen=True, slots=True)
class Wanted:
    """What an output is to reach at worst.

    Attributes
    ----------
    rate : float or None
        Square-wave rate [Hz].
    edge : float or None
        Transition of the slower edge from 10 to 90 % [s].

    Raises
    ------
    ScenarioError
        If not one of both is wanted, or it lies outside of what is accepted.
    """

    rate: float | None = None
    edge: float | None = None

    def __post_init__(self):
        """Refuse what cannot be wanted."""
        if (self.rate is None) == (self.edge is None):
            given = "neither" if self.rate is None else "both"
            raise ScenarioError([Problem("rate", given, "a rate or an edge, not both", "one of them is to be wanted")])
        name = "rate" if self.edge is None else "edge"
        value, (low, high) = getattr(self, name), _LIMITS[name]
        if not low <= value <= high:
            given = as_typed(value, _UNITS[name]) if math.isfinite(value) else str(value)
            raise ScenarioError([Problem(name, given, _accepted(name), f"the wanted {name} is out of range")])

    def figure(self, timing):
        """Return what a stage reaches at worst.

        Parameters
        ----------
        timing : Timing or None
            Its edges; None where they are not found.

        Returns
        -------
        float
            A rate, 0 where a level is never reached; or a time, infinite where an edge is never over [Hz or s].
        """
        if self.edge is None:
            return rate_of(timing) or 0.0
        time = transition_of(timing)
        return math.inf if time is None else time

    def met(self, figure):
        """Return whether a rate or a time does.

        Parameters
        ----------
        figure : float
            What is reached, as of `figure` [Hz or s].

        Returns
        -------
        bool
            Whether it is what is wanted, or better.
        """
        return figure >= self.rate if self.edge is None else figure <= self.edge

    def told(self, figure):
        """Return a rate or a time in words.

        Parameters
        ----------
        figure : float
            What is reached, as of `figure` [Hz or s].

        Returns
        -------
        str
            Three digits and the unit.
        """
        return " ".join(reading(figure, HERTZ if self.edge is None else SECOND))


_LIMITS, _UNITS = {"rate": RATES, "edge": EDGES}, {"rate": HERTZ, "edge": SECOND}


@dataclass(frozen=True, slots=True)
class PullUp:
    """The load resistor for a wanted speed.

    Attributes
    ----------
    wanted : Wanted
        What is wanted.
    RL : float or None
        The largest of the series that does; None where there is none [ohm].
    figure : float or None
        What it reaches at worst [Hz or s].
    scenario : Scenario or None
        The stage with it.
    reason : str
        What stops the next larger value, or why there is none, in a sentence.
    """

    wanted: Wanted
    RL: float | None
    figure: float | None
    scenario: object
    reason: str


def wanted_from(texts):
    """Return what is wanted, from texts.

    Parameters
    ----------
    texts : dict of str to str
        "rate" or "edge", with its unit; other keys are passed over.

    Returns
    -------
    Wanted or None
        What is wanted; None where nothing is.

    Raises
    ------
    ScenarioError
        If a text cannot be read or what is wanted cannot be, with every such one.

    Examples
    --------
    >>> wanted_from({"rate": "9600 Hz"})
    Wanted(rate=9600.0, edge=None)
    """
    found, problems = {}, []
    for name, unit in _UNITS.items():
        text = texts.get(name, "").strip()
        try:
            found |= {name: parse(text, unit)} if text else {}
        except QuantityError as error:
            problems.append(Problem(name, error.given, _accepted(name), error.reason))
    if problems:
        raise ScenarioError(problems)
    return Wanted(**found) if found else None


def _accepted(name):
    """Return what may be wanted, as a phrase."""
    return "{} to {}".format(*(as_typed(end, _UNITS[name]) for end in _LIMITS[name]))


def pull_up_for(scenario, rate=None, edge=None, found=None):
    """Return the largest standard load resistor with which an output is fast enough at worst and nothing new fails.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    rate : float or None
        Wanted square-wave rate [Hz].
    edge : float or None
        Wanted transition of the slower edge from 10 to 90 % [s].
    found : Tradeoff or None
        The stage over RL, where it is known already.

    Returns
    -------
    PullUp
        The resistor, or why there is none.

    Raises
    ------
    ScenarioError
        If what is wanted cannot be, or an "auto" resistor cannot be sized.
    ConvergenceError
        If the solver fails, which is a defect.

    Notes
    -----
    Speed falls with RL once both levels are read. So a bracket is looked for on the ladder of `engine.tradeoff`, and
    beyond its ends; the values of the series within it are narrowed, and from the largest that is fast enough down the
    first is taken with which every finding holds that holds now.

    References
    ----------
    Derived here.
    """
    wanted = Wanted(rate, edge)
    known = found or tradeoff_of(scenario, "RL")
    if known is None:
        return PullUp(wanted, None, None, None, why_untimed(scenario))
    return _Search(known, wanted).answer()


class _Search:
    """The search for one resistor."""

    def __init__(self, found, wanted):
        self.scenario, self.wanted, self.now = found.scenario, wanted, set(found.now)
        figures = found.speed.worst if wanted.edge is None else found.speed.edge
        self.figures = dict(zip(found.R.tolist(), figures.tolist(), strict=True))
        self.breaks = dict(zip(found.R.tolist(), found.failing, strict=True))
        accepted = declared(found.scenario.output)["RL"]
        ends = max(found.R[0] / _BEYOND, accepted.low), min(found.R[-1] * _BEYOND, accepted.high)
        self.values = np.array(ladder(*ends, found.scenario.conditions.series))

    def answer(self):
        """Return the resistor, or why there is none."""
        fast = self._fastest()
        if fast is None:
            return self._none(None)
        best = self._holding(self.values[self.values <= fast])
        if best is None or not self._met(best):
            return self._none(fast)
        stage = refitted(self.scenario, "RL", best)
        return PullUp(self.wanted, best, self.figures[best], stage, self._above(best))

    def _met(self, R):
        """Return whether one value is fast enough."""
        self._follow([R])
        return bool(self.wanted.met(self.figures[R]))

    def _follow(self, values):
        """Follow the edges with values that are not known yet."""
        new = [R for R in values if R not in self.figures]
        timings = followed([refitted(self.scenario, "RL", R) for R in new])
        self.figures |= {R: self.wanted.figure(timing) for R, timing in zip(new, timings, strict=True)}

    def _fastest(self):
        """Return the largest value of the series that is fast enough; None if there is none."""
        low, high = self._bracket()
        if low is None or high is None:
            self._follow(self._some(self.values[(self.values > (low or 0.0)) & (self.values < (high or np.inf))]))
            low, high = self._bracket()
        if low is None:
            return None
        for _ in range(_ROUNDS):
            between = self.values[(self.values > low) & (self.values < (high or np.inf))]
            if not len(between):
                break
            self._follow(self._some(between))
            low, high = self._bracket()
        below = self.values[self.values <= low * (1.0 + 1e-9)]
        return float(below[-1]) if len(below) else None

    def _bracket(self):
        """Return the largest value so far that is fast enough, and the next one; None where there is none."""
        tried = sorted(self.figures)
        fast = [R for R in tried if self.wanted.met(self.figures[R])]
        if not fast:
            # Nothing is fast at small values either, once the level is lost there.
            return None, tried[0]
        return fast[-1], next((R for R in tried if fast[-1] < R), None)

    def _some(self, values):
        """Return a few of many values, evenly chosen."""
        places = np.unique(np.linspace(0, len(values) - 1, _TRIED).round().astype(int)) if len(values) else ()
        return [float(values[k]) for k in places]

    def _holding(self, values):
        """Return the largest value with which nothing new fails; None if there is none."""
        for end in range(len(values), 0, -_HELD):
            some = [float(R) for R in values[max(end - _HELD, 0) : end]]
            held = held_by([refitted(self.scenario, "RL", R) for R in some])
            self.breaks |= {R: held.failing(k) for k, R in enumerate(some)}
            fit = [R for R in some if not set(self.breaks[R]) - self.now]
            if fit:
                return fit[-1]
        return None

    def _above(self, R):
        """Return what stops the next larger value of the series, in a sentence."""
        larger = self.values[self.values > R * (1.0 + 1e-9)]
        if not len(larger):
            return "It is the largest that a stage may have here."
        above = float(larger[0])
        self._holding(np.array([above]))
        new = self._named(above)
        told = " ".join(reading(above, OHM))
        if new:
            return f"With {told}, the next larger value, this fails: {new}."
        self._follow([above])
        if self.wanted.met(self.figures[above]):
            return f"Values from {told} up were not all looked at."
        return f"With {told}, the next larger value, {self._reached(above)}."

    def _reached(self, R):
        """Return what is reached with one value, in words."""
        figure = self.figures[R]
        if not 0.0 < figure < math.inf:
            return "a level is not surely reached"
        return f"it is {self.wanted.told(figure)} at worst"

    def _none(self, fast):
        """Return that there is none, and why: what fails with values that are fast enough, or that none is."""
        tried = sorted(self.figures)
        if fast is None:
            best = (max if self.wanted.edge is None else min)(tried, key=self.figures.get)
            reason = (
                f"Of all values that were tried {' '.join(reading(best, OHM))} comes nearest: {self._reached(best)}."
            )
            if new := self._named(best):
                reason += f" With it this fails, which holds now: {new}."
            return PullUp(self.wanted, None, None, None, reason)
        reason = (
            f"Up to {' '.join(reading(fast, OHM))} it would be fast enough, but this fails there, which holds now: "
        )
        return PullUp(self.wanted, None, None, None, f"{reason}{self._named(fast)}.")

    def _named(self, R):
        """Return what fails anew with a value, by names."""
        if R not in self.breaks:
            self._holding(np.array([R]))
        new = set(self.breaks[R]) - self.now
        return "; ".join(RULES[code].title if code in RULES else code for code in self.breaks[R] if code in new)
