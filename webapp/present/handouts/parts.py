"""The parts of a stage as a table: value, what each may take, what it takes at worst."""

from dataclasses import dataclass

from engine import STATES, UNITS, as_typed
from webapp.present.figures import plain
from webapp.present.names import PART_NAMES
from webapp.present.schematic import labels_of

_SOURCES = frozenset({"VS", "VCC", "VEE", "VD"})
_STATE_ONLY = frozenset({"S1", "P1", "B1", "Q1"})
_CARD = (
    ("IF_rating", "IF up to", "A"),
    ("VR_max", "reverse voltage up to", "V"),
    ("VCEO", "VCE up to", "V"),
    ("IC_max", "IC up to", "A"),
)
_LED = frozenset({"IF_rating", "VR_max"})


@dataclass(frozen=True, slots=True)
class PartRow:
    """One part.

    Attributes
    ----------
    part : str
        Its name on the drawing.
    meaning : str
        What it is.
    value : str
        Its value; a dash where it has none.
    takes : str
        The most power that it takes, in either state.
    rating : str
        What it may take; a dash where that is not stated.
    """

    part: str
    meaning: str
    value: str
    takes: str
    rating: str


def part_rows(point):
    """Return every part of a solved stage."""
    labels = {name: labels_of(point, name) for name in STATES}
    powers = [point.states[name].powers for name in STATES]
    return tuple(_row(point, part, labels, [found[part] for found in powers]) for part in powers[0])


def _row(point, part, labels, powers):
    """Return one part."""
    most = max(abs(end) for power in powers for end in (power.low, power.high))
    ratings = [] if powers[0].rating is None else [as_typed(float(f"{powers[0].rating:.3g}"), UNITS["W"])]
    if part in ("LED", "U1"):
        ratings += _ratings(point.scenario, part == "LED")
    takes = f"gives {plain(most, 'W')}" if part in _SOURCES else plain(most, "W")
    return PartRow(part, PART_NAMES[part], _value(point, part, labels), takes, "; ".join(ratings) or "–")


def _value(point, part, labels):
    """Return what a part is labelled with, without its name."""
    if part == "LED":
        return "in U1"
    if part == "U1":
        return point.scenario.coupling.data.title
    lines = labels["closed"].get(part, ())
    if part in _STATE_ONLY or lines != labels["open"].get(part, ()):
        return "–"
    words = [word for word in " ".join(lines).split() if word not in (part, "Line")]
    return " ".join(words) if words and words[0] != "of" else "–"


def _ratings(scenario, led):
    """Yield what a card states that the LED, or the output, may take at the hottest."""
    card, hottest = scenario.coupling.data, scenario.conditions.TA_ends[1]
    for name, words, unit in _CARD:
        stated = getattr(card, name, None)
        if stated is not None and (name in _LED) is led:
            value = stated.at(hottest) if hasattr(stated, "at") else stated
            yield f"{words} {as_typed(float(f'{value:.3g}'), UNITS[unit])}"
