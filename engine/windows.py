"""What R1 and RL may be: both ends of what is allowed, what sets each, and every other limit, all from the solver.

Every limit is the resistance at which one finding stops to hold at some corner, looked for in batches to 0.025 %.
"""

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from engine.findings import FAILING, RULES, judged, judged_late
from engine.inputs import AcLine
from engine.operating import operating_point
from engine.pace import EDGE_RATE, Pace, upper_end
from engine.resized import PARTS, Resized, within
from engine.scenario import NO_RATE
from engine.timing import why_untimed

PRECISION = 2.5e-4
"""What a limit is found to [-]."""

_STEP, _REACH = 10.0**0.5, 6  # [-], ratio of neighbours on the grid that is looked at first; steps either way
_SAMPLED = slice(3, None, 3)  # of the grid, where all corners are looked at first
_PROBES = 16  # [-], values between the ends of a bracket that are looked at together
_AGAIN = 3  # [-], how often corners may turn out worst that were not watched
_OFF, _FAINT = 0.05, 1e-12  # [-], shares of a bracket that a guess keeps off its ends; a margin that is none
_ROUGH = 1e-2  # [-], what a limit of a finding over the cycle is found to, each of which takes a solve
_SPEED_TO = 3e-3  # [-], what the limit of a signal rate is found to, as edges take long to follow
_BELOW = 0.5  # [-], of the lower end, from where on a load resistor is asked how fast it is


@dataclass(frozen=True, slots=True)
class Bound:
    """A limit of a resistor.

    Attributes
    ----------
    part : str
        "R1" or "RL".
    side : str
        "lower" or "upper".
    code : str
        Code of the finding that holds up to there.
    title : str
        Its name for people.
    R : float
        The resistance, where the finding still holds [ohm].
    condition : str
        The corner where it is worst.
    reason : str
        What is found just beyond.
    """

    part: str
    side: str
    code: str
    title: str
    R: float
    condition: str
    reason: str


@dataclass(frozen=True, slots=True)
class Window:
    """What a resistor may be, everything else as it is.

    Attributes
    ----------
    part : str
        "R1" or "RL".
    present : float
        The resistance now [ohm].
    bounds : tuple of Bound
        All limits, lower ones first, each kind from the tightest on.
    always : tuple of str
        Codes of findings that hold whatever this resistor is.
    elsewhere : tuple of str
        Codes of findings that fail whatever this resistor is.
    reach : tuple of (float, float)
        The resistances that were looked at [ohm].
    speed : Bound or None
        The limit that a wanted signal rate sets to RL, which is among `bounds` too; None where none does.
    timed : bool
        Whether the signal rate was looked at.
    """

    part: str
    present: float
    bounds: tuple
    always: tuple
    elsewhere: tuple
    reach: tuple
    speed: Bound | None = None
    timed: bool = False

    @property
    def low(self):
        """Return what sets the lower end; None where nothing does within reach."""
        return next((bound for bound in self.bounds if bound.side == "lower"), None)

    @property
    def high(self):
        """Return what sets the upper end; None where nothing does within reach."""
        return next((bound for bound in self.bounds if bound.side == "upper"), None)

    @property
    def empty(self):
        """Return whether no resistance lies between the two ends."""
        return self.low is not None and self.high is not None and self.low.R > self.high.R

    @property
    def ends(self):
        """Return the lowest and the highest resistance, those that were looked at where nothing limits it [ohm]."""
        return self.low.R if self.low else self.reach[0], self.high.R if self.high else self.reach[1]

    @property
    def holds_present(self):
        """Return whether the present resistance lies within, to the precision of the limits."""
        low, high = self.ends
        return low / (1.0 + PRECISION) <= self.present <= high * (1.0 + PRECISION)


@lru_cache(maxsize=16)
def windows_of(scenario):
    """Return what R1 may be at the present RL, and RL at the present R1.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    dict of str to Window
        "R1" and "RL".

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.
    ConvergenceError
        If the solver fails, which is a defect.

    Notes
    -----
    Limits further away than a factor of a thousand are not looked for. A capacitor that drops the line voltage stays
    as it is. What a finding over the cycle of the line allows is looked for between the other limits only. Where a
    signal rate is wanted, the largest RL that keeps up with it at worst is looked for from half the lower end of RL on.

    References
    ----------
    Derived here.
    """
    trial = Resized(scenario)
    found = windows_at(trial, (trial.present["R1"], trial.present["RL"]))
    if isinstance(scenario.input, AcLine) or scenario.output.on_line:
        found = {part: _over_the_cycle(trial, window) for part, window in found.items()}
    if scenario.conditions.rate != NO_RATE and not why_untimed(scenario):
        found["RL"] = _kept_up(trial, found["RL"])
    return found


def windows_at(trial, at, parts=PARTS, told=True):
    """Return what resistors may be, each with the other one as it is at a point.

    Parameters
    ----------
    trial : Resized
        The stage.
    at : tuple of (float, float)
        R1 and RL [ohm].
    parts : tuple of str
        The resistors that are asked about.
    told : bool
        Whether to tell what is found just beyond each limit, which takes a solve.

    Returns
    -------
    dict of str to Window
        Resistor to its window, without findings that do not go member by member.
    """
    search = _Search(trial, dict(zip(PARTS, at, strict=True)), parts)
    for _ in range(_AGAIN):
        edges = search.edges()
        if search.confirmed(edges):
            break
    bounds = search.told(edges) if told else [_bound(edge) for edge in edges]
    return {part: search.window(part, bounds) for part in parts}


@dataclass(slots=True)
class _Edge:
    """Where a finding stops to hold: between a resistance where it fails and one where it holds; corners that fail."""

    part: str
    side: str
    code: str
    fails: float
    holds: float
    corners: np.ndarray

    @property
    def width(self):
        return abs(math.log(self.fails / self.holds))


class _Search:
    """The search for limits of some resistors around a point."""

    def __init__(self, trial, at, parts):
        self.trial, self.at, self.parts = trial, at, parts
        steps = _STEP ** np.arange(-_REACH, _REACH + 1)
        self.grids = {part: within(at[part] * steps) for part in parts}
        self.always, self.elsewhere = {}, {}
        if len(trial.watched) == 1:
            spread = self._pairs([(part, R) for part in parts for R in self.grids[part][_SAMPLED]])
            trial.watch(*np.unique(spread, axis=1))

    def _pairs(self, places):
        """Return R1 and RL at places of the form (part, resistance)."""
        return tuple(np.array([R if name == part else self.at[name] for part, R in places]) for name in PARTS)

    def edges(self):
        """Return where every finding stops to hold, to `PRECISION`, at the corners that are watched."""
        places = [(part, R) for part in self.parts for R in self.grids[part]]
        table = self.trial.table(*self._pairs(places))
        found, start = [], 0
        for part in self.parts:
            rows = slice(start, start + len(self.grids[part]))
            start = rows.stop
            found += self._brackets(part, {code: held[rows] for code, held in table.items()})
        self._narrow(found)
        return found

    def _brackets(self, part, table):
        """Return the brackets of one resistor around the stretch where everything holds, or what is nearest to it."""
        grid = self.grids[part]
        held = {code: rows.all(axis=1) for code, rows in table.items()}
        self.always[part] = tuple(code for code, row in held.items() if row.all())
        self.elsewhere[part] = tuple(code for code, row in held.items() if not row.any())
        moving = {code: row for code, row in held.items() if row.any() and not row.all()}
        joint = np.all(list(moving.values()), axis=0) if moving else np.ones(len(grid), dtype=bool)
        away = np.abs(np.log(grid / self.at[part]))
        anchor = int(np.argmin(np.where(joint, away, np.inf))) if joint.any() else None
        found = []
        for code, row in moving.items():
            first, last = longest(row, int(np.argmin(away)) if anchor is None else anchor)
            for side, inside, outside in (("lower", first, first - 1), ("upper", last, last + 1)):
                if 0 <= outside < len(grid):
                    corners = self.trial.worst(code, self.trial.watched[~table[code][outside]])
                    found.append(_Edge(part, side, code, grid[outside], grid[inside], corners))
        return found

    def _narrow(self, edges):
        """Narrow brackets until each is as wide as a limit is to be found to, all of them in one batch at a time."""
        while wide := [edge for edge in edges if edge.width > PRECISION]:
            probes = [np.geomspace(e.fails, e.holds, _PROBES + 2)[1:-1] for e in wide]
            R = {part: [] for part in PARTS}
            for edge, values in zip(wide, probes, strict=True):
                repeated = np.repeat(values, len(edge.corners))
                for part in PARTS:
                    R[part].append(repeated if part == edge.part else np.full(len(repeated), self.at[part]))
            corner = np.concatenate([np.tile(edge.corners, _PROBES) for edge in wide])
            found = self.trial.holds(*(np.concatenate(R[part]) for part in PARTS), corner)
            start = 0
            for edge, values in zip(wide, probes, strict=True):
                rows = slice(start, start + _PROBES * len(edge.corners))
                start = rows.stop
                held = found[edge.code][rows] if edge.code in found else np.ones(rows.stop - rows.start, dtype=bool)
                _take(edge, values, held.reshape(_PROBES, -1))

    def confirmed(self, edges):
        """Return whether all limits hold at all corners; watch those where they do not."""
        if not edges:
            return True
        table = self.trial.table(*self._pairs([(e.part, e.holds) for e in edges]), self.trial.every_corner())
        missed = [(edge.code, np.flatnonzero(~table[edge.code][k])) for k, edge in enumerate(edges)]
        for code, corners in missed:
            self.trial.note(code, corners)
        return not any(len(corners) for _, corners in missed)

    def told(self, edges):
        """Return the limits with what is found just beyond them."""
        if not edges:
            return []
        corners = np.unique(np.concatenate([[0], *(edge.corners for edge in edges)]))
        points = self.trial.points(*self._pairs([(e.part, e.fails) for e in edges]), corners)
        return [_bound(edge, point) for edge, point in zip(edges, points, strict=True)]

    def window(self, part, bounds):
        """Return the window of one resistor."""
        own = [bound for bound in bounds if bound.part == part]
        reach = float(self.grids[part][0]), float(self.grids[part][-1])
        return Window(part, self.at[part], _ordered(own), self.always[part], self.elsewhere[part], reach)


def longest(row, near=None):
    """Return the longest stretch of true ones.

    Parameters
    ----------
    row : ndarray of bool, shape (places,)
        Some of which are true.
    near : int or None
        A place; the stretch that holds it comes first.

    Returns
    -------
    tuple of (int, int)
        Its first and its last place.
    """
    turns = np.flatnonzero(np.diff(np.concatenate([[0], row.astype(int), [0]])))
    runs = list(zip(turns[::2], turns[1::2] - 1, strict=True))
    about = (run for run in runs if near is not None and run[0] <= near <= run[1])
    return next(about, max(runs, key=lambda run: run[1] - run[0]))


def _take(edge, values, held):
    """Narrow a bracket by what was found between its ends, from the one that fails on."""
    failing = np.flatnonzero(~held.all(axis=1))
    last = int(failing[-1]) if len(failing) else -1
    if last >= 0:
        edge.fails, edge.corners = float(values[last]), edge.corners[~held[last]]
    if last + 1 < len(values):
        edge.holds = float(values[last + 1])


def _bound(edge, point=None):
    """Return a limit, with what is found in a stage beyond it where there is one."""
    rule = RULES.get(edge.code)
    finding = next((f for f in judged(point) if f.code == edge.code), None) if point else None
    words = (finding.condition, finding.reason) if finding else ("", "")
    return Bound(edge.part, edge.side, edge.code, rule.title if rule else edge.code, edge.holds, *words)


def _ordered(bounds):
    """Return limits, lower ones first, each kind from the tightest on."""
    return tuple(
        sorted(bounds, key=lambda bound: (bound.side == "upper", bound.R if bound.side == "upper" else -bound.R))
    )


# ---------------------------------------------------------------- findings that take a solve each


def _over_the_cycle(trial, window):
    """Return a window that heeds findings which do not go member by member, looked at between its ends."""
    low, high = window.ends
    if low > high:
        return window
    places = sorted({low, *((window.present,) if low < window.present < high else ()), high})
    seen = {R: _single(trial, window.part, R) for R in places}
    bounds, always, elsewhere = list(window.bounds), list(window.always), list(window.elsewhere)
    for code in sorted({code for found in seen.values() for code in found}):
        held = [R for R in places if _room(seen[R], code) >= 0.0]
        if len(held) == len(places):
            always.append(code)
        if not held:
            elsewhere.append(code)
            continue
        for side, end in (("lower", low), ("upper", high)):
            if end not in held:
                nearest = min(held, key=lambda R: abs(R - end))
                bounds.append(_crossing(trial, (window.part, side, code), {R: seen[R] for R in (end, nearest)}))
    return replace(window, bounds=_ordered(bounds), always=tuple(always), elsewhere=tuple(elsewhere))


def _single(trial, part, R):
    """Return the findings that do not go member by member, with another resistance, by code."""
    scenario = trial.fitted(**(trial.present | {part: R}))
    return {f.code: f for f in judged(operating_point(scenario)) if f.holds is None and f.severity != "note"}


def _room(found, code):
    """Return the margin of a finding, negative exactly where it fails; nothing is asked where there is none."""
    if code not in found:
        return 0.0
    finding = found[code]
    return min(finding.margin, -_FAINT) if finding.severity in FAILING else max(finding.margin, 0.0)


def _crossing(trial, asked, seen):
    """Return where a finding stops to hold between a resistance where it fails and one where it holds."""
    part, side, code = asked
    fails, holds = sorted(seen, key=lambda R: _room(seen[R], code))
    while abs(math.log(fails / holds)) > _ROUGH:
        short, room = -_room(seen[fails], code), _room(seen[holds], code)
        # A straight line in the logarithm, kept off the ends; half-way where the margin tells nothing.
        share = min(max(short / (short + room), _OFF), 1.0 - _OFF) if room > 0.0 else 0.5
        R = fails * (holds / fails) ** share
        seen[R] = _single(trial, part, R)
        fails, holds = (fails, R) if _room(seen[R], code) >= 0.0 else (R, holds)
    beyond = seen[fails][code]
    return Bound(part, side, code, RULES[code].title, holds, beyond.condition, beyond.reason)


# ---------------------------------------------------------------- the signal rate


def _kept_up(trial, window):
    """Return the window of RL with the largest that keeps up with the signal rate, whatever the others allow."""
    low, high = window.reach
    if window.low is not None:
        low = min(max(low, window.low.R * _BELOW), high)

    def stage_with(RL):
        return trial.fitted(trial.present["R1"], RL)

    holds, fails = upper_end(Pace(trial.scenario.conditions.rate), stage_with, low, high, _SPEED_TO)
    if holds is None:
        return replace(window, elsewhere=(*window.elsewhere, EDGE_RATE), timed=True)
    if fails is None:
        return replace(window, always=(*window.always, EDGE_RATE), timed=True)
    (beyond,) = (f for f in judged_late(operating_point(stage_with(fails))) if f.code == EDGE_RATE)
    bound = Bound("RL", "upper", EDGE_RATE, RULES[EDGE_RATE].title, holds, beyond.condition, beyond.reason)
    return replace(window, bounds=_ordered([*window.bounds, bound]), speed=bound, timed=True)
