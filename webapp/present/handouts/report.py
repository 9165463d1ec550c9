"""The design report of a stage: everything that is known of it, as sections to print."""

from dataclasses import dataclass, replace

from engine import (
    LOOK_AHEAD,
    NO_RATE,
    RULES,
    STATES,
    UNITS,
    ConvergenceError,
    as_typed,
    findings_of,
    in_service,
    life_of,
    timing_of,
    why_untimed,
)
from webapp.present import results
from webapp.present.bench import BenchView, bench_view
from webapp.present.figures import figure, plain
from webapp.present.handouts.parts import PartRow, part_rows
from webapp.present.panels.life import StepView, staircase
from webapp.present.panels.life_plot import LawView, life_plot
from webapp.present.panels.line_timing import line_panel
from webapp.present.reasoning import WorkedView, reasoning

_BARRIER = ("working-voltage", "creepage", "clearance")


@dataclass(frozen=True, slots=True)
class FindingRow:
    """A finding with its figures.

    Attributes
    ----------
    sign : str
        Sign of its severity.
    severity : str
        The severity.
    title : str
        What it is about.
    reason : str
        One sentence.
    where : str
        Where it is worst.
    margin : str
        Distance to its limit, relative to that; a dash where none can be told.
    mend : str
        What would mend it; empty if nothing is offered.
    """

    sign: str
    severity: str
    title: str
    reason: str
    where: str
    margin: str
    mend: str


@dataclass(frozen=True, slots=True)
class TimingSection:
    """How fast the stage is, beside the rate that is asked of it.

    Attributes
    ----------
    rate : str
        The rate that is asked for.
    reason : str
        Why it is not followed; empty where it is.
    rows : tuple of (str, str, str)
        What, nominal, at worst.
    limited_by : str
        What limits, in a sentence.
    """

    rate: str
    reason: str
    rows: tuple
    limited_by: str


@dataclass(frozen=True, slots=True)
class LifeSection:
    """Whether it still works.

    Attributes
    ----------
    answer : str
        In a sentence.
    steps : tuple of StepView
        One burden after the other.
    laws : tuple of LawView
        When the margin is used up, by law of ageing.
    because : str
        Why it ends.
    """

    answer: str
    steps: tuple[StepView, ...]
    laws: tuple[LawView, ...]
    because: str


@dataclass(frozen=True, slots=True)
class ReportView:
    """The sections of a report; one that was not asked for, or that the stage has no answer to, is empty or None.

    Attributes
    ----------
    figures : tuple of (str, tuple of str)
        Symbol, and the figure with its range in both states.
    places : tuple of str
        Both states in words.
    verdicts : tuple of VerdictView
        What both states read as.
    parts : tuple of PartRow
        Table of parts.
    worked : tuple of (str, WorkedView)
        Worked steps of both states.
    findings : tuple of FindingRow
        What was asked, what does not hold first.
    life : LifeSection or None
        Life and worst case.
    timing : TimingSection or None
        How fast it is, where a rate is asked for.
    bench : BenchView or None
        What a meter shows at every point.
    unmeasured : str
        Why there is no bench sheet; empty where there is one.
    insulation : tuple of (str, str)
        Name and text of what is known of the barrier, where a voltage across it is stated.
    assumptions : tuple of str
        What all figures rest on.
    """

    figures: tuple
    places: tuple
    verdicts: tuple
    parts: tuple[PartRow, ...]
    worked: tuple[tuple[str, WorkedView], ...]
    findings: tuple[FindingRow, ...]
    life: LifeSection | None
    timing: TimingSection | None
    bench: BenchView | None
    unmeasured: str
    insulation: tuple
    assumptions: tuple


def report_view(point, wanted):
    """Return the sections of a report on a solved stage, as far as they are wanted."""
    scenario = point.scenario
    judged = findings_of(point) if {"findings", "insulation"} & set(wanted) else ()
    sheet, unmeasured = _bench(scenario) if "bench" in wanted else (None, "")
    places = tuple(scenario.input.states[name] for name in STATES)
    return ReportView(
        figures=tuple(_figures(point)) if "schematic" in wanted else (),
        places=places,
        verdicts=results.verdicts(point, "", dict.fromkeys(STATES, "")),
        parts=part_rows(point) if "parts" in wanted else (),
        worked=tuple((scenario.input.states[n], reasoning(point, n)) for n in STATES) if "worked" in wanted else (),
        findings=tuple(_finding(one) for one in judged) if "findings" in wanted else (),
        life=_life(scenario) if "life" in wanted else None,
        timing=_timing(scenario) if "timing" in wanted else None,
        bench=sheet,
        unmeasured=unmeasured,
        insulation=tuple(_insulation(scenario, judged)) if "insulation" in wanted else (),
        assumptions=tuple(_assumptions(scenario)) if "assumptions" in wanted else (),
    )


def _figures(point):
    """Yield the figures of both states."""
    found = [point.states[name].quantities for name in STATES]
    for name in dict.fromkeys(name for quantities in found for name in quantities):
        ranges = [quantities.get(name) for quantities in found]
        if name == "overdrive":  # so many times, not so much per cent
            ranges = [one and replace(one, unit="count") for one in ranges]
        yield name.replace("_", " "), tuple(_ranged(one) for one in ranges)


def _ranged(found):
    """Return a figure with its range."""
    if found is None:
        return "–"
    one = figure(found)
    return f"{one.text.strip()} ({one.range})" if one.range else one.text.strip()


def _finding(one):
    """Return a finding with its figures."""
    share = 100.0 * one.margin
    margin = f"{share:+.0f} %" if abs(share) >= 99.5 else f"{share:+.2g} %"
    margin = margin.replace("-", "−") if one.margin else "–"
    return FindingRow(
        results.SIGNS[one.severity], one.severity, RULES[one.code].title, one.reason, one.condition, margin,
        one.mend.text if one.mend else "",
    )  # fmt: skip


def _life(scenario):
    """Return whether it still works."""
    answer, steps = staircase(scenario)
    plot = life_plot(life_of(in_service(scenario), LOOK_AHEAD), scenario.conditions.years)
    return LifeSection(answer, steps, plot.laws, plot.because)


def _timing(scenario):
    """Return how fast the stage is; None where no rate is asked of it."""
    rate = scenario.conditions.rate
    if rate == NO_RATE:
        return None
    told = as_typed(rate, UNITS["Hz"])
    try:
        if (line := line_panel(scenario)) is not None:
            rows = tuple((row.name, row.value, row.high) for row in line.rows)
            return TimingSection(told, "", rows, line.limited_by)
        if (found := timing_of(scenario)) is None:
            return TimingSection(told, why_untimed(scenario), (), "")
    except ConvergenceError:
        return TimingSection(told, "The edges of this stage could not be followed.", (), "")
    return TimingSection(told, "", tuple(_times(found)), found.limited_by)


_EDGES = (("delay", "delay, to 10 % of the swing"), ("transition", "10 to 90 %"), ("valid", "until surely read"))


def _times(found):
    """Yield what is known of both edges."""
    rate, pulse = found.max_rate, found.narrowest_pulse
    yield "Highest rate", _time(rate.value, "Hz"), _time(rate.low, "Hz")
    yield "Narrowest pulse", _time(pulse.value), _time(pulse.high)
    for edge, words in (("on", "Switching on"), ("off", "Switching off")):
        for key, name in _EDGES:
            span = getattr(found.edges[edge], key)
            yield f"{words}: {name}", _time(span.value), _time(span.high)


def _time(value, unit="s"):
    return "none" if value is None else plain(value, unit)


def _bench(scenario):
    """Return the bench sheet, or why there is none."""
    try:
        return bench_view(scenario), ""
    except ConvergenceError:
        return None, "The circuit with the meter in it could not be solved."


def _insulation(scenario, judged):
    """Yield what is known of the barrier, where a voltage across it is stated."""
    conditions, card = scenario.conditions, scenario.coupling.data
    if isinstance(conditions.V_barrier, str):
        return
    yield "Across the barrier", f"{as_typed(conditions.V_barrier, UNITS['V'])}, rms or direct"
    yield (
        "Asked for",
        (
            f"{conditions.insulation} insulation, pollution degree {conditions.pollution}, overvoltage category "
            f"{conditions.category}"
        ),
    )
    yield "Card", _stated(card)
    for one in judged:
        if one.code in _BARRIER:
            yield RULES[one.code].title, f"{results.SIGNS[one.severity]} {one.severity}: {one.reason}"


_STATED = (
    ("VIORM", "repetitive peak voltage", "V"),
    ("VISO", "one-minute test voltage, which is none to work at,", "V"),
    ("creepage", "creepage distance", "m"),
    ("clearance", "clearance", "m"),
)


def _stated(card):
    """Return what a card states of its barrier."""
    told = [
        f"{words} {as_typed(getattr(card, name), UNITS[unit])}"
        for name, words, unit in _STATED
        if getattr(card, name) is not None
    ]
    return "; ".join([*told, f"material group {card.group()}"] if card.group() else told)


def _assumptions(scenario):
    """Yield what all figures rest on."""
    low, high = (as_typed(degrees, UNITS["degC"]).replace("-", "−") for degrees in scenario.conditions.TA_ends)
    tolerance = as_typed(scenario.conditions.tolerance, UNITS["1"])
    yield "The coupler is a generic class with values of its own; for a real one, take its data sheet and a card of it."
    yield (
        f"Ranges hold over all corners of supplies, resistors (± {tolerance}), the coupler's bin and its LED's forward "
        f"voltage, at an ambient temperature of {low}{'' if low == high else ' to ' + high}."
    )
    yield "Figures are those of the steady state; what is said of edges says so."
    if scenario.conditions.years:
        yield f"The LED has served {scenario.conditions.years:g} years at worst, and has lost light by the law chosen."
    if scenario.input.kind == "ac" or scenario.output.on_line:
        yield "Where a line alternates, the circuit is that of its crest, and powers are averages over the cycle."
    if scenario.conditions.joined != "none":
        yield "A conductor joins the returns of both sides: nothing is isolated."
