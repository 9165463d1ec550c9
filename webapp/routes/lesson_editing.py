"""Lessons for who makes them: changing what a lesson says, its steps and their order, going back to a revision.

Whoever saves tells which revision they began with. Where another one has been kept since, nothing is overwritten: the
form comes back with what was typed, and can then be saved on top of what is there now.
"""

import re
from dataclasses import replace
from datetime import UTC, datetime

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.responses import RedirectResponse

from engine import ScenarioError, query_from, scenario_from
from webapp.keeping.documents import Conflict, DocumentError, Refused
from webapp.keeping.notes import html_of
from webapp.lessons import shelf
from webapp.lessons.lesson import LONGEST_TEXT, MOST_STEPS, LessonError
from webapp.lessons.typed import STEP_FIELDS, front_typed, step_typed, texts_from
from webapp.present.lessons import quantity_choices, step_rows
from webapp.render import page
from webapp.routes.bodies import texts_of
from webapp.routes.hunts import too_often
from webapp.routes.lesson_pages import UNKNOWN, Opened, numbered, opened_by_key
from webapp.store import reading, writing

router = APIRouter(include_in_schema=False)

NEW = "new"
"""Stands in an address in place of a step's number where there is none yet."""

CHANGED = (
    "Revision {number} has been kept since this page was opened. Nothing of it has been overwritten. "
    "Look at what is there now, then save again to put yours on top."
)
_ACTION = re.compile(r"(save|up|down|remove|restore)(?:-([0-9]{1,9}))?")


@router.get("/lesson/{lesson}/edit/{key}")
def edit_lesson(request: Request, lesson: str, key: str):
    """Show a lesson to who may change it, at present or in an earlier revision."""
    return _front(request, opened_by_key(request, lesson, key))


@router.post("/lesson/{lesson}/edit/{key}")
async def save_lesson(request: Request, lesson: str, key: str):
    """Keep its title and intro, another order of steps, or an earlier revision."""
    texts = await texts_of(request)
    return await run_in_threadpool(_save, request, (lesson, key), texts)


@router.get("/lesson/{lesson}/edit/{key}/{step}")
def edit_step(request: Request, lesson: str, key: str, step: str):
    """Show the form of one step, or of a new one on the stage that the address names."""
    opened = opened_by_key(request, lesson, key)
    if step != NEW:
        texts = texts_from(opened.lesson.steps[numbered(opened.lesson, step) - 1])
        return _step_form(request, opened, step, texts)
    texts, wrong = dict.fromkeys(STEP_FIELDS, ""), {}
    try:
        query = query_from(scenario_from(request.query_params.multi_items()))
        texts["stage"] = f"/stage?{query}" if query else "/stage"
    except ScenarioError as error:
        wrong["stage"] = "; ".join(str(problem) for problem in error.problems)[:1000]
    return _step_form(request, opened, step, texts, wrong, 422 if wrong else 200)


@router.post("/lesson/{lesson}/edit/{key}/{step}")
async def save_step(request: Request, lesson: str, key: str, step: str):
    """Keep one step."""
    texts = await texts_of(request)
    return await run_in_threadpool(_save_step, request, (lesson, key), step, texts)


def editing_path(request: Request, id: str, key: str) -> str:
    """Return the path by which a lesson is changed."""
    return str(request.app.url_path_for("edit_lesson", lesson=id, key=key))


def _allowed(request, id, key):
    """Return a lesson that somebody may save now, or raise the answer that they may not."""
    opened = opened_by_key(request, id, key)
    if wait := request.app.state.hunt_rates.saving.wait_for(opened.id):
        raise too_often(wait)
    return opened


def _save(request, whose, texts):
    """Do what the page of a lesson asks for."""
    opened = _allowed(request, *whose)
    action = _ACTION.fullmatch(texts.get("action", "save"))
    if action is None:
        raise HTTPException(422, "There is no such thing to do with a lesson.")
    verb, number = action[1], int(action[2] or 0)
    try:
        changed = _changed(request, opened, verb, number, texts)
    except LessonError as error:
        return _front(request, opened, texts, error.wrong, 422)
    try:
        _kept(request, opened, texts, changed)
    except Conflict as error:
        fresh = opened_by_key(request, opened.id, opened.key)
        typed = texts if verb == "save" else None
        return _front(request, fresh, typed, {"conflict": CHANGED.format(number=error.current.number)}, 409)
    except (DocumentError, LessonError) as error:
        return _front(request, opened, texts, error.wrong, 422)
    return RedirectResponse(editing_path(request, opened.id, opened.key), status_code=303)


def _changed(request, opened, verb, number, texts):
    """Return the lesson after what is asked for."""
    lesson = opened.lesson
    if verb == "save":
        front = front_typed(texts)
        return replace(lesson, title=front.title, intro=front.intro)
    if verb == "restore":
        return opened_by_key(request, opened.id, opened.key, number).lesson
    steps, at = list(lesson.steps), numbered(lesson, str(number)) - 1
    step = steps.pop(at)
    if verb != "remove":
        steps.insert(max(at - 1, 0) if verb == "up" else at + 1, step)
    return replace(lesson, steps=tuple(steps))


def _kept(request, opened, texts, changed):
    """Keep a changed lesson on top of the revision that a form began with."""
    base = texts.get("base", "")
    number = int(base) if base.isascii() and base.isdigit() and len(base) < 10 else 0
    try:
        with writing(request) as session:
            return shelf.save(session, opened.id, opened.key, number, changed)
    except Refused as error:
        raise HTTPException(404, UNKNOWN) from error


def _save_step(request, whose, step, texts):
    """Keep a step, or show its form again with what is wrong."""
    opened = _allowed(request, *whose)
    steps = list(opened.lesson.steps)
    at = None if step == NEW else numbered(opened.lesson, step) - 1
    try:
        made = step_typed(texts)
        if at is None:
            if len(steps) >= MOST_STEPS:
                raise LessonError({"": f"A lesson has at most {MOST_STEPS} steps."})
            steps.append(made)
        else:
            steps[at] = made
        _kept(request, opened, texts, replace(opened.lesson, steps=tuple(steps)))
    except Conflict as error:
        fresh = opened_by_key(request, opened.id, opened.key)
        return _step_form(request, fresh, step, texts, {"conflict": CHANGED.format(number=error.current.number)}, 409)
    except (DocumentError, LessonError) as error:
        return _step_form(request, opened, step, texts, error.wrong, 422)
    return RedirectResponse(editing_path(request, opened.id, opened.key), status_code=303)


def _front(request, opened: Opened, texts=None, wrong=None, status_code=200):
    """Return the page on which a lesson is changed."""
    shown, number = opened.lesson, 0
    asked = request.query_params.get("revision", "")
    if asked.isascii() and asked.isdigit() and len(asked) < 10 and int(asked) != opened.number:
        number = int(asked)
        shown = opened_by_key(request, opened.id, opened.key, number).lesson
    given = texts or {"title": shown.title, "intro": shown.intro}
    context = {
        "earlier": number,
        "given": {name: given.get(name, "")[: 2 * LONGEST_TEXT] for name in ("title", "intro")},
        "intro": html_of(shown.intro),
        "wrong": wrong or {},
        "rows": step_rows(shown),
        "full": len(shown.steps) >= MOST_STEPS,
        "revisions": _revisions(request, opened),
        "links": _links(request, opened),
        "theirs": (),
    }
    if texts and "conflict" in context["wrong"]:
        context["theirs"] = _differing({"title": shown.title, "intro": shown.intro}, context["given"])
    return _private(page(request, "pages/lesson_edit.html", status_code, lesson=opened, shown=shown, **context))


def _differing(theirs, typed):
    """Return label and text of the fields that say something else now than what was typed."""
    return tuple((_LABELS[name], text) for name, text in theirs.items() if text.split() != typed[name].split())


_LABELS = {
    "title": "Title", "intro": "What it is about", "text": "What students read", "stage": "The stage",
    "what": "What is asked for", "state": "With the switch", "question": "The question",
    "after": "The changed stage", "answer": "What is said to the answer", "notes": "Notes",
}  # fmt: skip
"""Field of a form to what it is called."""


def _revisions(request, opened):
    """Return number, time and title of every revision, the newest first."""
    with reading(request) as session:
        rows = shelf.revisions(session, opened.id)
    return tuple((r.number, datetime.fromtimestamp(r.at, UTC).strftime("%Y-%m-%d %H:%M UTC"), r.title) for r in rows)


def _links(request, opened):
    """Return the link for the class, and that for who leads."""
    return {
        "view": request.url_for("lesson", lesson=opened.id),
        "own": request.url_for("edit_lesson", lesson=opened.id, key=opened.key),
    }


def _step_form(request, opened, step, texts, wrong=None, status_code=200):
    """Return the page with the form of one step."""
    given = {name: texts.get(name, "")[: 2 * LONGEST_TEXT] for name in STEP_FIELDS}
    context = {"step": step, "given": given, "wrong": wrong or {}, "choices": quantity_choices(), "theirs": ()}
    if "conflict" in context["wrong"] and step != NEW and int(step) <= len(opened.lesson.steps):
        context["theirs"] = _differing(texts_from(opened.lesson.steps[int(step) - 1]), given)
    others = tuple(text for name, text in context["wrong"].items() if name not in (*STEP_FIELDS, "conflict"))
    context |= {"others": others}
    return _private(page(request, "pages/lesson_step_edit.html", status_code, lesson=opened, **context))


def _private(answer):
    """Return a page that no cache keeps."""
    answer.headers["Cache-Control"] = "no-store"
    return answer
