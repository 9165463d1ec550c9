"""Logbooks of real units: beginning one, showing it, writing into it, and its entries as a file."""

import datetime

from fastapi import APIRouter, Request
from fastapi.responses import Response
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.responses import RedirectResponse

from engine import ConvergenceError, ScenarioError, query_from, scenario_from, scenario_from_query
from webapp.forms import problem_views
from webapp.logbooks import book
from webapp.present.logbook import blanks, book_view, kept_readings, stage_of, table_of
from webapp.render import page
from webapp.routes.bench import READING, UNSOLVED, stage_pairs, typed_readings
from webapp.routes.bodies import texts_of
from webapp.store import reading, writing

router = APIRouter(include_in_schema=False)

UNKNOWN = "There is no logbook at this address."
UNREADABLE = "The stage of this logbook cannot be read by this version of Lightgap."
NO_KEY = "This link shows the logbook; the one to write with has a key at its end."
TOO_OFTEN = "This comes too often. Wait a moment, then try again."
_FIELDS = ("title", "date", "note", "nickname")


@router.get("/log/new")
def new_logbook(request: Request):
    """Show the blanks of a stage, with readings that the address brings."""
    try:
        scenario = scenario_from(stage_pairs(request))
        return _form(request, scenario, typed_readings(request))
    except (ScenarioError, ConvergenceError) as error:
        return _refused(request, error)


@router.post("/log/new")
async def make_logbook(request: Request):
    """Take the form: to the page that lets one write."""
    texts = await texts_of(request)
    return await run_in_threadpool(_make, request, texts)


@router.get("/log/{log}.csv")
def logbook_csv(request: Request, log: str):
    """Answer the entries as a file."""
    kept, scenario, entries = opened_logbook(request, log)
    try:
        content = table_of(scenario, entries)
    except (ScenarioError, ConvergenceError) as error:
        raise HTTPException(410, UNREADABLE) from error
    headers = {"Content-Disposition": f'attachment; filename="{kept.id}.csv"', "Cache-Control": "no-store"}
    return Response(content, media_type="text/csv; charset=utf-8; header=present", headers=headers)


@router.get("/log/{log}")
def logbook(request: Request, log: str):
    """Show a logbook; who has the key gets a form besides."""
    return _shown(request, log, {}, {})


@router.post("/log/{log}")
async def add_entry(request: Request, log: str):
    """Keep an entry, and go back to the page."""
    texts = await texts_of(request)
    return await run_in_threadpool(_add, request, log, texts)


@router.get("/log/{log}/delete")
def ask_delete_logbook(request: Request, log: str):
    """Ask whether a logbook is to be deleted."""
    with reading(request) as session:
        kept = _writable(request, book.found(session, log))
        count = book.count(session, kept)
    answer = page(request, "pages/logbook_delete.html", log=kept, count=count, back=_address(request, kept))
    answer.headers["Cache-Control"] = "no-store"
    return answer


@router.post("/log/{log}/delete")
def delete_logbook(request: Request, log: str):
    """Delete a logbook with all its entries."""
    with writing(request) as session:
        book.delete(session, _writable(request, book.found(session, log)))
    return page(request, "pages/logbook_gone.html")


def _writable(request, kept):
    """Return a logbook for who has its key, or raise the answer that there is none, or no right to it."""
    if kept is None:
        raise HTTPException(404, UNKNOWN)
    if not book.may_write(kept, request.query_params.get("key", "")):
        raise HTTPException(403, NO_KEY)
    return kept


def _make(request, texts):
    """Keep a logbook, or show the form again with what is wrong."""
    typed, wrong, first = _typed(texts), {}, None
    try:
        scenario = scenario_from(stage_pairs(request))
        blanks(scenario)
    except (ScenarioError, ConvergenceError) as error:
        return _refused(request, error)
    title = texts.get("title", "")
    try:
        title = book.titled(title)
    except book.LogError as error:
        wrong |= error.wrong
    if any(text.strip() for text in typed.values()) or texts.get("note", "").strip():
        first, more = _entry(scenario, texts)
        wrong |= more
    if wrong:
        return _form(request, scenario, typed, texts, wrong, 422)
    if wait := request.app.state.hunt_rates.logging.wait_for("all"):
        raise HTTPException(429, TOO_OFTEN, {"Retry-After": f"{wait + 1:.0f}"})
    try:
        with writing(request) as session:
            kept = book.begin(session, query_from(scenario), title, first)
    except book.LogError as error:
        return _form(request, scenario, typed, texts, error.wrong, 503 if isinstance(error, book.RoomError) else 422)
    return RedirectResponse(_address(request, kept), status_code=303)


def _add(request, log, texts):
    """Keep an entry, or show the page again with what is wrong."""
    kept, scenario, _ = opened_logbook(request, log)
    _writable(request, kept)
    if wait := request.app.state.hunt_rates.entering.wait_for(kept.id):
        raise HTTPException(429, TOO_OFTEN, {"Retry-After": f"{wait + 1:.0f}"})
    entry, wrong = _entry(scenario, texts)
    if not wrong:
        try:
            with writing(request) as session:
                book.enter(session, kept, entry)
        except book.LogError as error:
            wrong = error.wrong
    if wrong:
        return _shown(request, log, texts, wrong, 422)
    return RedirectResponse(_address(request, kept), status_code=303)


def _entry(scenario, texts):
    """Return the entry that a form means, and field to what is wrong with it."""
    wrong, readings = {}, {}
    try:
        readings = kept_readings(scenario, _typed(texts))
    except ScenarioError as error:
        wrong = {p.field: f"{p.reason}; accepted: {p.accepted}" for p in error.problems}
    try:
        entry = book.written(texts, readings, datetime.datetime.now(datetime.UTC).date())
    except book.LogError as error:
        more = {field: text for field, text in error.wrong.items() if field != "readings" or not wrong}
        return None, wrong | more
    return entry, wrong


def _typed(texts):
    """Return what was typed into the blanks of the sheet."""
    return {name: text for name, text in texts.items() if name.startswith(READING)}


def _address(request, kept):
    """Return the path that lets one write into a logbook."""
    return f"{request.app.url_path_for('logbook', log=kept.id)}?key={kept.key}"


def opened_logbook(request, log):
    """Return a logbook, its stage and its entries, or raise the answer that there is none."""
    with reading(request) as session:
        kept = book.found(session, log)
        entries = book.entries(session, kept) if kept else []
    if kept is None:
        raise HTTPException(404, UNKNOWN)
    try:
        return kept, scenario_from_query(kept.scenario), entries
    except ScenarioError as error:
        raise HTTPException(410, UNREADABLE) from error


def _shown(request, log, texts, wrong, status_code=200):
    """Return the page of a logbook."""
    kept, scenario, entries = opened_logbook(request, log)
    writes = book.may_write(kept, request.query_params.get("key", ""))
    try:
        view = book_view(scenario, entries)
        form = _context(scenario, _typed(texts), texts, wrong) if writes else {}
    except (ScenarioError, ConvergenceError) as error:
        raise HTTPException(410, UNREADABLE) from error
    links = {"view": request.url_for("logbook", log=kept.id), "write": _address(request, kept) if writes else ""}
    answer = page(request, "pages/logbook.html", status_code, log=kept, book=view, links=links, **form)
    answer.headers["Cache-Control"] = "no-store"
    return answer


def _form(request, scenario, typed, texts=None, wrong=None, status_code=200):
    """Return the page that begins a logbook."""
    title, query = stage_of(scenario)
    context = _context(scenario, typed, texts or {}, wrong or {})
    return page(request, "pages/logbook_new.html", status_code, title=title, query=query, **context)


def _context(scenario, typed, texts, wrong):
    """Return what the form prints."""
    points, states = blanks(scenario, typed, wrong)
    named = {cell.name for point in points for cell in point.cells} | set(_FIELDS)
    given = {field: texts.get(field, "")[:1000] for field in _FIELDS}
    given["date"] = given["date"] or datetime.datetime.now(datetime.UTC).date().isoformat()
    others = tuple(dict.fromkeys(text for field, text in wrong.items() if field not in named))
    return {"points": points, "states": states, "given": given, "wrong": wrong, "others": others}


def _refused(request, error):
    """Return the small page about a stage that no sheet can be made of."""
    problems = error.problems if isinstance(error, ScenarioError) else ()
    told = " ".join(f"{view.text}." for view in problem_views(problems)) or UNSOLVED
    sentence = f"No logbook can be kept of this stage. {told}"
    return page(request, "problems/not_found.html", 422, title="No logbook of this stage", sentence=sentence)
