"""The schematic as a drawing that stands alone: both sides, the barrier between them, what is read, its own style."""

import base64
import hashlib
from dataclasses import dataclass

from markupsafe import Markup

from engine import STATES
from webapp.assets import folder
from webapp.present.results import SIGNS, title, verdicts
from webapp.present.schematic import schematic

BESIDE = 1250
"""Width of both sides together up to which they stand beside each other, in the units of the drawing."""

_BARRIER, _LINE, _MARGIN = 28, 20, 10
_LETTER = 8.4  # width of a letter of the lines above and below the drawing, at its widest on the average
_APART, _BRIDGED = "barrier · no conductor crosses", "barrier bridged · a conductor crosses"

STYLE = (folder("static") / "css/picture.css").read_text()
"""The style that every picture carries."""

STYLE_HASH = "sha256-" + base64.b64encode(hashlib.sha256(STYLE.encode()).digest()).decode()
"""What a content security policy has to name for that style, and for no other, to count."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A schematic as a drawing.

    Attributes
    ----------
    title : str
        What it shows.
    description : str
        The same for those who do not see it.
    width : int
        Width.
    height : int
        Height.
    ink : str
        "colour", or "black" for paper.
    head : tuple of (str, int)
        Lines above the sides, with their base lines.
    foot : tuple of (str, int)
        Lines below them.
    sides : tuple of (SideView, int, int)
        Both sides, with where their upper left corners lie.
    barrier : tuple of int
        Left, top, width and height of the barrier.
    upright : bool
        Whether it is taller than wide.
    middle : tuple of (int, int)
        Its middle.
    words : str
        What stands in it.
    bridged : bool
        Whether a conductor crosses it.
    style : Markup
        The style, as an element.
    """

    title: str
    description: str
    width: int
    height: int
    ink: str
    head: tuple
    foot: tuple
    sides: tuple
    barrier: tuple
    upright: bool
    middle: tuple
    words: str
    bridged: bool
    style: Markup


def is_tall(point):
    """Return whether the sides of a stage stand one below the other in its picture."""
    return not _beside(schematic(point, point.scenario.conditions.switch))


def picture_of(point, *, solved=True, ink="colour"):
    """Return the drawing of a solved stage in the switch state that it shows, with or without its figures."""
    scenario = point.scenario
    state = scenario.conditions.switch
    drawn = schematic(point, state, solved=solved)
    place = scenario.input.states[state]
    width, upright = _width(drawn), _beside(drawn)
    head = _lines([f"{title(scenario)}; {place}"], width)
    foot = _lines(_told(point, state) if solved else (), width)
    top = _LINE * len(head) + _MARGIN
    sides, barrier, bottom = (_in_a_row if upright else _in_a_column)(drawn, top, width)
    left, over, broad, tall = barrier
    bridged = any(side.bridge for side in drawn)
    return Picture(
        title=_printable(f"{title(scenario)}, {place}"),
        description=_printable(" ".join(f"{side.title}. {side.description}" for side in drawn)),
        width=width,
        height=bottom + _LINE * len(foot) + _MARGIN,
        ink=ink,
        head=_set(head, 0),
        foot=_set(foot, bottom),
        sides=sides,
        barrier=barrier,
        upright=upright,
        middle=(left + broad // 2, over + tall // 2),
        words=_BRIDGED if bridged else _APART,
        bridged=bridged,
        style=Markup(f"<style>{STYLE}</style>"),  # noqa: S704 # a file of our own
    )


def _told(point, state):
    """Return what is read in the state that is shown."""
    shown = next(one for one in verdicts(point, state, dict.fromkeys(STATES, "")) if one.state == state)
    read = f"{shown.verb} {shown.level}"
    sure = {"sure": "surely, at every corner", "unsure": "but not at every corner", "wrong": "which is wrong"}
    yield f"{SIGNS['note']} {shown.place}: {read}, {sure[shown.remark]}. Below each figure: its range over all corners."


def _beside(drawn):
    """Return whether both sides can stand beside each other."""
    return sum(side.width for side in drawn) + _BARRIER <= BESIDE


def _width(drawn):
    """Return the width of the drawing."""
    both = [side.width for side in drawn]
    return sum(both) + _BARRIER if _beside(drawn) else max(both)


def _in_a_row(drawn, top, width):
    """Return the places of both sides beside each other, that of the barrier, and where they end."""
    one, other = drawn
    tall = max(side.height for side in drawn)
    return ((one, 0, top), (other, one.width + _BARRIER, top)), (one.width, top, _BARRIER, tall), top + tall


def _in_a_column(drawn, top, width):
    """Return the places of both sides one below the other, the coupler's halves at the same edge, and so on."""
    one, other = drawn
    below = top + one.height
    places = (one, width - one.width, top), (other, 0, below + _BARRIER)
    return places, (0, below, width, _BARRIER), below + _BARRIER + other.height


def _lines(texts, width):
    """Return texts as lines that fit."""
    longest, lines = int((width - 2 * _MARGIN) / _LETTER), []
    for text in texts:
        line = ""
        for word in _printable(text).split():
            if line and len(line) + 1 + len(word) > longest:
                lines.append(line)
                line = ""
            line = f"{line} {word}".strip()
        lines.append(line)
    return lines


def _set(lines, top):
    """Return lines with their base lines."""
    return tuple((line, top + _LINE * number + 2) for number, line in enumerate(lines, start=1))


def _printable(text):
    """Return a text without what XML cannot hold."""
    return "".join(c if c.isprintable() else " " for c in text)
