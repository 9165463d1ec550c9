"""Numbers as people read them: a reading large, its range small."""

from dataclasses import dataclass

from engine import UNITS, reading, span


@dataclass(frozen=True, slots=True)
class Figure:
    """One number with its range.

    Attributes
    ----------
    number : str
        The nominal number.
    unit : str
        Its prefixed unit.
    range : str
        The worst-case range, with a unit where it needs one of its own; empty where nothing varies.
    """

    number: str
    unit: str
    range: str

    @property
    def text(self):
        """Return number and unit in one."""
        return f"{self.number} {self.unit}"

    @property
    def spoken(self):
        """Return number, unit and range in words."""
        return f"{self.text}, {self.range} at worst" if self.range else self.text


def figure(found):
    """Return a range of the engine as a figure."""
    unit = UNITS[found.unit]
    number, prefixed = reading(found.value, unit)
    text, own = span(found.low, found.high, unit)
    if not own:
        text, own = span(found.low, found.high, unit, digits=2)
    if text and own not in ("", prefixed):
        text = f"{text} {own}"
    return Figure(number, prefixed, text)


def plain(value, unit):
    """Return one value as text, without a range."""
    return " ".join(reading(value, UNITS[unit]))
