"""Forms of lessons, read: what was typed about a lesson or a step, every wrong field at once."""

from dataclasses import dataclass

from webapp.lessons.lesson import (
    LONGEST_QUESTION,
    LONGEST_TEXT,
    LONGEST_TITLE,
    STATES,
    Ask,
    LessonError,
    Step,
    plain,
)
from webapp.lessons.truths import query_typed, settled_step

STEP_FIELDS = ("title", "text", "stage", "what", "state", "question", "after", "answer", "notes")
"""Fields of the form of one step."""

STAGE = "/stage"
"""Path of the explorer, which a stage is typed and shown with."""


@dataclass(frozen=True, slots=True)
class Front:
    """What a lesson says before its first step.

    Attributes
    ----------
    title : str
        What it is called.
    intro : str
        What it is about.
    """

    title: str
    intro: str


def front_typed(texts: dict[str, str]) -> Front:
    """Return what the form of a lesson says; raises LessonError with its wrong fields."""
    wrong: dict[str, str] = {}
    title = _titled(texts, wrong)
    intro = _text(texts, "intro", LONGEST_TEXT, wrong, lines=True)
    if wrong:
        raise LessonError(wrong)
    return Front(title, intro)


def step_typed(texts: dict[str, str]) -> Step:
    """Return the step that a form means, its stages solved; raises LessonError with its wrong fields."""
    wrong: dict[str, str] = {}
    title = _titled(texts, wrong)
    text, notes = (_text(texts, name, LONGEST_TEXT, wrong, lines=True) for name in ("text", "notes"))
    scenario, panel = _stage(texts, "stage", wrong)
    ask = _ask(texts, wrong)
    step = Step(title, text, scenario, panel, ask, notes)
    if not wrong:
        try:
            return settled_step(step)
        except LessonError as error:
            wrong = {_TYPED.get(field, field): reason for field, reason in error.wrong.items()}
    raise LessonError(wrong)


_TYPED = {"scenario": "stage", "ask.after": "after", "ask.what": "what"}
"""Field of a step to the field of its form."""


def texts_from(step: Step) -> dict[str, str]:
    """Return what the form of a step shows."""
    ask = step.ask or Ask("", "closed", "")
    stage = _address(step.scenario) + (f"{'&' if step.scenario else '?'}panel={step.panel}" if step.panel else "")
    after = "" if ask.after is None else _address(ask.after)
    shown = (step.title, step.text, stage, ask.what, ask.state, ask.question, after, ask.answer, step.notes)
    return dict(zip(STEP_FIELDS, shown, strict=True))


def _address(query):
    """Return a stage as the explorer's address."""
    return f"{STAGE}?{query}" if query else STAGE


def _titled(texts, wrong):
    title = _text(texts, "title", LONGEST_TITLE, wrong)
    if not title:
        wrong.setdefault("title", "A title is wanted.")
    return title


def _text(texts, name, longest, wrong, *, lines=False):
    """Return a text, and note what is wrong with it."""
    try:
        return plain(texts.get(name, ""), longest, lines)
    except ValueError as error:
        wrong[name] = str(error)
        return ""


def _stage(texts, name, wrong):
    """Return the stage that was typed, and the panel that it names, or note what is wrong with it."""
    try:
        return query_typed(texts.get(name, ""))
    except ValueError as error:
        wrong[name] = str(error)
        return "", ""


def _ask(texts, wrong):
    """Return what is to be predicted, None where nothing is."""
    what = texts.get("what", "").strip()
    if not what:
        return None
    if not what.isidentifier() or len(what) > 24:
        wrong["what"] = "There is no such quantity. Choose one of the list."
    state = texts.get("state", "") or STATES[0]
    if state not in STATES:
        wrong["state"] = "Accepted: closed, open."
    question = _text(texts, "question", LONGEST_QUESTION, wrong)
    if not question:
        wrong.setdefault("question", "A question is wanted, as something is to be predicted.")
    after = _stage(texts, "after", wrong)[0] if texts.get("after", "").strip() else None
    return Ask(what, state, question, after, _text(texts, "answer", LONGEST_TEXT, wrong, lines=True))
