"""Steps between the grounds of both sides: what they do to the output, and how steep they may be.

A step pushes current through the capacitance of the barrier; part of it lands in the detector's base and is amplified.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from engine.build import wiring
from engine.coupler import TransistorCard
from engine.disturbance import SCREENED_SHARE, USUAL_C, Barrier, Disturbed, Runs
from engine.timing import Span, Wave

POINTS, OF_RAMP = 160, 60
"""Points of a waveform; how many of them lie around the ramp [-]."""

GENTLEST, STEEPEST = 1e6, 1e11
"""Slopes between which the steepest one is looked for that leaves both levels standing [V/s]."""

_FOLLOWED = ("pull-up", "pull-down", "indicator", "controller")  # kinds of output sides
_AFTER, _RAMPS = 1.25, 1.5  # [-], time that is drawn over that of the last event, and at least over the ramp
_FADED = 0.1  # [-], share of its peak from which a disturbance counts as over
_LOOKS = 1e7, 1e9, 1e11  # [V/s], slopes at which the corners are ranked
_COARSE, _WITHIN = 6, 5  # slopes from end to end, and between two of them
_CLEAR = 0.97  # [-], of the slope that is found, which is then tried at every corner
_ROUNDS = 4  # times that corners are added which turn out worse


@dataclass(frozen=True, slots=True)
class Disturbance:
    """What a step does to the output in one state, by one way of the grounds.

    Attributes
    ----------
    lit : bool
        Whether the LED is meant to be lit.
    rising : bool
        Whether the input's ground rises against the output's.
    level : str
        What the receiver is to read.
    peak : Span
        Greatest deviation from rest, towards the other level [V or A].
    room : Span
        What is left to the limit of the level at the least, negative beyond it; `low` is that at worst [V or A].
    unsure : Span
        How long the level is not surely read; None where it does not come back [s].
    wrong : Span
        How long the other level is surely read in its place; None where it stays [s].
    IF_rest : Span
        LED current at rest [A].
    IF_most, IF_least : Span
        Largest and smallest LED current [A].
    VR_most : Span
        Largest reverse voltage of the LED, 0 where there is none [V].
    wave : Wave
        The output from the beginning of the ramp on, with the limit of the level.
    """

    lit: bool
    rising: bool
    level: str
    peak: Span
    room: Span
    unsure: Span
    wrong: Span
    IF_rest: Span
    IF_most: Span
    IF_least: Span
    VR_most: Span
    wave: Wave


@dataclass(frozen=True, slots=True)
class CommonMode:
    """How a stage stands a step between its grounds.

    Attributes
    ----------
    scenario : Scenario
        The stage.
    dV : float
        Size of the step [V].
    slope : float
        Its slope [V/s].
    barrier : Barrier
        What couples through the barrier.
    current : float
        Current through the barrier while the ramp lasts [A].
    lasting : float
        How long it lasts [s].
    charge : float
        Charge that passes in all [C].
    CMTI : float or None
        Immunity that the coupler's card states [V/s].
    reason : str
        Why the output is not followed; empty where it is.
    disturbances : tuple of Disturbance
        Both states, both ways, the most harmful first; empty where the output is not followed.
    holds : bool or None
        Whether both levels stay surely read at worst; None where nothing tells.
    """

    scenario: object
    dV: float
    slope: float
    barrier: Barrier
    current: float
    lasting: float
    charge: float
    CMTI: float | None
    reason: str
    disturbances: tuple
    holds: bool | None


@dataclass(frozen=True, slots=True)
class Steepest:
    """The steepest ramp that leaves both levels surely read at worst.

    Attributes
    ----------
    slope : float
        Slope; 0 where not even `GENTLEST` does, infinite where `STEEPEST` still does [V/s].
    lit : bool or None
        Whether it is the lit state that is lost beyond it; None where no state is, or a card's line says it.
    """

    slope: float
    lit: bool | None


def barrier_of(scenario, screened=False):
    """Return what couples through the barrier of a stage.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    screened : bool
        Whether a screen lies over the detector.

    Returns
    -------
    Barrier
        Capacitance of the card, else `USUAL_C`; the share that lands in the base is an assumption.
    """
    C = scenario.coupling.data.C_io or USUAL_C
    return Barrier(C, SCREENED_SHARE) if screened else Barrier(C)


def why_unfollowed(scenario):
    """Return why the output of a stage is not followed through a step.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    str
        A sentence; empty where it is.
    """
    card, load = scenario.coupling.data, scenario.output
    if not isinstance(card, TransistorCard):
        if card.CMTI is not None:
            return "This coupler switches by itself, so the immunity that its card states is what tells."
        return "This coupler switches by itself and its card states no CMTI, so nothing tells how steep a step may be."
    if scenario.input.kind == "ac":
        return "On alternating voltage the LED's current changes all the time; steps are followed from rest only."
    if load.kind not in _FOLLOWED:
        return "A coil takes milliseconds to follow; the glitch of a step is over long before, and is not followed."
    return ""


@lru_cache(maxsize=16)
def common_mode_of(scenario, dV, slope, barrier=None):
    """Return what a linear ramp between the grounds does to a stage.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    dV : float
        Size of the step, above 0; both ways are tried [V].
    slope : float
        Its slope, above 0 [V/s].
    barrier : Barrier or None
        What couples through the barrier; `barrier_of` the stage if None.

    Returns
    -------
    CommonMode
        Both states, both ways.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.
    ConvergenceError
        If the solver fails, which is a defect.

    Notes
    -----
    While the ramp lasts, i = C dV/dt flows from one side to the other: out of the LED's leads, into base, collector
    and emitter. Voltages within both sides are neglected beside the step. The output begins at rest.

    References
    ----------
    Immunity as data sheets define it: the steepest common-mode step that leaves a level standing. How the current
    divides: common practice, no source.
    """
    barrier = barrier or barrier_of(scenario)
    CMTI, reason, found = scenario.coupling.data.CMTI, why_unfollowed(scenario), ()
    holds = None if CMTI is None else slope <= CMTI
    if not reason:
        stage = Disturbed((scenario,), (barrier,))
        runs = _everything(stage, (slope,))
        found = _disturbances(stage, runs, stage.follow(runs, dV), dV / slope)
        holds = all(one.room.low >= 0.0 for one in found)
    figures = barrier.C * slope, dV / slope, barrier.C * dV
    return CommonMode(scenario, dV, slope, barrier, *figures, CMTI, reason, found, holds)


def _everything(stage, slopes, cases=None):
    """Return runs of all members of some stages, both states, both ways, member after member."""
    cases = range(len(stage.scenarios)) if cases is None else cases
    tasks = [
        (case, lit, member, way * slope)
        for case in cases
        for slope in slopes
        for lit in (True, False)
        for way in (1.0, -1.0)
        for member in range(stage.members)
    ]
    return _runs(tasks)


def _runs(tasks):
    """Return runs from stage, state, member and slope of each."""
    case, lit, member, slope = zip(*tasks, strict=True)
    return Runs(np.array(case), np.array(lit), np.array(member), np.array(slope))


# ---------------------------------------------------------------- what a step does


def _disturbances(stage, runs, courses, lasting):
    """Return both states and both ways, the most harmful first."""
    size, load = stage.members, stage.scenarios[0].output
    made = [_disturbance(load, runs, courses, slice(k, k + size), lasting) for k in range(0, len(runs.lit), size)]

    def harm(one):
        swing = max(abs(one.room.low + one.peak.high), 1e-12)
        return -(np.inf if one.unsure.high is None else one.unsure.high), (one.room.low / swing)

    return tuple(sorted(made, key=harm))


def _disturbance(load, runs, courses, part, lasting):
    """Return one state by one way of the grounds."""
    t, y, room, wrong = (array[:, part] for array in (courses.t, courses.y, courses.room, courses.wrong))
    IF, VR = courses.IF[:, part], courses.VR[:, part]
    off = room[0] - room
    unsure, misread = _time_below(t, room), _time_below(t, -wrong)
    upper = bool(courses.upper[part.start])
    return Disturbance(
        lit=bool(runs.lit[part.start]),
        rising=bool(runs.slope[part.start] > 0.0),
        level=load.words[2] if upper else load.words[0],
        peak=_span(off.max(axis=0)),
        room=_span(room.min(axis=0)),
        unsure=_span(unsure),
        wrong=_span(misread),
        IF_rest=_span(IF[0]),
        IF_most=_span(IF.max(axis=0)),
        IF_least=_span(IF.min(axis=0)),
        VR_most=_span(np.maximum(VR.max(axis=0), 0.0)),
        wave=_wave(t, y, (off, unsure, IF[:, 0]), (float(courses.limit[part.start]), upper, lasting)),
    )


def _span(values):
    """Return nominal value and extremes; None for what is infinite."""
    value, low, high = (float(v) for v in (values[0], values.min(), values.max()))
    return Span(*(v if np.isfinite(v) else None for v in (value, low, high)))


def _time_below(t, room):
    """Return how long each member is below zero, in straight lines between its points; infinite where it ends there."""
    a, b, h = room[:-1], room[1:], np.diff(t, axis=0)
    below = np.minimum(a, 0.0) - np.minimum(b, 0.0)
    change = np.where(a == b, 1.0, a - b)
    share = np.where((a < 0.0) & (b < 0.0), 1.0, np.where((a < 0.0) | (b < 0.0), np.abs(below / change), 0.0))
    return np.where(room[-1] < 0.0, np.inf, (share * h).sum(axis=0))


def _wave(t, y, beside, marks):
    """Return the waveform, up to a while after the last event."""
    (off, unsure, IF), (limit, upper, lasting) = beside, marks
    lively = np.abs(y - y[0]) > _FADED * np.abs(y - y[0]).max(axis=0)
    shown = lively & (np.abs(off) > 1e-9)
    shown[:, unsure == np.inf] = False
    last = float(np.where(shown, t, 0.0).max())
    around, end = _RAMPS * lasting, min(max(_AFTER * last, _RAMPS * lasting), float(t[-1].max()))
    # A ramp is often over before anything else has well begun.
    grid = np.linspace(0.0, end, POINTS)
    if around < end * OF_RAMP / POINTS:
        later = np.linspace(around, end, POINTS - OF_RAMP)
        grid = np.concatenate([np.linspace(0.0, around, OF_RAMP, endpoint=False), later])
    drawn = np.array([_drawn(grid, t[:, k], y[:, k]) for k in range(t.shape[1])])
    light = _drawn(grid, t[:, 0], IF)
    return Wave(grid, drawn[0], drawn.min(axis=0), drawn.max(axis=0), light, None, limit, upper)


def _drawn(grid, t, y):
    """Return a course at other times; the times at which it waited for others are left out."""
    on = np.concatenate([[True], np.diff(t) > 0.0])
    return np.interp(grid, t[on], y[on])


# ---------------------------------------------------------------- how steep it may be


@lru_cache(maxsize=16)
def largest_slope(scenario, dV, barrier=None):
    """Return the steepest ramp of a size that leaves both levels surely read at worst, whichever way it goes.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    dV : float
        Size of the step, above 0 [V].
    barrier : Barrier or None
        What couples through the barrier; `barrier_of` the stage if None.

    Returns
    -------
    Steepest or None
        The slope; None where nothing tells.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.
    ConvergenceError
        If the solver fails, which is a defect.
    """
    return largest_slopes([(scenario, barrier)], dV)[0]


def largest_slopes(cases, dV):
    """Return the steepest ramps of several stages; those that are wired alike are one batch.

    Parameters
    ----------
    cases : sequence of tuple of (Scenario, Barrier or None)
        Stages and what couples through the barrier of each.
    dV : float
        Size of the step, above 0 [V].

    Returns
    -------
    list of Steepest or None
        In their order; None where nothing tells.

    Raises
    ------
    ScenarioError
        If an "auto" resistor cannot be sized.
    ConvergenceError
        If the solver fails, which is a defect.

    Notes
    -----
    A slope per decade brackets each limit, a few more between the last that does and the first that does not narrow
    it, and a straight line of the room that is left over the slope's logarithm finds it within some per cent. Only
    the corners that are worst are followed until then; the slope that is returned has been tried at every one.
    """
    found, alike = [None] * len(cases), {}
    for k, (scenario, _) in enumerate(cases):
        if not why_unfollowed(scenario):
            alike.setdefault(wiring(scenario), []).append(k)
        elif (CMTI := scenario.coupling.data.CMTI) is not None:
            found[k] = Steepest(CMTI, None)
    for places in alike.values():
        scenarios = tuple(cases[k][0] for k in places)
        barriers = tuple(cases[k][1] or barrier_of(cases[k][0]) for k in places)
        for k, steepest in zip(places, _Search(Disturbed(scenarios, barriers), dV).steepest(), strict=True):
            found[k] = steepest
    return found


class _Search:
    """The search for the steepest ramps of stages that are wired alike."""

    def __init__(self, stage, dV):
        self.stage, self.dV = stage, dV
        worst = tuple(self._worst())
        self.tasks = [set(worst) for _ in stage.scenarios]
        self.low, self.high = ([end] * len(stage.scenarios) for end in (GENTLEST, STEEPEST))

    def _rooms(self, tasks):
        """Return the least room of every task: stage, state, member, slope of either sign."""
        return self.stage.follow(_runs(tasks), self.dV, brief=True).room.min(axis=0)

    def _worst(self):
        """Yield state, way and member that are worst for the first stage at some slope."""
        runs = _everything(self.stage, _LOOKS, (0,))
        room = self.stage.follow(runs, self.dV, brief=True).room.min(axis=0)
        for k in range(0, len(room), self.stage.members):
            worst = k + int(room[k : k + self.stage.members].argmin())
            if room[worst] < 0.0:
                yield bool(runs.lit[worst]), float(np.sign(runs.slope[worst])), int(runs.member[worst])

    def steepest(self):
        """Return the steepest ramp of every stage."""
        found, left = {}, list(range(len(self.stage.scenarios)))
        for _ in range(_ROUNDS):
            if not left:
                break
            found |= self._narrowed(left)
            left = self._unconfirmed(found, left)
        # What still finds a worse corner is told as not held at all, which is on the safe side.
        return [Steepest(0.0, None) if k in left else found[k] for k in range(len(self.stage.scenarios))]

    def _narrowed(self, cases):
        """Return the steepest ramp of some stages, at the corners that are known to be worst."""
        low, high, found = self.low, self.high, {}
        for count in (_COARSE, _WITHIN + 2):
            grids = {case: np.geomspace(low[case], high[case], count) for case in cases}
            tasks = [
                (case, lit, member, way * slope)
                for case in cases
                for slope in grids[case]
                for lit, way, member in sorted(self.tasks[case])
            ]
            if not tasks:
                break
            rooms, at = self._rooms(tasks), 0
            for case in cases:
                size = len(grids[case]) * len(self.tasks[case])
                table = rooms[at : at + size].reshape(len(grids[case]), -1)
                at += size
                found[case], low[case], high[case] = _crossing(grids[case], table, sorted(self.tasks[case]))
        return found if tasks else {case: Steepest(np.inf, None) for case in cases}

    def _unconfirmed(self, found, cases):
        """Return the stages for which some corner does not hold at the slope that was found; note that corner."""
        tried = [case for case in cases if found[case].slope > 0.0]
        if not tried:
            return []
        tasks = [
            (case, lit, member, way * min(found[case].slope, STEEPEST))
            for case in tried
            for lit in (True, False)
            for way in (1.0, -1.0)
            for member in range(self.stage.members)
        ]
        rooms, again = self._rooms(tasks).reshape(len(tried), -1), []
        for case, room in zip(tried, rooms, strict=True):
            worst = int(room.argmin())
            if room[worst] < 0.0:
                _, lit, member, slope = tasks[worst]
                task = lit, float(np.sign(slope)), member
                # A corner that is new may be lost at any gentler slope; one that is known, only just before this one.
                self.low[case] = self.low[case] if task in self.tasks[case] else GENTLEST
                self.high[case] = abs(slope)
                self.tasks[case].add(task)
                again.append(case)
        return again


def _crossing(slopes, table, tasks):
    """Return the steepest ramp that rooms at rising slopes tell of, and the slopes around it.

    Before the first slope at which any task has no room left, on a straight line over the logarithm.
    """
    short = np.flatnonzero((table < 0.0).any(axis=1))
    if not table.size or not len(short):
        return Steepest(np.inf, None), slopes[-1], slopes[-1]
    first = short[0]
    worst = int(table[first].argmin())
    if first == 0:
        # Of a bracket that was narrowed before, the end itself is at the limit.
        least = 0.0 if slopes[0] <= GENTLEST else float(max(slopes[0] * _CLEAR, GENTLEST))
        return Steepest(least, tasks[worst][0]), max(slopes[0] * _CLEAR**2, GENTLEST), slopes[0]
    lost = np.flatnonzero(table[first] < 0.0)
    shares = table[first - 1, lost] / (table[first - 1, lost] - table[first, lost])
    place = int(shares.argmin())
    low, high = slopes[first - 1], slopes[first]
    slope = max(low * (high / low) ** shares[place] * _CLEAR, low)
    return Steepest(float(slope), tasks[lost[place]][0]), low, high
