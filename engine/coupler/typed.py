"""Cards as people type them: one text for each line, read with every error at once, and written back the same way.

Lists are written in words of their own: values of a point with a space, points with a comma, curves with a semicolon.
"""

import re
from dataclasses import dataclass, fields

from engine.coupler.calibrate import model_of
from engine.coupler.families import CARD_FAMILIES
from engine.coupler.files import LONGEST_PACKED, pack_card
from engine.coupler.lines import bounds_of, line_written, lines_declared, read_line
from engine.errors import CardError, Problem, ScenarioError
from engine.quantity import as_typed, shown

_SCALED = {
    "LED.VF_volts_per_kelvin": (1e-3, "mV/K"),
    "insulation.CTI": (1.0, "V"),
    "detector.ICEO.doubles_per_kelvin": (1.0, "K"),
}
"""Plain numbers of a file that people write with a unit: its size and the unit."""

_LONGEST = {"quantity": 60, "number": 60, "row": 200, "derating": 200, "points": 1200, "curves": 5000}
"""The most characters by kind of line."""

_WORDS = {"flag": ("no", "yes")}
_PLAIN = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
_MINUS = "\u2212"  # the minus sign of print
_DIGITS = 12  # significant digits kept of a typed number


@dataclass(frozen=True, slots=True)
class TypedLine:
    """One line of a family's cards, as a form asks for it.

    Attributes
    ----------
    path : str
        Dotted name in the file.
    kind : str
        As of `engine.coupler.lines.Line`.
    accepted : str
        What it accepts, in words.
    longest : int
        The most characters.
    words : tuple of str
        Words to choose from; empty for what is typed.
    optional : bool
        Whether it may be left empty.
    usual : str
        What an empty one means, as typed; empty where that is nothing.
    """

    path: str
    kind: str
    accepted: str
    longest: int
    words: tuple
    optional: bool
    usual: str


def typed_lines(family):
    """Return the lines of a family as a form asks for them.

    Parameters
    ----------
    family : str
        One of `CARD_FAMILIES`.

    Returns
    -------
    tuple of TypedLine
        In the order of a card.
    """
    kind = CARD_FAMILIES[family]
    usual = {field.name: field.default for field in fields(kind)}
    return tuple(
        TypedLine(
            line.path,
            line.kind,
            _accepted(line),
            _longest(line),
            _words(line),
            line.optional,
            _as_text(line, usual[name]) if line.optional else "",
        )
        for name, line in lines_declared(kind).items()
    )


def typed_of(card):
    """Return the lines of a card as they are typed.

    Parameters
    ----------
    card : Card
        The card.

    Returns
    -------
    dict of str to str
        Dotted name to text, empty for what the card leaves out; `card_from_typed` reads the same card from it.
    """
    return {line.path: _as_text(line, getattr(card, name)) for name, line in lines_declared(card).items()}


def card_from_typed(name, family, texts):
    """Return the card that typed lines state.

    Parameters
    ----------
    name : str
        Name in links.
    family : str
        One of `CARD_FAMILIES`.
    texts : dict of str to str
        Dotted name to what was typed; a line that is absent counts as empty.

    Returns
    -------
    Card
        The card, for which there is a model, and which can be packed for a link.

    Raises
    ------
    ScenarioError
        With every line that cannot be read; where all can, with the first that cannot be true.
    """
    kind, values, problems = CARD_FAMILIES[family], {}, []
    for attribute, line in lines_declared(kind).items():
        text = texts.get(line.path, "").strip()
        if not text and line.optional:
            continue
        try:
            values[attribute] = read_line(name, line, _raw(name, line, text))
        except CardError as error:
            problems.append(Problem(line.path, shown(text), _accepted(line), error.reason))
    if problems:
        raise ScenarioError(problems)
    try:
        card = model_of(kind(name=name, **values)).card
    except CardError as error:
        path, words = line_of(family, error.line), "lines that can all be met"
        raise ScenarioError([Problem(path, shown(texts.get(path, "")), words, error.reason)]) from error
    if len(pack_card(card)) > LONGEST_PACKED:
        raise ScenarioError([Problem("summary", "", "a card that fits into a link", "the card is too long for a link")])
    return card


def line_of(family, path):
    """Return the line that an error speaks of, where it names a section.

    Parameters
    ----------
    family : str
        One of `CARD_FAMILIES`.
    path : str
        Dotted name of a line or of a section.

    Returns
    -------
    str
        The line itself; of a section its smallest value, else its typical one, else its first line; of what is no
        section, the first line of all.
    """
    paths = [line.path for line in lines_declared(CARD_FAMILIES[family]).values()]
    under = [known for known in paths if known.startswith(f"{path}.")]
    wanted = [path, f"{path}.min", f"{path}.typ", *under]
    return next((known for known in wanted if known in paths), paths[0])


# ---------------------------------------------------------------- from text


def _raw(name, line, text):
    """Return what a parsed file would hold for a typed text."""
    if not text:
        raise CardError(name, line.path, "it is empty")
    if len(text) > _longest(line):
        raise CardError(name, line.path, f"it is longer than {_longest(line)} characters")
    return _READERS.get(line.kind, _as_is)(name, line, text)


def _as_is(name, line, text):
    return text


def _one_line(name, line, text):
    return " ".join(part.strip() for part in text.splitlines())


def _plain(name, line, text):
    scale, unit = _SCALED.get(line.path, (1.0, ""))
    number = text.replace(_MINUS, "-").removesuffix(unit).strip()
    if not _PLAIN.fullmatch(number):
        raise CardError(name, line.path, f"'{shown(text)}' is not a number{f' of {unit}' if unit else ''}")
    return float(f"{float(number) * scale:.{_DIGITS}g}")


def _chosen(name, line, text):
    if text not in _WORDS["flag"]:
        raise CardError(name, line.path, f"'{shown(text)}' is neither yes nor no")
    return text == "yes"


def _parts(text, separators):
    return [part.strip() for part in re.split(separators, text) if part.strip()]


def _values(name, line, text, count):
    """Return the values of a typed point; a word that does not begin like a number belongs to the one before."""
    values = []
    for word in text.split():
        if values and not re.match(rf"[0-9.+{_MINUS}-]", word):
            values[-1] += f" {word}"
        else:
            values.append(word)
    if len(values) != count:
        raise CardError(name, line.path, f"'{shown(text)}' is not a point of {count} values")
    return values


def _row(name, line, text):
    return _parts(text, "[,;\n]")


def _points(name, line, text, separators="[,;\n]", skip=0):
    return [_values(name, line, part, len(line.units) - skip) for part in _parts(text, separators)]


def _curves(name, line, text):
    found = []
    for part in _parts(text, "[;\n]"):
        IF, colon, rest = part.partition(":")
        if not colon:
            raise CardError(name, line.path, f"'{shown(part)}' has no colon; write 1 mA: 0 C 116 %, 25 C 100 %")
        found.append({"IF": IF.strip(), "points": _points(name, line, rest, ",", skip=1)})
    return found


_READERS = {
    "words": _one_line,
    "number": _plain,
    "flag": _chosen,
    "row": _row,
    "derating": _row,
    "points": _points,
    "curves": _curves,
}

# ---------------------------------------------------------------- to text


def _as_text(line, value):
    if line.optional and value in (None, ()):
        return ""
    if line.kind == "flag":
        return _WORDS["flag"][value]
    if line.kind == "number":
        scale, unit = _SCALED.get(line.path, (1.0, ""))
        return f"{value / scale:.{_DIGITS}g} {unit}".strip()
    return _PRINTERS.get(line.kind, str)(line_written(line, value))


_PRINTERS = {
    "row": ", ".join,
    "derating": ", ".join,
    "points": lambda rows: ", ".join(map(" ".join, rows)),
    "curves": lambda found: ";\n".join(
        f"{curve['IF']}: {', '.join(map(' '.join, curve['points']))}" for curve in found
    ),
}

# ---------------------------------------------------------------- what a line accepts


def _words(line):
    return _WORDS.get(line.kind, line.choices)


def _longest(line):
    return line.bounds[1] if line.kind == "words" else _LONGEST.get(line.kind, 60)


def _accepted(line):
    """Return what a line accepts, in words."""
    if line.kind == "words":
        return f"1 to {line.bounds[1]} characters"
    if words := _words(line):
        return " or ".join(words)
    if line.kind == "number":
        scale, unit = _SCALED.get(line.path, (1.0, ""))
        low, high = (f"{end / scale:g}" for end in line.bounds)
        return f"{low} to {high} {unit}".strip()
    spans = [_span(line, unit) for unit in line.units]
    if line.kind == "derating":
        return f"{spans[0]}, then the temperature of the knee and that of nothing left"
    return ", ".join(spans)


def _span(line, unit):
    low, high = bounds_of(line, unit)
    return f"{as_typed(low, unit)} to {as_typed(high, unit)}"
