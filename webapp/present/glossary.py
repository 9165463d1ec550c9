"""All symbols and terms in order, for their page, with the names of parts and nodes on drawings."""

from dataclasses import dataclass

from webapp.present.names import NODE_NAMES, PART_NAMES
from webapp.terms import TERMS, Term


@dataclass(frozen=True, slots=True)
class Glossary:
    """The page of terms.

    Attributes
    ----------
    terms : tuple of (Term, tuple of Term)
        Every term, in the order of the alphabet, with those to see beside it.
    letters : tuple of (str, str)
        Every first letter, and the place of its first term.
    parts : tuple of (str, str)
        Parts by the names that they have on drawings.
    nodes : tuple of (str, str)
        Nodes likewise.
    """

    terms: tuple[tuple[Term, tuple[Term, ...]], ...]
    letters: tuple[tuple[str, str], ...]
    parts: tuple[tuple[str, str], ...]
    nodes: tuple[tuple[str, str], ...]


def glossary() -> Glossary:
    """Return the page of terms."""
    ordered = sorted(TERMS.values(), key=lambda term: (term.symbol.lower(), term.symbol))
    first = {}
    for term in ordered:
        first.setdefault(term.symbol[0].upper(), term.id)
    return Glossary(
        tuple((term, tuple(TERMS[symbol] for symbol in term.see)) for term in ordered),
        tuple(first.items()),
        tuple(sorted(PART_NAMES.items())),
        tuple(sorted(NODE_NAMES.items())),
    )
