"""JSON about lessons: those that come with Lightgap, a lesson by its link, one step with or without its answer."""

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse
from starlette.exceptions import HTTPException

from engine import Problem, ScenarioError, shown
from webapp.answers import ProblemDocument
from webapp.lessonanswers import LessonAnswer, LessonList, StepAnswer, entry_of, lesson_answer, step_answer
from webapp.lessons.shipped import shipped_lessons
from webapp.lessons.truths import LONGEST_PREDICTION, PredictionError, judged
from webapp.present.lessons import UNREADABLE, UNSHOWABLE
from webapp.problems import rejected
from webapp.routes.lesson_pages import GUESS, SHOW, numbered, opened_lesson

router = APIRouter()

_FRESH = {"Cache-Control": "no-store"}
_ABSENT = {
    404: {"description": "There is no such lesson, or step."},
    410: {"description": "This version cannot read it any more."},
}


def _given(name, where, text, default=None):
    """Return the description of a parameter."""
    schema = {"type": "string"} | ({} if default is None else {"default": default})
    return {"name": name, "in": where, "required": where == "path", "description": text, "schema": schema}


_LESSON = _given("lesson", "path", "What the link to a lesson ends with.", next(iter(shipped_lessons())))
_STEP = [
    _LESSON,
    _given("step", "path", "Which step, from 1.", "1"),
    _given(GUESS, "query", f"A prediction, up to {LONGEST_PREDICTION} characters: it is weighed, the answer told."),
    _given(SHOW, "query", "Anything, to be told the answer without a prediction."),
]


@router.get(
    "/api/lessons",
    summary="List the lessons",
    responses={200: {"model": LessonList, "description": "Those that come with Lightgap; others have links alone."}},
)
async def api_lessons(request: Request):
    """List the lessons that come with Lightgap."""
    found = [entry_of(name, one, _page(request, name)) for name, one in shipped_lessons().items()]
    return JSONResponse({"lessons": found})


@router.get(
    "/api/lessons/{lesson}",
    summary="Read a lesson",
    responses={200: {"model": LessonAnswer, "description": "Its steps, what they show and ask."}} | _ABSENT,
    openapi_extra={"parameters": [_LESSON]},
)
def api_lesson(request: Request):
    """Give a lesson with its steps; answers, and stages that would give them away, are left out."""
    opened = opened_lesson(request, request.path_params["lesson"])
    answer = lesson_answer(opened.id, opened.lesson, opened.number, _page(request, opened.id))
    return JSONResponse(answer, headers=_FRESH)


@router.get(
    "/api/lessons/{lesson}/{step}",
    summary="Read a step of a lesson, predict, see the answer",
    responses={
        200: {"model": StepAnswer, "description": "The step; with its answer where that is asked for."},
        422: {"model": ProblemDocument, "description": "A prediction that cannot be read."},
    }
    | _ABSENT,
    openapi_extra={"parameters": _STEP},
)
def api_lesson_step(request: Request):
    """Give one step; the answer only to who has predicted something, or asks for it."""
    opened = opened_lesson(request, request.path_params["lesson"])
    number = numbered(opened.lesson, request.path_params["step"])
    step, guess = opened.lesson.steps[number - 1], request.query_params.get(GUESS)
    shows = SHOW in request.query_params
    try:
        told = judged(step, guess) if step.ask and guess is not None and not shows else None
        revealed = shows or told is not None
        answer = step_answer(opened.lesson, number, _page(request, opened.id), revealed, told)
    except PredictionError as error:
        return rejected(ScenarioError([Problem(GUESS, shown(guess), "what this step asks for", str(error))]))
    except UNSHOWABLE as error:
        raise HTTPException(410, UNREADABLE) from error
    return JSONResponse(answer, headers=_FRESH)


def _page(request, id):
    """Return the link to a lesson."""
    return str(request.url_for("lesson", lesson=id))
