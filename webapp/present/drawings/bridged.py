"""A conductor between the returns of both sides, drawn where it crosses the barrier."""

from dataclasses import dataclass, replace

_ROOM = 44  # by which both sides grow downwards for the conductor
_UNDER = 18  # from what a side draws by itself to the conductor
_ASIDE = 40  # from the reference to where the conductor goes down
_ACROSS = 36  # by which it is drawn beyond its side's edge, over the barrier
_TEXT = "joins the returns"


@dataclass(frozen=True, slots=True)
class Bridge:
    """The conductor on one side.

    Attributes
    ----------
    points : str
        Points of the line.
    text : str
        What is written at it; empty on the side that does not say it.
    x : int
        Where the text ends.
    y : int
        Base line of the text.
    """

    points: str
    text: str
    x: int
    y: int


def room_for(layouts):
    """Return both sides with the same height, and room below for a conductor between them."""
    height = max(layout.height for layout in layouts) + _ROOM
    return tuple(replace(layout, height=height) for layout in layouts)


def bridge(layout, side):
    """Return the conductor on one side of a layout that has room for it, from its reference to the barrier."""
    reference = next(symbol for symbol in layout.symbols if symbol.kind == "reference")
    level = layout.height - _ROOM + _UNDER
    away, edge = (-_ASIDE, layout.width) if side == "input" else (_ASIDE, -_ACROSS)
    corner = reference.x + away
    path = (reference.x, reference.y), (corner, reference.y), (corner, level), (edge, level)
    text = _TEXT if side == "input" else ""
    return Bridge(" ".join(f"{x},{y}" for x, y in path), text, layout.width - 16, level - 8)
