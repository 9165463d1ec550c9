"""The margin over the years of service laid out as a drawing. Nothing electrical in it."""

from dataclasses import dataclass

from webapp.present.axes import TickView, even, linear
from webapp.present.card_plots import TraceView

WIDTH, HEIGHT = 720, 300
LEFT, RIGHT, TOP, BOTTOM = 58, 24, 30, 56
"""Room around the curves, in units of the view box."""

_LINE = 19  # height of a label
_MOST_TICKS = 7
_ABOVE = 6.0  # [-], of the limit: beyond, the scale is cut off so that the limit stays where it can be seen
_NEAR = 0.2  # [-], share of the width beside an edge within which a label does not stand about its middle
_ROWS = 5  # every so many points are a row of the table


@dataclass(frozen=True, slots=True)
class EndView:
    """Where a curve meets the limit.

    Attributes
    ----------
    x : float
        Where it stands.
    text : str
        The year in words; empty where it is not printed in the drawing.
    anchor : str
        Which end of the text stands there.
    """

    x: float
    text: str
    anchor: str


@dataclass(frozen=True, slots=True)
class LawView:
    """One law of ageing.

    Attributes
    ----------
    style : int
        Number of its dash pattern.
    told : str
        The law.
    chosen : bool
        Whether it is that of the scenario.
    ends : str
        When the margin is used up.
    level_ends : str
        When the level is no longer sure.
    """

    style: int
    told: str
    chosen: bool
    ends: str
    level_ends: str


@dataclass(frozen=True, slots=True)
class LifePlot:
    """The drawing, with its values as a table.

    Attributes
    ----------
    title : str
        What is shown.
    description : str
        The drawing in a sentence.
    because : str
        Why the margin ends, by the law of the scenario.
    width, height, left, right, top, bottom : int
        View box, and the edges of the field within it.
    x_ticks, y_ticks : tuple of TickView
        Scales.
    limit_y : float
        Where the limit stands.
    traces : tuple of TraceView
        The laws, that of the scenario first.
    ends : tuple of EndView
        Where curves meet the limit; the first one is that of the scenario where it has a text.
    asked_x : float or None
        Where the service that is asked for ends; None where none is, or beyond the years ahead.
    event : str
        What the end of the margin means.
    laws : tuple of LawView
        The laws in words.
    head : tuple of str
        Heads of the table.
    rows : tuple of tuple of str
        The table.
    """

    title: str
    description: str
    because: str
    width: int
    height: int
    left: int
    right: int
    top: int
    bottom: int
    x_ticks: tuple
    y_ticks: tuple
    limit_y: float
    traces: tuple
    ends: tuple
    asked_x: float | None
    event: str
    laws: tuple
    head: tuple
    rows: tuple


def life_plot(life, asked):
    """Return the drawing of a stage's life; `asked` are the years of service that the scenario asks for."""
    overdrive = life.measure == "overdrive"
    limit, laws = (1.0 if overdrive else 0.0), tuple(life.laws.values())
    curves = [law.margin + limit for law in laws]
    y_marks = even(min(0.0, *(float(c.min()) for c in curves)), _top(curves, limit), _MOST_TICKS)
    across, up = linear(0.0, life.ahead, LEFT, WIDTH - RIGHT), linear(y_marks[0], y_marks[-1], HEIGHT - BOTTOM, TOP)
    event, years = _event(life), even(0.0, life.ahead, _MOST_TICKS)
    return LifePlot(
        title="Overdrive at worst over the years of service" if overdrive else "Margin of the level over the years",
        description=_description(laws, life.ahead, event),
        because=life.chosen.because.replace(" %", "\u00a0%"),
        width=WIDTH, height=HEIGHT, left=LEFT, right=WIDTH - RIGHT, top=TOP, bottom=HEIGHT - BOTTOM,
        x_ticks=tuple(TickView(across(year), f"{year:g}") for year in years if year <= life.ahead),
        y_ticks=tuple(TickView(up(value), f"{value:g}".replace("-", "−")) for value in y_marks),
        limit_y=up(limit),
        traces=_traces(laws, curves, across, lambda value: up(min(value, y_marks[-1]))),
        ends=_ends(laws, across, event),
        asked_x=across(asked) if 0.0 < asked <= life.ahead else None,
        event=event,
        laws=tuple(_law(number, law, life.ahead) for number, law in enumerate(laws)),
        head=("years", *(f"{_short(law)}: {'overdrive' if overdrive else 'margin'}" for law in laws)),
        rows=_rows(laws, curves),
    )  # fmt: skip


def _event(life):
    """Return what the end of the margin means."""
    if life.measure == "level":
        return "level no longer sure"
    return "stops saturating" if life.scenario.coupling.has_ratio else "no longer surely on"


def _short(law):
    """Return a law as it stands behind its curve."""
    clause = law.told.removeprefix("the light fades as ").replace(" of the light is lost in ", " in ")
    return clause.replace("the stress test tells", "stress test")


def _description(laws, ahead, event):
    """Return the drawing in a sentence."""
    told = "; ".join(f"{_short(law)}: {event} {_when(law.ends_in_year, ahead)}" for law in laws)
    return f"{len(laws)} curves that fall over {ahead:g} years. {told}."


def _when(year, ahead):
    """Return when something ends."""
    if year is None:
        return f"not within {ahead:g} years"
    return f"in year {year:.1f}" if year else "from the start"


def _law(number, law, ahead):
    """Return one law in words; that of the scenario comes first."""
    return LawView(number, law.told, number == 0, _when(law.ends_in_year, ahead), _when(law.level_ends_in_year, ahead))


def _top(curves, limit):
    """Return the upper end of the scale."""
    highest = max(float(curve.max()) for curve in curves)
    return max(min(highest, _ABOVE), limit + 0.2)


def _traces(laws, curves, across, up):
    """Return the curves, their names at their ends: below, or above where the axis is near, clear of one another."""
    ends = sorted((up(float(curve[-1])), number) for number, curve in enumerate(curves))
    places, above = {}, HEIGHT
    for y, number in reversed(ends):
        wanted = y + _LINE if y < HEIGHT - BOTTOM - 2 * _LINE else y - _LINE / 2
        above = places[number] = round(min(wanted, above - _LINE), 1)
    return tuple(
        TraceView(
            _short(law),
            " ".join(f"{across(float(x)):g},{up(float(y)):g}" for x, y in zip(law.years, curve, strict=True)),
            places[number],
            number,
        )
        for number, (law, curve) in enumerate(zip(laws, curves, strict=True))
    )


def _ends(laws, across, event):
    """Return where curves meet the limit; the year of the first law in words."""
    made = []
    for number, law in enumerate(laws):
        if not law.ends_in_year:
            continue
        x = across(law.ends_in_year)
        text = "" if number else f"{event} in year {law.ends_in_year:.1f}"
        place = (x - LEFT) / (WIDTH - RIGHT - LEFT)
        made.append(EndView(x, text, "start" if place < _NEAR else "end" if place > 1 - _NEAR else "middle"))
    return tuple(made)


def _rows(laws, curves):
    """Return the table: every few years what is left of it."""
    return tuple(
        (f"{laws[0].years[k]:g}", *(f"{curve[k]:.3g}".replace("-", "−") for curve in curves))
        for k in range(0, len(laws[0].years), _ROWS)
    )
