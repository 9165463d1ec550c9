"""Fault hunts for who takes part: joining, reading the meter, naming the fault.

What is answered here before somebody has found the fault depends on it by readings alone, and every reading is taken
from the figures of all faults.
"""

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.responses import RedirectResponse

from engine import STATES
from webapp.hunting import game
from webapp.hunting.readings import Place
from webapp.present.hunts import fault_choices, first_place, hunt_stage, meter_view, reading_rows, reasoning
from webapp.render import fragment, page
from webapp.routes.bodies import texts_of
from webapp.routes.hunts import opened, too_often
from webapp.store import reading, writing

router = APIRouter(include_in_schema=False)

COOKIE = "hunter"
"""Name of the cookie by which somebody is known again."""

KNOWN_FOR = 30 * 86400
"""How long a browser keeps it [s]."""


@router.get("/hunt/{hunt}")
def hunt(request: Request, hunt: str):
    """Show the sound stage and the meter, or ask for a name first."""
    with reading(request) as session:
        kept, hunter = _whose(session, request, hunt)
        taken = game.taken(session, hunter) if hunter else []
    bench = opened(kept)
    if hunter is None and not kept.ended:
        return _kept_nowhere(page(request, "pages/hunt_join.html", hunt=kept, problem="", nickname=""))
    asked = request.query_params
    place = _place(bench, asked.get("sw"), asked.get("red"), asked.get("black"))
    return _page(request, kept, bench, hunter, taken, place)


@router.post("/hunt/{hunt}/join")
async def join_hunt(request: Request, hunt: str):
    """Take a name: to the stage, or back with what is wrong with it."""
    texts = await texts_of(request)
    return await run_in_threadpool(_join, request, hunt, texts.get("nickname", ""))


@router.post("/hunt/{hunt}/read")
async def read_meter(request: Request, hunt: str):
    """Take a reading, and go to the page that shows it."""
    texts = await texts_of(request)
    kept, _, _, _, place = await run_in_threadpool(_read, request, hunt, texts)
    return _to(request, kept, f"sw={place.state}&red={place.red}&black={place.black}")


@router.post("/hunt/{hunt}/meter")
async def hunt_meter(request: Request, hunt: str):
    """Take a reading, and give the meter that shows it."""
    texts = await texts_of(request)
    kept, bench, _, taken, place = await run_in_threadpool(_read, request, hunt, texts)
    return fragment(request, "fragments/_hunt_meter.html", hunt=kept, **_meter_context(kept, bench, taken, place))


@router.post("/hunt/{hunt}/answer")
async def answer_hunt(request: Request, hunt: str):
    """Take the name of a fault: to the page that tells whether it is the one."""
    texts = await texts_of(request)
    return await run_in_threadpool(_answer, request, hunt, texts.get("fault", ""))


def _join(request, hunt, nickname):
    """Let somebody take part."""
    if wait := request.app.state.hunt_rates.joining.wait_for(hunt[:32]):
        raise too_often(wait)
    with reading(request) as session:
        kept, hunter = _whose(session, request, hunt)
    opened(kept)
    if hunter is not None:
        return _to(request, kept)
    try:
        with writing(request) as session:
            token = game.join(session, game.found(session, hunt), nickname)
    except game.HuntError as error:
        shown = nickname[:40] if nickname.isprintable() else ""
        context = {"hunt": kept, "problem": str(error), "nickname": shown}
        return _kept_nowhere(page(request, "pages/hunt_join.html", 422, **context))
    answer = _to(request, kept)
    path, secure = str(request.app.url_path_for("hunt", hunt=hunt)), request.url.scheme == "https"
    answer.set_cookie(COOKIE, token, KNOWN_FOR, path=path, httponly=True, samesite="lax", secure=secure)
    return answer


def _read(request, hunt, texts):
    """Take a reading, and return the hunt, its bench, who reads, what was taken, and the place."""
    with reading(request) as session:
        kept, hunter = _whose(session, request, hunt)
    bench = opened(kept)
    _must_be_known(hunter)
    if wait := request.app.state.hunt_rates.reading.wait_for(hunter.token):
        raise too_often(wait)
    place = Place(texts.get("sw", ""), texts.get("red", ""), texts.get("black", ""))
    if not bench.knows(place):
        raise HTTPException(422, "The stage has no such point or switch position. Go back and choose from the lists.")
    try:
        with writing(request) as session:
            kept = game.found(session, hunt)  # which may have ended meanwhile; who takes part stays with it
            opened(kept)
            taken = game.take(session, kept, hunter, place)
    except game.HuntError as error:
        raise HTTPException(409, str(error)) from error
    return kept, bench, hunter, taken, place


def _answer(request, hunt, fault):
    """Keep an answer."""
    with reading(request) as session:
        kept, hunter = _whose(session, request, hunt)
    bench = opened(kept)
    _must_be_known(hunter)
    if fault not in {one.id for one in bench.hideable}:
        raise HTTPException(422, "The stage has no such fault. Go back and choose one of the list.")
    if wait := request.app.state.hunt_rates.answering.wait_for(hunter.token):
        raise too_often(wait)
    right = fault in bench.alike(kept.fault)
    try:
        with writing(request) as session:
            kept, hunter = _whose(session, request, hunt)
            game.answer(session, kept, hunter, fault, right)
    except game.HuntError as error:
        raise HTTPException(409, str(error)) from error
    return _to(request, kept)


def _page(request, kept, bench, hunter, taken, place):
    """Return the page of who takes part; with the fault, where it was found or the hunt has ended."""
    over = bool(kept.ended) or hunter.found_readings is not None
    context = {
        "hunter": hunter,
        "stage": hunt_stage(bench.scenario, place.state),
        "choices": fault_choices(bench),
        "tries": 0 if hunter is None else game.MOST_TRIES - hunter.tries,
        "reasoning": reasoning(bench, kept.fault, taken) if over else None,
    }
    context |= _meter_context(kept, bench, taken, place)
    return _kept_nowhere(page(request, "pages/hunt.html", hunt=kept, **context))


def _meter_context(kept, bench, taken, place):
    """Return what the meter prints: a reading only where it has been taken."""
    ends = {place.red, place.black}
    reads = any(one.state == place.state and {one.red, one.black} == ends for _, one in taken)
    return {"meter": meter_view(bench, kept.fault, place, reads), "rows": reading_rows(bench, kept.fault, taken)}


def _place(bench, state, red, black):
    """Return the place that an address names, as far as the stage has it."""
    first = first_place(bench, state if state in STATES else bench.scenario.conditions.switch)
    asked = Place(first.state, red or first.red, black or first.black)
    return asked if bench.knows(asked) else first


def _whose(session, request, hunt):
    """Return a hunt, and who shows a token for it; each of them may be missing."""
    kept = game.found(session, hunt)
    hunter = game.known(session, kept, request.cookies.get(COOKIE, "")) if kept else None
    return kept, hunter


def _must_be_known(hunter):
    """Raise the answer to somebody who has not joined."""
    if hunter is None:
        raise HTTPException(403, "Join the hunt with a name first: its link asks for one.")


def _to(request, kept, query=""):
    """Return the way to the page of who takes part."""
    path = str(request.app.url_path_for("hunt", hunt=kept.id))
    return RedirectResponse(f"{path}?{query}" if query else path, status_code=303)


def _kept_nowhere(answer):
    """Return a page that no cache keeps."""
    answer.headers["Cache-Control"] = "no-store"
    return answer
