"""What is read at the output after the line was switched: when it is lit and dark, and the course of it."""

from dataclasses import dataclass, replace

import numpy as np

from engine.constants import ZERO_CELSIUS
from engine.cycle import march
from engine.cycling.period import NOMINAL, drive_values, members_of, output_values, settles_slowly
from engine.cycling.response import limits_of, response_of
from engine.cycling.smoothing import charging_of
from engine.cycling.switching import INSTANTS, course_of, lamp_of, repeated
from engine.sizing import size

_CYCLES = 48  # that a capacitor at the output is followed instant by instant, at the most
_STEPS = 500  # of one that takes longer
_LEVELS = 60  # of its voltage, to find how long
_DECADES = 3.3  # to which its last distance from the end has fallen
_HALFWAY, _CLOSE, _CLOSEST = 0.3, 1e-2, 1e-3  # [-], of the way to a limit, and of the swing, that count as arrived
_FEW = 4  # instants of an output that stands still
_WEAKEST, _MOST = 1e-12, 1e9  # [A], LED currents beyond all that occur


@dataclass(frozen=True, slots=True)
class Switched:
    """The output after the line was switched one way.

    Attributes
    ----------
    phase : ndarray, shape (phases,)
        Where in its cycle the line was switched, as a share of the period from its rising zero crossing on [-].
    first : ndarray, shape (corners, phases)
        Time until it is read as what it goes to for the first time; infinite if never; the nominal stage first [s].
    stays : ndarray, shape (corners, phases)
        Time from which on it is read so for good [s].
    worst : int
        The phase at which the nominal stage takes longest.
    t : ndarray, shape (time,)
        Time after the switch [s].
    IF : ndarray, shape (time,)
        LED current of the nominal stage, switched at that phase [A].
    out : ndarray, shape (3, time)
        What is observed then: of the nominal stage, least and most of all corners [V or A].
    limit : float
        What the nominal output must reach [V or A].
    before : float
        LED current of the nominal stage just before the switch [A].
    rises : bool
        Whether it must rise to that.
    light : float
        Time until the LED current alone would have the nominal output read so, without a capacitor at it [s].
    """

    phase: np.ndarray
    first: np.ndarray
    stays: np.ndarray
    worst: int
    t: np.ndarray
    IF: np.ndarray
    out: np.ndarray
    limit: float
    before: float
    rises: bool
    light: float


class _Stage:
    """A stage, its loop and its output sides."""

    def __init__(self, scenario):
        sized, side = size(scenario), scenario.input
        values = drive_values(scenario, sized)
        ends, self.pairs = members_of(scenario)
        self.scenario, self.f = scenario, side.f
        self.lamp = lamp_of(side, scenario.coupling.model.led, values["TA"] + ZERO_CELSIUS, values)
        self.values = output_values(scenario, sized, ends)
        self.highest = float(self.lamp.final["on"].max())
        self.response = response_of(scenario, self.values, self.highest)
        self.way = self.response.way
        self.lit, self.dark = limits_of(scenario.output, self.values)
        lit, dark = self.response.thresholds(), replace(self.response, limit=self.dark).thresholds()
        self.IF_lit, self.IF_dark = (np.clip(IF, 0.1 * _WEAKEST, _MOST) for IF in (lit, dark))

        self.charging, self.settled = None, {}
        if settles_slowly(scenario):
            self.charging = charging_of(scenario, self.values, self.highest, side.C_out)
            self.settled = {edge: self._settled(IF) for edge, IF in self.lamp.final.items()}

    def _settled(self, IF):
        """Return the voltage across the output that repeats, shape (corners, instants) [V]."""
        mine = IF[[light for light, _ in self.pairs]]
        if mine.any():
            return self.charging.settled(mine, self.f)
        return np.repeat(self.charging.settled(mine[:, :_FEW], self.f)[:, :1], INSTANTS, axis=1)

    def course(self, edge):
        """Return the LED's current after a switch; None where it does not come to rest."""
        weak, strong = self.IF_lit.max(), self.IF_dark.min()
        # Only without a capacitor at the output is it the end of the light that is the worst instant to switch on.
        loose = settles_slowly(self.scenario) and not self.lamp.loop[edge].capacities.shape[1]
        lit = np.full(3, np.inf) if loose else np.array([self.IF_lit[0], weak, weak])
        return course_of(self.lamp, edge, lit, np.array([self.IF_dark[0], strong, strong]))

    def margins(self, course, edge):
        """Return by how much the LED current is beyond its limit, at its best and at its worst; the extremes first."""
        which = np.array(self.pairs)
        light, member = which.T
        high, low = (np.maximum(IF[light], _WEAKEST) for IF in (course.high, course.low))
        if edge == "on":
            limit = self.IF_lit[member][:, None, None]
            return high - limit, low - limit
        limit = self.IF_dark[member][:, None, None]
        return limit - low, limit - high


def switched(scenario):
    """Return what the output does after the line was switched on, and off.

    Parameters
    ----------
    scenario : Scenario
        A stage whose input side is on alternating voltage and whose output is followed over the cycle.

    Returns
    -------
    dict of str to Switched, or None
        "on" and "off"; None where the LED's loop does not come to rest in the cycles that are followed.

    Raises
    ------
    ScenarioError
        If an "auto" part cannot be sized.
    ConvergenceError
        If the march fails, which is a defect.

    Notes
    -----
    The output stands where the LED current of the instant puts it, or where the capacitor across it has come to; the
    detector's own microseconds are left aside.

    References
    ----------
    Derived here.
    """
    stage, found = _Stage(scenario), {}
    for edge in ("on", "off"):
        course = stage.course(edge)
        if course is None:
            return None
        found[edge] = _charged(stage, course, edge) if settles_slowly(scenario) else _at_once(stage, course, edge)
    return found


def lamp_switched(scenario, lit, dark):
    """Return when the LED by itself lights a coupler with a threshold for good, and when it is dark for good.

    Parameters
    ----------
    scenario : Scenario
        A stage whose input side is on alternating voltage.
    lit : ndarray, shape (3,)
        LED current that lights it for sure, at nominal, weakest and strongest drive [A].
    dark : ndarray, shape (3,)
        LED current at which it is dark for sure [A].

    Returns
    -------
    dict of str to (ndarray, ndarray), or None
        "on" and "off" to the phases of the switch and the times, shape (3, phases), infinite where it never stays so;
        None where the loop does not come to rest in the cycles that are followed.

    Raises
    ------
    ScenarioError
        If an "auto" part cannot be sized.
    ConvergenceError
        If the march fails, which is a defect.
    """
    values = drive_values(scenario, size(scenario))
    T = values["TA"] + ZERO_CELSIUS
    lamp, found = lamp_of(scenario.input, scenario.coupling.model.led, T, values), {}
    for edge in ("on", "off"):
        course = course_of(lamp, edge, lit, dark)
        if course is None:
            return None
        margin = course.low - lit[:, None, None] if edge == "on" else dark[:, None, None] - course.high
        found[edge] = course.phase, for_good(margin, course.t, course.arrives)
    return found


def _at_once(stage, course, edge):
    """Return the output that follows the LED current."""
    best, worst = stage.margins(course, edge)
    first, stays = first_of(best, course.t), for_good(worst, course.t, course.arrives)
    before = _before(stage, course.phase, edge)
    alike = np.isfinite(stays[0]).all() and np.ptp(stays[0]) == 0.0
    k = int(before.argmax()) if alike else _longest(first[0], stays[0])
    middle = (course.low + course.high)[:, k] / 2.0
    out = np.stack([stage.response.at(middle[light], member) for light, member in stage.pairs])
    light = float(stays[0, k] if np.isfinite(stays[0, k]) else first[0, k])
    start = float(middle[NOMINAL, 0] if course.creeps else before[k])
    waves = course.t, middle[NOMINAL], _extremes(out), *_limit(stage, edge, start)
    return Switched(course.phase, first, stays, k, *waves, light)


def _before(stage, phase, edge):
    """Return the nominal LED current just before the switch, at given phases."""
    IF = stage.lamp.final["off" if edge == "on" else "on"][NOMINAL]
    return np.interp(phase * INSTANTS, np.arange(INSTANTS + 1), np.append(IF, IF[0]))


def _extremes(out):
    """Return the nominal course, the least and the most of all corners."""
    return np.stack([out[0], out.min(axis=0), out.max(axis=0)])


def _limit(stage, edge, before):
    """Return what the nominal output must reach, the LED current before, and whether the output must rise to it."""
    lit = edge == "on"
    return float((stage.lit if lit else stage.dark)[0]), before, (stage.way > 0) == lit


def _longest(first, stays):
    """Return the phase of the longest time: until it stays so, or if it never does until it first is."""
    return int(np.argmax(stays if np.isfinite(stays).all() else first))


def first_of(margin, t):
    """Return when a margin first reaches zero.

    Parameters
    ----------
    margin : ndarray, shape (..., time)
        Margin [any].
    t : ndarray, shape (time,)
        Time [s].

    Returns
    -------
    ndarray, shape (...)
        Time; infinite where it never does [s].
    """
    there = margin >= 0.0
    at = there.argmax(axis=-1)
    return np.where(there.any(axis=-1), _crossing(margin, t, np.maximum(at, 1) - 1, at == 0), np.inf)


def for_good(margin, t, arrives):
    """Return from when on a margin is never below zero again.

    Parameters
    ----------
    margin : ndarray, shape (..., time)
        Margin [any].
    t : ndarray, shape (time,)
        Time [s].
    arrives : float
        From when on it repeats [s].

    Returns
    -------
    ndarray, shape (...)
        Time; infinite where what repeats is below zero at any instant [s].
    """
    short = margin < 0.0
    last = margin.shape[-1] - 1 - short[..., ::-1].argmax(axis=-1)
    never, always = short[..., t > arrives].any(axis=-1), ~short.any(axis=-1)
    return np.where(never, np.inf, _crossing(margin, t, np.minimum(last, margin.shape[-1] - 2), always))


def _crossing(margin, t, before, at_once):
    """Return when a margin passes zero between an instant and the next; zero where it is met at once."""
    low, high = (np.take_along_axis(margin, k[..., None], axis=-1)[..., 0] for k in (before, before + 1))
    rise = high - low
    share = np.clip(np.where(rise != 0.0, -low / np.where(rise != 0.0, rise, 1.0), 1.0), 0.0, 1.0)
    return np.where(at_once, 0.0, t[before] + share * (t[before + 1] - t[before]))


# ---------------------------------------------------------------- a capacitor at the output


def _charged(stage, course, edge):
    """Return the output with a capacitor across it."""
    charging, final = stage.charging, stage.settled
    mine = repeated(course, [light for light, _ in stage.pairs])
    limit = stage.lit if edge == "on" else stage.dark
    way = stage.way if edge == "on" else -stage.way
    found = None if course.creeps else _stepped(stage, charging, mine, edge, final, limit)
    t, v, low, high, arrives = found or _crept(stage, charging, mine, edge, final)
    best, worst = (np.maximum, np.minimum) if way > 0 else (np.minimum, np.maximum)
    first = first_of(way * (best(low, high) - limit[:, None, None]), t)
    stays = for_good(way * (worst(low, high) - limit[:, None, None]), t, arrives)
    k = _longest(first[0], stays[0])
    IF = np.interp(t, course.t, (course.low + course.high)[NOMINAL, k % course.low.shape[1]] / 2.0)
    if not course.creeps:
        IF = _going_on(course, k % course.low.shape[1], t)
    margins = stage.margins(course, edge)
    alone = first_of(margins[0][0], course.t), for_good(margins[1][0], course.t, course.arrives)
    j = _longest(*alone)
    light = float(alone[1][j] if np.isfinite(alone[1][j]) else alone[0][j])
    start = float(IF[0] if course.creeps else _before(stage, course.phase, edge)[k])
    waves = t, IF, _extremes(v[:, k]), *_limit(stage, edge, start)
    return Switched(course.phase[: v.shape[1]], first, stays, k, *waves, light)


def _going_on(course, k, t):
    """Return the nominal LED current at any time, its last cycle going on."""
    period = course.t[-1] - course.arrives
    over = np.maximum(t - course.t[-1], 0.0)
    at = t - np.ceil(over / period - 1e-9) * period
    return np.interp(at, course.t, course.high[NOMINAL, k])


def _stepped(stage, charging, course, edge, final, limit):
    """Return time, voltage and when it repeats, found by steps; None where it takes too many cycles."""
    members, count, time = course.high.shape
    f = stage.f
    at = np.round(course.phase * INSTANTS).astype(int) % INSTANTS
    other = final["off" if edge == "on" else "on"]
    which = np.repeat(np.arange(members), count)
    goal = np.stack([np.roll(final[edge][m], -1 - k) for m in range(members) for k in at])
    near = _near(final, edge, limit)[which]
    begin = other[:, at].reshape(-1, 1)
    v, before = [begin], np.repeat(begin[:, None], 2, axis=1)
    guess, known, windows = np.repeat(begin[:, None], INSTANTS, axis=1), None, (time - 1) // INSTANTS
    remembers = course.t[-1] > 2.5 / f  # a loop without memory repeats from the start
    step, C = np.full(len(which), 1.0 / (f * INSTANTS)), np.full((len(which), 1), charging.C)
    for n in range(_CYCLES):
        if n < windows and (n == 0 or remembers):
            IF = course.high[:, :, 1 + n * INSTANTS : 1 + (n + 1) * INSTANTS].reshape(members, -1)
            known = charging.known(IF).reshape(len(which), INSTANTS, -1)
        x = march(charging.rates(known, which), C, before, guess, step, n == 0)
        v.append(x[:, :, 0])
        if n >= windows - 1 and (np.abs(x[:, :, 0] - goal).max(axis=1) <= near).all():
            break
        guess, before = x + (x[:, -1:] - before[:, -1:]), x[:, -2:]
    else:
        return None
    v = np.concatenate([*v, goal], axis=1).reshape(members, count, -1)
    t = np.arange(v.shape[2]) / (f * INSTANTS)
    return t, v, v, v, float(t[-1 - INSTANTS])


def _near(final, edge, limit):
    """Return how close to its end each output counts as arrived there."""
    end = final[edge]
    swing = np.abs(final["on"].mean(axis=1) - final["off"].mean(axis=1))
    gap = np.minimum(np.abs(end.max(axis=1) - limit), np.abs(end.min(axis=1) - limit))
    return np.maximum(np.minimum(_HALFWAY * gap, _CLOSE * swing), _CLOSEST * swing)


def _crept(stage, charging, course, edge, final):
    """Return time, voltage and its extremes within a cycle, of an output or an LED that takes many cycles."""
    members = len(course.high)
    drives = [light for light, _ in stage.pairs]
    last = charging.known(stage.lamp.final[edge][drives]).mean(axis=1, keepdims=True)
    other, end = final["off" if edge == "on" else "on"], final[edge]
    away = np.abs(other - end.mean(axis=1)[:, None]).argmax(axis=1)
    begin, mean = other[np.arange(members), away], end.mean(axis=1)
    until = max(_how_long(charging, last, begin, mean), course.arrives)
    t = until * np.arange(1, _STEPS + 1) / _STEPS
    if course.creeps:
        IF = [np.interp(t, course.t, row[0]) for row in (course.low + course.high) / 2.0]
        known = charging.known(np.stack(IF))
    else:
        known = np.repeat(last, _STEPS, axis=1)
        t = t + course.arrives
    guess = np.repeat(begin[:, None, None], _STEPS, axis=1)
    before, step = np.repeat(begin[:, None, None], 2, axis=1), np.full(members, until / _STEPS)
    v = march(charging.rates(known), np.full((members, 1), charging.C), before, guess, step, True)[:, :, 0]
    v = np.concatenate([begin[:, None], v, mean[:, None], mean[:, None]], axis=1)[:, None]
    t = np.concatenate([[0.0], t, t[-1] * np.array([1.0 + 1e-9, 1.0 + 2e-9])])
    low, high = (v + (ends - mean)[:, None, None] for ends in (end.min(axis=1), end.max(axis=1)))
    return t, v, low, high, float(t[-3])


def _how_long(charging, known, begin, end):
    """Return how long the slowest output takes until it is next to its end [s]."""
    share = 10.0 ** (-_DECADES * np.linspace(0.0, 1.0, _LEVELS))
    v = end[:, None] + (begin - end)[:, None] * share
    into = charging.rates(np.repeat(known, _LEVELS, axis=1))(v[:, :, None], np.arange(len(v)))[0][:, :, 0]
    at_end = charging.rates(known)(end[:, None, None], np.arange(len(v)))[0][:, :, 0]
    left = (end - begin)[:, None] * share
    pace = np.abs(into - at_end * (1.0 - share)) + np.finfo(float).tiny
    spent = np.abs(left) / pace * charging.C
    return float(np.trapezoid(spent, -np.log(share), axis=1).max())


__all__ = ["Switched", "first_of", "for_good", "lamp_switched", "switched"]
