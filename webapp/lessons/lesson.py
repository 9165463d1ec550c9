"""What a lesson is: its records, their bounds, and the data that they are kept and exported as.

Nothing here is worked out; that a stage can be solved and has what is asked for is seen to in `truths`.
"""

import re
import unicodedata
from dataclasses import dataclass

VERSION = 1
"""Form of the data; a file says which one it has."""

FORMAT = "lightgap-lesson"
"""What a file says it holds."""

MOST_STEPS = 30
"""Steps of one lesson."""

LONGEST_TITLE = 120
"""Characters of a title, of the lesson or of a step."""

LONGEST_TEXT = 4000
"""Characters of what a step says, or of notes."""

LONGEST_QUESTION = 400
"""Characters of a question."""

LONGEST_STAGE = 8000
"""Characters of a query string."""

IN_WORDS, LEVEL = "words", "level"
"""What may be asked for beside a quantity: an answer in words, or what is read at the output."""

STATES = ("closed", "open")

_SYMBOL = re.compile(r"[A-Za-z][A-Za-z0-9_]{0,23}")
_PANEL = re.compile(r"[a-z]{0,16}")


class LessonError(ValueError):
    """Something that a lesson does not take.

    Parameters
    ----------
    wrong : dict of str to str
        Field to what is wrong with it, as in "title" or "steps.2.scenario"; the field "" is the lesson itself.
    """

    def __init__(self, wrong: dict[str, str]) -> None:
        super().__init__(" ".join(wrong.values()))
        self.wrong = wrong


@dataclass(frozen=True, slots=True)
class Ask:
    """What students are asked to predict.

    Attributes
    ----------
    what : str
        Symbol of a quantity, `LEVEL`, or `IN_WORDS`.
    state : str
        Switch state that it is asked for, "closed" or "open".
    question : str
        The question.
    after : str or None
        Query string of the changed stage that gives the answer; None where the stage of the step gives it.
    answer : str
        What the teacher says to it, in simple Markdown: shown with the answer, or as the answer where it is in words.
    """

    what: str
    state: str
    question: str
    after: str | None = None
    answer: str = ""


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a lesson.

    Attributes
    ----------
    title : str
        What it is called.
    text : str
        What students read, in simple Markdown.
    scenario : str
        Query string of its stage.
    panel : str
        Name of the panel that is open under the stage; empty for the usual one.
    ask : Ask or None
        What is to be predicted.
    notes : str
        For who leads alone, in simple Markdown.
    """

    title: str
    text: str = ""
    scenario: str = ""
    panel: str = ""
    ask: Ask | None = None
    notes: str = ""

    @property
    def answered_by(self):
        """Return the query string of the stage that gives the answer."""
        return self.scenario if self.ask is None or self.ask.after is None else self.ask.after


@dataclass(frozen=True, slots=True)
class Lesson:
    """A lesson.

    Attributes
    ----------
    title : str
        What it is called.
    intro : str
        What it is about, in simple Markdown.
    steps : tuple of Step
        In their order.
    """

    title: str
    intro: str = ""
    steps: tuple = ()


def plain(text: str, longest: int, lines: bool = False) -> str:
    """Return a text as it may be kept, on one line unless `lines`; raises ValueError with the reason otherwise."""
    found = text.replace("\r\n", "\n").replace("\r", "\n").strip() if lines else " ".join(text.split())
    if len(found) > longest:
        raise ValueError(f"This is longer than {longest} characters.")
    odd = (c for c in found if c not in "\n\t" and unicodedata.category(c) in ("Cc", "Cs", "Cn", "Co"))
    if any(True for _ in odd):
        raise ValueError("There is a character that cannot be shown.")
    return found


def body_of(lesson: Lesson) -> dict:
    """Return the data of a lesson without its title, as a document's body has them."""
    return {"version": VERSION, "intro": lesson.intro, "steps": [_step_data(step) for step in lesson.steps]}


def file_of(lesson: Lesson) -> dict:
    """Return the data of a lesson as a file has them."""
    return {"format": FORMAT, "version": VERSION, "title": lesson.title} | body_of(lesson)


def _step_data(step):
    """Return the data of one step; what is empty is left out."""
    texts = {name: getattr(step, name) for name in ("title", "text", "scenario", "panel", "notes")}
    ask = {} if step.ask is None else {"ask": {k: v for k in _ASKED if (v := getattr(step.ask, k)) not in (None, "")}}
    if step.ask is not None and step.ask.after == "":
        ask["ask"]["after"] = ""
    return {name: text for name, text in texts.items() if text} | ask


_ASKED = ("what", "state", "question", "after", "answer")


def lesson_from(data: object, title: str | None = None) -> Lesson:
    """Return the lesson that data mean.

    Parameters
    ----------
    data : object
        What JSON or TOML was read as.
    title : str or None
        The title where the data have none, as those of a document's body.

    Returns
    -------
    Lesson
        The lesson, as far as its texts go: its stages are not solved.

    Raises
    ------
    LessonError
        With every field that cannot be.
    """
    reader = _Reader()
    names = {"version", "intro", "steps"} | (set() if title is not None else {"format", "title"})
    found = reader.members(data, "", names)
    if title is None and found.get("format") != FORMAT:
        reader.wrong.setdefault("format", f'It is not "{FORMAT}", so this is no lesson.')
    elif found.get("version") != VERSION or type(found["version"]) is not int:
        reader.wrong.setdefault("version", f"It is not {VERSION}, the one version that is read.")
    if reader.wrong:
        raise LessonError(reader.wrong)
    if title is None:
        title = reader.text(found, "", "title", LONGEST_TITLE)
    intro = reader.lines(found, "", "intro")
    steps = reader.listed(found.get("steps", []))
    lesson = Lesson(title, intro, tuple(reader.step(one, f"steps.{k}.") for k, one in enumerate(steps, 1)))
    if not lesson.title:
        reader.wrong.setdefault("title", "A title is wanted.")
    if reader.wrong:
        raise LessonError(reader.wrong)
    return lesson


class _Reader:
    """Reads data, and notes what is wrong with them."""

    def __init__(self):
        self.wrong = {}

    def members(self, data, place, names):
        """Return the members of an object; those that it must not have are noted."""
        if not isinstance(data, dict):
            self.wrong[place.rstrip(".")] = "An object is wanted here."
            return {}
        for name in list(data)[:100]:
            if name not in names:
                shown = plain_or(str(name)[:40])
                self.wrong.setdefault(place.rstrip("."), f"There is no member “{shown}” here.")
        return data

    def text(self, found, place, name, longest, lines=False):
        """Return a text; empty where there is none, or it cannot be."""
        given = found.get(name, "")
        try:
            if not isinstance(given, str):
                raise ValueError("A text is wanted here.")
            return plain(given, longest, lines)
        except ValueError as error:
            self.wrong[place + name] = str(error)
            return ""

    def lines(self, found, place, name):
        """Return a text of several lines."""
        return self.text(found, place, name, LONGEST_TEXT, lines=True)

    def listed(self, given):
        """Return the steps as they were given."""
        if not isinstance(given, list):
            self.wrong["steps"] = "A list of steps is wanted here."
            return []
        if len(given) > MOST_STEPS:
            self.wrong["steps"] = f"A lesson has at most {MOST_STEPS} steps."
            return []
        return given

    def step(self, data, place):
        """Return one step."""
        found = self.members(data, place, {"title", "text", "scenario", "panel", "ask", "notes"})
        title = self.text(found, place, "title", LONGEST_TITLE)
        if not title:
            self.wrong.setdefault(f"{place}title", "A title is wanted.")
        panel = self.text(found, place, "panel", 16)
        if not _PANEL.fullmatch(panel):
            self.wrong[f"{place}panel"] = "There is no such panel."
        scenario = self.text(found, place, "scenario", LONGEST_STAGE)
        ask = self.ask(found["ask"], f"{place}ask.") if found.get("ask") is not None else None
        return Step(title, self.lines(found, place, "text"), scenario, panel, ask, self.lines(found, place, "notes"))

    def ask(self, data, place):
        """Return what is to be predicted."""
        found = self.members(data, place, set(_ASKED))
        what = self.text(found, place, "what", 24)
        if not _SYMBOL.fullmatch(what):
            self.wrong.setdefault(f"{place}what", "The symbol of a quantity is wanted, or level, or words.")
        state = self.text(found, place, "state", 8) or STATES[0]
        if state not in STATES:
            self.wrong[f"{place}state"] = "Accepted: closed, open."
        question = self.text(found, place, "question", LONGEST_QUESTION)
        if not question:
            self.wrong.setdefault(f"{place}question", "A question is wanted.")
        after = None if found.get("after") is None else self.text(found, place, "after", LONGEST_STAGE)
        return Ask(what, state, question, after, self.lines(found, place, "answer"))


def plain_or(text: str, instead: str = "?") -> str:
    """Return a text as it may be shown, each character that cannot be replaced."""
    return "".join(c if c.isprintable() else instead for c in text)
