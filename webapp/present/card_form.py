"""The form for a card of one's own: one field for each line, what was typed, and errors beside their fields."""

from dataclasses import dataclass
from functools import cache

from engine import CARD_FAMILIES, card_names, load_card, typed_lines, typed_of
from webapp.present.card_words import FAMILY_WORDS, LINE_WORDS, SECTION_WORDS

USUAL_FAMILY = next(iter(CARD_FAMILIES))

_ROWS = {"points": 2, "curves": 4}
_LONG, _LONG_ROWS = 100, 2  # characters of a sentence that needs more than one line of a field
_WIDE = {"words", "points", "curves"}


@dataclass(frozen=True, slots=True)
class CardField:
    """One line of a card as a field.

    Attributes
    ----------
    key : str
        Dotted name of the line, and of the field when the form is sent.
    id : str
        Name within the page.
    label : str
        Name for people.
    help : str
        One sentence.
    accepted : str
        What it accepts.
    example : str
        What a shipped card of the family states; empty where it leaves the line out.
    longest : int
        The most characters.
    text : str
        What stands in it.
    options : tuple of (str, str)
        Choices as word and words for people; empty for what is typed.
    rows : int
        Lines of a field for a list; 0 for one line.
    wide : bool
        Whether it needs the whole width.
    optional : bool
        Whether it may stay empty.
    error : str
        What is wrong with it; empty if nothing is.
    """

    key: str
    id: str
    label: str
    help: str
    accepted: str
    example: str
    longest: int
    text: str
    options: tuple
    rows: int
    wide: bool
    optional: bool
    error: str


@dataclass(frozen=True, slots=True)
class CardForm:
    """The form.

    Attributes
    ----------
    family : str
        Family of the card.
    title : str
        The same in words.
    families : tuple of (str, str)
        All of them: name and words.
    shipped : tuple of (str, str)
        Shipped cards to begin with: name and title.
    sections : tuple of (str, tuple of CardField)
        Heading and fields.
    problems : tuple of (str, str, str)
        Refused fields: name within the page, label, what is wrong.
    file_text : str
        What was pasted as the text of a file.
    file_error : str
        What is wrong with it; empty if nothing is.
    """

    family: str
    title: str
    families: tuple
    shipped: tuple
    sections: tuple
    problems: tuple
    file_text: str = ""
    file_error: str = ""


def card_form(family, texts, problems=(), file_text="", file_error=""):
    """Return the form.

    Parameters
    ----------
    family : str
        One of the engine's families of cards.
    texts : dict of str to str
        Dotted name of a line to what stands in its field.
    problems : iterable of Problem
        What was refused.
    file_text : str
        What was pasted as the text of a file.
    file_error : str
        What is wrong with it.

    Returns
    -------
    CardForm
        The form.
    """
    errors = {problem.field: f"{problem.reason}; accepted: {problem.accepted}" for problem in reversed([*problems])}
    fields = [_field(line, texts, errors, _examples(family)) for line in typed_lines(family)]
    sections = ((words, tuple(f for f in fields if _section(f.key) == name)) for name, words in SECTION_WORDS.items())
    return CardForm(
        family=family,
        title=FAMILY_WORDS[family][0],
        families=tuple((name, title) for name, (title, _) in FAMILY_WORDS.items()),
        shipped=tuple((name, load_card(name).title) for name in card_names()),
        sections=tuple((words, inside) for words, inside in sections if inside),
        problems=tuple((f.id, f.label, f.error) for f in fields if f.error),
        file_text=file_text,
        file_error=file_error,
    )


def _section(key):
    return key.partition(".")[0] if "." in key else ""


@cache
def _examples(family):
    """Return what the first shipped card of a family states, as typed."""
    return typed_of(load_card(card_names(family)[0]))


def _field(line, texts, errors, examples):
    """Return the field of one line."""
    label, about = LINE_WORDS[line.path]
    options = tuple((word, word) for word in line.words)
    if options and not line.usual:
        options = (("", "not stated"), *options)
    return CardField(
        key=line.path,
        id="line-" + line.path.replace(".", "-"),
        label=label,
        help=about,
        accepted=line.accepted,
        example=examples[line.path],
        longest=line.longest,
        text=texts.get(line.path, line.usual),
        options=options,
        rows=_LONG_ROWS if line.kind == "words" and line.longest > _LONG else _ROWS.get(line.kind, 0),
        wide=line.kind in _WIDE,
        optional=line.optional,
        error=errors.get(line.path, ""),
    )
