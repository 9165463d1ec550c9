"""The layout of an input side: a driver on the left, then what is around the LED, the LED at the barrier on the right.

Two rails run from left to right. Parts in series stand on a rail, parts in parallel between the rails; every one takes
the room that it and its label need, and the side grows with them.
"""

from itertools import pairwise

from webapp.present.drawings.parts import WIDTHS, Arrow, Flag, Layout, Symbol

TOP, MIDDLE, BOTTOM = 112, 187, 262
LEFT = 56
_START = 100  # where the supply's node has its flag
_BESIDE_SUPPLY = 160  # from where the room between the rails is free of the supply's label
_PITCH = 128  # from node to node along a rail: room for a part, and for a flag on either node
_ROOM = 112  # from one part between the rails to the next: room for its label
_LED_AT = 60  # from the LED to the barrier
_KINDS = {"R1": "resistor", "RB": "resistor", "RH": "resistor", "RI": "resistor", "RW": "resistor", "D2": "diode",
          "D3": "diode", "Z1": "zener", "H1": "lamp", "CF": "capacitor", "S1": "switch", "B1": "loopsensor",
          "B2": "limiter", "RBD": "resistor", "RF": "resistor",
          "CD": "capacitor", "CS": "capacitor", "D4": "diode", "D5": "diode"}  # fmt: skip
_HALF = {"resistor": 36, "switch": 36, "diode": 30, "zener": 30, "lamp": 30, "capacitor": 30, "loopsensor": 36,
         "limiter": 36}  # fmt: skip
_ABOVE = ("resistor", "zener", "diode")
_TALL = ("loopsensor",)


class Ladder:
    """Collects the pieces of a side while it grows to the right.

    Parameters
    ----------
    side : object
        The input side.
    """

    def __init__(self, side):
        self.side = side
        self.symbols, self.wires, self.dots, self.flags = [], [], [], []
        self.x = _START
        self.free = _START  # from where the room between the rails is free
        self.top = self.bottom = None  # the last point of either rail
        self.height = None

    def symbol(self, kind, part, at, turn=0, label=(0, 0, "middle")):
        """Place a symbol.

        Parameters
        ----------
        kind : str
            Kind of symbol.
        part : str
            Part of the circuit.
        at : tuple of (int, int)
            Middle.
        turn : int
            Degrees clockwise.
        label : tuple of (int, int, str)
            Where its label stands.
        """
        self.symbols.append(Symbol(kind, part, *at, turn, label))

    def wire(self, *points):
        """Place a wire, without points that it would double."""
        kept = [point for point, after in pairwise((*points, None)) if point != after]
        if len(kept) > 1:
            self.wires.append(tuple(kept))

    def supply(self, *, narrow=False, kind="source"):
        """Place the supply and the reference under it, and begin both rails there; its label beside or above it."""
        label = (LEFT + 10, TOP + 20, "start") if narrow else (LEFT + 28, MIDDLE - 4, "start")
        self.symbol(kind, "VS", (LEFT, MIDDLE), label=label)
        self.free = _START if narrow else _BESIDE_SUPPLY
        self.symbols.append(Symbol("reference", "", LEFT, BOTTOM, label=(LEFT, BOTTOM + 28, "middle")))
        self.wire((LEFT, MIDDLE + 22), (LEFT, BOTTOM))
        self.top, self.bottom = ((LEFT, MIDDLE - 22), (LEFT, TOP)), ((LEFT, BOTTOM),)

    def flag_top(self, node, x, at=None):
        """Write the voltage of a node of the upper rail."""
        self.flags.append(Flag(node, x, 40, (at if at is not None else x, TOP)))

    def flag_bottom(self, node, x, at=None):
        """Write the voltage of a node of the lower rail, between the rails."""
        self.flags.append(Flag(node, x, 186, (at if at is not None else x, BOTTOM)))
        self.free = max(self.free, x + 92)

    def along_top(self, part, node, *, pitch=_PITCH):
        """Place a part on the upper rail, and the node behind it."""
        middle = self.x + pitch // 2
        self._on_rail(part, middle, TOP)
        self.x += pitch
        if node:
            self.flag_top(node, self.x)

    def along_bottom(self, part, x):
        """Place a part on the lower rail around a place."""
        self._on_rail(part, x, BOTTOM)

    def _on_rail(self, part, x, y):
        """Place a part on a rail, wired to what comes before it."""
        kind = _KINDS[part]
        half, upper = _HALF[kind], y == TOP
        above = -17 if kind == "resistor" else -20
        below = 34 if kind in _TALL else 30
        label = (x, y + above if upper and kind in _ABOVE else y + below, "middle")
        self.symbol(kind, part, (x, y), 0 if upper or kind in ("resistor", "switch", "loopsensor") else 180, label)
        path = self.top if upper else self.bottom
        self.wire(*path, (x - half, y))
        if upper:
            self.top = ((x + half, y),)
        else:
            self.bottom = ((x + half, y),)

    def beside(self, part, upwards=False):
        """Place a part between the rails; its label stands to its right."""
        kind, x = _KINDS[part], self._column()
        self.symbol(kind, part, (x, MIDDLE), 270 if upwards else 90, (x + 18, MIDDLE - 4, "start"))
        self._tie((x, TOP), (x, MIDDLE - _HALF[kind]))
        self._tie((x, BOTTOM), (x, MIDDLE + _HALF[kind]))
        self.free = x + _ROOM

    def lamp_beside(self):
        """Place the indicator with its resistor between the rails."""
        x = self._column()
        lamp = x + 76
        self.symbol("resistor", "RH", (x, TOP + 40), 90, (x - 18, TOP + 30, "end"))
        self.symbol("lamp", "H1", (lamp, BOTTOM - 34), 90, (lamp - 18, BOTTOM - 40, "end"))
        self._tie((x, TOP), (x, TOP + 4))
        self.wire((x, TOP + 76), (x, TOP + 80), (lamp, TOP + 80), (lamp, BOTTOM - 64))
        self._tie((lamp, BOTTOM), (lamp, BOTTOM - 4))
        self.flags.append(Flag("X4", lamp, 136, (lamp, TOP + 80)))
        self.free = lamp + 78

    def _column(self):
        """Return where the next part between the rails stands."""
        self.x = max(self.x + 22, self.free)
        return self.x

    def _tie(self, rail, terminal):
        """Wire a terminal to a rail, with a dot where it meets it."""
        self.wire(rail, terminal)
        self.dots.append(rail)

    def join_top(self, x):
        """Run the upper rail up to a point that wires from elsewhere end on."""
        self.top = (*self.top, (x, TOP))
        self.x = max(self.x, x)

    def across_switch(self, x, upper):
        """Place the bypass resistor beside a switch that stands on a rail around a place."""
        y, rail = (TOP + 56, TOP) if upper else (BOTTOM + 50, BOTTOM)
        self.symbol("resistor", "RB", (x, y), 0, (x - 24, y + 28, "start"))
        for sign in (-1, 1):
            corner = x + sign * 50
            self.wire((corner, rail), (corner, y), (x + sign * 36, y))
            self.dots.append((corner, rail))
        self.height = None if upper else 356
        if upper:
            self.free = max(self.free, x + 60)

    def finish(self):
        """Place the LED at the barrier and the arrow of its current.

        Returns
        -------
        Layout
            The whole side.
        """
        inside = "RI" in dict(self.side.branch)
        if inside:
            self.x = max(self.x + 10, self.free - 40)
            outline = self.x + _PITCH // 2 - 46
            self.along_top("RI", "AI")
        least = max(self.x + 34, self.free + 6)
        width = next(size for size in WIDTHS if size - _LED_AT >= least)
        led = width - _LED_AT
        self.symbol("led", "LED", (led, MIDDLE), 90, (led + 14, MIDDLE + 42, "start"))
        self.wire(*self.top, (led, TOP), (led, MIDDLE - 30))
        self.wire((led, MIDDLE + 30), (led, BOTTOM), *reversed(self.bottom))
        arrow = Arrow("IF", "LED", led - 36, BOTTOM, 180, (led - 52, BOTTOM + 18, "middle"))
        outline = outline if inside else led - 32
        return Layout(
            tuple(self.symbols), tuple(self.wires), tuple(self.dots), tuple(self.flags), (arrow,), width, outline,
            **({"height": self.height} if self.height else {}),
        )  # fmt: skip


def branch(ladder, across=None):
    """Place everything from the feed to the LED, which the ladder has reached with its upper rail.

    Parameters
    ----------
    ladder : Ladder
        Where to place it.
    across : callable or None
        Places on the ladder what switches by lying across the LED.

    Returns
    -------
    Layout
        The whole side.
    """
    side, shunts = ladder.side, ladder.side.shunts
    if "RB" in shunts and side.bypass_at == "input":
        ladder.beside("RB")
    if "RH" in shunts:
        ladder.lamp_beside()
    if ladder.free > ladder.x and ("RH" in shunts or ("RB" in shunts and side.bypass_at == "input")):
        ladder.x = ladder.free - 56
    series = [part for part, _ in side.branch if part not in ("RI", "LED")]
    ends = [node for part, node in side.branch if part != "R1"]
    pitch = _pitch(ladder, series, shunts)
    for part, node in zip(series, ends, strict=False):
        ladder.along_top(part, node, pitch=pitch)
    if across:
        across(ladder)
    if "RB" in shunts and shunts["RB"] == ("A", side.cathode):
        ladder.beside("RB")
    if "D3" in shunts:
        ladder.beside("D3", upwards=True)
    if "CF" in shunts:
        ladder.beside("CF")
    return ladder.finish()


def _pitch(ladder, series, shunts):
    """Return how far apart the nodes stand: further where a plain stage leaves room."""
    room = WIDTHS[0] - _LED_AT - 46 - ladder.x
    plain = len(series) * _PITCH <= room and not shunts and "RI" not in dict(ladder.side.branch)
    return min(room // len(series) // 2 * 2, 250) if plain else _PITCH
