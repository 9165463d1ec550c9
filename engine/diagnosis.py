"""From readings to what is wrong: every single fault ranked, what is ruled out, and which reading to take next."""

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import gammaincc

from engine.errors import Problem, ScenarioError
from engine.hypotheses import HIGHEST_READING, Looks, hypotheses_of, mistaken, untold
from engine.line_meter import readable, unread_because
from engine.operating import STATES
from engine.probing import probes_of
from engine.quantity import VOLT, in_query

EXPLAINED = 1e-3
"""Least chance of readings as far off as these, with which a fault still explains them [-]."""

RULED_OUT = 1e-3
"""Probability below which a fault is ruled out [-]."""

WORTH = 0.02
"""Least information for which another reading is suggested [bit]."""

_FREEDOM = 6.0  # of Student's distribution: a reading that was written down wrong must not decide alone
_LOOKED_AT = 1e-4  # probability below which a fault does not matter to the next reading
_FAR = 4.0  # standard deviations from which a reading rules out by itself
_AT_A_TIME = 100_000  # densities that are worked out together, as many as a processor's cache holds
_NODES, _SHARES = np.polynomial.hermite_e.hermegauss(11)
_SHARES = _SHARES / _SHARES.sum()


@dataclass(frozen=True, slots=True)
class Taken:
    """One reading that was taken.

    Attributes
    ----------
    point : str
        Id of the probe.
    state : str
        "closed" or "open".
    value : float
        What the meter showed [V].
    """

    point: str
    state: str
    value: float


@dataclass(frozen=True, slots=True)
class Ranked:
    """A fault with its probability.

    Attributes
    ----------
    fault : Fault
        What may be wrong.
    probability : float
        How likely it is after the readings [-].
    same_readings_as : tuple of Fault
        What no reading of the sheet tells from it.
    same_so_far_as : tuple of Fault
        What these readings do not tell from it, though others may.
    """

    fault: object
    probability: float
    same_readings_as: tuple
    same_so_far_as: tuple


@dataclass(frozen=True, slots=True)
class RuledOut:
    """A fault that the readings speak against.

    Attributes
    ----------
    fault : Fault
        What is not wrong.
    point, state : str
        The reading that is farthest off.
    expected : float
        What it would be with that fault [V].
    sigmas : float
        How many standard deviations off it is [-].
    together : bool
        Whether that is so only given all the other readings.
    """

    fault: object
    point: str
    state: str
    expected: float
    sigmas: float
    together: bool


@dataclass(frozen=True, slots=True)
class NextReading:
    """The reading that tells most.

    Attributes
    ----------
    point, state : str
        Which one.
    gain : float
        Information about the fault that it is expected to give [bit].
    """

    point: str
    state: str
    gain: float


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """What readings say of a stage.

    Attributes
    ----------
    scenario : Scenario
        The stage.
    readings : tuple of Taken
        What was read.
    ranking : tuple of Ranked
        Every fault and the good stage, the likeliest first.
    ruled_out : tuple of RuledOut
        What is unlikelier than `RULED_OUT`, the most clearly ruled out first.
    next : NextReading or None
        What to read next; None where nothing is left that tells more.
    explained : bool
        Whether the good stage or any single fault explains the readings.
    chance : float
        Chance of readings as far off as these with what explains them best [-].
    """

    scenario: object
    readings: tuple
    ranking: tuple
    ruled_out: tuple
    next: NextReading | None
    explained: bool
    chance: float


def diagnose(scenario, readings):
    """Return what readings say of a stage.

    Parameters
    ----------
    scenario : Scenario
        The stage as it is meant to be, with the meter that it is read with.
    readings : sequence of tuple of (str, str, float)
        Probe id, state and value; any of them, in any order [V].

    Returns
    -------
    Diagnosis
        Ranking, what is ruled out, the next reading.

    Raises
    ------
    ScenarioError
        If a reading cannot be, with every such reading at once.
    ConvergenceError
        If the solver fails, which is a defect.

    Notes
    -----
    Bayes' rule over single faults, with Student's distribution of six degrees of freedom about what each fault would
    make the meter show (`engine.hypotheses`). The next reading is the one whose mutual information with the fault is
    largest, given what was read: by Gauss-Hermite quadrature over the mixture of normal distributions. The chance is
    that of the chi-square of what explains the readings best.

    References
    ----------
    C. E. Shannon, Bell System Technical Journal 27, 1948 (mutual information); from memory. The rest derived here.
    """
    known = hypotheses_of(scenario)
    taken = _accepted(scenario, readings, known)
    at = np.array([known.places[one.point, one.state] for one in taken], dtype=int)
    seen = _Seen(known, at, np.array([one.value for one in taken]))
    best = float(seen.squares.min())
    chance = float(gammaincc(len(taken) / 2.0, best / 2.0)) if taken else 1.0
    order = np.argsort(-seen.posterior, kind="stable")
    ruled_out = _ruled_out(seen, taken, order[seen.posterior[order] < RULED_OUT]) if taken else ()
    far = tuple(sorted(ruled_out, key=lambda one: -one.sigmas))
    ranking = seen.ranking(order.tolist())
    return Diagnosis(scenario, taken, ranking, far, _next(seen), chance >= EXPLAINED, chance)


def left_aside(scenario):
    """Return the points whose readings say nothing of what is wrong, and why.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    points : tuple of str
        Ids of probes, none on most stages.
    because : str
        One sentence; empty where there are none.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.
    """
    if not (because := unread_because(scenario)):
        return (), ""
    probes = probes_of(scenario)
    told = readable(scenario, probes)
    return tuple(probe.id for probe in probes if probe not in told), because


def _accepted(scenario, readings, known):
    """Return the readings as records."""
    points, problems, taken = {probe.id for probe in known.probes}, [], {}
    aside, because = left_aside(scenario)
    for point, state, value in readings:
        field = f"r.{point}.{state}"
        if point in aside:
            reason = f"readings there are not diagnosed. {because}"
            problems.append(Problem(field, point, f"one of {', '.join(sorted(points))}", reason))
        elif point not in points:
            problems.append(
                Problem(field, point, f"one of {', '.join(sorted(points))}", f"there is no point '{point}'")
            )
        elif state not in STATES:
            problems.append(Problem(field, state, f"one of {', '.join(STATES)}", f"there is no state '{state}'"))
        elif not (math.isfinite(value) and abs(value) <= HIGHEST_READING):
            given = in_query(value, VOLT) if math.isfinite(value) else str(value)
            problems.append(Problem(field, given, "a voltage from -2 kV to 2 kV", f"{given} is no reading"))
        elif (point, state) in taken:
            problems.append(Problem(field, in_query(value, VOLT), "every reading once", "this reading is given twice"))
        else:
            taken[point, state] = Taken(point, state, float(value))
    if problems:
        raise ScenarioError(problems)
    return tuple(taken.values())


class _Seen:
    """Readings beside what every fault would make of them."""

    def __init__(self, known, at, values):
        self.known, self.at, looks = known, at, known.looks
        self.covariance = looks.covariance[:, at[:, None], at]
        self.away = known.scale.of(values) - looks.mean[:, at]
        self.inverse = np.linalg.inv(self.covariance)
        self.pulled = np.einsum("hij,hj->hi", self.inverse, self.away)
        self.squares = np.einsum("hi,hi->h", self.away, self.pulled)
        volumes = np.linalg.slogdet(self.covariance)[1]
        logs = np.log(known.prior[looks.owner] * looks.share) - 0.5 * volumes
        logs -= 0.5 * (_FREEDOM + len(at)) * np.log1p(self.squares / _FREEDOM)
        likely = np.exp(logs - logs.max())
        self.by_look = likely / likely.sum()
        self.posterior = np.bincount(looks.owner, self.by_look)
        self.likely = np.flatnonzero(self.posterior >= RULED_OUT)

    def untold(self):
        """Return for every likely fault which other likely ones are not told from it by these readings."""
        looks, chosen = self.known.looks, np.isin(self.known.looks.owner, self.likely)
        owner = np.searchsorted(self.likely, looks.owner[chosen])
        some = Looks(owner, looks.share[chosen], looks.mean[chosen][:, self.at], self.covariance[chosen])
        pairs = untold(mistaken(self.known.shown[np.ix_(self.likely, self.at)], some))
        likely = self.likely.tolist()
        return {k: [likely[j] for j in others] for k, others in zip(likely, pairs, strict=True)}

    def ranking(self, order):
        """Return the records of all faults in an order."""
        faults, alike, probable = self.known.faults, self.untold(), self.posterior.tolist()
        made = []
        for k in order:
            same = self.known.same[k]
            so_far = tuple([faults[j] for j in alike.get(k, ()) if j not in same])
            made.append(Ranked(faults[k], probable[k], tuple([faults[j] for j in same]), so_far))
        return tuple(made)

    def looks_of(self, k):
        """Return of each of some faults the look that fits best."""
        owner = self.known.looks.owner
        ranked = np.lexsort((self.squares, owner))
        return ranked[np.searchsorted(owner[ranked], k)]

    def ahead(self, k, unread):
        """Return mean and standard deviation of readings that are not taken, of some looks, given those that are."""
        looks = self.known.looks
        across = looks.covariance[np.ix_(k, unread, self.at)]
        mean = looks.mean[np.ix_(k, unread)] + np.einsum("hui,hi->hu", across, self.pulled[k])
        own = looks.covariance[k[:, None], unread, unread]
        left = own - np.einsum("hui,hij,huj->hu", across, self.inverse[k], across)
        return mean, np.sqrt(np.maximum(left, 1e-9 * own))


def _ruled_out(seen, taken, which):
    """Return which reading speaks most against each of some faults: by itself, or else given all the others."""
    k, scale, volts = seen.looks_of(which), seen.known.scale, np.array([one.value for one in taken])
    covariance, inverse = (np.diagonal(each[k], axis1=1, axis2=2) for each in (seen.covariance, seen.inverse))
    away, pulled = seen.away[k], seen.pulled[k]
    alone, given = np.abs(away) / np.sqrt(covariance), np.abs(pulled) / np.sqrt(inverse)
    together = alone.max(axis=1) < _FAR
    worst = np.where(together[:, None], given, alone).argmax(axis=1)
    row = np.arange(len(k)), worst
    off = np.where(together, pulled[row] / inverse[row], away[row])
    deviation = np.where(together, inverse[row] ** -0.5, np.sqrt(covariance[row]))
    expected = scale.back(scale.of(volts[worst]) - off)
    # Told in volts, with the deviation that there is where the reading was expected.
    sigmas = np.abs(volts[worst] - expected) / (deviation * np.hypot(1.0, expected / scale.bend))
    columns = (column.tolist() for column in (which, worst, expected, sigmas, together))
    return [
        RuledOut(seen.known.faults[fault], taken[r].point, taken[r].state, *told)
        for fault, r, *told in zip(*columns, strict=True)
    ]


def _next(seen):
    """Return the reading that is expected to tell most of the fault."""
    known = seen.known
    unread = np.array([place for place in known.places.values() if place not in seen.at], dtype=int)
    some = np.flatnonzero(seen.by_look >= _LOOKED_AT)
    if not len(unread) or len(some) < 2:
        return None
    gains = information(seen.by_look[some], known.looks.owner[some], *seen.ahead(some, unread))
    best = int(gains.argmax())
    if gains[best] < WORTH:
        return None
    point, state = next(key for key, place in known.places.items() if place == unread[best])
    return NextReading(point, state, float(gains[best]))


def information(share, owner, mean, deviation):
    """Return the mutual information between a choice and a number that is normal about a mean of that choice.

    Parameters
    ----------
    share : ndarray, shape (looks,)
        How likely each look is, in any unit [-].
    owner : ndarray of int, shape (looks,)
        The choice that it belongs to.
    mean : ndarray, shape (looks, numbers)
        Mean of each number with each look [unit].
    deviation : ndarray, shape (looks, numbers)
        Its standard deviation [unit].

    Returns
    -------
    ndarray, shape (numbers,)
        Information on the choice [bit].

    Notes
    -----
    The mean of ln(f_k/f) over all choices k and all numbers, with f_k the density of the choice's looks and f that of
    all, by Gauss-Hermite quadrature of 11 nodes in every look.

    References
    ----------
    Derived here.
    """
    share = share / share.sum()
    of_choice = owner[:, None] == np.unique(owner)
    mine, looks = of_choice.argmax(axis=1), np.arange(len(owner))
    whole = (share @ of_choice)[mine][:, None, None]
    most = max(_AT_A_TIME // (len(owner) ** 2 * len(_NODES)), 1)
    found = np.empty(mean.shape[1])
    for first in range(0, len(found), most):
        m, s = (numbers[:, first : first + most].T for numbers in (mean, deviation))
        z = (m[:, :, None] + s[:, :, None] * _NODES)[..., None] - m[:, None, None, :]
        z /= s[:, None, None, :]
        z *= z
        z *= -0.5
        densities = np.exp(z, out=z) @ ((share / s)[:, None, :, None] * of_choice)
        own = (densities[:, looks, :, mine] / whole).swapaxes(0, 1)
        found[first : first + most] = (np.log2(own / densities.sum(axis=3)) @ _SHARES) @ share
    return np.maximum(found, 0.0)


__all__ = [
    "EXPLAINED",
    "HIGHEST_READING",
    "RULED_OUT",
    "WORTH",
    "Diagnosis",
    "NextReading",
    "Ranked",
    "RuledOut",
    "Taken",
    "diagnose",
    "information",
    "left_aside",
]
