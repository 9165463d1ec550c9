"""The bench sheet as printed: nodes with numbers, what a meter shows between them, blanks to write in."""

from collections import Counter
from dataclasses import dataclass, replace
from urllib.parse import parse_qsl

from engine import (
    METERS,
    STATES,
    UNITS,
    VOLT,
    bench_sheet,
    leads_of,
    loose_checks,
    operating_point,
    pairs_from,
    query_from,
    reading,
    scenario_from,
    span,
)
from webapp.present.names import NODE_NAMES
from webapp.present.results import hazardous, title
from webapp.present.schematic import schematic
from webapp.words import CHOICES

LONGEST = 24
"""The most characters that a blank holds."""

_RANGES = {"dc": "V dc", "ac": "V ac"}
_OVER = "over range"


@dataclass(frozen=True, slots=True)
class MarkView:
    """The number of a node on the drawing.

    Attributes
    ----------
    node : str
        Name of the node.
    number : int
        What the table calls it.
    x : int
        Middle.
    y : int
        Middle.
    """

    node: str
    number: int
    x: int
    y: int


@dataclass(frozen=True, slots=True)
class LeadView:
    """A node in words.

    Attributes
    ----------
    number : int
        What the table calls it.
    node : str
        Its name.
    words : str
        What it is.
    side : str
        "input" or "output".
    """

    number: int
    node: str
    words: str
    side: str


@dataclass(frozen=True, slots=True)
class CellView:
    """One reading of the table.

    Attributes
    ----------
    name : str
        Name of the blank.
    state : str
        State of the switch in words.
    label : str
        The blank in words.
    expected : str
        What a good unit reads; a dash where no figure is given.
    window : str
        The least and the most that it may read.
    typed : str
        What stands in the blank.
    error : str
        What is wrong with it; empty if nothing is.
    """

    name: str
    state: str
    label: str
    expected: str
    window: str
    typed: str
    error: str


@dataclass(frozen=True, slots=True)
class PointView:
    """One row of the table.

    Attributes
    ----------
    words : str
        What is measured.
    part : str
        The part.
    red : LeadView
        Where the red lead goes.
    black : LeadView
        Where the black lead goes.
    range : str
        Kind of range.
    cells : tuple of CellView
        With the switch closed and open.
    remark : str
        What the meter changes, or why there is no figure.
    side : str
        "input" or "output".
    """

    words: str
    part: str
    red: LeadView
    black: LeadView
    range: str
    cells: tuple
    remark: str
    side: str


@dataclass(frozen=True, slots=True)
class CheckView:
    """One check out of the circuit, as printed.

    Attributes
    ----------
    words : str
        What is checked.
    how : str
        Range, leads, drive.
    expected : str
        What the usual one reads.
    window : str
        What a good one may read.
    """

    words: str
    how: str
    expected: str
    window: str


@dataclass(frozen=True, slots=True)
class BenchView:
    """A bench sheet as printed.

    Attributes
    ----------
    query : str
        Query string of the stage.
    pairs : tuple of (str, str)
        The same, for a form.
    title : str
        The stage in a line.
    drawn : str
        The switch as it is drawn.
    states : tuple of str
        Both states in words.
    meter : str
        The meter in words.
    meters : tuple of (str, str, bool)
        Every meter in words, the query string with it, and whether it is this one.
    sides : tuple of (SideView, tuple of MarkView)
        The drawing with its marks.
    leads : tuple of LeadView
        Every node by number.
    points : tuple of PointView
        The table.
    notes : tuple of str
        Remarks that hold for several rows.
    checks : tuple of CheckView
        The coupler out of its circuit.
    hazardous : bool
        Whether the cautions for dangerous voltages apply.
    """

    query: str
    pairs: tuple
    title: str
    drawn: str
    states: tuple
    meter: str
    meters: tuple
    sides: tuple
    leads: tuple
    points: tuple
    notes: tuple
    checks: tuple
    hazardous: bool


def bench_view(scenario, typed=None, errors=None):
    """Return the sheet of a stage, what was typed and what is wrong with that; raises as `engine.bench_sheet`."""
    point, sheet = operating_point(scenario), bench_sheet(scenario)
    leads, state = _leads(scenario), scenario.conditions.switch
    sides = tuple((side, _marks(side, leads)) for side in schematic(point, state))
    points = tuple(_point(row, sheet, leads, (typed or {}, errors or {})) for row in sheet.rows)
    notes = tuple(remark for remark, rows in Counter(p.remark for p in points if p.remark).items() if rows > 1)
    return BenchView(
        query=query_from(scenario),
        pairs=tuple(parse_qsl(query_from(scenario))),
        title=title(scenario),
        drawn=scenario.input.states[state],
        states=tuple(scenario.input.states[state] for state in STATES),
        meter=CHOICES[scenario.conditions.meter],
        meters=_meters(scenario),
        sides=sides,
        leads=tuple(leads.values()),
        points=tuple(replace(p, remark="") if p.remark in notes else p for p in points),
        notes=notes,
        checks=tuple(_check(check) for check in loose_checks(scenario)),
        hazardous=hazardous(point),
    )


def _meters(scenario):
    """Return every meter with the query string that asks for it."""
    others = [(key, text) for key, text in pairs_from(scenario) if key != "meter"]
    made = ((kind, query_from(scenario_from([*others, ("meter", kind)]))) for kind in METERS)
    return tuple((CHOICES[kind], query, kind == scenario.conditions.meter) for kind, query in made)


def _leads(scenario):
    """Return node to its number and words."""
    found = [(node, side) for side, nodes in leads_of(scenario).items() for node in nodes]
    words = {"return": "return of the input", "common": "common of the output"} | NODE_NAMES
    return {node: LeadView(k, node, words.get(node, node), side) for k, (node, side) in enumerate(found, 1)}


def _marks(side, leads):
    """Return the marks of one side: where its flags and its reference touch the wire."""
    found = {flag.node: flag.at for flag in side.flags}
    grounds = [symbol for symbol in side.symbols if not symbol.part]
    found |= {ground.label[0]: (ground.x, ground.y) for ground in grounds}
    return tuple(MarkView(node, leads[node].number, *at) for node, at in found.items() if node in leads)


def _point(row, sheet, leads, typed):
    """Return one row of the table."""
    probe = row.probe
    cells, (texts, errors) = [], typed
    for state in STATES:
        name = f"r.{probe.id}.{state}"
        found = row.states[state]
        expected, window = _texts(found, sheet.meter) if found else ("–", "")
        spoken = sheet.scenario.input.states[state]
        label = f"Reading, {probe.words}, {spoken}"
        cells.append(
            CellView(name, spoken, label, expected, window, texts.get(name, "")[:LONGEST], errors.get(name, ""))
        )
    remark = row.remark or _loaded(row, sheet)
    more = leads[probe.red], leads[probe.black], _RANGES[row.coupling]
    return PointView(probe.words, probe.part, *more, tuple(cells), remark, probe.side)


def _texts(found, meter):
    """Return expected reading and window as text; what the meter cannot tell from nothing is nothing."""
    expected = "0 V" if abs(found.expected) < meter.floor else _volts(found.expected)
    return expected, _window(found.low, found.high, VOLT)


def _window(low, high, unit):
    """Return two ends as text."""
    text, own = span(low, high, unit)
    return f"{text} {own}".strip() if text else " ".join(reading(low, unit))


def _volts(volts):
    """Return a voltage as text."""
    return " ".join(reading(volts, VOLT))


def _loaded(row, sheet):
    """Return in which state the meter itself moves a reading by more than its error, and from where."""
    for state in STATES:
        found = row.states[state]
        if found and abs(found.bare - found.expected) > float(sheet.meter.error(found.bare)):
            where = sheet.scenario.input.states[state]
            return f"The meter's own resistance matters: {_volts(found.bare)} without it, {where}."
    return ""


def _check(check):
    """Return one check out of the circuit."""
    unit = UNITS[check.unit]
    expected = _OVER if check.expected is None else " ".join(reading(check.expected, unit))
    if check.low is None:
        window = ""
    elif check.high is None:
        window = f"from {' '.join(reading(check.low, unit))}"
    else:
        window = _window(check.low, check.high, unit)
    return CheckView(check.words, check.how, expected, window)
