"""The JSON contract of logbooks: shapes for the description, and the answer itself, without the key to write with."""

from pydantic import BaseModel

from engine import STATES, Unmeasured, bench_sheet
from webapp.present.logbook import ratio_of, trend_of


class LoggedReadingAnswer(BaseModel):
    """A reading beside the window of a good unit, in volt; null where no figure is given."""

    point: str
    state: str
    value: float
    low: float | None
    high: float | None
    good: bool | None


class RatioAnswer(BaseModel):
    """A measured transfer ratio beside the card's `low` and `high` at that LED current.

    `error` is what the meter leaves open either way, `tolerance` what R1 and RL leave besides; where the output is
    saturated the ratio is at least CTR. The verdict is "within", "below", "above" or "open".
    """

    CTR: float
    IF: float
    error: float
    tolerance: float
    low: float
    high: float
    saturated: bool
    verdict: str


class EntryAnswer(BaseModel):
    """An entry; `ratio` is null where its readings give none, and `reason` then tells why."""

    date: str
    nickname: str
    note: str
    readings: list[LoggedReadingAnswer]
    ratio: RatioAnswer | None
    reason: str | None


class TrendAnswer(BaseModel):
    """The measured ratios over the dates; between `least` and `most` by the meter, the card's `low` and `high`."""

    dates: list[str]
    days: list[float]
    CTR: list[float]
    least: list[float]
    most: list[float]
    low: list[float]
    high: list[float]
    saturated: list[bool]


class LogbookAnswer(BaseModel):
    """A logbook, the oldest entry first; `trend` is null where there are not two dates with a ratio."""

    id: str
    title: str
    scenario: str
    page: str
    entries: list[EntryAnswer]
    trend: TrendAnswer | None


_RATIO = tuple(RatioAnswer.model_fields)


def logbook_answer(kept, scenario, entries, page):
    """Return a logbook, of entries with the newest first; raises as `engine.bench_sheet`.

    Parameters
    ----------
    kept : Logbook
        The logbook, of which the key is left aside.
    scenario : Scenario
        Its stage.
    entries : list of Written
        What was read.
    page : str
        Link to its page.

    Returns
    -------
    dict
        The JSON object.
    """
    sheet = bench_sheet(scenario)
    ratios = [ratio_of(scenario, entry.readings) for entry in entries]
    trend = trend_of(entries, ratios)
    return {
        "id": kept.id,
        "title": kept.title,
        "scenario": kept.scenario,
        "page": page,
        "entries": [_entry(sheet, *one) for one in zip(entries[::-1], ratios[::-1], strict=True)],
        "trend": _trend(trend) if trend else None,
    }


def _entry(sheet, entry, ratio):
    """Return one entry."""
    taken = [
        _reading(row.probe.id, state, entry.readings[name], row.states[state])
        for row in sheet.rows
        for state in STATES
        if (name := f"{row.probe.id}.{state}") in entry.readings
    ]
    told = {"date": entry.day, "nickname": entry.nickname, "note": entry.note, "readings": taken}
    if isinstance(ratio, Unmeasured):
        return told | {"ratio": None, "reason": ratio.reason}
    return told | {"ratio": {name: getattr(ratio, name) for name in _RATIO}, "reason": None}


def _reading(point, state, value, expected):
    """Return one reading beside its window."""
    low, high = (expected.low, expected.high) if expected else (None, None)
    good = bool(low <= value <= high) if expected else None
    return {"point": point, "state": state, "value": value, "low": low, "high": high, "good": good}


def _trend(trend):
    """Return how the ratio goes."""
    names = [name for name in TrendAnswer.model_fields if name not in ("dates", "days")]
    told = {name: list(getattr(trend, name)) for name in names}
    return {"dates": [day.isoformat() for day in trend.days], "days": list(trend.since)} | told
