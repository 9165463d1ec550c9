"""The part of the JSON answer on speed that is about stages whose pace the line sets."""

from pydantic import BaseModel

from engine import ConvergenceError, Scenario, line_timing_of

_SPANS = ("lit", "steady", "dark", "gap", "max_rate")


class LineSpan(BaseModel):
    """The nominal stage at its worst instant of the cycle; extremes over all; null where it is never reached."""

    value: float | None
    low: float | None
    high: float | None


class LineWave(BaseModel):
    """LED current and output over time, switched at the instant at which the nominal stage takes longest."""

    t: list[float]
    nominal: list[float]
    low: list[float]
    high: list[float]
    IF: list[float]
    limit: float


class LineAnswer(BaseModel):
    """From the switch until first surely lit (`lit`), lit for good (`steady`), dark for good (`dark`).

    `gap` is the longest stretch in which it is not lit while the line is present, `debounce` that at worst; `phases`
    are the worst instants as shares of the cycle from the line's rising zero crossing on.
    """

    lit: LineSpan
    steady: LineSpan
    dark: LineSpan
    gap: LineSpan | None
    max_rate: LineSpan
    debounce: float | None
    pulses: bool
    phases: dict[str, float | None]
    f: float
    limited_by: str
    waves: dict[str, LineWave]


def line_answer(scenario: Scenario) -> dict | None:
    """Return the answer of a stage; None where no line sets the pace, or what it does is not followed."""
    try:
        found = line_timing_of(scenario)
    except ConvergenceError:
        return None
    if found is None:
        return None
    return {
        **{name: _span(getattr(found, name)) for name in _SPANS},
        **{name: getattr(found, name) for name in ("debounce", "pulses", "phases", "f", "limited_by")},
        "waves": {name: _wave(wave) for name, wave in found.waves.items()},
    }


def _span(span) -> dict | None:
    """Return one span."""
    return None if span is None else {name: getattr(span, name) for name in ("value", "low", "high")}


def _wave(wave) -> dict:
    """Return one waveform."""
    return {key: getattr(wave, key).tolist() for key in ("t", "nominal", "low", "high", "IF")} | {"limit": wave.limit}
