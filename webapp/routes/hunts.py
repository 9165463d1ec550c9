"""Fault hunts for who leads them: making one, watching it, ending it."""

import secrets

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.responses import RedirectResponse

from engine import ScenarioError, query_from, scenario_from
from webapp.forms import problem_views
from webapp.hunting import game
from webapp.hunting.readings import Bench, bench_of
from webapp.present.hunts import board_rows, fault_choices, hunt_stage, reasoning
from webapp.present.qr import qr_of
from webapp.render import fragment, page
from webapp.routes.bodies import texts_of
from webapp.store import reading, writing

router = APIRouter(include_in_schema=False)

UNKNOWN = "There is no hunt at this address. Hunts are kept for 120 days."
UNREADABLE = "The stage of this hunt cannot be read by this version of Lightgap."
AT_RANDOM = ""
"""What is sent for a fault that is to be drawn."""


@router.get("/hunt/new")
def new_hunt(request: Request):
    """Show which faults can be hidden in a stage."""
    try:
        return _form(request, scenario_from(request.query_params.multi_items()))
    except ScenarioError as error:
        return _refused(request, error)


@router.post("/hunt/new")
async def make_hunt(request: Request):
    """Take the form: to the page of who leads the hunt."""
    texts = await texts_of(request)
    return await run_in_threadpool(_make, request, texts.get("fault", AT_RANDOM))


@router.get("/hunt/{hunt}/watch/{key}")
def watch_hunt(request: Request, hunt: str, key: str):
    """Show who leads a hunt both links, the hidden fault, the board and the reasoning."""
    kept, bench, board = _watched(request, hunt, key)
    return _private(page(request, "pages/hunt_watch.html", **_watch_context(request, kept, bench, board)))


@router.get("/hunt/{hunt}/watch/{key}/board")
def hunt_board(request: Request, hunt: str, key: str):
    """Give the board alone, which the page asks for again and again."""
    kept, bench, board = _watched(request, hunt, key)
    return fragment(request, "fragments/_hunt_board.html", hunt=kept, board=board_rows(bench, board))


@router.post("/hunt/{hunt}/watch/{key}/end")
def end_hunt(request: Request, hunt: str, key: str):
    """End a hunt, and go back to its page."""
    with writing(request) as session:
        kept = game.watched(session, hunt, key)
        if kept is None:
            raise HTTPException(404, UNKNOWN)
        game.end(kept)
    return RedirectResponse(str(request.app.url_path_for("watch_hunt", hunt=hunt, key=key)), status_code=303)


def opened(kept) -> Bench:
    """Return the bench of a hunt that is kept, or raise the answer that there is none."""
    if kept is None:
        raise HTTPException(404, UNKNOWN)
    try:
        bench = bench_of(kept.scenario, kept.secret)
    except ScenarioError as error:
        raise HTTPException(410, UNREADABLE) from error
    if kept.fault not in {fault.id for fault in bench.hideable}:
        raise HTTPException(410, UNREADABLE)
    return bench


def _private(answer):
    """Return a page that no cache keeps."""
    answer.headers["Cache-Control"] = "no-store"
    return answer


def _form(request, scenario, problem="", status_code=200):
    """Return the page with the form."""
    bench = Bench(scenario)
    stage = hunt_stage(scenario, scenario.conditions.switch)
    return page(request, "pages/hunt_new.html", status_code, stage=stage, choices=fault_choices(bench), problem=problem)


def _refused(request, error):
    """Return the small page about a stage that no fault can be hidden in."""
    sentence = "No fault can be hidden in this stage. " + " ".join(
        f"{view.text}." for view in problem_views(error.problems)
    )
    return page(request, "problems/not_found.html", 422, title="No hunt on this stage", sentence=sentence)


def _make(request, fault):
    """Keep a hunt, or show the form again with what is wrong."""
    try:
        scenario = scenario_from(request.query_params.multi_items())
        hideable = Bench(scenario).hideable
    except ScenarioError as error:
        return _refused(request, error)
    if wait := request.app.state.hunt_rates.making.wait_for("all"):
        raise too_often(wait)
    if fault == AT_RANDOM:
        part = secrets.choice(sorted({one.part for one in hideable}))
        fault = secrets.choice([one.id for one in hideable if one.part == part])
    if fault not in {one.id for one in hideable}:
        return _form(request, scenario, "This stage has no such fault. Choose one of the list.", 422)
    try:
        with writing(request) as session:
            kept = game.make(session, query_from(scenario), fault)
    except game.HuntError as error:
        return _form(request, scenario, str(error), 503 if isinstance(error, game.RoomError) else 422)
    return RedirectResponse(str(request.app.url_path_for("watch_hunt", hunt=kept.id, key=kept.key)), status_code=303)


def too_often(wait):
    """Return the answer to who asks more often than allowed."""
    return HTTPException(
        429, "This comes too often. Wait a moment, then try again.", {"Retry-After": f"{wait + 1:.0f}"}
    )


def _watched(request, hunt, key):
    """Return a hunt, its bench and its board, for who has the key."""
    with reading(request) as session:
        kept = game.watched(session, hunt, key)
        board = game.board(session, kept) if kept else ()
    return kept, opened(kept), board


def _watch_context(request, kept, bench, board):
    """Return what the page of who leads the hunt prints."""
    links = {
        "students": request.url_for("hunt", hunt=kept.id),
        "own": request.url_for("watch_hunt", hunt=kept.id, key=kept.key),
    }
    return {
        "hunt": kept,
        "links": links,
        "qr": qr_of(str(links["students"])),
        "stage": hunt_stage(bench.scenario, bench.scenario.conditions.switch),
        "reasoning": reasoning(bench, kept.fault),
        "board": board_rows(bench, board),
    }
