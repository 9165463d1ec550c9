"""A chart before it is drawn: columns of numbers, and which of them are lines, bands, limits, marks and dots."""

from dataclasses import dataclass

from engine import UNITS, as_typed
from webapp.present.figures import plain

TIMES = "times"
"""Unit of what is read as so many times another value."""

Values = tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class Column:
    """One column of numbers.

    Attributes
    ----------
    name : str
        What it is.
    unit : str
        Name of its SI unit, or "times".
    values : tuple of float or None
        Its numbers; None leaves a gap.
    """

    name: str
    unit: str
    values: Values


@dataclass(frozen=True, slots=True)
class Line:
    """A column that is drawn as a line.

    Attributes
    ----------
    column : Column
        The numbers.
    kind : str
        "main", "beside" or "load": how it is drawn.
    name : str
        What stands at its end.
    """

    column: Column
    kind: str
    name: str


@dataclass(frozen=True, slots=True)
class Band:
    """The room between two columns.

    Attributes
    ----------
    low, high : Column
        Its edges.
    kind : str
        "corners", or "load" for that of a load line.
    name : str
        What it is, for the key.
    """

    low: Column
    high: Column
    kind: str
    name: str


@dataclass(frozen=True, slots=True)
class Level:
    """A limit across the chart.

    Attributes
    ----------
    y : float
        Where it is [unit of the chart].
    name : str
        What it is.
    """

    y: float
    name: str


@dataclass(frozen=True, slots=True)
class Mark:
    """A value of what is set that is pointed out.

    Attributes
    ----------
    x : float
        Where it is [unit of the chart].
    name : str
        What it is.
    strong : bool
        Whether it is that of the stage as it is.
    """

    x: float
    name: str
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Dot:
    """A point that is pointed out.

    Attributes
    ----------
    x, y : float
        Where it is [units of the chart].
    name : str
        What it is.
    """

    x: float
    y: float
    name: str


@dataclass(frozen=True, slots=True)
class Zone:
    """A stretch of what is set that is shaded.

    Attributes
    ----------
    low, high : float
        Its ends [unit of the chart].
    name : str
        What it is; empty where it is named elsewhere.
    """

    low: float
    high: float
    name: str = ""


@dataclass(frozen=True, slots=True)
class Chart:
    """Numbers over one quantity, and how they are drawn.

    Attributes
    ----------
    key : str
        Name within addresses.
    title : str
        What is shown.
    condition : str
        Under which it holds, in words.
    x : Column
        What is set; its values rise.
    log_x : bool
        Whether it is drawn over decades.
    y_name : str
        What follows.
    y_unit : str
        Name of its SI unit, or "times".
    columns : tuple of Column
        All numbers, for the table and the file.
    lines : tuple of Line
        What is drawn as a line.
    bands : tuple of Band
        What is drawn as a band.
    limits : tuple of Level
        Limits across.
    marks : tuple of Mark
        Values of what is set.
    dots : tuple of Dot
        Points.
    notes : tuple of str
        Sentences that belong to it.
    top : float or None
        Where the chart is cut off; None for nowhere [y_unit].
    zones : tuple of Zone
        Shaded stretches.
    log_y : bool
        Whether what follows is drawn over decades, however little it varies.
    height : int
        Height of the drawing.
    """

    key: str
    title: str
    condition: str
    x: Column
    log_x: bool
    y_name: str
    y_unit: str
    columns: tuple[Column, ...]
    lines: tuple[Line, ...] = ()
    bands: tuple[Band, ...] = ()
    limits: tuple[Level, ...] = ()
    marks: tuple[Mark, ...] = ()
    dots: tuple[Dot, ...] = ()
    notes: tuple[str, ...] = ()
    top: float | None = None
    zones: tuple[Zone, ...] = ()
    log_y: bool = False
    height: int = 490


def read(value: float | None, unit: str) -> str:
    """Return a number as it is read in a table: three digits and its unit, a dash where there is none."""
    if value is None:
        return "–"
    text = f"{value:.3g} times" if unit == TIMES else plain(value, unit)
    return text.replace("-", "−").rstrip()


def round_text(value: float, unit: str) -> str:
    """Return a round number as it stands on a scale."""
    text = f"{value:g}" if unit == TIMES else as_typed(value, UNITS[unit])
    return text.replace("-", "−")


def finite(values) -> Values:
    """Return numbers with None for what is not one."""
    return tuple(float(value) if value is not None and abs(value) < float("inf") else None for value in values)
