"""What symbols and terms mean: one source for the page of terms and for every symbol that explains itself.

The sentences stand in `terms.toml`, each under its symbol or word. Nothing here knows a stage or a page.
"""

import json
import re
import tomllib
from dataclasses import dataclass
from pathlib import Path

LONGEST_SENTENCE = 200
"""Characters of a sentence: it is read beside a drawing, not instead of it."""


@dataclass(frozen=True, slots=True)
class Term:
    """A symbol or a word of the trade, and what it means.

    Attributes
    ----------
    symbol : str
        As it is printed: `VCE(sat)`, `creepage`.
    name : str
        What it is called.
    sentence : str
        What it means.
    unit : str
        Its SI unit; empty for what is no quantity.
    see : tuple of str
        Symbols of terms beside it.
    covers : tuple of str
        Further symbols and labels that it explains.
    """

    symbol: str
    name: str
    sentence: str
    unit: str = ""
    see: tuple[str, ...] = ()
    covers: tuple[str, ...] = ()

    @property
    def id(self) -> str:
        """Return the name of its place on the page of terms."""
        return id_of(self.symbol)

    @property
    def measured_in(self) -> str:
        """Return its unit as it is printed; empty for a count or a ratio."""
        return _PRINTED.get(self.unit, self.unit)

    @property
    def named(self) -> str:
        """Return its name; empty where that is the symbol once more."""
        return "" if self.name.lower() == self.symbol.lower() else self.name


def id_of(symbol: str) -> str:
    """Return a symbol as part of an address."""
    return re.sub(r"[^A-Za-z0-9]+", "-", symbol).strip("-")


def _read() -> dict[str, Term]:
    """Return symbol to term, as the file has them."""
    listed = tomllib.loads((Path(__file__).parent / "terms.toml").read_text(encoding="utf-8"))
    lists = ("see", "covers")
    return {
        symbol: Term(symbol, **{key: tuple(value) if key in lists else value for key, value in fields.items()})
        for symbol, fields in listed.items()
    }


_PRINTED = {"1": "", "count": "", "ohm": "Ω", "degC": "°C", "a": "years", "deg": "°"}
"""Unit to how it is printed, where that differs."""

TERMS = _read()
"""Symbol to term."""

NOTES = "terms.json"
"""Name of the file that tells a page what every term means."""


def notes() -> bytes:
    """Return that file: every term's id to what is shown of it: its symbol, name, unit and sentence."""
    told = {term.id: (term.symbol, term.named, term.measured_in, term.sentence) for term in TERMS.values()}
    return json.dumps(told, ensure_ascii=False, separators=(",", ":")).encode()


_BY_LABEL = {label: term for term in TERMS.values() for label in (term.symbol, *term.covers)}


def term_of(label: str) -> Term | None:
    """Return the term that a label is about; None if it has none.

    Parameters
    ----------
    label : str
        A symbol as printed or as named in JSON (`IC_needed`), or a label that begins with one (`VCE(sat), typical`).

    Returns
    -------
    Term or None
        The term.
    """
    return _BY_LABEL.get(symbol_in(label))


def symbol_in(label: str) -> str:
    """Return the part of a label that a term is about: all of it, or what stands before its comma."""
    symbol = label.replace("_", " ").strip()
    return symbol if symbol in _BY_LABEL else symbol.partition(",")[0]


_SHORTEST_NAME = 8  # letters from which a name is no word of everyday speech


def _spoken() -> dict[str, Term]:
    """Return what a text may say of a term to the term: symbols as they are, words of the trade in small letters."""
    symbols = {label: term for label, term in _BY_LABEL.items() if len(label) > 1 and not label[1].islower()}
    words = {term.symbol: term for term in TERMS.values() if term.symbol.islower()}
    names = {term.name: term for term in TERMS.values() if " " in term.name and len(term.name) >= _SHORTEST_NAME}
    return names | words | symbols


_SPOKEN = _spoken()
_WORDS = re.compile(
    "|".join(rf"(?<![\w(]){re.escape(label)}(?![\w(])" for label in sorted(_SPOKEN, key=len, reverse=True))
)


def terms_said(text: str) -> tuple[Term, ...]:
    """Return the terms that a text speaks of, each once, in the order in which it does."""
    return tuple(dict.fromkeys(_SPOKEN[found] for found in _WORDS.findall(text)))
