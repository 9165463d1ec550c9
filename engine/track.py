"""One parameter on the way to its band: what has been looked at, and what to look at next."""

import math
from bisect import bisect_left, bisect_right, insort
from itertools import pairwise

from engine.preferred import ladder
from engine.quantity import AMPERE, OHM

_COARSE = 11  # parts of the first grid
_CUTS = 3  # values that are tried between one that passes and one that does not
_GAPS = 4  # pairs of neighbours that fail for different reasons, and so may hide a stretch between them, at a time
_ENOUGH = 20  # values looked at, after which only what may pass is looked for
_SHARE = 100  # of a linear span that one step is at most
_SAME = 1e-9  # relative distance below which two values are one
_BESIDE = 0.02  # of the distance between two values of the grid, how close to a jump is looked
_MOST_JUMPS = 60


def lattice(low, high, scale, unit):
    """Return the values of a span that a band may end at.

    Parameters
    ----------
    low : float
        Lower end [unit].
    high : float
        Upper end [unit].
    scale : str
        "linear" or "log".
    unit : Unit
        The unit.

    Returns
    -------
    list of float
        Rising: steps of 1, 2 or 5 on a linear span, E24 for what is made in it, else two digits [unit].
    """
    if scale == "linear":
        step = _step((high - low) / _SHARE)
        return [round(low + k * step, 9) for k in range(math.floor((high - low) / step + _SAME) + 1)]
    if unit in (OHM, AMPERE):
        return list(ladder(low, high))
    digits = [float(f"{n}e{e}") for e in range(math.floor(math.log10(low)) - 1, 12) for n in range(10, 100)]
    return [n for n in digits if low * (1 - _SAME) <= n <= high * (1 + _SAME)]


def _step(most):
    """Return the largest of 1, 2 and 5 times a power of ten that is not above a number."""
    power = 10.0 ** math.floor(math.log10(most))
    return max(n * power for n in (1, 2, 5) if n * power <= most * (1 + _SAME))


class Track:
    """What is known of one parameter.

    Parameters
    ----------
    key : str
        Key of the parameter.
    place : tuple of (str, str)
        Part of the scenario that has it, and its name there.
    stops : list of float
        Values that the band may end at, rising [unit].
    value : float
        Where the parameter stands [unit].
    void : frozenset of str
        Codes that stand for no stage at all, which is worse than any finding that fails.
    """

    def __init__(self, key, place, stops, value, void=frozenset()):
        self.key, self.place, self.value, self.void = key, place, value, void
        near = bisect_left(stops, value * (1 - _SAME) if value > 0 else value)
        if near < len(stops) and math.isclose(stops[near], value, rel_tol=_SAME, abs_tol=1e-12):
            stops[near] = value
        else:
            insort(stops, value)
        self.stops = stops
        self.seen = {}
        self.whole = set()
        self._sorted = []
        self._rounded = set()
        self._parts = _COARSE

    def refine(self):
        """Begin with every value that the band may end at, as the stretch may be very short."""
        self._parts = len(self.stops) - 1

    def note(self, value, codes, whole):
        """Keep what fails at a value.

        Parameters
        ----------
        value : float
            The value [unit].
        codes : tuple of str
            Codes of what fails.
        whole : bool
            Whether all corners were asked.
        """
        if value not in self.seen:
            insort(self._sorted, value)
        self.seen[value] = codes
        if whole:
            self.whole.add(value)

    def trusted(self):
        """Return the values of the run that passed at some corners alone.

        Returns
        -------
        list of float
            Values [unit].
        """
        first, last = self._around() or (0, -1)
        return [value for value in self._sorted[first : last + 1] if value not in self.whole]

    # ------------------------------------------------------------ what is known

    def _passing(self):
        """Return the place among the seen values of the passing one that is nearest to where the parameter stands."""
        passing = [k for k, value in enumerate(self._sorted) if not self.seen[value]]
        at = bisect_left(self.stops, self.value)
        return min(passing, key=lambda k: abs(bisect_left(self.stops, self._sorted[k]) - at), default=None)

    def _around(self):
        """Return first and last place of the run of passing values around or nearest to the parameter's value."""
        first = last = self._passing()
        if first is None:
            return None
        while first > 0 and not self.seen[self._sorted[first - 1]]:
            first -= 1
        while last < len(self._sorted) - 1 and not self.seen[self._sorted[last + 1]]:
            last += 1
        return first, last

    def run(self):
        """Return the band.

        Returns
        -------
        tuple of (float, float, float or None, float or None) or None
            Ends of the band, and what fails just below and above; None where nothing passes [unit].
        """
        if (around := self._around()) is None:
            return None
        first, last = around
        within = self._sorted[first : last + 1]
        ends = [value for value in within if self._is_stop(value)] or within
        below = self._sorted[first - 1] if first > 0 else None
        above = self._sorted[last + 1] if last + 1 < len(self._sorted) else None
        return ends[0], ends[-1], below, above

    def _is_stop(self, value):
        """Return whether a value is one that a band may end at."""
        near = bisect_left(self.stops, value)
        return near < len(self.stops) and self.stops[near] == value

    def least(self):
        """Return the values at which fewest findings fail.

        Returns
        -------
        list of float
            The nearest one first [unit].
        """
        at, fewest = bisect_left(self.stops, self.value), self._fewest()
        found = [value for value in self._sorted if self._count(self.seen[value]) == fewest]
        return sorted(found, key=lambda value: abs(bisect_left(self.stops, value) - at))

    def _count(self, codes):
        """Return how many findings fail: endlessly many where there is no stage."""
        return math.inf if self.void.intersection(codes) else len(codes)

    def _fewest(self):
        """Return how many findings fail where fewest do."""
        return min(map(self._count, self.seen.values()))

    def decisive(self):
        """Return the values that decide: both ends of the run, or some at which fewest findings fail.

        Returns
        -------
        list of float
            Values [unit].
        """
        if (around := self._around()) is None:
            return self.least()[:_GAPS]
        return list(dict.fromkeys(self._sorted[place] for place in around))

    # ------------------------------------------------------------ what to look at

    def wanted(self):
        """Return what to look at next.

        Returns
        -------
        list of float
            Values: at first a grid over the whole span; later between what passes and what does not, or, where nothing
            passes, between neighbours that fail for different reasons [unit].
        """
        missing = [value for value in self._grid() if value not in self.seen]
        if missing:
            return missing
        around = self._around()
        if around is None:
            return self._in_gaps()
        first, last = around
        pairs = [(first - 1, first)] if first > 0 else []
        pairs += [(last, last + 1)] if last + 1 < len(self._sorted) else []
        return [value for pair in pairs for value in self._between(*pair)]

    def unrounded(self):
        """Return values of the run with which rounding has not been reckoned yet, and remember them.

        Returns
        -------
        list of float
            Those of the first grid and both ends [unit].
        """
        if (around := self._around()) is None:
            return []
        first, last = (self._sorted[place] for place in around)
        grid = {first, last, *(value for value in self._grid() if first < value < last)}
        new = sorted(grid - self._rounded)
        self._rounded |= grid
        return new

    def beside(self, value):
        """Return the neighbours of a value of the run with which rounding is reckoned.

        Parameters
        ----------
        value : float
            The value [unit].

        Returns
        -------
        tuple of (float, float)
            The next ones below and above, the value itself at the end of the run [unit].
        """
        reckoned = sorted(self._rounded)
        at = reckoned.index(value)
        return reckoned[max(at - 1, 0)], reckoned[min(at + 1, len(reckoned) - 1)]

    def _grid(self):
        """Return the first grid: evenly over the values that a band may end at, and the value in force."""
        last = len(self.stops) - 1
        places = {round(k * last / self._parts) for k in range(self._parts + 1)} | {bisect_left(self.stops, self.value)}
        return [self.stops[place] for place in sorted(places)]

    def _between(self, first, second, cuts=_CUTS):
        """Return some values evenly between two neighbours among those that have been seen."""
        a, b = (self._sorted[place] for place in (first, second))
        left = self.stops[bisect_right(self.stops, a) : bisect_left(self.stops, b)]
        count = min(len(left), cuts)
        return [left[(k + 1) * len(left) // (count + 1) - (count == len(left))] for k in range(count)]

    def _in_gaps(self):
        """Return values between neighbours that share fewer failing findings than fail anywhere yet.

        Where they share none a stretch may lie between them; what else may be found there tells only what is in the
        way, which is not worth as much.
        """
        at, fewest, gaps = bisect_left(self._sorted, self.value), self._fewest(), []
        if len(self.seen) > _ENOUGH:
            fewest = min(fewest, 1)
        for k in range(len(self._sorted) - 1):
            a, b = self._sorted[k : k + 2]
            if (shared := len(set(self.seen[a]) & set(self.seen[b]))) < fewest and (within := self._between(k, k + 1)):
                gaps.append((shared, abs(k + 0.5 - at), within))
        return [value for *_, within in sorted(gaps)[:_GAPS] for value in within]


def rounding_ends(series, rounding):
    """Return how far rounding may put a resistor off.

    Parameters
    ----------
    series : str
        Preferred series.
    rounding : str
        Direction.

    Returns
    -------
    tuple of (float, float)
        Smallest and largest share of the exact resistance that is fitted [-].
    """
    rungs = ladder(1.0, 10.0, series)
    limits = [(_limit(a, b, rounding), a, b) for a, b in pairwise(rungs)]
    return min(a / limit for limit, a, _ in limits), max(b / limit for limit, _, b in limits)


def _limit(a, b, rounding):
    """Return the resistance above which not the lower one of two preferred values is fitted, but the upper one."""
    return {"nearest": (a + b) / 2.0, "up": a, "down": b}[rounding]


def jumps(stops, stretch, sizes_at):
    """Return values just beside those at which a sized resistor jumps from one preferred value to the next.

    Parameters
    ----------
    stops : list of float
        Values of the parameter that moves, rising [unit].
    stretch : tuple of (float, float)
        Between which values [unit].
    sizes_at : callable
        From a value to the sized resistors by name, or None.

    Returns
    -------
    list of float
        Values on either side of every jump, where the stage is at its extremes; the first of them if there are very
        many [unit].

    Notes
    -----
    Between two jumps a resistor stands still and all that depends on it goes one way. The exact resistance is nearly
    straight between two neighbours, so the jump is found by interpolation.
    """
    low, high = stretch
    found, before = [], None
    for value in [low, *(value for value in stops if low < value < high), high]:
        sized = sizes_at(value)
        if before and sized:
            for name in sized:
                found += [before[0] + (value - before[0]) * share for share in _shares(before[1][name], sized[name])]
        before = (value, sized) if sized else None
    return found[: 2 * _MOST_JUMPS]


def _shares(a, b):
    """Return shares of the way between two sized resistors, just before and after each jump of the rounding."""
    if a.chosen == b.chosen or not (a.automatic and a.exact and b.exact):
        return []
    rungs = ladder(*sorted((a.chosen, b.chosen)), a.series)
    limits = [_limit(*pair, a.rounding) for pair in pairwise(rungs)]
    shares = [(limit - a.exact) / (b.exact - a.exact) + off for limit in limits for off in (-_BESIDE, _BESIDE)]
    return [min(max(share, 0.0), 1.0) for share in shares]
