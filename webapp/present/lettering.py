"""A schematic lettered for a room: both sides in one drawing, fewer and larger numbers, which a back row can read.

Worst-case ranges are left to the verdict. A flag has its name above its voltage, and grows away from its wire.
"""

from dataclasses import dataclass, replace

from webapp.present.clearance import Item, body_box, cleared, text_box
from webapp.present.figures import Figure
from webapp.present.schematic import ArrowView, SymbolView

WINDOW = 1280, 720
"""The smallest window that this is made for, in CSS pixels."""

READABLE = 22.4
"""Size of the numbers in that window, in CSS pixels, wherever a drawing is not too large for it."""

BARRIER = 26
"""Room of the barrier between both sides, in the units of the drawing."""

_SMALLEST, _LARGEST = 19.0, 24.0  # letters that a drawing has room for
_ROOM = {"stacked": (0.62, 0.95), "beside": (0.985, 0.66)}  # share of the window's width and height
_FLAG_WIDTH, _FLAG_HEIGHT = 118, 36  # of a flag as the schematic places it
_EDGE = 2  # that a flag keeps from the edge of its side


@dataclass(frozen=True, slots=True)
class LargeFlag:
    """A node voltage, its name above it.

    Attributes
    ----------
    node : str
        Name of the node.
    figure : Figure
        The voltage.
    pole : str
        Points of the line to the wire.
    x : float
        Left edge.
    y : float
        Top edge.
    width : float
        Width.
    height : float
        Height.
    middle : float
        Middle of both texts.
    name_y : float
        Base line of the name.
    value_y : float
        Base line of the voltage.
    """

    node: str
    figure: Figure
    pole: str
    x: float
    y: float
    width: float
    height: float
    middle: float
    name_y: float
    value_y: float


@dataclass(frozen=True, slots=True)
class LargeSide:
    """One side within the drawing.

    Attributes
    ----------
    side : SideView
        The side as the schematic has it.
    x : float
        Where its left edge is.
    y : float
        Where its top edge is.
    symbols : tuple of SymbolView
        Parts, with their labels.
    flags : tuple of LargeFlag
        Node voltages.
    arrows : tuple of ArrowView
        Branch currents.
    """

    side: object
    x: float
    y: float
    symbols: tuple[SymbolView, ...]
    flags: tuple[LargeFlag, ...]
    arrows: tuple[ArrowView, ...]


@dataclass(frozen=True, slots=True)
class Drawing:
    """Both sides and the barrier.

    Attributes
    ----------
    way : str
        "stacked": the input side above the output side; "beside": left of it.
    width : float
        Width of the whole.
    height : float
        Height of the whole.
    letters : float
        Size of the numbers.
    words : float
        Size of what is written beside parts.
    barrier : tuple of (float, float, float, float)
        Left, top, width and height of the barrier.
    sides : tuple of LargeSide
        Both sides.
    """

    way: str
    width: float
    height: float
    letters: float
    words: float
    barrier: tuple[float, float, float, float]
    sides: tuple[LargeSide, ...]


def lettered(sides, way):
    """Return both sides as one drawing.

    Parameters
    ----------
    sides : tuple of SideView
        Input and output side.
    way : str
        How they are arranged, as in `Drawing`.

    Returns
    -------
    Drawing
        The drawing.
    """
    first, second = sides
    across = way == "beside"
    width = first.width + BARRIER + second.width if across else max(first.width, second.width)
    height = max(first.height, second.height) if across else first.height + BARRIER + second.height
    share = _ROOM[way]
    scale = min(share[0] * WINDOW[0] / width, share[1] * WINDOW[1] / height)
    letters = round(min(max(READABLE / scale, _SMALLEST), _LARGEST), 1)
    if across:
        barrier, places = (first.width, 0, BARRIER, height), ((0, 0), (first.width + BARRIER, 0))
    else:
        barrier = (0, first.height, width, BARRIER)
        places = ((width - first.width) / 2, 0), ((width - second.width) / 2, first.height + BARRIER)
    words = round(0.8 * letters, 1)
    large = tuple(_side(side, x, y, letters, words) for side, (x, y) in zip(sides, places, strict=True))
    return Drawing(way, width, height, letters, words, barrier, large)


def _side(side, x, y, letters, words):
    """Return one side at its place, with what is written on it clear of everything else."""
    flags = tuple(_flag(flag, side, letters) for flag in side.flags)
    items = [Item(("part", f"part {s.part} {s.x}"), body_box(s)) for s in side.symbols]
    items += [_label_item(symbol, words) for symbol in side.symbols]
    items += [Item(("flag", f"flag {f.node}"), (f.x, f.y, f.x + f.width, f.y + f.height), _SIDEWAYS) for f in flags]
    items += [_arrow_item(arrow, letters) for arrow in side.arrows]
    shifts = cleared(tuple(items), (side.width, side.height))
    if not shifts:
        return LargeSide(side, x, y, side.symbols, flags, side.arrows)
    return LargeSide(
        side,
        x,
        y,
        tuple(_shifted(s, shifts.get(("label", f"part {s.part} {s.x}"))) for s in side.symbols),
        tuple(_slid(flag, shifts.get(("flag", f"flag {flag.node}"))) for flag in flags),
        tuple(_shifted(arrow, shifts.get(("arrow", f"arrow {arrow.symbol}"))) for arrow in side.arrows),
    )


_SIDEWAYS = tuple((dx, 0) for dx in (0, -6, 6, -12, 12, -18, 18, -26, 26, -34, 34))
_NEAR = tuple((dx, dy) for dx in (0, -8, 8, -16, 16) for dy in (0, -8, 8, -14, 14))
_ALONG = tuple((dx, dy) for dx in (0, -12, 12, -24, 24, -36, 36, -48, 48, -60, 60) for dy in (0, 5, -5, 10))
_LETTER, _FIGURE = 0.6, 6.3  # width of a letter, and of the widest current with its symbol, in sizes of the letters


def _label_item(symbol, words):
    """Return the label of a part; it belongs to the part, and may lie on it."""
    width = max(map(len, symbol.label)) * _LETTER * words
    box = text_box(symbol.label_x, symbol.label_y, symbol.anchor, width, len(symbol.label), words)
    return Item(("label", f"part {symbol.part} {symbol.x}"), box, _NEAR)


def _arrow_item(arrow, letters):
    """Return what is written beside an arrow."""
    box = text_box(arrow.label_x, arrow.label_y + 5, arrow.anchor, _FIGURE * letters, 1, letters)
    return Item(("arrow", f"arrow {arrow.symbol}"), box, _ALONG)


def _shifted(view, shift):
    """Return a part or an arrow with its text moved."""
    if not shift:
        return view
    return replace(view, label_x=view.label_x + shift[0], label_y=view.label_y + shift[1])


def _slid(flag, shift):
    """Return a flag moved along its wire; its pole stays."""
    return replace(flag, x=flag.x + shift[0], middle=flag.middle + shift[0]) if shift else flag


def _flag(flag, side, letters):
    """Return a flag with two lines, grown away from its wire and kept within its side."""
    width, height = round(max(_FLAG_WIDTH, 5.3 * letters + 10)), round(2.08 * letters + 9)
    hangs = flag.at[1] < flag.y
    y = flag.y if hangs else flag.y + _FLAG_HEIGHT - height
    x = min(max(flag.middle - width / 2, _EDGE), side.width - width - _EDGE)
    name_y = y + letters
    return LargeFlag(
        flag.node, flag.figure, flag.pole, x, y, width, height, x + width / 2, name_y, round(name_y + 1.06 * letters, 1)
    )
