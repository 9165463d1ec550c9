"""A bag of couplers: specimens drawn from the bin, each tried out in the stage."""

from dataclasses import dataclass

import numpy as np

from engine.build import Corners, build_all, light_left
from engine.errors import Problem, ScenarioError
from engine.findings import FAILING, judged
from engine.operating import observed
from engine.sampling import MOST_SEED, Samples
from engine.sizing import size

MOST_COUPLERS = 200

SURROUNDINGS = ("nominal", "worst")
"""What a specimen is tried out in: everything else nominal and the LED new, or at every corner and to the end of the
service that is asked for."""

_SPECIMEN = ("VF", "CTR")


@dataclass(frozen=True, slots=True)
class Specimen:
    """One coupler.

    Attributes
    ----------
    value : float
        Its transfer ratio at the card's test point, new; of a coupler with a threshold, that [- or A].
    place : float
        Where that lies in the bin, in the logarithm: 0 at the lower end, 1 at the upper [-].
    failing : tuple of str
        Codes of what does not hold with it.
    """

    value: float
    place: float
    failing: tuple

    @property
    def passes(self):
        """Return whether everything holds."""
        return not self.failing


@dataclass(frozen=True, slots=True)
class Bag:
    """Several couplers.

    Attributes
    ----------
    scenario : Scenario
        The stage.
    seed : int
        Number that decides which couplers are drawn.
    surroundings : str
        What they were tried out in, one of `SURROUNDINGS`.
    symbol : str
        What tells them from each other: "CTR" or "threshold".
    unit : str
        Its unit.
    low : float
        Lower end of the bin [unit].
    high : float
        Upper end [unit].
    specimens : tuple of Specimen
        The couplers, as they come.
    undrawn : tuple of str
        Codes of what is judged for the stage as a whole and does not hold, whatever the coupler.
    """

    scenario: object
    seed: int
    surroundings: str
    symbol: str
    unit: str
    low: float
    high: float
    specimens: tuple
    undrawn: tuple

    @property
    def passing(self):
        """Return with how many of them everything holds."""
        return sum(specimen.passes for specimen in self.specimens)


class _Tried:
    """What `build_all` takes for its `draw`: the nominal stage, then every specimen in each of its surroundings."""

    def __init__(self, scenario, samples, count, corners):
        self._drawn = samples.take(count)
        self._count, self._ways, self._ages = count, *_surroundings(scenario, corners)
        self.rows = len(self._ages)
        self.members = 1 + count * self.rows
        self.new = {}

    def spread(self, factor, name, triples):
        """Return the values of one quantity in every circuit, as `Corners.spread`."""
        if factor in _SPECIMEN:
            new = self._drawn.spread(factor, name, triples)[1 : 1 + self._count]
            self.new[name] = new
            ages = {"CTR": self._ages, "threshold": 1.0 / self._ages}.get(name, np.ones(self.rows))
            values = np.outer(new, ages).ravel()
        else:
            nominal, low, high = triples[0]
            values = np.tile(np.array((low, nominal, high))[self._ways[factor] + 1], self._count)
        return np.tile(np.concatenate([triples[0, :1], values]), 2)


def _surroundings(scenario, corners):
    """Return the end of every factor but the specimen's in each of the surroundings, and what light is left there."""
    side, load, conditions = scenario.input, scenario.output, scenario.conditions
    warm = conditions.TA_ends != (conditions.TA, conditions.TA)
    own = side.spreads(conditions.tolerance), load.spreads(conditions.tolerance)
    ways = {name: ends for name, ends in Corners(*own, warm).ways.items() if name not in (*_SPECIMEN, "threshold")}
    table = np.unique(np.array(list(ways.values())), axis=1) if corners else np.zeros((len(ways), 1), dtype=int)
    ages = dict.fromkeys((1.0, light_left(scenario) if corners else 1.0))
    ends = {name: np.tile(row, len(ages)) for name, row in zip(ways, table, strict=True)}
    return ends, np.repeat(list(ages), table.shape[1])


def bag_of(scenario, count=20, seed=1, surroundings="worst"):
    """Return couplers drawn from the bin, each tried out in the stage.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    count : int
        How many couplers [-].
    seed : int
        Number that decides which.
    surroundings : str
        One of `SURROUNDINGS`.

    Returns
    -------
    Bag
        The couplers.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized, or an argument lies outside of what is accepted.
    ConvergenceError
        If the solver fails, which is a defect.

    Notes
    -----
    Drawn are transfer ratio (or threshold), forward voltage and dark current, each as `engine.sampling.Samples` has it.
    """
    _refuse(count, seed, surroundings)
    sizes, corners = (size(scenario),), surroundings == "worst"
    tried = _Tried(scenario, Samples(scenario, seed, only=_SPECIMEN), count, corners)
    made = judged(observed(build_all((scenario,), draw=tried, sizes=sizes)).point())
    failing = [[] for _ in range(count)]
    for finding in made:
        if finding.holds is not None:
            held = finding.holds[1:].reshape(count, tried.rows).all(axis=1)
            for k in np.flatnonzero(~held):
                failing[k].append(finding.code)
    symbol, unit = ("CTR", "1") if scenario.coupling.has_ratio else ("threshold", "A")
    low, high = bin_ends(scenario)
    values = tried.new[symbol]
    places = places_in(low, high, values)
    specimens = tuple(
        Specimen(float(value), float(place), tuple(codes))
        for value, place, codes in zip(values, places, failing, strict=True)
    )
    undrawn = tuple(f.code for f in made if f.holds is None and f.severity in FAILING)
    return Bag(scenario, seed, surroundings, symbol, unit, low, high, specimens, undrawn)


def _refuse(count, seed, surroundings):
    """Raise for arguments that cannot be, all at once."""
    numbers = (("count", count, 1, MOST_COUPLERS), ("seed", seed, 0, MOST_SEED))
    problems = [
        Problem(field, str(value), f"a whole number from {low} to {high}", f"{value} is out of range")
        for field, value, low, high in numbers
        if not low <= value <= high
    ]
    if surroundings not in SURROUNDINGS:
        accepted = f"one of {', '.join(SURROUNDINGS)}"
        problems.append(Problem("at", surroundings, accepted, f"'{surroundings}' is not a choice"))
    if problems:
        raise ScenarioError(problems)


def bin_ends(scenario):
    """Return the ends of the bin that couplers are drawn from.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    low : float
        Smallest transfer ratio, or smallest threshold [- or A].
    high : float
        Largest one [- or A].
    """
    if scenario.coupling.has_ratio:
        return scenario.coupling.bin()
    _, *ends = scenario.coupling.spread()["threshold"]
    return min(ends), max(ends)


def places_in(low, high, values):
    """Return where values lie in a bin, in the logarithm.

    Parameters
    ----------
    low : float
        Lower end, above 0 [unit].
    high : float
        Upper end [unit].
    values : float or ndarray
        What lies in the bin, or beside it [unit].

    Returns
    -------
    ndarray
        0 at the lower end, 1 at the upper; 0.5 on the spot where the bin has no width [-].
    """
    along = np.log(np.asarray(values) / low)
    width = np.log(high / low)
    if width > 0.0:
        return along / width
    return 0.5 + along
