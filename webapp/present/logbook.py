"""The logbook of a real unit as printed: entries with windows, the measured transfer ratio and how it goes."""

import csv
import datetime
import io
from dataclasses import dataclass, replace

from engine import (
    AMPERE,
    HIGHEST_READING,
    RATIO,
    STATES,
    VOLT,
    Problem,
    ScenarioError,
    Unmeasured,
    bench_sheet,
    measured_ratio,
    query_from,
    reading,
    span,
)
from webapp.present.bench import bench_view
from webapp.present.cells import harmless
from webapp.present.chart import Band, Chart, Column, Line
from webapp.present.diagnosis import readings_of
from webapp.present.graph import graph
from webapp.present.results import title

_VERDICTS = {
    "within": "within the card's limits",
    "below": "below the card's least",
    "above": "above the card's most",
    "open": "at least this, as the output saturates",
}


@dataclass(frozen=True, slots=True)
class ReadView:
    """One reading beside its window.

    Attributes
    ----------
    words : str
        Where and in which state.
    value : str
        What the meter showed.
    window : str
        What it shows on a good unit; empty where no figure is given.
    good : bool or None
        Whether it lies within; None where no figure is given.
    """

    words: str
    value: str
    window: str
    good: bool | None


@dataclass(frozen=True, slots=True)
class EntryView:
    """One entry.

    Attributes
    ----------
    day, note, nickname : str
        As they were written.
    readings : tuple of ReadView
        In the order of the sheet.
    ratio : str
        Measured transfer ratio; empty where there is none.
    off : str
        Between what the meter leaves it, and the resistors besides.
    limits : str
        What the card promises, and at which current.
    verdict : str
        What follows, or why there is no ratio.
    good : bool
        Whether the ratio is not surely outside the limits.
    """

    day: str
    note: str
    nickname: str
    readings: tuple
    ratio: str
    off: str
    limits: str
    verdict: str
    good: bool


@dataclass(frozen=True, slots=True)
class BookView:
    """A logbook.

    Attributes
    ----------
    title : str
        The stage in a line.
    query : str
        Query string of the stage.
    entries : tuple of EntryView
        The newest first.
    trend : GraphView or None
        The measured ratio over the days; None where there are not two of them.
    """

    title: str
    query: str
    entries: tuple
    trend: object


@dataclass(frozen=True, slots=True)
class Trend:
    """How the measured ratio goes, the oldest day first.

    Attributes
    ----------
    days : tuple of date
        When it was measured.
    CTR : tuple of float
        What was measured [-].
    least, most : tuple of float
        Between what the meter leaves it [-].
    low, high : tuple of float
        What the card promises at the LED current of that day [-].
    saturated : tuple of bool
        Whether it is at least what was measured.
    """

    days: tuple
    CTR: tuple
    least: tuple
    most: tuple
    low: tuple
    high: tuple
    saturated: tuple

    @property
    def since(self):
        """Return the days since the first one."""
        return tuple(float((day - self.days[0]).days) for day in self.days)


def stage_of(scenario):
    """Return the stage in a line, and its query string."""
    return title(scenario), query_from(scenario)


def blanks(scenario, typed=None, errors=None):
    """Return the rows of the sheet with blanks to write in, and the states in words."""
    view = bench_view(scenario, typed, errors)
    return view.points, view.states


def kept_readings(scenario, typed):
    """Return point and state, parted by a dot, to volts; raises `engine.ScenarioError` with every blank that is wrong.

    Names are those of the sheet's blanks.
    """
    known = {row.probe.id for row in bench_sheet(scenario).rows}
    found, problems = {}, []
    for point, state, value in readings_of(typed):
        name = f"r.{point}.{state}"
        if point not in known or state not in STATES:
            problems.append(Problem(name[:80], "", "a blank of this sheet", "there is no such reading"))
        elif abs(value) > HIGHEST_READING:
            accepted = f"-{HIGHEST_READING:g} V to {HIGHEST_READING:g} V"
            problems.append(Problem(name, f"{value:g}", accepted, "no such voltage is read here"))
        found[f"{point}.{state}"] = value
    if problems:
        raise ScenarioError(problems)
    return found


def ratio_of(scenario, readings):
    """Return the measured ratio of kept readings, or why there is none."""
    return measured_ratio(scenario, {tuple(name.rpartition(".")[::2]): value for name, value in readings.items()})


def book_view(scenario, entries):
    """Return a logbook as printed, of entries with the newest first; raises as `engine.bench_sheet`."""
    sheet = bench_sheet(scenario)
    ratios = [ratio_of(scenario, entry.readings) for entry in entries]
    views = tuple(_entry(sheet, entry, ratio) for entry, ratio in zip(entries, ratios, strict=True))
    trend = trend_of(entries, ratios)
    return BookView(*stage_of(scenario), views, _drawn(trend) if trend else None)


def trend_of(entries, ratios):
    """Return how the measured ratio goes over the days, of entries with the newest first; None without two days."""
    measured = [
        (datetime.date.fromisoformat(entry.day), ratio)
        for entry, ratio in zip(entries, ratios, strict=True)
        if not isinstance(ratio, Unmeasured)
    ][::-1]
    if not measured or measured[0][0] == measured[-1][0]:
        return None
    days, found = zip(*measured, strict=True)
    return Trend(
        days=days,
        CTR=tuple(one.CTR for one in found),
        least=tuple(one.CTR - one.error for one in found),
        most=tuple(one.CTR + one.error for one in found),
        low=tuple(one.low for one in found),
        high=tuple(one.high for one in found),
        saturated=tuple(one.saturated for one in found),
    )


def _entry(sheet, entry, ratio):
    """Return one entry."""
    read = tuple(_read(sheet, row, state, entry.readings) for row in sheet.rows for state in STATES)
    read = tuple(one for one in read if one)
    if isinstance(ratio, Unmeasured):
        return EntryView(entry.day, entry.note, entry.nickname, read, "", "", "", ratio.reason, True)
    limits = f"{_span(ratio.low, ratio.high, RATIO)} at IF = {_text(ratio.IF, AMPERE)}"
    near, far = (_span(ratio.CTR - off, ratio.CTR + off, RATIO) for off in (ratio.error, ratio.off))
    off = f"{near} by the meter; {far} with the tolerances of R1 and RL"
    good = ratio.verdict in ("within", "open")
    shown = f"{'≥ ' if ratio.saturated else ''}{_text(ratio.CTR, RATIO)}"
    verdict = _VERDICTS["open" if ratio.saturated and good else ratio.verdict]
    return EntryView(entry.day, entry.note, entry.nickname, read, shown, off, limits, verdict, good)


def _read(sheet, row, state, readings):
    """Return one reading beside its window; None where it was not taken."""
    value = readings.get(f"{row.probe.id}.{state}")
    if value is None:
        return None
    expected = row.states[state]
    words = f"{row.probe.part}, {row.probe.words}, {sheet.scenario.input.states[state]}"
    if expected is None:
        return ReadView(words, _text(value, VOLT), "", None)
    good = expected.low <= value <= expected.high
    return ReadView(words, _text(value, VOLT), _span(expected.low, expected.high, VOLT), good)


def _text(value, unit):
    """Return a quantity as text."""
    return " ".join(reading(value, unit)).strip()


def _span(low, high, unit):
    """Return two ends as text."""
    text, own = span(low, high, unit)
    return f"{text} {own}".strip() if text else _text(low, unit)


def _drawn(trend):
    """Return the drawing of ratios over the days since the first one."""

    def column(name, values):
        return Column(name, RATIO.name, values)

    CTR, least, most = column("CTR", trend.CTR), column("min", trend.low), column("max", trend.high)
    low, high = column("CTR least by the meter", trend.least), column("CTR most by the meter", trend.most)
    notes = ("Where the output saturates, the ratio is at least what is drawn.",) if any(trend.saturated) else ()
    drawn = graph(
        Chart(
            key="trend",
            title="Measured transfer ratio over time",
            condition="dashed: the card's least and most at the LED current of each entry",
            x=Column(f"Days since {trend.days[0].isoformat()}", "count", trend.since),
            log_x=False,
            y_name="CTR",
            y_unit=RATIO.name,
            columns=(CTR, low, high, least, most),
            lines=(Line(CTR, "main", "CTR"), Line(most, "beside", "max"), Line(least, "beside", "min")),
            bands=(Band(low, high, "corners", "what the meter leaves open"),),
            notes=notes,
        )
    )
    # The scale counts days; the table and what is read out name them.
    rows = tuple(
        replace(row, cells=(day.isoformat(), *row.cells[1:])) for row, day in zip(drawn.rows, trend.days, strict=True)
    )
    return replace(drawn, head=("Date", *drawn.head[1:]), rows=rows, shown=rows[-1])


def table_of(scenario, entries):
    """Return a logbook after RFC 4180, the oldest entry first: SI numbers, cells that no spreadsheet works out."""
    names = [f"{row.probe.id}.{state}" for row in bench_sheet(scenario).rows for state in STATES]
    taken = [name for name in names if any(name in entry.readings for entry in entries)]
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    ratio_heads = ["IF [A]", "CTR [1]", "CTR error [1]", "CTR tolerance [1]", "CTR min [1]", "CTR max [1]", "saturated"]
    writer.writerow(["date", *(f"{name} [V]" for name in taken), *ratio_heads, "nickname", "note"])
    for entry in entries[::-1]:
        found = ratio_of(scenario, entry.readings)
        figures = [""] * len(ratio_heads)
        if not isinstance(found, Unmeasured):
            numbers = (found.IF, found.CTR, found.error, found.tolerance, found.low, found.high)
            figures = [*(f"{number:.9g}" for number in numbers), "yes" if found.saturated else "no"]
        read = [f"{entry.readings[name]:.9g}" if name in entry.readings else "" for name in taken]
        writer.writerow([entry.day, *read, *figures, harmless(entry.nickname), harmless(entry.note)])
    return text.getvalue()
