"""A link as a QR code: one path to draw, its quiet zone within."""

from dataclasses import dataclass
from functools import lru_cache

import segno
from segno.encoder import DataOverflowError

QUIET = 4
"""Width of the empty frame that readers need, in modules."""

MODULE, LEAST = 4, 240
"""Width of a module on a screen, and the least width of a whole code there, in pixels."""

DENSE = 109
"""Modules along an edge from which on a camera has to come close."""


@dataclass(frozen=True, slots=True)
class QRView:
    """A QR code as printed.

    Attributes
    ----------
    size : int
        Modules along an edge, with the empty frame.
    pixels : int
        Width on a screen.
    path : str
        Dark modules.
    dense : bool
        Whether it takes a good camera.
    """

    size: int
    pixels: int
    path: str
    dense: bool


@lru_cache(maxsize=32)
def qr_of(link: str) -> QRView | None:
    """Return the code of a link; None where the link is longer than any code holds."""
    try:
        code = segno.make(link, error="l", micro=False, boost_error=True)
    except DataOverflowError:
        return None
    size = code.symbol_size(border=QUIET)[0]
    return QRView(size, max(size * MODULE, LEAST), "".join(_runs(code.matrix)), size >= DENSE)


def _runs(matrix):
    """Yield the dark modules of every row, each stretch of them as one rectangle."""
    for y, row in enumerate(matrix, QUIET):
        x = 0
        while x < len(row):
            start = x
            while x < len(row) and row[x]:
                x += 1
            if x > start:
                yield f"M{start + QUIET} {y}h{x - start}v1h{start - x}z"
            x += x == start
