"""Scenarios that are kept as printed: title, notes, dates, revisions, and what differs from the kept one."""

from dataclasses import dataclass
from datetime import UTC, datetime

from markupsafe import Markup

from engine import Scenario, declared, pairs_from
from webapp.keeping.documents import Dated, Revision
from webapp.keeping.notes import html_of
from webapp.keeping.scenarios import held
from webapp.words import CHOICES, words_for

_LOOKED_AT = frozenset({"sw", "meter"})
"""Fields that say how a stage is looked at, not what it is."""

_SIDES = {"in": "Input side", "out": "Output side"}
_CARD = "card"


@dataclass(frozen=True, slots=True)
class When:
    """A moment.

    Attributes
    ----------
    text : str
        For people.
    stamp : str
        For machines.
    """

    text: str
    stamp: str


@dataclass(frozen=True, slots=True)
class KeptView:
    """One revision of a scenario that is kept.

    Attributes
    ----------
    id : str
        What its link ends with.
    number : int
        The revision.
    last : int
        The present revision.
    title : str
        What it is called.
    notes : Markup
        What there is to say.
    source : str
        The notes as they were typed.
    when : When
        When it was kept.
    query : str
        Query string of the stage.
    """

    id: str
    number: int
    last: int
    title: str
    notes: Markup
    source: str
    when: When
    query: str


@dataclass(frozen=True, slots=True)
class RevisionRow:
    """One line of the list of revisions.

    Attributes
    ----------
    number : int
        The revision.
    title : str
        What the scenario was called.
    when : When
        When it was kept.
    present : bool
        Whether it is the present one.
    """

    number: int
    title: str
    when: When
    present: bool


@dataclass(frozen=True, slots=True)
class Difference:
    """A field that differs.

    Attributes
    ----------
    key : str
        The field.
    label : str
        Its name for people.
    kept : str
        What is kept.
    here : str
        What is shown.
    """

    key: str
    label: str
    kept: str
    here: str


def when(at: float) -> When:
    """Return a moment, given in seconds since 1970 [s]."""
    moment = datetime.fromtimestamp(at, UTC)
    return When(f"{moment:%Y-%m-%d %H:%M} UTC", f"{moment:%Y-%m-%dT%H:%M:%SZ}")


def kept_view(revision: Revision, last: int) -> KeptView:
    """Return a revision as printed, beside the number of the present one."""
    kept = held(revision)
    number, at = revision.number, when(revision.at)
    return KeptView(revision.document, number, last, kept.title, html_of(kept.notes), kept.notes, at, kept.query)


def revision_rows(dated: tuple[Dated, ...]) -> tuple[RevisionRow, ...]:
    """Return the list of revisions, the newest first."""
    return tuple(RevisionRow(one.number, one.title, when(one.at), one is dated[0]) for one in dated)


def differences(kept: Scenario, here: Scenario) -> tuple[Difference, ...]:
    """Return the fields that differ between the kept scenario and the one that is shown.

    Where a side is of another kind, that is told, and the fields that both kinds have.
    """
    before, now = (dict(pairs_from(one, readable=True)) for one in (kept, here))
    cards = [_card(one) for one in (kept, here)]
    if before.get(_CARD) != now.get(_CARD):
        before[_CARD], now[_CARD] = cards if cards[0] != cards[1] else (cards[0], f"{cards[1]}, with other lines")
    changed = [key for key in now if key in before and before[key] != now[key] and key not in _LOOKED_AT]
    kinds = {key: record.kind for record in (here.input, here.output) for key in _keys(record)}
    return tuple(_difference(key, kinds.get(key, ""), before[key], now[key]) for key in changed)


def _keys(record):
    """Return the keys of the fields of a side."""
    return [parameter.key for parameter in declared(record).values()]


def _card(scenario):
    """Return what a card of one's own is called."""
    return scenario.coupling.data.title if scenario.coupling.card == "own" else "none"


def _difference(key, kind, kept, here):
    """Return one field that differs."""
    if key in _SIDES:
        return Difference(key, _SIDES[key], _choice(kept), _choice(here))
    words = words_for(key, kind)
    return Difference(key, words.label, _choice(kept), _choice(here))


def _choice(text):
    """Return a text, or the words of a choice."""
    return CHOICES.get(text, text)
