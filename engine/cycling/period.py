"""One period of a stage on alternating voltage: currents, voltages, powers, and what is read at the output."""

from dataclasses import dataclass
from functools import lru_cache
from itertools import product

import numpy as np

from engine.build import specimens
from engine.constants import ZERO_CELSIUS
from engine.cycle import BARE, HALF_WAVE, inrush, over_the_cycle
from engine.cycle.waveform import Stretch, average, peak, phases, ripple, rms, share_above, stretches_below
from engine.cycling.response import OBSERVED, response_of
from engine.cycling.smoothing import smoothed
from engine.operating import Range
from engine.sizing import size

_CONDUCTS = 0.05  # [-], share of its average above which the LED's current counts as conduction
_USUAL = (0, 0, 0, 0, 0)  # ends of coupler, VCC, RL, leakage and temperature
NOMINAL, WEAK, STRONG = range(3)
"""The LED's loop as it is meant, with the least and with the most LED current."""


@dataclass(frozen=True, slots=True)
class Electrical:
    """One alternating quantity with its three figures, which are never the same.

    Attributes
    ----------
    symbol : str
        What it is.
    rms : Range
        Effective value: what heats [V or A].
    peak : Range
        Largest magnitude: what breaks down [V or A].
    average : Range
        Average of the magnitude: what lights [V or A].
    """

    symbol: str
    rms: Range
    peak: Range
    average: Range


@dataclass(frozen=True, slots=True)
class OverCycle:
    """One period of the line, solved.

    Attributes
    ----------
    scenario : Scenario
        The stage.
    phases : ndarray, shape (time,)
        Shares of the period, from the line's rising zero crossing on [-].
    line : ndarray, shape (time,)
        Line voltage [V].
    IF : ndarray, shape (3, time)
        LED current: nominal, at its weakest, at its strongest [A].
    out : ndarray or None, shape (3, time)
        What is observed at the output: nominal, lowest and highest of all corners; None where it is not followed
        [V or A].
    limits : tuple of (float, float)
        Largest value that surely reads low or dark, smallest that surely reads high or lit [V or A].
    electrical : tuple of Electrical
        Line voltage, current and voltage of R1, LED current, voltage of the capacitors.
    figures : dict of str to Range
        Further figures by name, as in the glossary.
    powers : dict of str to Range
        Average power of every part of the input side [W].
    unlit : tuple of Stretch
        Parts of the period in which the nominal stage is not read as lit.
    """

    scenario: object
    phases: np.ndarray
    line: np.ndarray
    IF: np.ndarray
    out: np.ndarray | None
    limits: tuple
    electrical: tuple
    figures: dict
    powers: dict
    unlit: tuple

    @property
    def steady(self):
        """Whether the output is read as lit all the time, in every corner."""
        return self.out is not None and self.figures["unlit"].high == 0.0


@lru_cache(maxsize=32)
def over_cycle(scenario):
    """Return a stage over one period of its line.

    Parameters
    ----------
    scenario : Scenario
        A stage whose input side is on alternating voltage.

    Returns
    -------
    OverCycle
        Waveforms and figures with the line voltage present.

    Raises
    ------
    ScenarioError
        If an "auto" part cannot be sized.
    """
    side, sized = scenario.input, size(scenario)
    values = drive_values(scenario, sized)
    loop = side.loop_of(scenario.coupling.model.led, values["TA"] + ZERO_CELSIUS, values)
    cycle = over_the_cycle(loop)
    out, limits, found, unlit = None, (0.0, 0.0), {}, ()
    if scenario.output.observed in OBSERVED:
        out, limits, found, unlit = _output(scenario, sized, cycle.IF)
    figures = _figures(side, loop, cycle) | found
    powers = {part: _range(watts, "W") for part, watts in cycle.powers.items()}
    shares = phases(cycle.v.shape[1])
    return OverCycle(
        scenario,
        shares,
        cycle.v[NOMINAL],
        cycle.IF,
        out,
        limits,
        _electrical(side, loop, cycle),
        figures,
        powers,
        unlit,
    )


def drive_values(scenario, sized):
    """Return what varies in the LED's loop: nominal, weakest and strongest drive.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    sized : dict of str to Sized
        Its resistors, and its capacitor if it has one.

    Returns
    -------
    dict of str to ndarray, shape (3,)
        As `AcLine.loop_of` takes them.
    """
    side, tolerance = scenario.input, scenario.conditions.tolerance
    low, high = side.VS_ends
    VF = scenario.coupling.model.VF_shifts()
    values = {
        "VS": np.array([side.VS, low, high]),
        "R1": sized["R1"].chosen * np.array([1.0, 1.0 + tolerance, 1.0 - tolerance]),
        "shift": np.array([0.0, max(VF), min(VF)]),
        "S1": side.switch(np.ones(3, dtype=bool)),
        "TA": np.array([scenario.conditions.TA, *scenario.conditions.TA_ends]),  # a cold LED drops more
    }
    if side.capacitive:
        off = side.CD_tolerance
        values["CD"] = sized["CD"].chosen * np.array([1.0, 1.0 - off, 1.0 + off])
    return values


def output_values(scenario, sized, ends):
    """Return what varies on the far side of the light.

    Parameters
    ----------
    scenario : Scenario
        The stage.
    sized : dict of str to Sized
        Its resistors.
    ends : iterable of tuple of int
        Ends of coupler, VCC, RL, the receiver's leakage and the temperature: -1 weak or low, 0 nominal, 1 strong or
        high.

    Returns
    -------
    dict of str to ndarray, shape (members,)
        As `response_of` takes them.
    """
    load, tolerance = scenario.output, scenario.conditions.tolerance
    CTR, VCC, RL, leak, warmth = np.array(list(ends)).T + 1
    resistor, (low, high) = sized["RL"].chosen, scenario.conditions.TA_ends
    values = {
        "VCC": np.array([load.VCC_ends[0], load.VCC, load.VCC_ends[1]])[VCC],
        "RL": np.array([resistor * (1 - tolerance), resistor, resistor * (1 + tolerance)])[RL],
        "down": np.array([1.0, 0.0, 0.0])[leak],
        "up": np.array([0.0, 0.0, 1.0])[leak],
        "TA": np.array([low, scenario.conditions.TA, high])[warmth],
    }
    for name, (nominal, weakest, strongest) in specimens(scenario).items():
        values[name] = np.array([weakest, nominal, strongest])[CTR]
    return values | {name: np.full(len(CTR), s.nominal) for name, s in load.spreads(tolerance).items()}


def _output(scenario, sized, IF):
    """Return waveforms, limits and figures of what is observed at the output, and when the nominal stage is unlit."""
    ends, pairs = members_of(scenario)
    values = output_values(scenario, sized, ends)
    response = response_of(scenario, values, float(IF.max()))
    if not settles_slowly(scenario):
        waves = np.stack([response.at(IF[light], member) for light, member in pairs])
        thresholds = response.thresholds()
        unlit = [stretches_below(IF[light], thresholds[member]) for light, member in pairs]
    else:
        waves = smoothed(scenario, values, IF[[light for light, _ in pairs]], scenario.input.C_out)
        beyond = response.way * (waves - response.limit[:, None])
        unlit = [stretches_below(row, 0.0) for row in beyond]
    verdict = scenario.output.verdict(np.zeros(1), output_values(scenario, sized, [_USUAL]))
    extremes = np.stack([waves[0], waves.min(axis=0), waves.max(axis=0)])
    figures = _read(scenario, waves, unlit)
    return extremes, (verdict.low_limit, verdict.high_limit), figures, unlit[0]


def members_of(scenario):
    """Return the corners in which the output is followed.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    ends : list of tuple of int
        Ends of every output side, as `output_values` takes them, the nominal one first.
    pairs : list of (int, int)
        Drive and output side of every corner, the nominal one first; with a capacitor across the output each output
        side has one drive.
    """
    if not settles_slowly(scenario):
        ends = [_USUAL, *_warmed(_corners(scenario.output), scenario.conditions)]
        return ends, [(NOMINAL, 0), *product((WEAK, STRONG), range(1, len(ends)))]
    corners = [(CTR, 0, RL, 0) for CTR, RL in product((-1, 1), repeat=2)]
    ends = [_USUAL, *_warmed(corners, scenario.conditions)]
    light = [NOMINAL, *(WEAK if coupler < 0 else STRONG for coupler, *_ in ends[1:])]
    return ends, list(zip(light, range(len(ends)), strict=True))


def _warmed(corners, conditions):
    """Return corners with every end that the ambient temperature has."""
    ends = (0,) if conditions.TA_ends == (conditions.TA, conditions.TA) else (-1, 0, 1)
    return [(*corner, end) for corner in corners for end in ends]


def _corners(load):
    """Return the ends of coupler, VCC, RL and leakage among which the extremes are, at every LED current.

    At a receiver a weak coupler with a heavy load and with the leakage that it has to carry pushes the same way,
    whatever the supply. Elsewhere RL pushes either way, and nothing leaks.
    """
    if load.observed != "VOUT":
        return [(CTR, VCC, RL, 0) for CTR, VCC, RL in product((-1, 1), repeat=3)]
    against = -1 if load.level_when_lit == load.words[0] else 1
    return [(CTR, VCC, CTR, against * CTR) for CTR, VCC in product((-1, 1), repeat=2)]


def settles_slowly(scenario):
    """Return whether a capacitor lies across the output.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    bool
        Whether it does; only the output to a logic receiver has one.
    """
    return scenario.input.C_out != "none" and scenario.output.observed == "VOUT"


def _read(scenario, waves, unlit):
    """Return the figures of the output's waveforms, the nominal one first."""
    unit = OBSERVED[scenario.output.observed]
    longest = [max((stretch.width for stretch in one), default=0.0) for one in unlit]
    total = [sum(stretch.width for stretch in one) for one in unlit]
    found = {
        "out_average": _range(average(waves), unit),
        "out_ripple": _range(ripple(waves), unit),
        "unlit": _range(np.array(longest) / scenario.input.f, "s"),
        "lit_share": _range(np.clip(1.0 - np.array(total), 0.0, 1.0), "1"),
    }
    if scenario.input.form in HALF_WAVE:
        return found
    offsets = [_offset(one) for one in unlit if one and one[0].width < 1.0]
    if offsets and unlit[0] and unlit[0][0].width < 1.0:
        found["unlit_offset"] = _range(np.array(offsets) / scenario.input.f, "s")
    return found


def _offset(unlit):
    """Return how far the middle of the first unlit stretch lies behind the line's nearest zero crossing."""
    return (unlit[0].middle + 0.25) % 0.5 - 0.25


def _range(values, unit):
    """Return a range of values, the nominal one first."""
    return Range(float(values[0]), float(np.min(values)), float(np.max(values)), unit)


def _triple(symbol, waves, unit):
    """Return the three figures of an alternating quantity."""
    return Electrical(symbol, *(_range(of(waves), unit) for of in (rms, peak, lambda x: average(np.abs(x)))))


def _electrical(side, loop, cycle):
    """Return the alternating quantities of the input side."""
    R1 = loop.R1[:, None]
    found = [_triple("V line", cycle.v, "V"), _triple("I R1", cycle.i, "A"), _triple("V R1", R1 * cycle.i, "V")]
    if side.split > 1:
        found.append(_triple("V of one resistor", R1 * cycle.i / side.split, "V"))
    for symbol, volts in (("V CD", cycle.v_CD), ("V CS", cycle.v_CS)):
        if volts is not None:
            found.append(_triple(symbol, volts, "V"))
    return (*found, _triple("IF", cycle.IF, "A"))


def _figures(side, loop, cycle):
    """Return further figures of the input side."""
    conducting = share_above(cycle.IF, _CONDUCTS * average(cycle.IF))
    found = {"conduction": _range(conducting, "1"), "IF_ripple": _range(ripple(cycle.IF), "A")}
    if side.form in HALF_WAVE:
        found["VR"] = _range(_reversed(loop, cycle), "V")
    if cycle.v_CS is not None:
        found["CS_ripple"] = _range(ripple(cycle.v_CS), "V")
    if loop.CD is None and loop.CS is None:
        return found
    charged = cycle.v_CD is not None and loop.RB is None
    first = inrush(loop, peak(cycle.v_CD) if charged else 0.0)
    return found | {
        "inrush_R1": _range(first.current, "A"),
        "inrush_IF": _range(first.IF, "A"),
        "inrush_time": _range(first.duration, "s"),
        "inrush_energy": _range(first.energy, "J"),
    }


def _reversed(loop, cycle):
    """Return the peak of the voltage that the LED meets backwards in its dark half cycle [V]."""
    if loop.form == BARE:
        return peak(cycle.v)
    back = np.maximum(-cycle.i, 0.0).max(axis=1)
    return loop.rectifier.drop(back[:, None])[:, 0]


__all__ = [
    "NOMINAL",
    "Electrical",
    "OverCycle",
    "Stretch",
    "drive_values",
    "members_of",
    "output_values",
    "over_cycle",
    "settles_slowly",
]
