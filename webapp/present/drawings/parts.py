"""The pieces of a drawing, in the units of its view box.

A symbol's terminals are stated here; `tests/webapp` proves that every wire ends on one, on another wire or on a
reference.
"""

from dataclasses import dataclass

WIDTHS = tuple(range(460, 1741, 40))
"""Widths that a side may have; the first one unless it needs more."""

WIDTH, HEIGHT = WIDTHS[0], 300
"""Size of one side, unless a drawing says otherwise."""

_PARTS = {
    "resistor": ((-36, 0), (36, 0)),
    "source": ((0, -22), (0, 22)),
    "reference": ((0, 0),),
    "diode": ((-30, 0), (30, 0)),
    "zener": ((-30, 0), (30, 0)),
    "lamp": ((-30, 0), (30, 0)),
    "capacitor": ((-30, 0), (30, 0)),
    "npn": ((-24, 0), (18, -46), (18, 46)),
    "nmos": ((-24, 0), (18, -46), (18, 46)),
}
_HALVES = {
    "led": ((-30, 0), (30, 0)),
    "ledpair": ((-30, 0), (30, 0)),
    "detector": ((18, -46), (18, 46)),
    "reversed": ((18, -46), (18, 46)),
    "based": ((18, -46), (18, 46), (-26, 8)),
    "darlington": ((18, -46), (18, 46)),
    "opengate": ((18, -46), (18, 46)),
    "photorelay": ((18, -46), (18, 46)),
    "gatedriver": ((0, -46), (40, 0), (0, 46)),
    "optotriac": ((18, -46), (18, 46)),
}
_LOADS = {
    "receiver": ((0, -18),),
    "plcinput": ((0, -36), (0, 36)),
    "coil": ((-30, 0), (30, 0)),
    "clamp": ((-30, 0), (30, 0)),
    "igbt": ((-24, 0), (18, 46)),
    "triac": ((0, -46), (-34, 24), (0, 46)),
}
_DRIVES = {
    "acsource": ((0, -22), (0, 22)),
    "driver": ((0, -22), (0, 22)),
    "switch": ((-36, 0), (36, 0)),
    "port": ((0, -60), (44, -20), (0, 60)),
    "sensor": ((0, -60), (44, -20), (0, 60)),
    "loopsensor": ((-36, 0), (36, 0)),
    "limiter": ((-36, 0), (36, 0)),
}
TERMINALS = {**_PARTS, **_HALVES, **_LOADS, **_DRIVES}
"""Kind of symbol to where its terminals are, from its middle, not turned."""

SHEETS = {
    kind: sheet
    for sheet, kinds in (("parts", _PARTS), ("halves", _HALVES), ("loads", _LOADS), ("drives", _DRIVES))
    for kind in kinds
}
"""Kind of symbol to the file of macros that holds it."""


@dataclass(frozen=True, slots=True)
class Symbol:
    """A part as drawn.

    Attributes
    ----------
    kind : str
        Name of the macro that draws it, a key of `TERMINALS`.
    part : str
        Part of the circuit; empty for a reference.
    x : int
        Middle.
    y : int
        Middle.
    turn : int
        Degrees clockwise.
    label : tuple of (int, int, str)
        Where its label stands and how it is anchored: x, y, "start", "middle" or "end".
    """

    kind: str
    part: str
    x: int
    y: int
    turn: int = 0
    label: tuple = (0, 0, "middle")

    @property
    def terminals(self):
        """Return where the terminals are on the drawing."""
        return tuple((self.x + dx, self.y + dy) for dx, dy in (_turned(p, self.turn) for p in TERMINALS[self.kind]))


def _turned(point, degrees):
    """Return a point turned clockwise by a multiple of 90 degrees."""
    x, y = point
    for _ in range(degrees // 90 % 4):
        x, y = -y, x
    return x, y


@dataclass(frozen=True, slots=True)
class Flag:
    """Where the voltage of a node is written.

    Attributes
    ----------
    node : str
        The node.
    x : int
        Middle of the flag.
    y : int
        Top of the flag.
    at : tuple of (int, int)
        Where its pole meets the wire.
    """

    node: str
    x: int
    y: int
    at: tuple


@dataclass(frozen=True, slots=True)
class Arrow:
    """Where the current of a branch is written.

    Attributes
    ----------
    symbol : str
        What it is called.
    part : str
        Part whose current it is.
    x : int
        Tip of the arrow.
    y : int
        Tip of the arrow.
    turn : int
        Direction of positive current: 0 right, 90 down, 180 left, 270 up.
    label : tuple of (int, int, str)
        Where its text stands: x, y, anchor.
    """

    symbol: str
    part: str
    x: int
    y: int
    turn: int
    label: tuple


@dataclass(frozen=True, slots=True)
class Layout:
    """One side, laid out.

    Attributes
    ----------
    symbols : tuple of Symbol
        Every part once.
    wires : tuple of tuple of (int, int)
        Polylines.
    dots : tuple of (int, int)
        Where three wires meet.
    flags : tuple of Flag
        Node voltages.
    arrows : tuple of Arrow
        Branch currents.
    width : int
        Width of the view box, one of `WIDTHS`.
    outline : int or None
        Where the outline of the coupler begins on this side, from the left; None for the usual place.
    height : int
        Height of the view box.
    """

    symbols: tuple
    wires: tuple
    dots: tuple
    flags: tuple
    arrows: tuple
    width: int = WIDTH
    outline: int | None = None
    height: int = HEIGHT
