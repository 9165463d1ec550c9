"""How fast: both edges drawn, their times, the highest rate, what limits it and what would buy speed."""

from dataclasses import dataclass, replace

from engine import (
    HERTZ,
    NO_RATE,
    ConvergenceError,
    Scenario,
    ScenarioError,
    Timing,
    as_typed,
    ladder,
    largest_RL,
    size,
    timing_of,
    timings_of,
    why_untimed,
)
from webapp.present.figures import plain
from webapp.present.panels.line_timing import LinePanel, line_panel
from webapp.present.panels.square import SquareView, square_view
from webapp.present.panels.timing_plot import EdgePlot, edge_plot
from webapp.present.panels.window import UNSOLVED

NEVER = "never"
_DOWN_TO = 0.02  # [-], of the present RL, that is looked through for a wanted rate
_RBE, _R_ENDS = 100e3, (1.0, 1e8)  # [ohm], base resistor that is tried; what a resistor may be
_ROWS = (
    ("delay", "Delay, to 10 % of the swing"),
    ("transition", "Transition, 10 to 90 %"),
    ("half", "To the middle, 50 %"),
    ("valid", "Until the new level is surely read"),
)


_NOTES = {
    "relay": "VK stands for the coil's current here. The armature's travel and the bounce of its contacts come on top.",
    "gate": "The gate's charge counts as a capacitance; its plateau while the drain moves is left aside.",
}
"""Kind of output side to what the times leave out."""


@dataclass(frozen=True, slots=True)
class TimeRow:
    """One time of both edges: nominal and worst."""

    name: str
    on: str
    on_worst: str
    off: str
    off_worst: str


@dataclass(frozen=True, slots=True)
class CaseRow:
    """The stage with something changed: highest rate and slower edges."""

    name: str
    rate: str
    worst: str
    on: str
    off: str


@dataclass(frozen=True, slots=True)
class TimingPanel:
    """The panel.

    Attributes
    ----------
    reason : str
        Why edges are not followed; empty where they are.
    rate, rate_worst : str
        Highest rate, nominal and at worst.
    pulse, pulse_worst : str
        Narrowest pulse, nominal and at worst.
    distortion : str
        By how much pulses change their width.
    limited_by : str
        What limits, in a sentence.
    note : str
        What else takes time; empty where nothing does.
    plots : tuple of EdgePlot
        Both edges.
    rows : tuple of TimeRow
        Times of both edges.
    cases : tuple of CaseRow
        What buys speed.
    wanted : str
        The signal rate that the scenario asks for, or the word for none.
    answer : str
        Whether that holds, and what would; empty where none is wanted.
    line : LinePanel or None
        How fast the stage answers where the line sets the pace.
    square : SquareView or None
        A square wave at a rate of one's choice.
    """

    reason: str
    rate: str = ""
    rate_worst: str = ""
    pulse: str = ""
    pulse_worst: str = ""
    distortion: str = ""
    limited_by: str = ""
    note: str = ""
    plots: tuple[EdgePlot, ...] = ()
    rows: tuple[TimeRow, ...] = ()
    cases: tuple[CaseRow, ...] = ()
    wanted: str = ""
    answer: str = ""
    line: LinePanel | None = None
    square: SquareView | None = None


def timing_panel(scenario: Scenario, values: dict[str, str]) -> TimingPanel:
    """Return the panel of a scenario; raises ScenarioError if an "auto" resistor cannot be sized."""
    rate = scenario.conditions.rate
    wanted = rate if rate == NO_RATE else as_typed(rate, HERTZ)
    try:
        found = timing_of(scenario)
        if found is None:
            return TimingPanel(why_untimed(scenario), wanted=wanted, line=line_panel(scenario))
        return TimingPanel(
            reason="",
            rate=_rate(found.max_rate.value),
            rate_worst=_rate(found.max_rate.low),
            pulse=_time(found.narrowest_pulse.value),
            pulse_worst=_time(found.narrowest_pulse.high),
            distortion=_distortion(found),
            limited_by=found.limited_by,
            note=_NOTES.get(scenario.output.kind, ""),
            plots=tuple(edge_plot(name, found.edges[name], scenario.output) for name in ("on", "off")),
            rows=tuple(_row(found, key, name) for key, name in _ROWS),
            cases=tuple(_cases(scenario, found)),
            wanted=wanted,
            answer=_answer(scenario, found, rate) if rate != NO_RATE else "",
            square=square_view(scenario, found, values),
        )
    except ConvergenceError:
        return TimingPanel(UNSOLVED, wanted=wanted)


def _time(value):
    """Return a time as text."""
    return NEVER if value is None else plain(value, "s")


def _rate(value):
    """Return a rate as text."""
    return "none" if value is None else plain(value, "Hz")


def _distortion(found: Timing) -> str:
    """Return by how much pulses change their width, in a sentence."""
    if found.distortion.value is None:
        return ""
    longer = found.edges["off"].half.value > found.edges["on"].half.value
    change = "longer" if longer else "shorter"
    return f"A pulse of light comes out {plain(found.distortion.value, 's')} {change}, measured at half the swing."


def _row(found: Timing, key: str, name: str) -> TimeRow:
    """Return one row of times."""
    on, off = (getattr(found.edges[edge], key) for edge in ("on", "off"))
    return TimeRow(name, *(_time(value) for span in (on, off) for value in (span.value, span.high)))


# ---------------------------------------------------------------- what buys speed


def _cases(scenario: Scenario, found: Timing):
    """Yield the stage as it is and with something changed."""
    changed = list(_changes(scenario))
    timings = [found, *timings_of([stage for _, stage in changed])]
    for name, timing in zip(["as it is", *(name for name, _ in changed)], timings, strict=True):
        edges = timing.edges
        yield CaseRow(
            name,
            _rate(timing.max_rate.value),
            _rate(timing.max_rate.low),
            *(_time(edges[edge].valid.value) for edge in ("on", "off")),
        )


def _changes(scenario: Scenario):
    """Yield what is changed in words, and the stage with it; nothing that the stage would refuse."""
    sized, side, load = size(scenario), scenario.input, scenario.output
    RL, R1 = sized["RL"].chosen, sized["R1"].chosen
    made = [(f"RL halved, {plain(RL / 2, 'ohm')}", {"output": replace(load, RL=RL / 2)}, RL / 2)]
    if side.kind == "limited":
        made += [(f"{words} LED current", {"input": replace(side, IF=side.IF * k)}, R1) for k, words in _TIMES]
    else:
        made += [(f"{words} LED current", {"input": replace(side, R1=R1 / k)}, R1 / k) for k, words in _TIMES]
    if scenario.coupling.RBE == "none" and getattr(scenario.coupling.model.card, "base_lead", False):
        made.append(("100 kΩ from base to emitter", {"coupling": replace(scenario.coupling, RBE=_RBE)}, _RBE))
    if load.kind == "relay":
        made += [
            (f"a {words} across the coil", {"output": replace(load, clamp=clamp)}, RL)
            for clamp, words in _clamps(load)
            if clamp != load.clamp
        ]
    for name, parts, R in made:
        try:
            if _R_ENDS[0] <= R <= _R_ENDS[1]:
                yield name, replace(scenario, **parts)
        except ScenarioError:
            continue


def _clamps(load):
    """Yield what may lie across a coil, in words."""
    yield "zener", f"zener diode of {plain(load.V_clamp, 'V')} with a diode"
    yield "resistor", f"resistor of {plain(load.R_clamp, 'ohm')}"


_TIMES = ((0.5, "half the"), (2.0, "twice the"))
"""Factors of the LED current, in words."""


# ---------------------------------------------------------------- the wanted rate


def _answer(scenario: Scenario, found: Timing, rate: float) -> str:
    """Return whether a rate holds, and what load resistor would make it hold."""
    told, worst = as_typed(rate, HERTZ), found.max_rate.low
    if worst is not None and worst >= rate:
        return f"{told} holds, at worst too."
    RL = size(scenario)["RL"].chosen
    values = ladder(max(RL * _DOWN_TO, 1.0), RL, scenario.conditions.series)
    best = largest_RL(scenario, rate, values) if len(values) > 1 else None
    nominal = found.max_rate.value is not None and found.max_rate.value >= rate
    fails = f"{told} holds for the nominal stage but not at worst" if nominal else f"{told} does not hold"
    if best is None:
        return f"{fails}, and no smaller RL that was tried makes it hold: the lit level is lost first."
    return f"{fails}; with RL {plain(best, 'ohm')} it would. Look at the findings there too."
