"""Both resistors chosen from a preferred series so that every finding holds at every corner, or what excludes what.

A coarse grid is solved in one batch at the corners that turn out worst; windows then lead to the values, and all that
is told of them is solved anew at every corner.
"""

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import repeat

import numpy as np

from engine.conflicts import fewest, never, pairs, smallest
from engine.constants import REFERENCE_TEMPERATURE, ZERO_CELSIUS
from engine.errors import ScenarioError
from engine.findings import FAILING, judged
from engine.findings.fitting import FIELDS, POWER_RATINGS
from engine.inputs import AcLine, CurrentLimited
from engine.operating import operating_point
from engine.pace import Pace, followed, last_kept, rate_of, transition_of
from engine.preferred import ladder, preferred
from engine.resized import PARTS, Resized, rating_for
from engine.scenario import NO_RATE
from engine.several import operating_points
from engine.sizing import LEAST, MOST, size
from engine.timing import why_untimed
from engine.windows import longest, windows_at
from engine.wishes import Wishes, asked_of, missed

_ITSELF = ("dc-load", "ac-load")  # kinds of output side whose RL is the load itself
_COARSE = {"R1": "E3", "RL": "E3"}  # series of the grid that is looked at first
_SAMPLES = 6  # [-], pairs of the grid that are looked at at every corner
_ROOM = 3.0  # [-], how far beyond card and rating LED currents are looked at
_TRIES = 6  # [-], values of RL about the middle that are tried
_NARROW = 3  # [-], places of the grid between which something narrow is looked for
_AGAIN = 3  # [-], how often a corner may turn out worst that was not watched
_NUDGE = 1e-6  # [-], what leads from a preferred value on to the next one
_ANY = 1e3  # [ohm], stands for a resistor that cannot be sized
_ROWS = 3  # [-], values of R1 of the grid with which a pair is looked for that keeps up
_FOLLOWED = (12, 20)  # [-], pairs of the grid whose edges are followed: among those that do otherwise, and all
_NEAR = 2.0  # [-], how far from the fastest of them RL is looked at value by value


@dataclass(frozen=True, slots=True)
class Chosen:
    """One resistor.

    Attributes
    ----------
    part : str
        "R1" or "RL".
    R : float
        The resistance [ohm].
    kept : bool
        Whether it was to stay as it is.
    below : tuple of str
        What fails with the next smaller value of the series, the most important first; nothing where it may be smaller.
    above : tuple of str
        What fails with the next larger value.
    rating : float or None
        Power rating that it needs in place of the one it has; None where that is enough [W].
    """

    part: str
    R: float
    kept: bool
    below: tuple = ()
    above: tuple = ()
    rating: float | None = None


@dataclass(frozen=True, slots=True)
class Conflict:
    """What excludes what.

    Attributes
    ----------
    alone : tuple of str
        Codes that hold with no pair of resistors.
    together : tuple of str
        A smallest set of the other codes that never hold all at once; nothing where `alone` is all that fails.
    pairs : tuple of (str, str)
        Every two codes, each of which can hold, that never do so at once.
    failing : tuple of str
        Codes that fail with the resistors of the answer, which are as few as can be.
    looked_at : int
        Pairs of resistors that were looked at [-].
    """

    alone: tuple
    together: tuple
    pairs: tuple
    failing: tuple
    looked_at: int


@dataclass(frozen=True, slots=True)
class Sizing:
    """What was chosen.

    Attributes
    ----------
    scenario : Scenario
        The stage with the resistors; with those that come nearest where there is a conflict.
    chosen : dict of str to Chosen
        "R1" and "RL".
    series : str
        The series that they are of.
    wishes : Wishes
        What was asked for.
    IF : tuple of (float, float, float)
        LED current of the lit stage: nominal, least, most [A].
    overdrive : float or None
        The least overdrive; None where there is none [-].
    conflict : Conflict or None
        What excludes what; None where everything holds.
    speed : tuple of (float or None, float or None) or None
        Where a signal rate or a time of the edges is asked for: the highest rate and the slower edge's time from 10 to
        90 % of its swing, both at worst, each None where there is none; else None [Hz, s].
    untimed : str
        Why edges are not followed, where a rate or a time is asked for and they are not.
    """

    scenario: object
    chosen: dict
    series: str
    wishes: Wishes
    IF: tuple
    overdrive: float | None
    conflict: Conflict | None = None
    speed: tuple | None = None
    untimed: str = ""

    @property
    def binding(self):
        """Return the code that binds first: what stops a smaller LED current, else what stops another value; or ""."""
        R1, RL = self.chosen["R1"], self.chosen["RL"]
        return next((codes[0] for codes in (R1.above, RL.below, R1.below, RL.above) if codes), "")


@lru_cache(maxsize=16)
def size_for(scenario, wishes=None):
    """Return R1 and RL of the stage's series with which every finding holds at every corner.

    Parameters
    ----------
    scenario : Scenario
        The stage, with the temperatures and the service that it has to stand; its R1 and RL do not matter unless they
        are to be kept.
    wishes : Wishes or None
        What is asked for beside the findings; the usual if None.

    Returns
    -------
    Sizing
        The resistors, or those that come nearest and what excludes what.

    Raises
    ------
    ScenarioError
        If a wish cannot be.
    ConvergenceError
        If the solver fails, which is a defect.

    Notes
    -----
    RL comes to lie in the geometric middle of what the strongest drive allows, R1 is the largest value that then does,
    which is the least LED current; with the preference "current" R1 is the largest that does with any RL. Power
    ratings are raised to the next standard one where they are not enough. An R1 that does not decide the LED current
    (a current-limited input, a capacitor that drops the line voltage) and an RL that is the load itself stay.

    A signal rate of the scenario and a time of the edges that is wished are heeded where edges are followed: RL is cut
    down to the largest that keeps up, before its middle is taken, and R1 is the largest with which the pair still does.

    References
    ----------
    Derived here.
    """
    return _Choice(scenario, wishes or Wishes()).answer()


class _Grid:
    """Pairs of resistors that are looked at first, and what holds with each.

    Where the nominal stage fails no corner needs to be looked at, unless everything fails somewhere.
    """

    def __init__(self, trial, R1, RL):
        self.R1, self.RL = R1, RL
        self.pairs = np.repeat(R1, len(RL)), np.tile(RL, len(R1))
        if len(trial.watched) == 1:
            some = np.unique(np.linspace(0, len(self.pairs[0]) - 1, _SAMPLES).astype(int))
            trial.watch(*(values[some] for values in self.pairs))
        self._trial = trial
        self.table = self._held(slice(None), np.array([0]))
        self.ignored = never(self.table)
        likely = np.flatnonzero(self.joint().ravel())
        if len(likely):
            for code, held in self._held(likely).items():
                self.table.setdefault(code, np.ones(len(self.pairs[0]), dtype=bool))[likely] = held
        if not self.joint().any():
            self.table = self._held(slice(None))
            self.ignored = never(self.table)

    def _held(self, some, corners=None):
        """Return what holds with some of the pairs, at the watched corners if not at others."""
        found = self._trial.table(*(values[some] for values in self.pairs), corners)
        return {code: held.all(axis=1) for code, held in found.items()}

    def replace(self, pairs, more):
        """Look at other pairs in place of those of the grid, of which more is known.

        Parameters
        ----------
        pairs : tuple of (ndarray, ndarray)
            R1 and RL of each [ohm].
        more : dict of str to ndarray of bool
            What else is asked to whether each of them holds it.
        """
        self.pairs = pairs
        self.table = self._held(slice(None)) | more

    def joint(self):
        """Return where everything holds but what holds nowhere, shape (R1, RL)."""
        rows = [held for code, held in self.table.items() if code not in self.ignored]
        whole = np.all(rows, axis=0) if rows else np.ones(len(self.pairs[0]), dtype=bool)
        return whole.reshape(len(self.R1), len(self.RL))


class _Choice:
    """The way to one answer."""

    def __init__(self, scenario, wishes):
        self.wishes, self.series = wishes, scenario.conditions.series
        self.given = _explicit(scenario)
        self.trial = Resized(_strong(self.given), asked_of(wishes))
        self.kept = _staying(scenario) | set(wishes.keep)
        self.grid = _Grid(self.trial, self._values("R1"), self._values("RL"))
        self.ignored = self.grid.ignored
        rate = scenario.conditions.rate
        asked = Pace(None if rate == NO_RATE else rate, wishes.transition)
        self.untimed = why_untimed(scenario) if asked.asked else ""
        self.asked = self.pace = Pace() if self.untimed else asked
        self.out_of_reach = ()

    def answer(self):
        """Return what was chosen, with what stops each resistor."""
        found, (R1, RL) = self._settled()
        while not found and self.pace.asked and self._let_go():
            found, (R1, RL) = self._settled()
        if not found and self.pace.asked:
            R1, RL = self._nearest()
        if found:
            R1 = self._over_the_cycle(R1, RL)
        return self._told({"R1": R1, "RL": RL}, found is not None)

    def _settled(self):
        """Return what was found and confirmed at every corner, if anything was, and the pair to tell of."""
        for _ in range(_AGAIN):
            found = self._pair()
            R1, RL = found or self._nearest()
            if not found or self._confirmed(R1, RL):
                break
        return found, (R1, RL)

    def _confirmed(self, R1, RL):
        """Return whether everything holds at every corner; look at the grid anew where a corner was not watched."""
        every = self.trial.every_corner()
        found = self.trial.table(np.array([R1]), np.array([RL]), every)
        missing = {code: np.flatnonzero(~held[0]) for code, held in found.items() if code not in self.ignored}
        for code, corners in missing.items():
            self.trial.note(code, corners)
        if not any(len(corners) for corners in missing.values()):
            return True
        self.grid = _Grid(self.trial, self.grid.R1, self.grid.RL)
        self.ignored = self.grid.ignored + self.out_of_reach
        return False

    # ------------------------------------------------------------ values

    def _values(self, part):
        """Return the values of a resistor that are looked at first."""
        if part in self.kept:
            return np.array([self.trial.present[part]])
        values = np.array(ladder(LEAST, MOST, _COARSE[part]))
        if part == "RL":
            return values
        IF, card = self.trial.IF(values), self.given.coupling.data
        least = self.wishes.IF_least or card.VF_points[0][0]
        most = self.wishes.IF_most or card.IF_rating.at(REFERENCE_TEMPERATURE - ZERO_CELSIUS)
        sensible = (IF >= least / _ROOM) & (IF <= most * _ROOM)
        return values[sensible] if sensible.any() else values

    def _window(self, part, at):
        """Return the ends of what one resistor may be, the other one as it is; None where it cannot be anything."""
        found = windows_at(self.trial, at, (part,), told=False)[part]
        return None if found.empty or set(found.elsewhere) - set(self.ignored) else found.ends

    def _candidates(self, part, at):
        """Return the values of the series that one resistor may have, and the middle of what it may be."""
        if part in self.kept:
            R = at[PARTS.index(part)]
            return self._keeping_up(part, at, (R,)), R
        if (ends := self._window(part, at)) is None:
            return (), 0.0
        values = self._keeping_up(part, at, ladder(*ends, self.series))
        high = values[-1] if values and self.pace.asked else ends[1]
        return values, math.sqrt(ends[0] * high)

    def _keeping_up(self, part, at, values):
        """Return the values of one resistor up to the largest that keeps up, the other one as it is."""
        if not self.pace.asked:
            return values
        here = dict(zip(PARTS, at, strict=True))
        last = last_kept(self.pace, lambda R: self.trial.fitted(**(here | {part: R})), values)
        return tuple(R for R in values if R <= last) if last else ()

    # ------------------------------------------------------------ the pair

    def _pair(self):
        """Return R1 and RL with which everything holds; None where nothing is found."""
        joint = self.grid.joint()
        if not joint.any():
            return self._between()
        if self.wishes.prefer == "current" and not self.kept:
            return self._least_current(joint)
        rows = np.argsort(-joint.sum(axis=1), kind="stable")[: _ROWS if self.pace.asked else 1]
        pairs = (
            self._middle(self.grid.R1[row], self.grid.RL[_central(joint[row])]) for row in rows if joint[row].any()
        )
        return next((found for found in pairs if found), None)

    def _middle(self, R1, RL):
        """Return RL near the middle of what it may be at an R1, and the largest R1 that goes with it."""
        values, middle = self._candidates("RL", (R1, RL))
        for RL in sorted(values, key=lambda R: abs(math.log(R / middle)))[:_TRIES]:
            if found := self._candidates("R1", (R1, RL))[0]:
                return found[-1], RL
        return None

    def _least_current(self, joint):
        """Return the largest R1 that goes with any RL, and the RL that is most in the middle then."""
        rows = np.flatnonzero(joint.any(axis=1))[::-1]
        rows = rows if self.pace.asked else rows[:1]
        found = (self._largest(row, self.grid.RL[_central(joint[row])]) for row in rows)
        return next((pair for pair in found if pair), None)

    def _largest(self, row, near):
        """Return the largest R1 from a row of the grid on, up to the next row, that goes with any RL."""
        if self.pace.asked and not self._candidates("RL", (self.grid.R1[row], near))[0]:
            return None
        above = self.grid.R1[row + 1] if row + 1 < len(self.grid.R1) else self.grid.R1[row]
        values, found = ladder(self.grid.R1[row], above, self.series) or (self.grid.R1[row],), None
        low, high = 0, len(values)
        while low < high:
            at = (low + high) // 2
            fit, middle = self._candidates("RL", (values[at], near))
            if fit:
                near = min(fit, key=lambda R: abs(math.log(R / middle)))
                found, low = (values[at], near), at + 1
            else:
                high = at
        return found or self._middle(self.grid.R1[row], near)

    def _between(self):
        """Return a pair of values that lies between those of the grid, where what is allowed is narrow."""
        table = {code: held for code, held in self.grid.table.items() if code not in self.ignored}
        for k in fewest(table)[:_NARROW]:
            at = tuple(float(values[k]) for values in self.grid.pairs)
            for part in PARTS:
                values, _ = self._candidates(part, at)
                if part not in self.kept and values:
                    R = values[len(values) // 2]
                    pair = (R, at[1]) if part == "R1" else (at[0], R)
                    return pair if self._in_series(pair) else self._middle(*pair)
        return None

    def _in_series(self, pair):
        """Return whether both values are of the series, where they are not to be kept."""
        return all(part in self.kept or preferred(R, self.series) == R for part, R in zip(PARTS, pair, strict=True))

    def _nearest(self):
        """Return the pair of the grid that misses the fewest requirements, near the present one, in the series."""
        away = sum(
            np.abs(np.log(values / self.trial.present[part]))
            for part, values in zip(PARTS, self.grid.pairs, strict=True)
        )
        k = fewest(self.grid.table, away)[0]
        return tuple(
            float(values[k]) if part in self.kept else preferred(float(values[k]), self.series)
            for part, values in zip(PARTS, self.grid.pairs, strict=True)
        )

    # ------------------------------------------------------------ what follows edges

    def _let_go(self):
        """Let go of what no pair keeps up with, where no pair was found; return whether there was any such thing.

        Where all else excludes itself, everything is let go. Where some pair keeps up but misses something else, the
        grid is left with the pairs whose edges were followed, so that it can be told what excludes what.
        """
        joint = self.grid.joint().ravel()
        if not joint.any():
            self.pace = Pace()
            return True
        places = np.flatnonzero(joint), np.arange(len(joint))
        some = np.unique(np.concatenate([_spaced(of, most) for of, most in zip(places, _FOLLOWED, strict=True)]))
        R1, RL = (R[some] for R in self.grid.pairs)
        seen = self._edges(R1, RL)
        best = max(range(len(some)), key=lambda k: rate_of(seen[k]) or 0.0)
        near = np.array(ladder(RL[best] / _NEAR, min(RL[best] * _NEAR, MOST), self.series))
        if "RL" not in self.kept:
            R1, RL = np.append(R1, np.full(len(near), R1[best])), np.append(RL, near)
            seen += self._edges(R1[len(some) :], near)
        missing = [self.pace.missed(timing) for timing in seen]
        held = {name: np.array([name not in codes for codes in missing]) for name in self.pace.names}
        beyond = never(held)
        if not beyond:
            self.grid.replace((R1, RL), held)
            return False
        self.out_of_reach += beyond
        self.ignored += beyond
        self.pace = self.pace.without(beyond)
        return True

    def _edges(self, R1, RL):
        """Return the edges of the stage with some pairs of resistors."""
        return followed([self.trial.fitted(*pair) for pair in zip(R1, RL, strict=True)])

    # ------------------------------------------------------------ what takes a solve each

    def _over_the_cycle(self, R1, RL):
        """Return the largest R1, up to one, with which the findings hold that do not go member by member."""
        failing = self._single(R1, RL)
        if not failing or "R1" in self.kept:
            self.ignored += tuple(sorted(failing))
            return R1
        values = [R for R in self._candidates("R1", (R1, RL))[0] if R <= R1] or [R1]
        stuck = failing & self._single(values[0], RL)
        self.ignored += tuple(sorted(stuck))
        low, high = 0, len(values) - 1
        while failing - stuck and high - low > 1:
            at = (low + high) // 2
            low, high = (low, at) if self._single(values[at], RL) - stuck else (at, high)
        return values[low] if failing - stuck else R1

    def _single(self, R1, RL):
        """Return the codes that fail and do not go member by member; nothing on direct current."""
        if not (isinstance(self.given.input, AcLine) or self.given.output.on_line):
            return set()
        made = judged(operating_point(self.trial.fitted(R1, RL)))
        return {finding.code for finding in made if finding.holds is None and finding.severity in FAILING}

    # ------------------------------------------------------------ what is told

    def _failing(self, point, timing, known=()):
        """Return the codes that fail on a solved stage, wishes behind findings, but those that hold nowhere."""
        codes = [finding.code for finding in judged(point) if finding.severity in FAILING]
        codes += [*missed(self.wishes, point), *self.asked.missed(timing)]
        return tuple(code for code in codes if code not in (*self.ignored, *known))

    def _told(self, chosen, fits):
        """Return the answer, every statement of which is solved at all corners."""
        places = {(part, way): self._next(part, chosen[part], way) for part in PARTS for way in ("down", "up")}
        tried = [self.trial.fitted(**chosen)]
        tried += [self.trial.fitted(**(chosen | {part: R})) for (part, _), R in places.items() if R]
        solved = zip(operating_points(tried), followed(tried) if self.asked.asked else repeat(None), strict=False)
        point, timing = next(solved)
        here = self._failing(point, timing)
        stops = {place: self._failing(*next(solved), here) if R else () for place, R in places.items()}
        parts = {
            part: Chosen(
                part,
                float(R),
                part in self.kept,
                *(stops[part, way] for way in ("down", "up")),
                _raised(point, self.given, part),
            )
            for part, R in chosen.items()
        }
        return self._answered(point, timing, parts, self._conflict(here, fits))

    def _conflict(self, failing, fits):
        """Return what excludes what; None where everything holds."""
        if not (self.ignored or failing):
            return None
        # What was found between the pairs of the grid is no conflict among those.
        table = {} if fits else {code: held for code, held in self.grid.table.items() if code not in self.ignored}
        looked_at = len(self.grid.pairs[0])
        return Conflict(self.ignored, smallest(table), pairs(table), self.ignored + failing, looked_at)

    def _answered(self, point, timing, parts, conflict):
        """Return the answer from the solved stage."""
        scenario = _rated(self.given, parts)
        closed = point.states["closed"].quantities
        IF, overdrive = closed["IF"], closed.get("overdrive")
        return Sizing(
            scenario,
            parts,
            self.series,
            self.wishes,
            (IF.value, IF.low, IF.high),
            overdrive and overdrive.low,
            conflict,
            (rate_of(timing), transition_of(timing)) if self.asked.asked else None,
            self.untimed,
        )

    def _next(self, part, R, way):
        """Return the next value of the series; None where the resistor is kept or there is none."""
        if part in self.kept:
            return None
        found = preferred(R * (1.0 + _NUDGE if way == "up" else 1.0 - _NUDGE), self.series, way)
        return found if LEAST <= found <= MOST else None


def _central(row):
    """Return a place in the middle of the longest stretch of true ones."""
    first, last = longest(row)
    return (first + last) // 2


def _spaced(places, most):
    """Return so many of some places at most, evenly spaced."""
    return places[np.unique(np.linspace(0, len(places) - 1, most).round().astype(int))]


def _explicit(scenario):
    """Return the scenario with both resistors as numbers, 1 kohm where an "auto" one cannot be sized."""
    try:
        R = {part: found.chosen for part, found in size(scenario).items()}
    except ScenarioError:
        given = {"R1": scenario.input.R1, "RL": scenario.output.RL}
        R = {part: _ANY if value == "auto" else value for part, value in given.items()}
    return _with(scenario, {part: {FIELDS[part][1]: float(R[part])} for part in PARTS})


def _with(scenario, fields):
    """Return the scenario with other fields of the sides that its resistors belong to."""
    sides = {FIELDS[part][0]: replace(getattr(scenario, FIELDS[part][0]), **values) for part, values in fields.items()}
    return replace(scenario, **sides)


def _strong(scenario):
    """Return the scenario with resistors of the largest rating, so that power is no reason against a value."""
    return _with(scenario, {part: {FIELDS[part][2]: POWER_RATINGS[-1]} for part in PARTS})


def _rated(given, parts):
    """Return the scenario with the chosen resistors, and the ratings that they need."""
    return _with(
        given,
        {
            part: {FIELDS[part][1]: one.R} | ({FIELDS[part][2]: one.rating} if one.rating else {})
            for part, one in parts.items()
        },
    )


def _staying(scenario):
    """Return the resistors that are not for this search to choose."""
    found = set()
    if scenario.input.capacitive or isinstance(scenario.input, CurrentLimited):
        found.add("R1")
    if scenario.output.kind in _ITSELF:
        found.add("RL")
    return found


def _raised(point, given, part):
    """Return the power rating that a resistor needs in place of its own; None where that is enough [W]."""
    side, _, field = FIELDS[part]
    needed = rating_for(point, part)
    return needed if needed is not None and needed > getattr(getattr(given, side), field) else None
