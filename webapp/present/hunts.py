"""What the pages of a fault hunt print: the sound stage, the meter, the answer, the board, the reasoning at the end."""

import math
from dataclasses import dataclass
from functools import lru_cache

from engine import STATES, operating_point, probes_of, query_from
from webapp.hunting.readings import Bench, Place
from webapp.present.names import NODE_NAMES, PART_NAMES
from webapp.present.results import hazardous, title
from webapp.present.schematic import schematic
from webapp.present.stage import BESIDE_VERDICT

PLACES_TOLD = 6
"""Readings that are told at the end as those that part the fault from most others."""


@dataclass(frozen=True, slots=True)
class HuntStage:
    """The sound stage in one switch state, as its schematic prints it.

    Attributes
    ----------
    query : str
        Query string of the stage.
    title : str
        The stage in a line.
    state : str
        The switch state.
    place : str
        The same in words.
    sides : tuple of SideView
        The schematic.
    broad : bool
        Whether the sides are too small to be read beside something else.
    hazardous : bool
        Whether the cautions for dangerous voltages apply.
    """

    query: str
    title: str
    state: str
    place: str
    sides: tuple
    broad: bool
    hazardous: bool


@dataclass(frozen=True, slots=True)
class Choice:
    """One entry of a list to choose from.

    Attributes
    ----------
    value : str
        What is sent.
    text : str
        What is printed.
    chosen : bool
        Whether it is the present one.
    """

    value: str
    text: str
    chosen: bool = False


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """One reading that was taken.

    Attributes
    ----------
    number : int
        Which one it is.
    place : str
        State of the switch and leads.
    shown : str
        What the meter shows, or why it shows nothing.
    sound : str
        What it would show with nothing wrong.
    """

    number: int
    place: str
    shown: str
    sound: str


@dataclass(frozen=True, slots=True)
class MeterView:
    """The meter with its leads.

    Attributes
    ----------
    state : str
        State of the switch.
    states : tuple of Choice
        Both states, in words.
    leads : tuple of (str, tuple of (str, tuple of Choice))
        Name and title of each lead, with the points by side.
    shown : str
        What the meter shows; empty before the first reading.
    where : str
        Where it stands, or why it shows nothing.
    link : str
        Query string that keeps the leads where they are.
    """

    state: str
    states: tuple
    leads: tuple
    shown: str
    where: str
    link: str


@dataclass(frozen=True, slots=True)
class TellingRow:
    """One reading as part of the reasoning.

    Attributes
    ----------
    place : str
        Switch and leads.
    sound : str
        What is shown with nothing wrong.
    shown : str
        What is shown with the fault.
    left : str
        Which faults it leaves.
    """

    place: str
    sound: str
    shown: str
    left: str


@dataclass(frozen=True, slots=True)
class Reasoning:
    """What the fault was, and which readings part it from the others.

    Attributes
    ----------
    fault : str
        The fault in words.
    alike : tuple of str
        Other faults that no reading tells from it.
    taken : tuple of TellingRow
        One's own readings, with what they leave together.
    telling : tuple of TellingRow
        The readings that leave the fewest faults, each by itself.
    """

    fault: str
    alike: tuple
    taken: tuple
    telling: tuple


@dataclass(frozen=True, slots=True)
class BoardRow:
    """Somebody who takes part.

    Attributes
    ----------
    nickname : str
        The name.
    readings : int
        Readings taken so far.
    word : str
        "found", "later", "wrong" or "looking", which the row is drawn by.
    verdict : str
        How far they are, in words.
    answer : str
        The answer that counts, in words; empty where there is none.
    """

    nickname: str
    readings: int
    word: str
    verdict: str
    answer: str


@lru_cache(maxsize=64)
def hunt_stage(scenario, state):
    """Return the sound stage in one switch state."""
    scenario = scenario if scenario.conditions.switch == state else scenario.showing(state)
    point = operating_point(scenario)
    sides = schematic(point, state)
    return HuntStage(
        query=query_from(scenario),
        title=title(scenario),
        state=state,
        place=scenario.input.states[state],
        sides=sides,
        broad=sum(side.width for side in sides) > BESIDE_VERDICT,
        hazardous=hazardous(point),
    )


def fault_choices(bench: Bench, chosen=""):
    """Return the faults that can be hidden and named, by part: title and choices."""
    parts = {}
    for fault in bench.hideable:
        parts.setdefault(fault.part, []).append(Choice(fault.id, fault.text, fault.id == chosen))
    return tuple((f"{part}, {PART_NAMES[part]}" if part in PART_NAMES else part, tuple(c)) for part, c in parts.items())


def meter_view(bench: Bench, fault, place: Place, reads):
    """Return the meter with its leads at a place, and what it shows there where a reading was taken."""
    names = ("red", "Red lead", place.red), ("black", "Black lead", place.black)
    shown, where = "", ""
    if reads:
        crossing = bench.crosses(place)
        shown = "–" if crossing else _volts(bench, place, bench.shown(fault, place))
        where = _place(bench, place) + (". " + ACROSS if crossing else "")
    return MeterView(
        state=place.state,
        states=tuple(Choice(state, bench.scenario.input.states[state], state == place.state) for state in STATES),
        leads=tuple((name, words, _points(bench, at)) for name, words, at in names),
        shown=shown,
        where=where,
        link=f"red={place.red}&black={place.black}",
    )


ACROSS = (
    "The leads are on opposite sides of the barrier. The sides have no conductor in common, so no current can flow "
    "through the meter, and what it shows there means nothing."
)
"""Why there is no reading between the sides."""


def first_place(bench: Bench, state):
    """Return where the leads are before anything was chosen: across the supply of the input."""
    points = bench.table.leads["input"]
    return Place(state, points[0], points[-1])


def reading_rows(bench: Bench, fault, taken):
    """Return the readings that somebody has taken, the last one first."""
    rows = []
    for number, place in taken:
        crossing = bench.crosses(place)
        shown = "across the barrier" if crossing else _volts(bench, place, bench.shown(fault, place))
        sound = "" if crossing else _volts(bench, place, bench.sound(place))
        rows.append(ReadingRow(number, _place(bench, place), shown, sound))
    return tuple(reversed(rows))


def reasoning(bench: Bench, fault, taken=()):
    """Return what the fault was, with what the readings that somebody has taken leave of all faults."""
    texts = {f.id: f.text for f in bench.table.faults}
    places = [place for _, place in taken if not bench.crosses(place)]
    own = tuple(
        _telling(bench, fault, place, bench.left_by(fault, places[: k + 1]), texts) for k, place in enumerate(places)
    )
    probes = [Place(state, probe.red, probe.black) for probe in probes_of(bench.scenario) for state in STATES]
    best = bench.telling(fault, [place for place in probes if bench.knows(place)])[:PLACES_TOLD]
    return Reasoning(
        fault=texts[fault],
        alike=tuple(texts[name] for name in bench.alike(fault) if name != fault),
        taken=own,
        telling=tuple(_telling(bench, fault, place, bench.left_by(fault, [place]), texts) for place, _ in best),
    )


def board_rows(bench: Bench, board):
    """Return who takes part, in the order of the board."""
    texts = {fault.id: fault.text for fault in bench.table.faults}
    return tuple(_board_row(hunter, readings, texts) for hunter, readings in board)


def _board_row(hunter, readings, texts):
    """Return one who takes part."""
    if hunter.right:
        word, verdict = "found", f"found it in {_counted(hunter.answer_readings)}"
    elif hunter.found_readings is not None:
        word, verdict = "later", f"first answer wrong, found it later in {_counted(hunter.found_readings)}"
    elif hunter.answer is not None:
        word, verdict = "wrong", f"first answer wrong, after {_counted(hunter.answer_readings)}"
    else:
        word, verdict = "looking", "has not answered"
    return BoardRow(hunter.nickname, readings, word, verdict, texts.get(hunter.answer, ""))


def _counted(readings):
    """Return a number of readings in words."""
    return "1 reading" if readings == 1 else f"{readings} readings"


def _telling(bench, fault, place, left, texts):
    """Return one reading as part of the reasoning."""
    others = [texts[name] for name in left if name != fault]
    words = f"Leaves {len(others)} other{'s' if len(others) > 1 else ''}" if others else "No other fault fits"
    words += f": {' '.join(others)}" if 0 < len(others) <= 2 else "."
    shown = _volts(bench, place, bench.shown(fault, place))
    return TellingRow(_place(bench, place), _volts(bench, place, bench.sound(place)), shown, words)


def _place(bench, place):
    """Return switch and leads in words."""
    return f"{bench.scenario.input.states[place.state]}, {place.red} to {place.black}"


def _points(bench, at):
    """Return all points by side, one of them chosen."""
    groups = []
    for side, points in bench.table.leads.items():
        names = [(point, f"{point}, {NODE_NAMES[point]}" if point in NODE_NAMES else point) for point in points]
        groups.append((f"{side} side", tuple(Choice(point, name, point == at) for point, name in names)))
    return tuple(groups)


def _volts(bench, place, value):
    """Return a voltage as the scale of the meter has it; an alternating one says so."""
    scale = float(bench.table.meter.range_of(value))
    milli = scale < 1.0
    step = scale / 4000 * (1e3 if milli else 1.0)
    digits = max(0, math.ceil(-math.log10(step) - 1e-9))
    text = f"{value * (1e3 if milli else 1.0):.{digits}f}"
    if not text.strip("-0."):
        text = text.removeprefix("-")
    kind = " ac" if bench.alternating(place) else ""
    return f"{text.replace('-', '−')} {'mV' if milli else 'V'}{kind}"
