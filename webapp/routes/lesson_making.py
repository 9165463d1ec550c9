"""Lessons as a whole: beginning one, copying one, taking it along as a file and reading it again, deleting it."""

import json

from fastapi import APIRouter, Request
from fastapi.responses import Response
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.responses import RedirectResponse

from engine import ScenarioError, query_from, scenario_from
from webapp.forms import problem_views
from webapp.keeping.documents import DocumentError, Refused, RoomError
from webapp.lessons import shelf
from webapp.lessons.lesson import LONGEST_TEXT, LONGEST_TITLE, Lesson, LessonError, Step, file_of, lesson_from
from webapp.lessons.shipped import shipped, shipped_lessons
from webapp.lessons.truths import settled, settled_step
from webapp.lessons.typed import front_typed
from webapp.present.lessons import title_of
from webapp.render import page
from webapp.routes.bodies import texts_of
from webapp.routes.hunts import too_often
from webapp.routes.lesson_editing import editing_path
from webapp.routes.lesson_pages import UNKNOWN, opened_by_key
from webapp.store import writing

router = APIRouter(include_in_schema=False)

ADD = "add"
"""Name of what tells that the address brings a stage, even where that is the usual one."""

_MOST_TOLD = 12


@router.get("/lesson/new")
def new_lesson(request: Request):
    """Show the ways to begin a lesson; a stage of the address becomes its first step."""
    return _form(request, {})


@router.post("/lesson/new")
async def make_lesson(request: Request):
    """Take the form: to the page on which the lesson is changed."""
    texts = await texts_of(request)
    return await run_in_threadpool(_make, request, texts)


@router.post("/lesson/import")
async def import_lesson(request: Request):
    """Read a lesson from a file or a text."""
    texts = await texts_of(request)
    return await run_in_threadpool(_import, request, texts.get("file", "").strip() or texts.get("text", ""))


@router.post("/lesson/{lesson}/copy")
def copy_lesson(request: Request, lesson: str):
    """Keep a copy of a lesson that comes with Lightgap."""
    own = shipped(lesson)
    if own is None:
        raise HTTPException(404, "Only lessons that come with Lightgap are copied from this address.")
    return _begun(request, own)


@router.post("/lesson/{lesson}/edit/{key}/copy")
def copy_own_lesson(request: Request, lesson: str, key: str):
    """Keep a copy of a lesson, with links of its own."""
    original = opened_by_key(request, lesson, key).lesson
    title = f"Copy of {original.title}"[:LONGEST_TITLE].strip()
    return _begun(request, Lesson(title, original.intro, original.steps))


@router.post("/lesson/{lesson}/edit/{key}/delete")
async def delete_lesson(request: Request, lesson: str, key: str):
    """Delete a lesson with all its revisions."""
    texts = await texts_of(request)
    if texts.get("sure") != "yes":
        raise HTTPException(422, "Nothing has been deleted. Go back, and tick that you are sure.")
    return await run_in_threadpool(_delete, request, lesson, key)


@router.get("/lesson/{lesson}/edit/{key}/file")
def lesson_file(request: Request, lesson: str, key: str):
    """Answer the lesson as a file."""
    opened = opened_by_key(request, lesson, key)
    content = json.dumps(file_of(opened.lesson), ensure_ascii=False, indent=1)
    headers = {"Content-Disposition": f'attachment; filename="lesson-{opened.id}.json"', "Cache-Control": "no-store"}
    return Response(content, media_type="application/json", headers=headers)


def _make(request, texts):
    """Keep a new lesson, or show the form again with what is wrong."""
    try:
        front = front_typed(texts)
        steps = _first_step(request)
    except LessonError as error:
        return _form(request, texts, error.wrong, 422)
    return _begun(request, Lesson(front.title, front.intro, steps), texts)


def _first_step(request):
    """Return the step on the stage of the address, if it brings one."""
    if not request.query_params:
        return ()
    try:
        query = query_from(_scenario(request))
    except ScenarioError as error:
        raise LessonError({"stage": _told(error)}) from error
    return (settled_step(Step(title_of(query)[:LONGEST_TITLE], scenario=query)),)


def _scenario(request):
    """Return the stage of the address."""
    return scenario_from([pair for pair in request.query_params.multi_items() if pair[0] != ADD])


def _told(error):
    """Return what is wrong with a stage, in a sentence."""
    return " ".join(f"{view.label}: {view.text}." for view in problem_views(error.problems))[:1000]


def _import(request, text):
    """Keep the lesson of a file, or tell what is wrong with it."""
    try:
        data = json.loads(text)
    except (ValueError, RecursionError):
        return _form(request, {"text": text}, {"text": "This is no JSON."}, 422)
    try:
        lesson = settled(lesson_from(data))
    except LessonError as error:
        told = [f"{field}: {reason}" if field else reason for field, reason in error.wrong.items()]
        more = [f"and {len(told) - _MOST_TOLD} more"] if len(told) > _MOST_TOLD else []
        return _form(request, {"text": text}, {"text": " ".join(told[:_MOST_TOLD] + more)}, 422)
    return _begun(request, lesson, {"text": text})


def _begun(request, lesson, texts=None):
    """Keep a new lesson, and go to the page on which it is changed."""
    rates, whence = request.app.state.hunt_rates, request.client.host if request.client else ""
    if wait := rates.keeping.wait_for(whence) or rates.keeping_all.wait_for("all"):
        raise too_often(wait)
    try:
        with writing(request) as session:
            made = shelf.begin(session, lesson)
    except (DocumentError, LessonError) as error:
        return _form(request, texts or {}, error.wrong, 503 if isinstance(error, RoomError) else 422)
    return RedirectResponse(editing_path(request, made.id, made.key), status_code=303)


def _delete(request, lesson, key):
    """Delete a lesson, and go to the page that begins one."""
    try:
        with writing(request) as session:
            shelf.delete(session, lesson, key)
    except Refused as error:
        raise HTTPException(404, UNKNOWN) from error
    return RedirectResponse(str(request.app.url_path_for("new_lesson")), status_code=303)


def _form(request, texts, wrong=None, status_code=200):
    """Return the page with the ways to begin a lesson."""
    wrong, stage, query = dict(wrong or {}), "", ""
    if request.query_params and request.url.path.endswith("/new"):
        try:
            scenario = _scenario(request)
            query = query_from(scenario)
            stage = title_of(query)
        except ScenarioError as error:
            wrong.setdefault("stage", _told(error))
    given = {name: texts.get(name, "")[: 2 * LONGEST_TEXT] for name in ("title", "intro")}
    given["text"] = texts.get("text", "")[: shelf.LONGEST_FILE]
    context = {"given": given, "wrong": wrong, "stage": stage, "query": query, "address": request.url.query}
    context["ready"] = tuple((name, lesson.title) for name, lesson in shipped_lessons().items())
    if "stage" in wrong and status_code == 200:
        status_code = 422
    answer = page(request, "pages/lesson_new.html", status_code, **context)
    answer.headers["Cache-Control"] = "no-store"
    return answer
