"""Over the cycle, as printed: three traces over one period of the line, and its figures in a table."""

from dataclasses import dataclass

from engine import UNITS, over_cycle, pulse_tables, reading
from webapp.present.figures import Figure, figure, plain

LEFT, RIGHT, FIRST, HEIGHT, GAP = 70, 700, 26, 120, 34
"""Edges of the traces, top of the first, height of one, room between two; in the units of the view box."""

WIDTH = 740
_EVERY = 2  # instants of the solution to one point of a trace
_ROOM = 1.08  # [-], how far the scale goes beyond the highest value
_QUARTERS = 4
_NAMES_AT = LEFT + (RIGHT - LEFT) // _QUARTERS
"""Where the names of limits stand: at the first crest, where the output is least on the move."""

MEANINGS = {
    "V line": "line voltage",
    "I R1": "current from the line",
    "V R1": "voltage across R1",
    "V of one resistor": "voltage across each resistor of R1",
    "V CD": "voltage across the dropper capacitor",
    "V CS": "voltage across the smoothing capacitor",
    "IF": "LED current",
}
FIGURES = {
    "conduction": "Share of the cycle in which the LED conducts",
    "lit_share": "Share of the cycle in which the output is surely read as lit",
    "unlit": "Longest time in a row in which it is not",
    "unlit_offset": "Middle of that time, after the line's zero crossing",
    "out_average": "Output, on average",
    "out_ripple": "Output, from lowest to highest",
    "IF_ripple": "LED current, from lowest to highest",
    "CS_ripple": "Ripple of the smoothing capacitor",
    "inrush_R1": "Inrush from the line, switched on at the crest",
    "inrush_IF": "Inrush through the LED",
    "inrush_time": "Time in which the inrush falls to 37 %",
    "inrush_energy": "Energy that the inrush leaves in R1, at most",
}
"""Name of a figure to what it is, in the order they are printed in."""

POWERS = {
    "R1": "R1", "LED": "LED", "diodes": "silicon diodes", "RB": "bleeder", "RF": "RF", "capacitors": "capacitors",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class TripleView:
    """One alternating quantity.

    Attributes
    ----------
    symbol : str
        What it is.
    meaning : str
        The same in words.
    figures : tuple of Figure
        Effective value, peak, average of the magnitude.
    """

    symbol: str
    meaning: str
    figures: tuple


@dataclass(frozen=True, slots=True)
class NamedFigure:
    """A figure with its name.

    Attributes
    ----------
    name : str
        What it is.
    figure : Figure
        The number.
    """

    name: str
    figure: Figure


@dataclass(frozen=True, slots=True)
class LevelView:
    """A level drawn across a trace.

    Attributes
    ----------
    y : float
        Where it is.
    text_y : float
        Base line of its label.
    text : str
        Its label.
    """

    y: float
    text_y: float
    text: str


@dataclass(frozen=True, slots=True)
class TraceView:
    """One quantity over the period.

    Attributes
    ----------
    name : str
        What it is.
    kind : str
        "line", "light" or "out".
    points : str
        Points of the nominal curve.
    band : str
        Points of the outline of all corners; empty where there is none.
    top : float
        Upper edge.
    bottom : float
        Lower edge.
    zero : float
        Where zero is.
    highest : LevelView
        The highest value of the scale's curve.
    limits : tuple of LevelView
        Limits of the receiver.
    """

    name: str
    kind: str
    points: str
    band: str
    top: float
    bottom: float
    zero: float
    highest: LevelView
    limits: tuple


@dataclass(frozen=True, slots=True)
class PulseView:
    """Widths of the pulse around the zero crossing over one resistor.

    Attributes
    ----------
    over : str
        The resistor.
    rows : tuple of (str, tuple of str)
        Its value, and the width with the weakest, the nominal and the strongest coupler.
    """

    over: str
    rows: tuple


@dataclass(frozen=True, slots=True)
class CycleView:
    """One period of the line, as printed.

    Attributes
    ----------
    period : str
        How long it is.
    width : int
        Width of the drawing.
    height : int
        Its height.
    left : int
        Where the traces begin.
    names_at : int
        Where the names of limits stand.
    right : int
        Where they end.
    traces : tuple of TraceView
        Line voltage, LED current, output.
    unlit : tuple of (float, float)
        Left edge and width of the times in which the output is not read as lit.
    times : tuple of (float, str)
        Where a time is written, and the time.
    rows : tuple of TripleView
        Alternating quantities.
    figures : tuple of NamedFigure
        Further figures.
    powers : tuple of NamedFigure
        Powers, averaged over the cycle.
    pulses : tuple of PulseView
        Width of the pulse over R1 and RL.
    summary : str
        The traces in a sentence, for those who do not see them.
    """

    period: str
    width: int
    height: int
    left: int
    names_at: int
    right: int
    traces: tuple
    unlit: tuple
    times: tuple
    rows: tuple
    figures: tuple
    powers: tuple
    pulses: tuple
    summary: str


def cycle_view(scenario):
    """Return the record of a stage on alternating voltage; None for any other."""
    if scenario.input.kind != "ac":
        return None
    cycle, f = over_cycle(scenario), scenario.input.f
    traces = tuple(_traces(cycle, scenario.output))
    rows = tuple(
        TripleView(one.symbol, MEANINGS[one.symbol], tuple(figure(r) for r in (one.rms, one.peak, one.average)))
        for one in cycle.electrical
    )
    named = tuple(
        NamedFigure(word, figure(cycle.figures[name])) for name, word in FIGURES.items() if name in cycle.figures
    )
    powers = tuple(
        NamedFigure(word, figure(cycle.powers[name])) for name, word in POWERS.items() if name in cycle.powers
    )
    bands = tuple(band for stretch in cycle.unlit for band in _bands(stretch)) if cycle.out is not None else ()
    times = tuple((_x(k / _QUARTERS), plain(k / _QUARTERS / f, "s")) for k in range(_QUARTERS + 1))
    return CycleView(
        plain(1.0 / f, "s"), WIDTH, round(traces[-1].bottom) + 30, LEFT, _NAMES_AT, RIGHT, traces, bands, times, rows,
        named, powers, tuple(_pulses(table) for table in pulse_tables(scenario)), _summary(cycle),
    )  # fmt: skip


def _x(share):
    """Return where an instant stands."""
    return round(LEFT + share * (RIGHT - LEFT), 1)


def _bands(stretch):
    """Yield left edge and width of a stretch, in two where it reaches over the end of the period."""
    end = stretch.start + stretch.width
    yield _x(stretch.start), round(_x(min(end, 1.0)) - _x(stretch.start), 1)
    if end > 1.0:
        yield _x(0.0), round(_x(end - 1.0) - LEFT, 1)


def _traces(cycle, load):
    """Yield the traces from top to bottom."""
    yield _Trace(0, cycle.phases, (cycle.line,), "V").view("Line voltage", "line")
    yield _Trace(1, cycle.phases, tuple(cycle.IF), "A").view("LED current", "light")
    if cycle.out is not None:
        low, _, high = load.words
        limits = tuple(zip((f"{low} up to", f"{high} from"), cycle.limits, strict=True))
        word = "Load current" if load.observed == "IL" else "Output"
        yield _Trace(2, cycle.phases, tuple(cycle.out), "A" if load.observed == "IL" else "V", limits).view(word, "out")


class _Trace:
    """The scale of one trace: from values to places."""

    def __init__(self, index, phases, waves, unit, limits=()):
        self.top = FIRST + index * (HEIGHT + GAP)
        self.phases, self.waves, self.unit, self.limits = phases, waves, unit, limits
        self.most = max(*(float(wave.max()) for wave in waves), *(level for _, level in limits), 1e-12)
        self.least = min(*(float(wave.min()) for wave in waves), 0.0)
        self.scale = HEIGHT / ((self.most - self.least) * _ROOM)

    def y(self, value):
        return round(self.top + HEIGHT - (value - self.least) * self.scale, 1)

    def path(self, wave):
        """Return the points of a curve, the first instant once more at the end."""
        pairs = [*zip(self.phases[::_EVERY], wave[::_EVERY], strict=True), (1.0, wave[0])]
        return [f"{_x(share)},{self.y(float(value))}" for share, value in pairs]

    def view(self, name, kind):
        """Return the trace as printed."""
        band = "" if len(self.waves) == 1 else " ".join(self.path(self.waves[2]) + self.path(self.waves[1])[::-1])
        peak = float(self.waves[0].max())
        highest = LevelView(self.y(peak), self.y(peak) + 5, plain(peak, self.unit))
        marks = tuple(
            LevelView(self.y(level), self.y(level) + away, f"{word} {plain(level, self.unit)}")
            for (word, level), away in zip(self.limits, (15, -5)[: len(self.limits)], strict=True)
        )
        bottom = self.top + HEIGHT
        return TraceView(
            name, kind, " ".join(self.path(self.waves[0])), band, self.top, bottom, self.y(0.0), highest, marks
        )


def _pulses(table):
    """Return one table of pulse widths as printed."""
    rows = tuple(
        (" ".join(reading(ohms, UNITS["ohm"])), tuple(plain(width, "s") for width in widths))
        for ohms, widths in zip(table.ohms, table.widths, strict=True)
    )
    return PulseView(table.over, rows)


def _summary(cycle):
    """Return the traces in a sentence."""
    IF = next(one for one in cycle.electrical if one.symbol == "IF")
    said = f"LED current: average {figure(IF.average).text}, peak {figure(IF.peak).text}."
    if cycle.out is None:
        return said
    unlit = cycle.figures["unlit"]
    if cycle.steady:
        return f"{said} The output is read as lit all through the cycle."
    times = f"{figure(unlit).text} in a row, {plain(unlit.high, 's')} at worst"
    return f"{said} The output is not surely read as lit for {times}."
