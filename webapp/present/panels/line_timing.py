"""How fast where the line sets the pace: figures, a sentence for a program, both switches drawn, a table."""

from dataclasses import dataclass

from engine import HERTZ, NO_RATE, LineTiming, Scenario, as_typed, line_timing_of
from webapp.present.figures import plain
from webapp.present.panels.timing_plot import EdgePlot, Told, limit_text, wave_plot

_TURN = 360.0  # [deg]
_NEVER, _PULSES = "never", "pulses"


@dataclass(frozen=True, slots=True)
class LargeFigure:
    """A figure in large type: what it is, at worst, and what stands below it."""

    name: str
    worst: str
    below: str


@dataclass(frozen=True, slots=True)
class LineRow:
    """One line of the table: nominal, quickest, slowest."""

    name: str
    value: str
    low: str
    high: str


@dataclass(frozen=True, slots=True)
class LinePanel:
    """The panel where the line sets the pace.

    Attributes
    ----------
    figures : tuple of LargeFigure
        What matters most.
    limited_by : str
        What limits, in a sentence.
    program : str
        What a program that reads the output has to mind; empty where none does.
    instants : str
        At which instant of the cycle it takes longest.
    plots : tuple of EdgePlot
        Switching on and off.
    rows : tuple of LineRow
        All times.
    answer : str
        Whether the wanted signal rate holds; empty where none is wanted.
    """

    figures: tuple[LargeFigure, ...]
    limited_by: str
    program: str
    instants: str
    plots: tuple[EdgePlot, ...]
    rows: tuple[LineRow, ...]
    answer: str


def line_panel(scenario: Scenario) -> LinePanel | None:
    """Return the panel; None where no line sets the pace, or what it does is not followed."""
    found = line_timing_of(scenario)
    if found is None:
        return None
    return LinePanel(
        figures=tuple(_figures(found)),
        limited_by=found.limited_by,
        program=_program(found),
        instants=_instants(found),
        plots=tuple(_plot(found, edge) for edge in ("on", "off")),
        rows=tuple(_rows(found)),
        answer=_answer(found, scenario.conditions.rate),
    )


def _time(value, otherwise: str = _NEVER) -> str:
    """Return a time as text."""
    return otherwise if value is None else plain(value, "s")


def _rate(value) -> str:
    """Return a rate as text."""
    return "none" if value is None else plain(value, "Hz")


def _figures(found: LineTiming):
    """Yield the large figures."""
    rate = found.max_rate
    yield LargeFigure("Highest rate", _rate(rate.low), f"at worst; nominal {_rate(rate.value)}")
    on, name = (found.lit, "On, first read") if found.pulses else (found.steady, "On, for good")
    yield LargeFigure(name, _time(on.high), f"at worst; nominal {_time(on.value)}")
    off = "at once" if found.dark.high == 0.0 else _time(found.dark.high)
    yield LargeFigure("Off, for good", off, f"at worst; nominal {_time(found.dark.value)}" if found.dark.high else "")
    if found.debounce is not None:
        below = "longer than this, for a program" if found.debounce else "no gaps while the line is there"
        yield LargeFigure("Debounce", _time(found.debounce) if found.debounce else "none", below)


def _program(found: LineTiming) -> str:
    """Return what a program that reads the output has to mind."""
    if found.gap is None or found.lit.high is None:
        return ""
    if not found.pulses:
        return "The output stays lit all through the cycle, so a program need not wait for gaps."
    often = "once" if getattr(found.scenario.input, "form", "") in ("diode", "bare") else "twice"
    when = "While the line is there" if found.steady.value is None else "At worst, while the line is there,"
    return (
        f"{when} the output pulses {often} a cycle and is unlit for up to {_time(found.debounce)}: a program must see"
        " it unlit for longer than that before it calls the line absent."
    )


def _instants(found: LineTiming) -> str:
    """Return at which instants of the cycle it takes longest."""
    who = "LED" if found.scenario.output.on_line else "line"
    told = [
        f"{name} {_TURN * found.phases[edge]:.0f}°"
        for edge, name in (("on", "comes on"), ("off", "goes off"))
        if found.phases[edge] is not None
    ]
    if not told:
        return ""
    return f"The nominal stage takes longest where the {who} {' or '.join(told)} after the line's rising zero crossing."


def _rows(found: LineTiming):
    """Yield the lines of the table."""
    lasting = _PULSES if found.lit.value is not None else _NEVER
    yield _row("Until first surely read as lit", found.lit, _NEVER)
    if found.gap is not None:
        yield _row("Until lit for good", found.steady, lasting)
    yield _row("Until surely read as dark for good", found.dark, _NEVER)
    if found.gap is not None:
        yield _row("Longest gap while the line is there", found.gap, "always unlit")
    rate, at_once = found.max_rate, found.lit.low == 0.0 and found.dark.low == 0.0 and found.gap is None
    most = "not limited" if at_once and rate.value is not None else _rate(rate.high)
    yield LineRow("Highest rate, off told from on", _rate(rate.value), most, _rate(rate.low))


def _row(name: str, span, otherwise: str) -> LineRow:
    """Return one time."""
    return LineRow(name, *(_time(value, otherwise) for value in (span.value, span.low, span.high)))


def _plot(found: LineTiming, edge: str) -> EdgePlot:
    """Return the drawing of one switch."""
    load, wave, on = found.scenario.output, found.waves[edge], edge == "on"
    level = load.words[2] if wave.rises else load.words[0]
    span = found.dark if not on else found.lit if found.steady.value is None else found.steady
    how = "first" if on and found.steady.value is None else "for good"
    when = "at once" if span.value == 0.0 else f"after {_time(span.value)}"
    event = f"{level} {how} {when}" if span.value is not None else f"never surely {level}"
    limit = limit_text(wave, load)
    if load.on_line:
        event = f"{level} {when}" if span.value is not None else f"never {level}"
        limit = f"begins at {plain(wave.limit, 'V')}" if on else "ends at zero"
    title = "Switching on" if on else "Switching off"
    told = Told(
        key=f"line-{edge}",
        title=title,
        description=f"{title}: LED current and {load.observed} over time; {event}.",
        x_name=f"time after the {'LED' if load.on_line else 'line'} is switched",
        limit_text=limit,
        event=span.value,
        event_text=event,
        stretch=None,
        stretch_text="",
    )
    return wave_plot(wave, load.observed, "A" if load.observed == "IL" else "V", told)


def _answer(found: LineTiming, rate) -> str:
    """Return whether a wanted rate holds."""
    if rate == NO_RATE:
        return ""
    told, worst, nominal = as_typed(rate, HERTZ), found.max_rate.low, found.max_rate.value
    if worst is not None and worst >= rate:
        return f"{told} holds, at worst too."
    if nominal is not None and nominal >= rate:
        return f"{told} holds for the nominal stage but not at worst."
    return f"{told} does not hold."
