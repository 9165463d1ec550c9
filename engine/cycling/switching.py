"""The LED's current after the line was switched: from empty capacitors on, from the state that repeats off.

Followed instant by instant over some cycles. A smoothing capacitor that takes longer creeps: its voltage hardly moves
within a cycle, so what flows into it is averaged over the cycle, and its way is an integral over its voltage.
"""

from dataclasses import dataclass, replace
from itertools import islice

import numpy as np

from engine.cycle import HALF_WAVE, after_switching, over_the_cycle, periodic
from engine.cycle.loop import light, rates_in
from engine.cycle.waveform import average, stretches_below

INSTANTS = 128
"""Instants per cycle [-]."""
PHASES = 8
"""Phases of the cycle at which the line is switched, evenly spaced [-]."""

_CYCLES = 24  # followed instant by instant, at the most
_TIME_CONSTANTS = 7.0  # [-], after which a capacitor counts as settled, to a thousandth
_LEVELS = 60  # of a creeping voltage
_COARSE = 64  # instants over which a creeping current is averaged
_GRID = 400  # instants of its way
_DECADES = 3.3  # to which its last distance from the end has fallen
_JUST_AFTER = 0.05  # [-], share of a step behind the end of the light, the worst instant to switch on
_FAINT = 1e-9  # [A], what an absent line may still drive, which no output notices
_HALFWAY = 0.3  # [-], share of the distance between its end and a threshold from which on nothing turns back
_CLOSE, _CLOSEST = 1e-2, 1e-3  # [-], distance from the end, over the largest current, that counts as arrived


@dataclass(frozen=True, slots=True)
class Lamp:
    """The LED's loop with the line present and absent, and what it settles to.

    Attributes
    ----------
    loop : dict of str to AcLoop
        "on" and "off" to the loops: nominal, weakest, strongest.
    final : dict of str to ndarray, shape (3, instants)
        LED current that repeats in the end [A].
    rest : dict of str to ndarray, shape (3, instants, states)
        Voltages of the capacitors from which the switch to "on" and to "off" starts [V].
    """

    loop: dict
    final: dict
    rest: dict


@dataclass(frozen=True, slots=True)
class Course:
    """LED current after the line was switched; its last cycle goes on for good.

    Attributes
    ----------
    t : ndarray, shape (time,)
        Time after the switch, from zero on [s].
    phase : ndarray, shape (phases,)
        Where in its cycle the line was switched, as a share of the period from its rising zero crossing on [-].
    low : ndarray, shape (3, phases, time)
        Least LED current around each instant: the current itself, unless it creeps; nominal, weakest, strongest [A].
    high : ndarray, shape (3, phases, time)
        Largest LED current around each instant [A].
    arrives : float
        When the last cycle begins [s].
    creeps : bool
        Whether it was averaged over the cycle, which leaves the phase open.
    """

    t: np.ndarray
    phase: np.ndarray
    low: np.ndarray
    high: np.ndarray
    arrives: float
    creeps: bool


def lamp_of(side, led, T, values):
    """Return the LED's loop with the line present and absent.

    Parameters
    ----------
    side : AcLine
        The input side.
    led : LedModel
        Its LED.
    T : ndarray, shape (3,)
        Absolute temperature [K].
    values : dict of str to ndarray, shape (3,)
        As `drive_values`.

    Returns
    -------
    Lamp
        Both loops and what they settle to; without residual current the absent line leaves every capacitor empty.
    """
    there = side.loop_of(led, T, values)
    gone = side.loop_of(led, T, values | {"S1": side.switch(np.zeros(len(there.V), dtype=bool))})
    lit, empty = over_the_cycle(there, INSTANTS), np.zeros((len(there.V), INSTANTS, there.capacities.shape[1]))
    dark = over_the_cycle(gone, INSTANTS) if side.I_leak else None
    final = {"on": lit.IF, "off": np.zeros_like(lit.IF) if dark is None else dark.IF}
    return Lamp({"on": there, "off": gone}, final, {"on": empty, "off": _held(lit, empty)})


def _held(cycle, empty):
    """Return the voltages of the capacitors over the period."""
    held = [volts for volts in (cycle.v_CD, cycle.v_CS) if volts is not None]
    return np.stack(held, axis=2) if held else empty


def course_of(lamp, edge, lit, dark):
    """Return the LED's current after a switch.

    Parameters
    ----------
    lamp : Lamp
        The loop.
    edge : str
        "on" or "off".
    lit : ndarray, shape (3,)
        LED current from which each is surely read as lit [A].
    dark : ndarray, shape (3,)
        LED current up to which each is surely read as dark [A].

    Returns
    -------
    Course or None
        None where the loop does not come to rest in the cycles followed and has no smoothing capacitor that creeps.

    Raises
    ------
    ConvergenceError
        If the march fails, which is a defect.

    References
    ----------
    Derived here.
    """
    final, loop = lamp.final[edge], lamp.loop[edge]
    near = _near(final, lit if edge == "on" else dark, lamp.final["on"].max(axis=1))
    if not loop.capacities.shape[1]:
        starts = [one.start for row, limit in zip(lamp.final["on"], lit, strict=True) for one in _unlit(row, limit)]
        return _stepped(lamp, edge, np.concatenate([_even(loop), np.array(starts) + _JUST_AFTER / INSTANTS]), None)
    if loop.CS is None or _hurries(loop, edge):
        found = _stepped(lamp, edge, _even(loop), near)
        if found is not None or loop.CS is None:
            return found
    return _crept(lamp, edge, near)


def _even(loop):
    """Return evenly spaced phases; where both half cycles are alike those of one stand for both."""
    return np.arange(PHASES if loop.form in HALF_WAVE else PHASES // 2) / PHASES


def _unlit(row, limit):
    """Return where one LED current that repeats is not above a limit, unless that is always."""
    found = stretches_below(row, limit) if np.isfinite(limit) else ()
    return [one for one in found if one.width < 1.0]


def _near(final, limit, most):
    """Return how close to its end each current counts as arrived there."""
    gap = np.minimum(np.abs(final.max(axis=1) - limit), np.abs(final.min(axis=1) - limit))
    near = np.minimum(np.where(np.isfinite(limit), _HALFWAY * gap, np.inf), _CLOSE * most)
    return np.maximum(near, np.maximum(_CLOSEST * final.max(axis=1), _FAINT))


def _hurries(loop, edge):
    """Return whether the smoothing capacitor may have settled within the cycles that are followed."""
    R = np.minimum(loop.R1, loop.RF) if edge == "on" else loop.RF
    return bool((_TIME_CONSTANTS * R * loop.CS * loop.f < _CYCLES).all())


# ---------------------------------------------------------------- instant by instant


def _stepped(lamp, edge, phase, near):
    """Return the course found by steps; None where it does not arrive. Without capacitors `near` is None."""
    count, final = len(phase), lamp.final[edge]
    members = np.repeat(np.arange(len(final)), count)
    loop, turns = lamp.loop[edge].taken(members), np.tile(phase, len(final))
    at = np.round(turns * INSTANTS).astype(int) % INSTANTS
    start = lamp.rest[edge][members, at]
    v = (loop.crest * np.sin(2.0 * np.pi * turns))[:, None]
    found = [light(loop, v, start[:, None])]
    goal = np.stack([np.roll(final[m], -1 - k) for m, k in zip(members, at, strict=True)])
    for _, IF in islice(after_switching(loop, turns, start, INSTANTS), _CYCLES):
        found.append(IF)
        if near is None or (np.abs(IF - goal).max(axis=1) <= near[members]).all():
            break
    else:
        return None
    found.append(IF if near is None else goal)
    IF = np.concatenate(found, axis=1).reshape(len(final), count, -1)
    t = np.arange(IF.shape[2]) / (loop.f[0] * INSTANTS)
    return Course(t, phase, IF, IF, float(t[-1 - INSTANTS]), False)


# ---------------------------------------------------------------- creeping


def _crept(lamp, edge, near):
    """Return the course of a smoothing capacitor that takes many cycles."""
    loop, final = lamp.loop[edge], lamp.final[edge]
    behind = loop.behind()
    if edge == "on":
        end = lamp.rest["off"][:, :, -1].mean(axis=1)[:, None]
        fallen = np.linspace(0.0, _DECADES, _LEVELS) * np.log(10.0)  # logarithm of the distance, over that at first
        share = -np.expm1(-fallen)
        volts = end * share
        # Held at its average the capacitor gets not quite what the ripple lets in; the balance at the end is known.
        into = charging(loop, volts) - charging(loop, end) * share
        left = (end - volts) / np.maximum(into, np.finfo(float).tiny)
        t = _summed(left, np.tile(fallen, (len(end), 1))) * loop.CS[:, None]
    else:
        begin = behind.current(lamp.rest["off"][:, :, -1].max(axis=1)[:, None])[0]
        end = average(final)[:, None]
        decades = np.log10(np.maximum((begin - end) / near[:, None], 10.0))
        IF = end + (begin - end) * 10.0 ** (-decades * np.linspace(0.0, 1.0, _LEVELS))
        volts = behind.voltage(IF)
        out = np.maximum(-charging(loop, volts), np.finfo(float).tiny)
        t = _summed(1.0 / out, -volts) * loop.CS[:, None]
    grid = t[:, -1].max() * np.linspace(0.0, 1.0, _GRID) ** 2
    way = np.stack([np.interp(grid, *pair) for pair in zip(t, volts, strict=True)])
    IF, mean = np.maximum(behind.current(way)[0], 0.0), average(final)[:, None]
    swing = [
        np.where(mean > 0.0, ends[:, None] / np.maximum(mean, 1e-30), 1.0) for ends in (final.min(1), final.max(1))
    ]
    last = np.array([1.0, 1.0 + 1e-9]) * grid[-1]
    t = np.concatenate([grid[:-1], last])
    low, high = (
        np.concatenate([IF[:, :-1] * times, np.repeat(mean * times, 2, axis=1)], axis=1)[:, None] for times in swing
    )
    return Course(t, np.zeros(1), low, high, float(grid[-1]), True)


def _summed(y, x):
    """Return the integral of each row from its beginning on, by trapezoids."""
    pieces = np.diff(x, axis=1) * (y[:, 1:] + y[:, :-1]) / 2.0
    return np.concatenate([np.zeros((len(y), 1)), np.cumsum(pieces, axis=1)], axis=1)


def charging(loop, volts):
    """Return the current into the smoothing capacitor, averaged over the cycle, while its voltage is held.

    Parameters
    ----------
    loop : AcLoop
        The loops.
    volts : ndarray, shape (batch, levels)
        Voltages [V].

    Returns
    -------
    ndarray, shape (batch, levels)
        Current, of a series capacitor that has settled [A].
    """
    count = volts.shape[1]
    many = loop.taken(np.repeat(np.arange(len(volts)), count))
    v = many.line(_COARSE)
    held = np.repeat(volts.reshape(-1, 1, 1), _COARSE, axis=1)
    rates = rates_in(many, v)
    if loop.CD is not None:

        def alone(x, members):
            currents, slopes = rates(np.concatenate([x, held[members]], axis=2), members)
            return currents[:, :, :1], slopes[:, :, :1, :1]

        x, _ = periodic(alone, many.capacities[:, :1], v[:, :, None].copy(), 1.0 / (many.f * _COARSE))
        held = np.concatenate([x, held], axis=2)
    return average(rates(held, np.arange(len(v)))[0][:, :, -1]).reshape(volts.shape)


def repeated(course, pairs):
    """Return a course for other members than the three.

    Parameters
    ----------
    course : Course
        Of nominal, weakest and strongest drive.
    pairs : sequence of int
        Which of the three each member has.

    Returns
    -------
    Course
        Of these members.
    """
    which = np.asarray(pairs)
    return replace(course, low=course.low[which], high=course.high[which])
