"""Classes for who leads them: making one, showing it what one sees, how many follow, ending it."""

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, RedirectResponse

from engine import ConvergenceError, ScenarioError, query_from, scenario_from, scenario_from_query
from webapp.classes import room
from webapp.classes.codes import in_address, read_code
from webapp.classes.room import Shown
from webapp.forms import problem_views
from webapp.present.class_view import class_view
from webapp.present.hunts import hunt_stage
from webapp.present.qr import qr_of
from webapp.render import USUAL_STAGE, fragment, page
from webapp.routes.bodies import texts_of
from webapp.routes.explored import explored
from webapp.routes.following import UNREADABLE, address_of, client_of, looked_up, must_not_guess, or_unknown
from webapp.routes.hunts import too_often
from webapp.routes.project import projected_page
from webapp.routes.scenario import pairs_of
from webapp.store import reading, writing

router = APIRouter(include_in_schema=False)

UNSOLVED = "It cannot be worked out."


@router.get("/follow/new")
def new_class(request: Request):
    """Show what leading a class means, and the stage to begin with."""
    try:
        scenario = scenario_from(pairs_of(request))
        stage = hunt_stage(scenario, scenario.conditions.switch)
    except (ScenarioError, ConvergenceError) as error:
        return _refused(request, error)
    return page(request, "pages/follow_new.html", stage=stage)


@router.post("/follow/new")
def make_class(request: Request):
    """Make a class: to the page of who leads it."""
    try:
        query = query_from(scenario_from(pairs_of(request)))
    except ScenarioError as error:
        return _refused(request, error)
    rates = request.app.state.hunt_rates
    if wait := rates.leading.wait_for(client_of(request)) or rates.leading_all.wait_for("all"):
        raise too_often(wait)
    try:
        with writing(request) as session:
            made = room.make(session, query)
    except room.ClassError as error:
        raise HTTPException(503 if isinstance(error, room.RoomError) else 422, str(error)) from error
    return RedirectResponse(_address(request, made.code, made.key), status_code=303)


@router.get("/follow/{code}/lead/{key}")
def lead(request: Request, code: str, key: str):
    """Show the explorer of who leads a class, whom the class follows."""
    shown, count = _led(request, code, key)
    request.state.explorer_at = path = _address(request, shown.code, key)
    try:
        found = explored(request, scenario_from_query(shown.scenario))
    except ScenarioError as error:
        raise HTTPException(410, UNREADABLE) from error
    if found.short:
        return RedirectResponse(f"{path}?{found.query or USUAL_STAGE}", status_code=303)
    link = request.url_for("follow", code=in_address(shown.code))
    more = {"klass": class_view(shown), "key": key, "following": count, "usual": USUAL_STAGE, **_coded(link)}
    answer = page(request, "pages/lead.html", found.status, **more, **found.context)
    answer.headers["Cache-Control"] = "no-store"
    return answer


@router.get("/follow/{code}/project")
def class_project(request: Request, code: str):
    """Show to a room what a class is shown; its script leads the class with the key that the leading page left it."""
    shown = looked_up(request, code)
    path = str(request.app.url_path_for("class_project", code=in_address(shown.code)))
    if request.url.path != path:
        return RedirectResponse(f"{path}?{request.url.query}" if request.url.query else path, status_code=303)
    try:
        kept = scenario_from_query(shown.scenario)
    except ScenarioError as error:
        raise HTTPException(410, UNREADABLE) from error
    enter = str(request.url_for("enter_class")).partition("://")[2]
    more = {"klass": class_view(shown), "enter": enter, "usual": USUAL_STAGE, "leave": address_of(request, shown.code)}
    more |= _coded(request.url_for("follow", code=in_address(shown.code)))
    answer = projected_page(request, path, "pages/project_class.html", kept, **more)
    answer.headers["Cache-Control"] = "no-store"
    return answer


@router.get("/follow/{code}/lead/{key}/followers")
def class_followers(request: Request, code: str, key: str):
    """Give how many follow, which the page asks for again and again."""
    shown, count = _led(request, code, key)
    return fragment(request, "fragments/_class_followers.html", klass=class_view(shown), following=count)


@router.post("/follow/{code}/lead/{key}/scenario")
async def show_class(request: Request, code: str, key: str):
    """Show a class another scenario; answers its number, or leads back to the page of who has no script."""
    texts = await texts_of(request)
    shown = await run_in_threadpool(_show, request, code, key, texts.get("scenario", ""))
    request.app.state.hub.tell(shown)
    if "back" in texts:
        path = _address(request, shown.code, key)
        return RedirectResponse(f"{path}?{shown.scenario or USUAL_STAGE}", status_code=303)
    return JSONResponse({"number": shown.number}, headers={"Cache-Control": "no-store"})


@router.post("/follow/{code}/lead/{key}/end")
async def end_class(request: Request, code: str, key: str):
    """End a class, and go back to its page."""
    shown = await run_in_threadpool(_end, request, code, key)
    request.app.state.hub.tell(shown)
    return RedirectResponse(_address(request, shown.code, key), status_code=303)


def _coded(link):
    """Return the link of a class, with what draws it as a QR code."""
    return {"link": link, "qr": qr_of(str(link))}


def _show(request, code, key, text):
    """Keep what a class is shown, and return it."""
    try:
        query = query_from(scenario_from_query(text))
    except ScenarioError as error:
        raise HTTPException(422, " ".join(f"{view.text}." for view in problem_views(error.problems))) from error
    code = read_code(code) or ""
    if wait := request.app.state.hunt_rates.moving.wait_for(f"{code} {key[:64]}"):  # nobody without the key uses it up
        raise too_often(wait)
    must_not_guess(request)
    try:
        with writing(request) as session:
            shown = room.show(session, code, key, query)
    except room.ClassError as error:
        raise HTTPException(409 if isinstance(error, room.EndedError) else 422, str(error)) from error
    return or_unknown(request, shown)


def _end(request, code, key):
    """Keep that a class has ended, and return what it is shown."""
    must_not_guess(request)
    with writing(request) as session:
        shown = room.end(session, read_code(code) or "", key)
    return or_unknown(request, shown)


def _led(request, code, key) -> tuple[Shown, int]:
    """Return what a class is shown, and how many follow it, for who has its key."""
    must_not_guess(request)
    with reading(request) as session:
        shown = room.led(session, read_code(code) or "", key)
        count = room.followers(session, shown.code) if shown else 0
    return or_unknown(request, shown), count


def _address(request, code, key):
    """Return the path of a class for who leads it."""
    return str(request.app.url_path_for("lead", code=in_address(code), key=key))


def _refused(request, error):
    """Return the small page about a stage that no class can be shown."""
    told = UNSOLVED
    if isinstance(error, ScenarioError):
        told = " ".join(f"{view.text}." for view in problem_views(error.problems))
    sentence = f"No class can be shown this stage. {told}"
    return page(request, "problems/not_found.html", 422, title="No class on this stage", sentence=sentence)
