"""The JSON contract of lessons: shapes for the description, and the answers themselves.

As on the pages, nothing depends on an answer before something has been predicted or the answer is asked for: not the
stage that gives it, nor what the teacher says to it. Notes for who leads are in none of these.
"""

from pydantic import BaseModel

from engine import ScenarioError
from webapp.lessons.lesson import IN_WORDS, LEVEL, Lesson, Step
from webapp.lessons.truths import Judged, levels_of, truth_of, unit_of
from webapp.present.lessons import changes, in_state


class LessonEntry(BaseModel):
    """A lesson in the list; `page` is its link, `intro` is simple Markdown."""

    id: str
    title: str
    intro: str
    steps: int
    page: str


class LessonList(BaseModel):
    """The lessons that come with Lightgap."""

    lessons: list[LessonEntry]


class PromptAnswer(BaseModel):
    """What a step asks: `what` is the symbol of a quantity, "level" for what is read, or "words"."""

    question: str
    what: str
    state: str


class StepEntry(BaseModel):
    """A step of a lesson; `scenario` is null where the stage would give an answer away."""

    number: int
    title: str
    text: str
    scenario: str | None
    ask: PromptAnswer | None
    page: str


class LessonAnswer(BaseModel):
    """A lesson; `revision` is null for one that comes with Lightgap."""

    id: str
    title: str
    intro: str
    revision: int | None
    page: str
    steps: list[StepEntry]


class ChangeAnswer(BaseModel):
    """A field in which the stage that gives the answer differs from the one that is shown, in words."""

    label: str
    before: str
    after: str


class AskedAnswer(PromptAnswer):
    """What a step asks, whole: the unit of a number, the levels to choose from, what is changed."""

    unit: str | None
    choices: list[str]
    changes: list[ChangeAnswer]


class TruthAnswer(BaseModel):
    """An answer; of a number, `value` with its worst-case range, of a level, `level`; `said` is simple Markdown."""

    scenario: str
    said: str
    value: float | None = None
    low: float | None = None
    high: float | None = None
    before: float | None = None
    level: str | None = None
    sure: bool | None = None
    level_before: str | None = None


class PredictedAnswer(BaseModel):
    """A prediction beside the answer: `off` as a share of it, `near` the smallest share that it lies within."""

    text: str
    value: float | None
    right: bool | None
    off: float | None
    near: float | None
    way: str | None
    predicted_way: str | None


class StepAnswer(StepEntry):
    """A step, whole; `panel` and `answer` are null before something has been predicted or the answer is asked for."""

    ask: AskedAnswer | None
    panel: str | None
    answer: TruthAnswer | None
    predicted: PredictedAnswer | None


def entry_of(id: str, lesson: Lesson, page: str) -> dict:
    """Return a lesson as the list has it."""
    return {"id": id, "title": lesson.title, "intro": lesson.intro, "steps": len(lesson.steps), "page": page}


def lesson_answer(id: str, lesson: Lesson, revision: int, page: str) -> dict:
    """Return a lesson with its steps; the stage of one that gives the answer of any is left out."""
    giving = {_stage(step.answered_by) for step in lesson.steps if _worked_out(step)}
    steps = [
        _entry(step, number, page, None if _stage(step.scenario) in giving else step.scenario)
        for number, step in enumerate(lesson.steps, 1)
    ]
    return entry_of(id, lesson, page) | {"revision": revision or None, "steps": steps}


def step_answer(lesson: Lesson, number: int, page: str, revealed: bool, told: Judged | None) -> dict:
    """Return one step.

    Parameters
    ----------
    lesson : Lesson
        The lesson.
    number : int
        Which step, from 1.
    page : str
        Link to the lesson.
    revealed : bool
        Whether the answer may be told.
    told : Judged or None
        What was predicted, beside the answer.

    Returns
    -------
    dict
        The JSON object.

    Raises
    ------
    ScenarioError, ConvergenceError, KeyError
        If its stage cannot be read, solved or asked by this version.
    """
    step = lesson.steps[number - 1]
    gives = _worked_out(step) and step.ask.after is None
    answer = _entry(step, number, page, None if gives and not revealed else step.scenario)
    asked = step.ask is not None
    return answer | {
        "ask": answer["ask"] | _asked(step) if asked else None,
        "panel": step.panel or None if revealed or not asked else None,
        "answer": _truth(step) if revealed and asked else None,
        "predicted": _predicted(step, told) if told else None,
    }


def _entry(step, number, page, scenario):
    """Return a step as a lesson has it."""
    ask = {name: getattr(step.ask, name) for name in ("question", "what", "state")} if step.ask else None
    told = {"number": number, "title": step.title, "text": step.text, "scenario": scenario}
    return told | {"ask": ask, "page": f"{page}/{number}"}


def _worked_out(step):
    """Return whether the answer to a step comes out of a stage."""
    return step.ask is not None and step.ask.what != IN_WORDS


def _stage(query):
    """Return a stage whatever its switch shows, as far as it can be read."""
    try:
        return in_state(query, "closed")
    except ScenarioError:
        return query


def _asked(step: Step):
    """Return what a step asks beside its question."""
    ask = step.ask
    differs = changes(step.scenario, ask.after) if ask.after is not None else ()
    return {
        "unit": unit_of(step) if ask.what not in (IN_WORDS, LEVEL) else None,
        "choices": list(levels_of(step)) if ask.what == LEVEL else [],
        "changes": [{"label": one.label, "before": one.before, "after": one.after} for one in differs],
    }


def _truth(step):
    """Return the answer to a step."""
    told = {"scenario": in_state(step.answered_by, step.ask.state), "said": step.ask.answer}
    truth = truth_of(step)
    if truth is None:
        return told
    names = ("level", "sure", "level_before") if truth.what == LEVEL else ("value", "low", "high", "before")
    return told | {name: value for name in names if (value := getattr(truth, name)) not in (None, "")}


def _predicted(step, told):
    """Return a prediction beside the answer; one in words is not weighed."""
    right = told.right if _worked_out(step) else None
    ways = {name: getattr(told, name) or None for name in ("way", "predicted_way")}
    return {"text": told.text, "value": told.given, "right": right, "off": told.off, "near": told.near} | ways
