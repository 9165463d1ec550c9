"""Pages of lessons for everybody: a lesson, its steps, and what a prediction is worth.

Until something has been predicted, or the answer is asked for, nothing that is sent depends on the answer: not the
figures of its stage, not its address, nor what the teacher says to it. Predictions are kept in addresses alone.
"""

from dataclasses import dataclass
from types import MappingProxyType

from fastapi import APIRouter, Request
from starlette.exceptions import HTTPException

from engine import pairs_from, query_from, scenario_from_query
from webapp.keeping.notes import html_of
from webapp.lessons import shelf
from webapp.lessons.lesson import IN_WORDS, STATES, Lesson, LessonError, Step
from webapp.lessons.shipped import shipped
from webapp.lessons.truths import LONGEST_PREDICTION, PredictionError, judged
from webapp.present.explorer import explore
from webapp.present.lessons import (
    UNREADABLE,
    UNSHOWABLE,
    answer_view,
    ask_view,
    in_state,
    shown_stage,
    step_rows,
)
from webapp.present.panels import PANELS
from webapp.render import page
from webapp.routes.scenario import explorer_context
from webapp.store import reading

router = APIRouter(include_in_schema=False)

UNKNOWN = "There is no lesson at this address."
OLD = "This lesson cannot be read by this version of Lightgap."
GUESS, SHOW, SWITCH = "guess", "show", "sw"
"""What the address of a step may carry: a prediction, that the answer is to be shown, the switch state to look at."""

_NOTHING = MappingProxyType(
    dict.fromkeys(("ask", "answer", "stage", "explorer", "before"))
    | dict.fromkeys(("problem", "trouble", "query", "said"), "")
)


@dataclass(frozen=True, slots=True)
class Opened:
    """A lesson that somebody has a link to.

    Attributes
    ----------
    id : str
        What the link ends with.
    lesson : Lesson
        What it says.
    number : int
        Which revision it is; 0 for one that comes with Lightgap.
    key : str
        The key, for who leads; empty for everybody else.
    """

    id: str
    lesson: Lesson
    number: int = 0
    key: str = ""


@router.get("/lesson/{lesson}")
def lesson(request: Request, lesson: str):
    """Show what a lesson is about, and its steps."""
    opened = opened_lesson(request, lesson)
    context = {"intro": html_of(opened.lesson.intro), "rows": step_rows(opened.lesson), "shipped": not opened.number}
    return _unkept(page(request, "pages/lesson.html", lesson=opened, **context))


@router.get("/lesson/{lesson}/{step}")
def lesson_step(request: Request, lesson: str, step: str):
    """Show one step: what it asks, or the answer beside what was predicted."""
    return _step_page(request, opened_lesson(request, lesson), step)


@router.get("/lesson/{lesson}/teach/{key}/{step}")
def teach_step(request: Request, lesson: str, key: str, step: str):
    """Show one step to who leads: with the answer and the notes."""
    return _step_page(request, opened_by_key(request, lesson, key), step)


def opened_lesson(request: Request, id: str) -> Opened:
    """Return a lesson that comes with Lightgap or is kept, or raise the answer that there is none."""
    if (own := shipped(id)) is not None:
        return Opened(id, own)
    with reading(request) as session:
        kept = _found(session, id)
    return Opened(kept.id, kept.lesson, kept.number)


def opened_by_key(request: Request, id: str, key: str, number: int | None = None) -> Opened:
    """Return a lesson for who has its key, at present or in one of its revisions."""
    with reading(request) as session:
        if not shelf.may_edit(session, id, key):
            raise HTTPException(404, UNKNOWN)
        kept = _found(session, id, number)
    return Opened(kept.id, kept.lesson, kept.number, key)


def _found(session, id, number=None):
    """Return a lesson that is kept, or raise the answer that there is none."""
    try:
        kept = shelf.found(session, id, number)
    except LessonError as error:
        raise HTTPException(410, OLD) from error
    if kept is None:
        raise HTTPException(404, UNKNOWN)
    return kept


def numbered(lesson: Lesson, text: str) -> int:
    """Return the number of a step that an address names, or raise the answer that there is none."""
    number = int(text) if text.isascii() and text.isdigit() and len(text) < 4 else 0
    if not 1 <= number <= len(lesson.steps):
        raise HTTPException(404, "This lesson has no such step.")
    return number


def _step_page(request, opened, text):
    """Return the page of a step."""
    number = numbered(opened.lesson, text)
    step, leads = opened.lesson.steps[number - 1], bool(opened.key)
    given = request.query_params.get(GUESS)
    asked = dict(_NOTHING) | {"guess": (given or "")[:LONGEST_PREDICTION]}
    try:
        asked |= _asked(request, step, given, leads)
    except UNSHOWABLE:
        asked |= {"trouble": UNREADABLE}
    context = asked | _around(opened, number, step) | (asked["explorer"] or {})
    context |= {"notes": html_of(step.notes) if leads and step.notes else ""}
    return _unkept(page(request, "pages/lesson_step.html", 422 if asked["problem"] else 200, **context))


def _asked(request, step, given, leads):
    """Return what depends on whether something has been predicted."""
    told, problem = None, ""
    if step.ask is not None and given is not None and SHOW not in request.query_params:
        try:
            told = judged(step, given)
        except PredictionError as error:
            problem = str(error)
    revealed = step.ask is None or leads or told is not None or SHOW in request.query_params
    if revealed:
        return _revealed(step, told)
    shown = request.query_params.get(SWITCH, "")
    state = shown if shown in STATES else step.ask.state
    solved = step.ask.after is not None or step.ask.what == IN_WORDS
    return {"ask": ask_view(step), "problem": problem, "stage": shown_stage(step.scenario, state, solved=solved)}


def _revealed(step, told):
    """Return the answer, and the explorer on the stage that gives it."""
    if step.ask is None:
        return {"query": step.scenario, "explorer": _explorer(step.scenario, step.panel)}
    state = step.ask.state
    query = in_state(step.answered_by, state)
    return {
        "ask": ask_view(step),
        "answer": answer_view(step, told),
        "said": html_of(step.ask.answer),
        "query": query,
        "before": None if step.ask.after is None else in_state(step.scenario, state),
        "explorer": _explorer(query, step.panel),
    }


def _explorer(query, panel):
    """Return what the explorer on a stage prints, with a panel open where one is named."""
    scenario = scenario_from_query(query)
    chosen = PANELS.get(panel)
    view = chosen.view(scenario, {}) if chosen else None
    panels = {"panels": tuple(PANELS.values()), "chosen": chosen, "panel": view}
    panels |= {"pairs": tuple(pairs_from(scenario)), "panel_query": query_from(scenario)}
    return explorer_context(explore(scenario)) | panels


def _around(opened: Opened, number: int, step: Step):
    """Return what the page of a step prints beside what it asks."""
    last = len(opened.lesson.steps)
    return {
        "lesson": opened,
        "step": step,
        "number": number,
        "last": last,
        "earlier": number - 1,
        "later": number + 1 if number < last else 0,
        "text": html_of(step.text),
    }


def _unkept(answer):
    """Return a page that no cache keeps: it may change, and predictions are nobody else's."""
    answer.headers["Cache-Control"] = "no-store"
    return answer
