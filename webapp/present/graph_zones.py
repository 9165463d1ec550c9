"""Shaded stretches of a chart: where each lies, and where its name is clear of what is drawn. Nothing electrical."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from webapp.present.chart import Chart, Zone

_LINE = 18  # height of a name
_ABOVE, _BELOW, _BESIDE = 10, 22, 8  # how far a name stays off the bottom, the top and the side of the field


@dataclass(frozen=True, slots=True)
class ZoneView:
    """One shaded stretch.

    Attributes
    ----------
    x, end : float
        Where it begins and ends.
    text : str
        Its name; empty for none.
    text_x, text_y : float
        Where the name stands.
    anchor : str
        Which end of the name stands there.
    """

    x: float
    end: float
    text: str
    text_x: float
    text_y: float
    anchor: str


def zones(chart: Chart, across: Callable, up: Callable, field: tuple[int, int]) -> Iterator[ZoneView]:
    """Yield shaded stretches of a field from top to bottom, named at that end where what is drawn leaves more room."""
    (top, bottom), rows = field, {}
    for zone in chart.zones:
        right = zone.low > chart.x.values[0]
        ys = [up(value) for value in _drawn(chart, zone)] or [bottom if right else top]
        low = bottom - max(ys) > min(ys) - top
        away = _LINE * rows.setdefault((right, low), 0)
        rows[right, low] += bool(zone.name)
        x, end = across(zone.low), across(zone.high)
        y = bottom - _ABOVE - away if low else top + _BELOW + away
        yield ZoneView(x, end, zone.name, end - _BESIDE if right else x + _BESIDE, y, "end" if right else "start")


def _drawn(chart: Chart, zone: Zone) -> Iterator[float]:
    """Yield all that is drawn over a stretch."""
    columns = [line.column for line in chart.lines] + [edge for band in chart.bands for edge in (band.low, band.high)]
    for column in columns:
        for x, value in zip(chart.x.values, column.values, strict=True):
            if value is not None and zone.low <= x <= zone.high:
                yield value
