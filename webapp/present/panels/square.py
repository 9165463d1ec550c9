"""A square wave through the stage: what comes out at a rate of one's choice, and up to which rate anything does."""

from dataclasses import dataclass

import numpy as np

from engine import (
    RATE_ENDS,
    UNITS,
    ConvergenceError,
    Scenario,
    Square,
    Timing,
    Utmost,
    as_typed,
    reading,
    trains_of,
    why_unfollowed,
)
from webapp.present.figures import plain
from webapp.present.panels.drawn import Typed, told
from webapp.present.panels.train_plot import Train, TrainPlot, train_plot

USUAL_RATE = 1e3
"""Rate that is shown where the stage has no sure one [Hz]."""

_PERIODS = 2
_LOST = "Where both levels are not reached in every period, edges are lost."


@dataclass(frozen=True, slots=True)
class SquareView:
    """The section.

    Attributes
    ----------
    rate, usual : str
        The rate as typed, and the one that is shown where nothing is typed.
    error : str
        What is wrong with what was typed.
    reason : str
        Why there is nothing to show; empty where there is.
    utmost, utmost_worst, sure, sure_worst : str
        The utmost rate and the sure one, nominal and at worst.
    holds : bool
        Whether both levels are surely seen at the rate, at worst too.
    answer : str
        The same in a sentence.
    widths : str
        How long a pulse is at the output, in a sentence.
    plots : tuple of TrainPlot
        Two periods.
    """

    rate: str
    usual: str
    error: str = ""
    reason: str = ""
    utmost: str = ""
    utmost_worst: str = ""
    sure: str = ""
    sure_worst: str = ""
    holds: bool = False
    answer: str = ""
    widths: str = ""
    plots: tuple[TrainPlot, ...] = ()


def usual_rate(timing: Timing) -> float:
    """Return the rate that is shown where none is asked for [Hz]."""
    slowest, fastest = RATE_ENDS
    return min(max(timing.max_rate.low or timing.max_rate.value or USUAL_RATE, slowest), fastest)


def square_view(scenario: Scenario, timing: Timing, values: dict[str, str]) -> SquareView:
    """Return the section on square waves of a stage whose edges are known."""
    usual, typed = usual_rate(timing), Typed(values)
    rate = typed.quantity("square", "Hz", usual, RATE_ENDS)
    text = _typed(usual)
    shown = {"rate": values.get("square", "").strip() or text, "usual": text, "error": told(typed.problems)}
    reason = why_unfollowed(scenario)
    if reason:
        return SquareView(**shown, reason=reason)
    try:
        (found,), utmost = trains_of(scenario, [rate])
    except ConvergenceError:
        return SquareView(**shown, reason="No periodic state was found at this rate.")
    return SquareView(
        **shown,
        **{name: _rate(getattr(utmost, key)) for name, key in _RATES.items()},
        holds=found.sees[1],
        answer=_answer(found, utmost),
        widths=_widths(found),
        plots=(_plot(found, scenario),),
    )


_RATES = {"utmost": "value", "utmost_worst": "worst", "sure": "sure", "sure_worst": "sure_worst"}


def _typed(rate: float) -> str:
    """Return a rate as it would be typed, in few digits."""
    return as_typed(float(f"{rate:.3g}"), UNITS["Hz"])


def _rate(value) -> str:
    """Return a rate as text."""
    return "none" if value is None else plain(value, "Hz")


def _answer(found: Square, utmost: Utmost) -> str:
    """Return whether both levels are seen."""
    rate = plain(found.rate, "Hz")
    if not found.settled:
        return f"At {rate} the course does not come to repeat itself within the periods that were followed."
    if found.sees[1]:
        lit, dark = (plain(found.held[level].low, "s") for level in ("lit", "dark"))
        return f"At {rate} the receiver surely sees both levels, at worst too: lit for {lit}, dark for {dark} a period."
    if found.sees[0]:
        missed = [level for level in ("lit", "dark") if not found.held[level].low]
        return f"At {rate} the nominal stage shows both levels; at worst {' and '.join(missed)} is not surely read."
    missed = [level for level in ("lit", "dark") if not found.held[level].value]
    return f"At {rate} {' and '.join(missed)} is not surely read. {_LOST}"


def _widths(found: Square) -> str:
    """Return how long a pulse is at the output."""
    within = plain(found.width_in, "s")
    out = found.width_out
    if out.value is None:
        return f"The LED is lit for {within}; the output does not pass the middle of its swing twice a period."
    change = out.value - found.width_in
    way = "longer" if change > 0.0 else "shorter"
    ends = f", {plain(out.low, 's')} to {plain(out.high, 's')} at worst" if None not in (out.low, out.high) else ""
    by = " ".join(reading(abs(change), UNITS["s"]))
    return f"The LED is lit for {within}; the pulse at the output is {by} {way}: {plain(out.value, 's')}{ends}."


def _plot(found: Square, scenario: Scenario) -> TrainPlot:
    """Return two periods of the steady state as a drawing."""
    load, period = scenario.output, 1.0 / found.rate
    t = np.concatenate([found.t + k * period for k in range(_PERIODS)])
    twice = {name: np.tile(getattr(found, name), _PERIODS) for name in ("IF", "nominal", "low", "high")}
    changes = tuple(0.5 * k * period for k in range(2 * _PERIODS))
    title = f"{_PERIODS} periods at {plain(found.rate, 'Hz')}"
    event = "both levels surely seen" if found.sees[0] else "a level is missed"
    return train_plot(
        Train(
            key="square", title=title, description=f"{title}: input, LED current and {load.observed}; {event}.",
            changes=changes, on_first=True, switch="LED",
            t=t, IF=twice["IF"], y=twice["nominal"], low=twice["low"], high=twice["high"], limits=found.limits,
            observed=load.observed, unit="A" if load.observed == "IL" else "V", words=(load.words[0], load.words[2]),
            event=None, event_text=event, lost=not found.sees[0],
        )
    )  # fmt: skip
