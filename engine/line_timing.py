"""How fast a stage answers where the line sets the pace: an input on alternating voltage, a load that a triac switches.

From the switch of the line, or of the LED, until the output is first read as lit, until it stays so, until it is dark.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from engine.build import specimens
from engine.coupler.delays import delays_of
from engine.cycle import HALF_WAVE
from engine.cycling import OBSERVED, lamp_switched, over_cycle, switched
from engine.inputs import AcLine
from engine.line_pace import never_told, paced_by, triac_paced_by
from engine.operating import operating_point
from engine.timing import Span, Wave

POINTS = 320
"""Points of a waveform [-]."""

_AFTER = 1.25  # [-], time that is drawn over that of the last event
_LEAST_DRAWN = 1.9  # [-], cycles that are drawn at the least
_FAINT = 1e-9  # [A], LED current that is as good as none
_CREST = 90.0 - 1e-6  # [deg], angle from which on a load is not triggered
_DRAWN_LOAD = 1.9  # [-], cycles of a load that are drawn


@dataclass(frozen=True, slots=True)
class LineTiming:
    """How fast a stage answers where the line sets the pace.

    Of every span `value` is the nominal stage switched at its worst instant of the cycle, `low` the shortest of all
    corners and instants, `high` the longest.

    Attributes
    ----------
    scenario : Scenario
        The stage.
    lit : Span
        From switching on until the output is first surely read as lit [s].
    steady : Span
        Until it is so for good; None where it goes on pulsing [s].
    dark : Span
        From switching off until it is surely read as dark for good [s].
    gap : Span or None
        Longest stretch in which the output is not read as lit while the line is present; 0 for none. None of a load
        on the line, which no program reads [s].
    debounce : float or None
        For how long a program has to see the output unlit, at worst, before it may call the line absent [s].
    max_rate : Span
        Highest rate at which on is told from off; `low` is that at worst [Hz].
    phases : dict of str to float or None
        "on" and "off" to the instant at which the nominal stage takes longest, as a share of the cycle from the
        line's rising zero crossing on; None where the phase does not matter [-].
    f : float
        Frequency of the line that sets the pace [Hz].
    limited_by : str
        What limits, in a sentence.
    waves : dict of str to Wave
        "on" and "off" to the course at that instant.
    """

    scenario: object
    lit: Span
    steady: Span
    dark: Span
    gap: Span | None
    debounce: float | None
    max_rate: Span
    phases: dict
    f: float
    limited_by: str
    waves: dict

    @property
    def pulses(self):
        """Whether the output goes on pulsing while the line is present, at worst."""
        return self.lit.high is not None and self.steady.high is None


@lru_cache(maxsize=32)
def line_timing_of(scenario):
    """Return how fast a stage answers where the line sets the pace.

    Parameters
    ----------
    scenario : Scenario
        The stage.

    Returns
    -------
    LineTiming or None
        None where no line sets the pace; where the output is none that is followed over the cycle; where an LED that
        pulses with the line drives a triac, as then both lines matter; where the loop does not come to rest in the
        cycles that are followed.

    Raises
    ------
    ScenarioError
        If an "auto" part cannot be sized.
    ConvergenceError
        If the solver fails, which is a defect.

    Notes
    -----
    Switched on from empty capacitors at several instants of the cycle, switched off from the state that repeats. The
    coupler's own delays are added to all times; of couplers with a transistor they are microseconds beside the cycle
    and left aside. A triac is lit by any LED current above its threshold: it then waits for the line's zero crossing if
    it fires near that only, and fires as late after zero as its load asks for; it goes dark at its current's next zero,
    up to half a cycle later. The time that a filter capacitor across the LED takes is not counted there.

    References
    ----------
    Derived here. That a triac goes dark at its current's next zero: common practice, no source.
    """
    alternating, load = isinstance(scenario.input, AcLine), scenario.output
    if load.on_line:
        return _of_triac(scenario, alternating)
    return _of_input(scenario) if alternating and load.observed in OBSERVED else None


# ---------------------------------------------------------------- an input on alternating voltage


def _of_input(scenario):
    """Return the timing of a stage that tells whether a line voltage is there."""
    found, own = switched(scenario), delays_of(scenario.coupling.model)
    if found is None:
        return None
    side, unlit = scenario.input, over_cycle(scenario).figures["unlit"]
    on, off = found["on"], found["off"]
    open_phase = 0.25 / side.f if len(on.phase) == 1 else 0.0  # either way, of a bridge that lights twice a cycle
    lit, steady = (_delayed(times, own.on, open_phase) for times in (on.first, on.stays))
    dark, gap = _delayed(off.stays, own.off), _gap(unlit, own, 1.0 / side.f)
    shortest = 1.0 / side.f / (1.0 if side.form in HALF_WAVE else 2.0) - unlit.high
    if steady.high is None and own.on.largest > shortest:
        lit = Span(lit.value, lit.low, None)  # the light is gone again before the coupler answers
    times = {"lit": lit, "steady": steady, "dark": dark, "gap": gap}
    phases = {name: _phase(one) for name, one in found.items()}
    last_on = lit if steady.value is None else steady
    waves = {"on": _wave(on, scenario, last_on, own.on.typical), "off": _wave(off, scenario, dark, own.off.typical)}
    alone = on.light, off.light
    return LineTiming(
        scenario, **times, debounce=gap.high, max_rate=_rate(times), phases=phases, f=side.f,
        limited_by=never_told(scenario, times) or paced_by(scenario, times, alone), waves=waves,
    )  # fmt: skip


def _phase(found):
    """Return the phase at which the nominal stage takes longest; None where all take alike, or it is left open."""
    times = found.stays[0] if np.isfinite(found.stays[0]).all() else found.first[0]
    apart = np.isfinite(times).all() and np.ptp(times) > 0.0
    return float(found.phase[found.worst]) if apart else None


def _delayed(times, own, either=0.0):
    """Return the span of times over corners, the nominal first, and phases, with a delay of the coupler's own."""
    least = max(times.min() - either, 0.0)
    return _span(times[0].max() + either + own.typical, least + own.least, times.max() + either + own.largest)


def _gap(unlit, own, period):
    """Return the longest dark stretch, which a coupler that answers late makes longer."""
    ends = ((unlit.value, own.on.typical), (unlit.low, 0.0), (unlit.high, own.on.largest))
    return _span(*(np.inf if width >= period else width + (late if width else 0.0) for width, late in ends))


def _span(*ends):
    """Return a span of times, those that are never reached as None."""
    return Span(*(float(end) if np.isfinite(end) else None for end in ends))


def _rate(times):
    """Return the rates that belong to times: on, off and the gap that off must be told from, one after the other."""

    def rate(end):
        lit, steady, dark, gap = (getattr(times[name], end) for name in ("lit", "steady", "dark", "gap"))
        if steady is None and lit is not None:
            steady = max(lit, times["steady"].value or 0.0)  # the worst is no quicker than the nominal stage
        spent = [steady, dark, gap]
        return 1.0 / sum(spent) if None not in spent and sum(spent) > 0.0 else None

    return Span(rate("value"), rate("high"), rate("low"))


def _wave(found, scenario, span, late):
    """Return the waveform after a switch, up to a while after its last event, the coupler's own delay in it."""
    ends = [end for end in (span.value, span.high) if end is not None]
    until = min(max(_AFTER * max(ends, default=0.0), _LEAST_DRAWN / scenario.input.f), float(found.t[-1]))
    t = np.linspace(0.0, until, POINTS)
    IF = np.interp(t, found.t, found.IF)
    IF = np.where(IF > _FAINT, IF, 0.0)
    IF[0] = found.before
    nominal, low, high = (np.interp(t - late, found.t, row) for row in found.out)
    threshold = scenario.coupling.spread().get("threshold", (None,))[0]
    return Wave(t, nominal, low, high, IF, threshold, found.limit, found.rises)


# ---------------------------------------------------------------- a load that a triac switches


def _of_triac(scenario, alternating):
    """Return the timing of a load on the line: plain arithmetic on angles and half cycles."""
    on, off = _lamp_times(scenario) if alternating else (_NOW, _NOW)
    if on is None:
        return None
    load, own = scenario.output, delays_of(scenario.coupling.model)
    state = operating_point(scenario).states["closed"]
    angle, half = state.quantities["angle"].members, 0.5 / load.f_line
    late = np.where(angle < _CREST, np.radians(angle) / (2.0 * np.pi * load.f_line), np.inf)
    waits = scenario.coupling.data.inhibit is not None
    longest = half + late if waits else 2.0 * late  # from the end of one half cycle's current to the next one's
    least = 0.0 if np.isfinite(late).any() else np.inf
    lit = _span(
        on.value + own.on.typical + longest[0], on.low + own.on.least + least, on.high + own.on.largest + longest.max()
    )
    dark = Span(off.value + own.off.typical + half, off.low + own.off.least, off.high + own.off.largest + half)
    times = {"lit": lit, "steady": lit, "dark": dark, "gap": Span(0.0, 0.0, 0.0)}
    begins = float(late[0]) if np.isfinite(late[0]) else 0.0
    # From the end of one current on; of an LED that is itself on alternating voltage both lines matter.
    known = not alternating and lit.value is not None
    phases = {"on": 0.5 - begins / (2.0 * half) if known and not waits else None}
    phases["off"] = begins / (2.0 * half) if known else None
    return LineTiming(
        scenario, lit, lit, dark, None, None, _rate(times), phases,
        load.f_line, triac_paced_by(scenario, times, waits), _load_waves(scenario, times, (on, off), begins),
    )  # fmt: skip


_NOW = Span(0.0, 0.0, 0.0)


def _lamp_times(scenario):
    """Return from when on the LED on alternating voltage lights a triac for good, and is dark; None where it pulses."""
    nominal, weakest, strongest = specimens(scenario)["threshold"]
    lit, dark = np.array([nominal, weakest, weakest]), np.array([nominal, strongest, strongest])
    found = lamp_switched(scenario, lit, dark)
    spans = [] if found is None else [_span(t[0].max(), t.min(), t.max()) for _, t in found.values()]
    return spans if spans and all(span.high is not None for span in spans) else (None, None)


def _load_waves(scenario, times, lamp, late):
    """Return the voltage of the load after switching on and off, at the instant that makes it take longest.

    `lamp` has the times at which the LED is lit and dark, `late` how long after zero the load begins.
    """
    load, closed = scenario.output, operating_point(scenario).states["closed"]
    IF, V, half = closed.quantities["IF"].value, np.sqrt(2.0) * load.VCC, 0.5 / load.f_line
    threshold = scenario.coupling.spread().get("threshold", (None,))[0]
    lit, dark = times["lit"].value, times["dark"].value
    t = np.linspace(0.0, max(_DRAWN_LOAD / load.f_line, _AFTER * max(lit or 0.0, dark)), POINTS)
    found = {}
    for edge, zero in (("on", (lit or 0.0) - late), ("off", dark - half)):
        begun = t >= lit - 1e-9 * half if edge == "on" and lit is not None else t < dark
        conducts = begun & ((t - zero) % half >= late) if lit is not None else np.zeros(POINTS, dtype=bool)
        out = np.where(conducts, V * np.sin(np.pi * (t - zero) / half), 0.0)
        lamped = np.where(t >= lamp[0].value, IF, 0.0) if edge == "on" else np.where(t > lamp[1].value, 0.0, IF)
        limit = 0.0 if edge == "off" else V * np.sin(np.pi * late / half) if lit is not None else V
        found[edge] = Wave(t, out, out, out, lamped, threshold, float(limit), edge == "on")
    return found
