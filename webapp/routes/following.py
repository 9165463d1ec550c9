"""Classes for who follows: the code, the page that follows, and the events by which it does."""

from collections.abc import AsyncIterator

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.responses import RedirectResponse, StreamingResponse

from engine import ScenarioError, scenario_from_query
from webapp.classes import room
from webapp.classes.codes import in_address, read_code
from webapp.classes.hub import FullError, Hub
from webapp.classes.room import Shown
from webapp.present.class_view import class_view
from webapp.render import USUAL_STAGE, page
from webapp.routes.explored import explored
from webapp.routes.hunts import too_often
from webapp.routes.scenario import LAST_GOOD, pairs_of
from webapp.store import reading

router = APIRouter(include_in_schema=False)

UNKNOWN = "There is no class with this code. A code has twelve letters and digits; upper and lower case are the same."
UNREADABLE = "What this class is shown cannot be read by this version of Lightgap."
RETRY = 1500
"""After how long a browser connects anew that does not choose by itself [ms]."""


@router.get("/follow")
def enter_class(request: Request):
    """Ask for the code of a class, or lead to the class whose code was typed."""
    typed = request.query_params.get("code", "")[:100]
    if not typed:
        return page(request, "pages/follow_enter.html", typed="", problem="")
    try:
        shown = looked_up(request, typed)
    except HTTPException as error:
        if error.status_code != 404:
            raise
        return page(request, "pages/follow_enter.html", 422, typed=typed, problem=error.detail)
    return RedirectResponse(address_of(request, shown.code), status_code=303)


@router.get("/follow/{code}")
def follow(request: Request, code: str):
    """Show the stage that a class is shown, or one of one's own where the address has one."""
    shown = looked_up(request, code)
    path = address_of(request, shown.code)
    if request.url.path != path:
        return RedirectResponse(f"{path}?{request.url.query}" if request.url.query else path, status_code=303)
    if request.url.query:
        return _page(request, shown, path)
    return request.app.state.remembered.answer(("follow", shown), lambda: _page(request, shown, path))


@router.get("/follow/{code}/events")
async def class_events(request: Request, code: str):
    """Answer the scenario that a class is shown, and every other one from then on, as a stream of events."""
    shown = await run_in_threadpool(looked_up, request, code)
    hub: Hub = request.app.state.hub
    hub.tell(shown)
    try:
        hub.must_have_room(shown.code)
    except FullError as error:
        raise HTTPException(503, str(error), {"Retry-After": "30"}) from error
    events = _events(hub, shown, _known(request))
    return StreamingResponse(events, media_type="text/event-stream", headers={"Cache-Control": "no-store"})


def looked_up(request: Request, text: str) -> Shown:
    """Return what a class is shown, or raise the answer that there is none; who guesses has to wait."""
    must_not_guess(request)
    code = read_code(text)
    with reading(request) as session:
        shown = room.found(session, code) if code else None
    return or_unknown(request, shown)


def must_not_guess(request: Request) -> None:
    """Raise the answer to who has tried too many codes and keys that lead nowhere.

    One that leads somewhere costs nothing, as a whole class may come from one address.
    """
    if wait := request.app.state.hunt_rates.guessing.without(client_of(request)):
        raise too_often(wait)


def or_unknown(request: Request, shown: Shown | None) -> Shown:
    """Return what was found; where that is nothing, count the guess and raise the answer."""
    if shown is None:
        request.app.state.hunt_rates.guessing.wait_for(client_of(request))
        raise HTTPException(404, UNKNOWN)
    return shown


def client_of(request: Request) -> str:
    """Return the address that a request comes from."""
    return request.client.host if request.client else ""


def address_of(request: Request, code: str) -> str:
    """Return the path of a class for who follows it."""
    return str(request.app.url_path_for("follow", code=in_address(code)))


def _page(request, shown, path):
    """Return the page of who follows."""
    request.state.explorer_at = path
    try:
        found = explored(request, scenario_from_query(shown.scenario))
    except ScenarioError as error:
        raise HTTPException(410, UNREADABLE) from error
    if found.short:
        return RedirectResponse(f"{path}?{found.query or USUAL_STAGE}", status_code=303)
    own = bool(pairs_of(request)) or LAST_GOOD in request.query_params
    view = class_view(shown, own)
    more = {"klass": view, "own": own, "usual": USUAL_STAGE, "bare": request.app.url_path_for("stage")}
    answer = page(request, "pages/follow.html", found.status, **more, **found.context)
    answer.headers["Cache-Control"] = "no-store"
    return answer


def _known(request):
    """Return the number of the scenario that a browser has already; 0 for none."""
    text = request.headers.get("Last-Event-ID") or request.query_params.get("after", "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else 0


async def _events(hub: Hub, shown: Shown, known: int) -> AsyncIterator[str]:
    """Yield what a class is shown, and signs of life in between; the last event of a class that has ended says so."""
    yield f"retry: {RETRY}\n\n"
    try:
        async for news in hub.follow(shown, known):
            if news is None:
                yield ": alive\nevent: alive\ndata:\n\n"  # a page is told of an event, not of a comment
                continue
            if news.number != known:
                known = news.number
                yield f"id: {known}\nevent: scenario\ndata: ?{news.scenario}\n\n"
            if news.ended:
                yield f"id: {known}\nevent: ended\ndata: {known}\n\n"
    except FullError:
        return  # somebody else was quicker
