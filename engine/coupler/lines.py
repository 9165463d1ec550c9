"""The lines of a card: what each one is called and may state, how it is read, and how it is written.

A family of couplers declares its lines as dataclass fields; reading and writing work from these declarations alone,
so that what is written reads back as the same card.
"""

import json
from dataclasses import dataclass, field, fields
from itertools import chain

from engine.errors import CardError, QuantityError
from engine.quantity import AMPERE, CELSIUS, FARAD, METRE, OHM, RATIO, SECOND, VOLT, WATT, as_typed, parse, shown
from engine.thermal import derated

_PLAUSIBLE = {
    AMPERE: (1e-6, 100.0),
    VOLT: (1e-3, 20e3),
    WATT: (1e-6, 1e3),
    OHM: (1e-4, 1e6),
    RATIO: (1e-4, 1e3),
    CELSIUS: (-100.0, 300.0),
    METRE: (1e-5, 1.0),
    FARAD: (1e-13, 1e-7),
    SECOND: (1e-9, 0.1),
}
"""By unit, what a line may state unless it says otherwise: far beyond any coupler on either side, never nothing."""

_MOST_POINTS = 24
_MOST_CURVES = 4
_WIDE = 100  # characters of a list, beyond which every entry has a line of its own


@dataclass(frozen=True, slots=True)
class Derating:
    """A rating that falls with ambient temperature.

    Attributes
    ----------
    limit : float
        Rating up to the knee [A or W].
    knee_degC : float
        Ambient temperature at which it begins to fall [degC].
    zero_degC : float
        Ambient temperature at which nothing is left [degC].
    """

    limit: float
    knee_degC: float
    zero_degC: float

    def at(self, TA_degC):
        """Return the rating at an ambient temperature.

        Parameters
        ----------
        TA_degC : float or ndarray
            Ambient temperature [degC].

        Returns
        -------
        float or ndarray
            The rating, never negative; a float for a single temperature [A or W].
        """
        return derated(self.limit, self.knee_degC, self.zero_degC, TA_degC)


@dataclass(frozen=True, slots=True)
class Line:
    """Declaration of one line.

    Attributes
    ----------
    path : str
        Dotted name in the file.
    kind : str
        "words", "quantity", "number", "flag", "choice", "row", "points", "curves" or "derating".
    units : tuple of Unit
        Units of its values, in order.
    bounds : tuple or None
        Smallest and largest value; for words, the most characters [unit].
    choices : tuple of str
        Words to choose from.
    optional : bool
        Whether a card may leave it out.
    """

    path: str
    kind: str
    units: tuple = ()
    bounds: tuple | None = None
    choices: tuple = ()
    optional: bool = False


def _declared(line, default):
    return field(metadata={"line": line}, **({"default": default[0]} if default else {}))


def words(path, most):
    """Return a field for words for people.

    Parameters
    ----------
    path : str
        Dotted name of the line.
    most : int
        The most characters.

    Returns
    -------
    dataclasses.Field
        Field with the declaration in its metadata.
    """
    return _declared(Line(path, "words", bounds=(1, most)), ())


def quantity(path, unit, bounds=None, *default):
    """Return a field for a quantity.

    Parameters
    ----------
    path : str
        Dotted name of the line.
    unit : Unit
        Its unit.
    bounds : tuple of (float, float) or None
        Smallest and largest value; None for what is plausible of the unit [unit].
    *default : object
        What the field holds where the card leaves the line out; without one it may not.

    Returns
    -------
    dataclasses.Field
        Field with the declaration in its metadata.
    """
    return _declared(Line(path, "quantity", (unit,), bounds, optional=bool(default)), default)


def number(path, bounds, *default):
    """Return a field for a plain number.

    Parameters
    ----------
    path : str
        Dotted name of the line.
    bounds : tuple of (float, float)
        Smallest and largest value [-].
    *default : object
        As of `quantity`.

    Returns
    -------
    dataclasses.Field
        Field with the declaration in its metadata.
    """
    return _declared(Line(path, "number", bounds=bounds, optional=bool(default)), default)


def row(path, *units, optional=False):
    """Return a field for a row of quantities; None where an optional one is left out.

    Parameters
    ----------
    path : str
        Dotted name of the line.
    *units : Unit
        Unit of each.
    optional : bool
        Whether a card may leave it out.

    Returns
    -------
    dataclasses.Field
        Field with the declaration in its metadata.
    """
    return _declared(Line(path, "row", units, optional=optional), (None,) if optional else ())


def points(path, *units, optional=False):
    """Return a field for a list of rows; empty where an optional one is left out.

    Parameters
    ----------
    path : str
        Dotted name of the line.
    *units : Unit
        Unit of each value of a row.
    optional : bool
        Whether a card may leave it out.

    Returns
    -------
    dataclasses.Field
        Field with the declaration in its metadata.
    """
    return _declared(Line(path, "points", units, optional=optional), ((),) if optional else ())


def curves(path, *units):
    """Return a field for curves: each a quantity under "IF" and its "points".

    Parameters
    ----------
    path : str
        Dotted name of the line.
    *units : Unit
        Unit of the quantity, then of each value of a point.

    Returns
    -------
    dataclasses.Field
        Field with the declaration in its metadata.
    """
    return _declared(Line(path, "curves", units), ())


def derating(path, unit):
    """Return a field for a rating that falls with temperature: limit, knee, zero.

    Parameters
    ----------
    path : str
        Dotted name of the line.
    unit : Unit
        Unit of the limit.

    Returns
    -------
    dataclasses.Field
        Field with the declaration in its metadata.
    """
    return _declared(Line(path, "derating", (unit, CELSIUS, CELSIUS)), ())


def flag(path):
    """Return a field for a yes or no that a card may leave out, which means no.

    Parameters
    ----------
    path : str
        Dotted name of the line.

    Returns
    -------
    dataclasses.Field
        Field with the declaration in its metadata.
    """
    return _declared(Line(path, "flag", optional=True), (False,))


def choice(path, choices, *default):
    """Return a field for one word of several.

    Parameters
    ----------
    path : str
        Dotted name of the line.
    choices : tuple of str
        The words.
    *default : object
        As of `quantity`.

    Returns
    -------
    dataclasses.Field
        Field with the declaration in its metadata.
    """
    return _declared(Line(path, "choice", choices=choices, optional=bool(default)), default)


def lines_declared(card):
    """Return the declared lines of a card or of its class.

    Parameters
    ----------
    card : type or Card
        A family's dataclass or an instance of it.

    Returns
    -------
    dict of str to Line
        Attribute name to declaration, in order.
    """
    return {f.name: f.metadata["line"] for f in fields(card) if "line" in f.metadata}


class _Reader:
    """The parsed lines of one card, read with an error that names the line."""

    def __init__(self, name, table):
        self.name = name
        self.table = table

    def refuse(self, line, reason):
        raise CardError(self.name, line.path, reason)

    def entry(self, line):
        """Return the raw entry of a line; None where an optional one is absent."""
        entry = self.table
        for key in line.path.split("."):
            if not isinstance(entry, dict) or key not in entry:
                return None if line.optional else self.refuse(line, "the line is missing")
            entry = entry[key]
        return _Given(entry)

    def words(self, line, entry):
        _, most = line.bounds
        if not isinstance(entry, str) or not entry.strip() or not entry.isprintable():
            self.refuse(line, "it is not text")
        if len(entry) > most:
            self.refuse(line, f"it is longer than {most} characters")
        return entry

    def choice(self, line, entry):
        if entry not in line.choices:
            self.refuse(line, f"'{shown(str(entry))}' is not one of {', '.join(line.choices)}")
        return entry

    def flag(self, line, entry):
        if not isinstance(entry, bool):
            self.refuse(line, "it is neither true nor false")
        return entry

    def number(self, line, entry):
        if isinstance(entry, bool) or not isinstance(entry, int | float):
            self.refuse(line, "it is not a plain number")
        low, high = line.bounds
        if not low <= entry <= high:
            self.refuse(line, f"{shown(str(entry))} is not within {low:g} to {high:g}")
        return float(entry)

    def quantity(self, line, entry):
        return self.parsed(line, entry, line.units[0])

    def row(self, line, entry):
        return self.values(line, entry, line.units)

    def points(self, line, entry):
        return tuple(self.values(line, values, line.units) for values in self.listed(line, entry, _MOST_POINTS))

    def curves(self, line, entry):
        found = []
        for curve in self.listed(line, entry, _MOST_CURVES):
            if not isinstance(curve, dict) or curve.keys() != {"IF", "points"}:
                self.refuse(line, "a curve has IF and points")
            rows = self.listed(line, curve["points"], _MOST_POINTS)
            IF = self.parsed(line, curve["IF"], line.units[0])
            found.append((IF, tuple(self.values(line, values, line.units[1:]) for values in rows)))
        return tuple(found)

    def derating(self, line, entry):
        rating = Derating(*self.values(line, entry, line.units))
        if not rating.knee_degC < rating.zero_degC:
            self.refuse(line, "the rating must begin to fall before nothing is left")
        return rating

    def listed(self, line, entries, most):
        """Return what must be a list of bounded length."""
        if not isinstance(entries, list):
            self.refuse(line, "it is not a list")
        if len(entries) > most:
            self.refuse(line, f"it has more than {most} entries")
        return entries

    def values(self, line, entry, units):
        """Return one tuple of quantities."""
        if not isinstance(entry, list) or len(entry) != len(units):
            self.refuse(line, f"a point has {len(units)} values")
        return tuple(self.parsed(line, text, unit) for text, unit in zip(entry, units, strict=True))

    def parsed(self, line, text, unit):
        """Return one quantity in SI units."""
        if not isinstance(text, str):
            self.refuse(line, f"'{shown(str(text))}' is not text with a unit; write {unit.example}")
        try:
            value = parse(text, unit)
        except QuantityError as error:
            raise CardError(self.name, line.path, str(error)) from error
        low, high = bounds_of(line, unit)
        if not low <= value <= high:
            span = f"{as_typed(low, unit)} to {as_typed(high, unit)}"
            self.refuse(line, f"'{shown(text)}' is not within {span}")
        return value


@dataclass(frozen=True, slots=True)
class _Given:
    """An entry that is there, whatever it is."""

    value: object


def read(kind, name, table):
    """Return the card of one family that a parsed file states.

    Parameters
    ----------
    kind : type
        The family's dataclass.
    name : str
        Name in links.
    table : dict
        Parsed file.

    Returns
    -------
    Card
        The card.

    Raises
    ------
    CardError
        If a line is missing, unknown, cannot be read, or cannot be true.
    """
    reader, values, declared = _Reader(name, table), {}, lines_declared(kind)
    for attribute, line in declared.items():
        given = reader.entry(line)
        if given is not None:
            values[attribute] = getattr(reader, line.kind)(line, given.value)
    _refuse_unknown(name, table, {"family", *(line.path for line in declared.values())})
    return kind(name=name, **values)


def read_line(name, line, entry):
    """Return what one line states.

    Parameters
    ----------
    name : str
        Name of the card, for the error.
    line : Line
        The declaration.
    entry : object
        What a parsed file holds for it.

    Returns
    -------
    object
        What the card's attribute holds.

    Raises
    ------
    CardError
        If it cannot be read, or lies outside of what the line may state.
    """
    return getattr(_Reader(name, {}), line.kind)(line, entry)


def line_written(line, value):
    """Return one line as a file holds it.

    Parameters
    ----------
    line : Line
        The declaration.
    value : object
        What the card's attribute holds.

    Returns
    -------
    object
        Text, plain number, list or table.
    """
    return _WRITERS[line.kind](line, value)


def bounds_of(line, unit):
    """Return what a value of a line may be.

    Parameters
    ----------
    line : Line
        The declaration.
    unit : Unit
        The unit of the value, one of the line's.

    Returns
    -------
    tuple of (float, float)
        Smallest and largest value [unit].
    """
    return line.bounds or _PLAUSIBLE[unit]


def _refuse_unknown(name, table, known):
    """Raise for the first entry that is no line of the family."""
    sections = {path.rsplit(".", depth)[0] for path in known for depth in (1, 2)} - known
    waiting = [("", table)]
    while waiting:
        path, inside = waiting.pop()
        for key, entry in inside.items():
            below = f"{path}{key}"
            if below in known:
                continue
            if below not in sections:
                raise CardError(name, shown(below), "there is no such line")
            if not isinstance(entry, dict):
                raise CardError(name, below, "it is not a section")
            waiting.append((f"{below}.", entry))


def written(card):
    """Return the lines of a card as nested tables of what a file holds.

    Parameters
    ----------
    card : Card
        The card.

    Returns
    -------
    dict
        Tables, texts and plain numbers; lines that are as if left out are absent.
    """
    table = {"family": card.family}
    for attribute, line in lines_declared(card).items():
        value = getattr(card, attribute)
        if line.optional and value in (None, (), False):
            continue
        *path, last = line.path.split(".")
        inside = table
        for key in path:
            inside = inside.setdefault(key, {})
        inside[last] = _WRITERS[line.kind](line, value)
    return table


def _row_written(units, values):
    return [as_typed(value, unit) for value, unit in zip(values, units, strict=True)]


def _as_is(line, value):
    return value


_WRITERS = {
    "words": _as_is,
    "choice": _as_is,
    "flag": _as_is,
    "number": _as_is,
    "quantity": lambda line, value: as_typed(value, line.units[0]),
    "row": lambda line, values: _row_written(line.units, values),
    "points": lambda line, rows: [_row_written(line.units, values) for values in rows],
    "curves": lambda line, found: [
        {
            "IF": as_typed(IF, line.units[0]),
            "points": [_row_written(line.units[1:], values) for values in rows],
        }
        for IF, rows in found
    ],
    "derating": lambda line, rating: _row_written(line.units, (rating.limit, rating.knee_degC, rating.zero_degC)),
}


def as_text(table):
    """Return nested tables as the text of a file.

    Parameters
    ----------
    table : dict
        Tables, texts and plain numbers.

    Returns
    -------
    str
        TOML: plain lines first, then one section for each table, tables within it in line.
    """
    plain = [f"{key} = {_inline(value)}" for key, value in table.items() if not isinstance(value, dict)]
    sections = (
        ["", f"[{key}]", *(f"{name} = {_inline(value)}" for name, value in entries.items())]
        for key, entries in table.items()
        if isinstance(entries, dict)
    )
    return "\n".join([*plain, *chain.from_iterable(sections), ""])


def _inline(value):
    """Return one value as it stands behind an equals sign."""
    if isinstance(value, dict):
        return f"{{ {', '.join(f'{key} = {_inline(entry)}' for key, entry in value.items())} }}"
    if isinstance(value, list):
        entries = [_inline(entry) for entry in value]
        if sum(map(len, entries)) <= _WIDE:
            return f"[{', '.join(entries)}]"
        return "\n".join(["[", *(f"    {entry}," for entry in entries), "]"])
    if isinstance(value, bool):
        return "true" if value else "false"
    return json.dumps(value, ensure_ascii=False) if isinstance(value, str) else repr(float(value))
