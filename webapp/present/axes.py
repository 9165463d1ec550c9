"""Scales of drawings: round marks, places of values, labels that do not touch. Nothing electrical in it."""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

_LETTER, _GAP = 8.6, 8  # width of a letter of a label, and what stays free beside it
_DECADES = "1", "10", "100"
_FROM_NOTHING = 0.4  # share of the largest value below which the scale begins at nothing


@dataclass(frozen=True, slots=True)
class TickView:
    """One mark of a scale.

    Attributes
    ----------
    at : float
        Where it stands.
    text : str
        Its label; empty for a line without.
    """

    at: float
    text: str


def linear(low: float, high: float, start: float, end: float) -> Callable[[float], float]:
    """Return a function from a value to its place on an even scale."""
    return lambda value: round(start + (value - low) / (high - low) * (end - start), 1)


def logarithmic(low: float, high: float, start: float, end: float) -> Callable[[float], float]:
    """Return a function from a value above 0 to its place on a scale of decades."""
    place = linear(math.log(low), math.log(high), start, end)
    return lambda value: place(math.log(value))


def even(low: float, high: float, most: int = 6) -> list[float]:
    """Return at most so many evenly spaced round values that hold a span between them."""
    if 0 < low < _FROM_NOTHING * high or low >= high:
        low = min(low, 0.0)
    raw = (high - low) / (most - 1) or 1.0
    power = math.floor(math.log10(raw))
    step = next(step for step in (float(f"{figure}e{power}") for figure in (1, 2, 5, 10)) if step >= raw * (1 - 1e-9))
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [float(f"{number * step:.12g}") for number in range(first, max(last, first + 1) + 1)]


def decades(low: float, high: float, figures: Sequence[int] = (1, 2, 5)) -> list[float]:
    """Return the values of some figures in every decade within a span."""
    powers = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    values = (float(f"{figure}e{power}") for power in powers for figure in figures)
    return [value for value in values if low * (1 - 1e-9) <= value <= high * (1 + 1e-9)]


def marked(marks: Sequence[tuple[float, str]], ends: bool = True) -> tuple[TickView, ...]:
    """Return marks of a scale, labelled where there is room: where wanted the ends first, then decades, then others."""
    kept, first = {}, (marks[0], marks[-1]) if ends and marks else ()
    for at, text in sorted(marks, key=lambda mark: (mark not in first, mark[1].split(" ")[0] not in _DECADES)):
        if all(abs(at - other) >= (len(text) + len(beside)) / 2 * _LETTER + _GAP for other, beside in kept.items()):
            kept[at] = text
    return tuple(TickView(at, kept.get(at, "")) for at, _ in marks)


def apart(ys: Iterable[float], line: float, lowest: float) -> list[float]:
    """Return rising places moved so far that labels of a height do not touch, and none below the lowest."""
    moved: list[float] = []
    for y in ys:
        moved.append(max(y, moved[-1] + line) if moved else y)
    for place in range(len(moved) - 1, -1, -1):
        limit = lowest - line * (len(moved) - 1 - place)
        moved[place] = round(min(moved[place], limit), 1)
    return moved
