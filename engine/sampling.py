"""What varies, drawn at random from stated distributions, in place of the corners: for `engine.build.build_all`."""

import zlib
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtr, ndtri

from engine.build import light_left
from engine.errors import Problem, ScenarioError

DISTRIBUTIONS = ("uniform", "normal")
"""How resistors, supplies and what else has a tolerance may be distributed."""

LEAST_SAMPLES, MOST_SAMPLES = 100, 200_000
MOST_SEED = 2**32 - 1

_SIGMAS = 3.0  # [-], standard deviations from the middle of a normal distribution to an end; common practice, no source
_TAIL = float(ndtr(-_SIGMAS))  # [-], share of a normal distribution beyond one of them
_LEAKS = ("down", "up")
_BINNED = ("CTR", "threshold")


@dataclass(frozen=True, slots=True)
class Plan:
    """How much is drawn, and how.

    Attributes
    ----------
    samples : int
        How many stages.
    seed : int
        Number that decides which: the same one gives the same stages.
    dist : str
        Distribution of tolerances, one of `DISTRIBUTIONS`.

    Raises
    ------
    ScenarioError
        If a value lies outside of what is accepted, with every such value at once.
    """

    samples: int = 2000
    seed: int = 1
    dist: str = "uniform"

    def __post_init__(self):
        """Refuse what cannot be."""
        problems = [
            Problem(field, str(value), f"a whole number from {low} to {high}", f"{value} is out of range")
            for field, value, low, high in (
                ("samples", self.samples, LEAST_SAMPLES, MOST_SAMPLES),
                ("seed", self.seed, 0, MOST_SEED),
            )
            if not low <= value <= high
        ]
        if self.dist not in DISTRIBUTIONS:
            accepted = f"one of {', '.join(DISTRIBUTIONS)}"
            problems.append(Problem("dist", self.dist, accepted, f"'{self.dist}' is not a distribution"))
        if problems:
            raise ScenarioError(problems)


class Samples:
    """What `build_all` takes for its `draw`: the nominal stage, then stages drawn at random.

    Every quantity has a stream of its own, so what is drawn depends neither on how many are drawn at a time nor on
    what else varies.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    seed : int
        Number that decides what is drawn.
    dist : str
        Distribution of tolerances, one of `DISTRIBUTIONS`.
    only : tuple of str or None
        Factors of `engine.build.FACTORS` that are drawn, of new parts; the others stay nominal. All, aged, if None.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized, where the LED ages by its current.

    Notes
    -----
    Nothing is drawn beyond the ends that the corners have.

    - Supplies, resistors and what else has a tolerance or a range: even between the ends ("uniform"), or normal about
      the nominal value, each end three standard deviations of its side away and cut off there ("normal").
    - Forward voltage: normal about the typical value in the same way, the ends being those of the bin.
    - Transfer ratio, threshold and whatever a card states with a typical value between two limits: log-normal about
      the typical value in the same way; of a bin beside it, about the end that is nearer to it. With age the share of
      light that is left after a service between none and all of the years, evenly spread, comes on top; every LED
      loses light as fast as the weakest one.
    - Dark current and whatever a card states with a typical and a largest value alone: even in the logarithm between
      the two.
    - Ambient temperature: even between its ends. Receiver leakage: even from its largest into the input to its largest
      out of it.

    The distributions are independent of each other. What has ends that are not as far from its nominal value has that
    as its most frequent value.

    References
    ----------
    Common practice, no source: data sheets state limits, not distributions.
    """

    def __init__(self, scenario, seed, dist="uniform", only=None):
        self.members = 0
        self._seed, self._dist, self._only = seed, dist, only
        self._new = replace(scenario.coupling, CTR="typ").spread()
        self._left = light_left(scenario) if only is None else 1.0
        self._streams, self._drawn = {}, {}

    def take(self, count):
        """Draw the next stages, of which there may be more later.

        Parameters
        ----------
        count : int
            How many, the nominal one not counted [-].

        Returns
        -------
        Samples
            This one, for `build_all`.
        """
        self.members = count + 1
        self._drawn = {}
        return self

    def spread(self, factor, name, triples):
        """Return the values of one quantity in every circuit.

        Parameters
        ----------
        factor : str
            What it goes with.
        name : str
            The quantity.
        triples : ndarray, shape (1, 3)
            Nominal value and both ends, the lower or weaker first [unit].

        Returns
        -------
        ndarray, shape (2 members,)
            Values, the nominal one first [unit].
        """
        nominal, first, last = triples[0]
        values = np.full(self.members, nominal)
        if self._only is None or factor in self._only:
            drawn = self._values(factor, name, (nominal, first, last))
            values[1:] = np.clip(drawn, min(first, last), max(first, last))
        return np.tile(values, 2)

    def _values(self, factor, name, triple):
        """Return what is drawn of one quantity."""
        nominal, first, last = triple
        if name in _LEAKS:
            way = 2.0 * self._shares("leak") - 1.0
            return np.maximum(way if name == "up" else -way, 0.0)
        if factor == "CTR":
            return self._specimens(name)
        shares = self._shares(name)
        if factor == "VF" or (self._dist == "normal" and factor != "TA"):
            return _normal(shares, nominal, first, last)
        return first + shares * (last - first)

    def _specimens(self, name):
        """Return a line of the card as it differs from coupler to coupler, at its age."""
        values = self._new_specimens(name, *self._new[name])
        if self._left < 1.0 and name in _BINNED:
            # Either law of ageing loses the same share in every year.
            left = self._left ** self._shares("years")
            return values * left if name == "CTR" else values / left
        return values

    def _new_specimens(self, name, typical, weakest, strongest):
        """Return a line of the card as it differs from coupler to coupler."""
        shares = self._shares(name)
        if not min(typical, weakest, strongest) > 0.0:
            return weakest + shares * (strongest - weakest)
        ends = np.log((typical, weakest, strongest))
        if name in _BINNED or typical not in (weakest, strongest):
            return np.exp(_normal(shares, *ends))
        return np.exp(ends[1] + shares * (ends[2] - ends[1]))

    def _shares(self, name):
        """Return the next numbers of a stream, between 0 and 1."""
        if name not in self._drawn:
            if name not in self._streams:
                child = np.random.SeedSequence(self._seed, spawn_key=(zlib.crc32(name.encode()),))
                self._streams[name] = np.random.Generator(np.random.PCG64(child))
            self._drawn[name] = self._streams[name].random(self.members - 1)
        return self._drawn[name]


def _normal(shares, middle, first, last):
    """Return values that are normal about a middle, either end three standard deviations away and cut off there.

    Where the ends are not as far away, the two halves join without a step: the wider one holds more.
    """
    before = abs(middle - first) / (abs(middle - first) + abs(last - middle)) if first != last else 0.5
    half = 0.5 - _TAIL
    along = np.where(
        shares < before,
        _TAIL + half * (shares / before if before else shares),
        0.5 + half * ((shares - before) / (1.0 - before) if before < 1.0 else shares),
    )
    z = ndtri(along) / _SIGMAS
    return middle + np.abs(z) * np.where(z < 0.0, first - middle, last - middle)
