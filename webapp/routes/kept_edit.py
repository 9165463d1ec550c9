"""Scenarios that are kept, for who has the key: saving over, bringing an earlier revision back, deleting."""

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.responses import RedirectResponse

from engine import ScenarioError, scenario_from_query
from webapp.keeping import documents, scenarios
from webapp.keeping.documents import Conflict, DocumentError, Refused, RoomError
from webapp.keeping.scenarios import KIND
from webapp.present.kept import differences, kept_view, revision_rows
from webapp.render import page
from webapp.routes.bodies import texts_of
from webapp.routes.keeping import TOO_OFTEN, form_again, kept_anew, to_edit
from webapp.routes.kept import UNKNOWN, UNREADABLE, with_explorer
from webapp.store import reading, writing

router = APIRouter(include_in_schema=False)

GONE = f"{UNKNOWN} If it has been deleted, what you have typed can still be kept under new links."
_TEXTS = ("title", "notes", "scenario")


@router.get("/s/{document}/edit/{key}")
def edit_kept(request: Request, document: str, key: str):
    """Show what is kept with both links, the form, and the explorer."""
    return _edit_page(request, document, key)


@router.post("/s/{document}/edit/{key}")
async def save_kept(request: Request, document: str, key: str):
    """Save over what is kept, or keep a copy, and go to its page; tell where somebody has saved in the meantime."""
    return await run_in_threadpool(_save, request, document, key, await texts_of(request))


@router.post("/s/{document}/edit/{key}/back")
async def bring_back(request: Request, document: str, key: str):
    """Save an earlier revision anew, as the present one."""
    return await run_in_threadpool(_bring_back, request, document, key, await texts_of(request))


@router.get("/s/{document}/edit/{key}/delete")
def ask_delete(request: Request, document: str, key: str):
    """Ask whether it is to be deleted."""
    found, dated = _known(request, document, key)
    view = kept_view(found, found.number)
    return _private(page(request, "pages/kept_delete.html", kept=view, key=key, count=len(dated)))


@router.post("/s/{document}/edit/{key}/delete")
def delete_kept(request: Request, document: str, key: str):
    """Delete it with all its revisions."""
    try:
        with writing(request) as session:
            documents.delete(session, KIND, document, key)
    except Refused as error:
        raise HTTPException(404, UNKNOWN) from error
    return _private(page(request, "pages/kept_gone.html", document=document))


def may_save(request: Request, document: str) -> None:
    """Count that a document is saved; raises HTTPException where that comes too often."""
    if wait := request.app.state.hunt_rates.saving.wait_for(document):
        raise HTTPException(429, TOO_OFTEN, {"Retry-After": f"{wait + 1:.0f}"})


def _known(request, document, key):
    """Return the present revision and the dates of all, for who has the key, or raise the answer that there is none."""
    with reading(request) as session:
        if not documents.may_edit(session, KIND, document, key):
            raise HTTPException(404, UNKNOWN)
        found, dated = documents.current(session, KIND, document), documents.dated(session, KIND, document)
    if found is None:
        raise HTTPException(404, UNKNOWN)
    return found, dated


def _private(answer):
    """Return a page that no cache keeps and no search engine lists, as it has the key in it."""
    answer.headers["Cache-Control"] = "no-store"
    answer.headers["X-Robots-Tag"] = "noindex"
    return answer


def _edit_page(request, document, key, texts=None, wrong=None):
    """Return the page that lets one change what is kept, with what was typed where that was refused."""
    found, dated = _known(request, document, key)
    view = kept_view(found, found.number)
    given = {"title": view.title, "notes": view.source, "base": str(view.number)}
    given |= {name: text[:20_000] for name, text in (texts or {}).items() if name in given}
    aside = _readable(texts["scenario"]) if texts and "scenario" not in wrong else None
    more = {"kept": view, "rows": revision_rows(dated), "key": key, "given": given, "wrong": wrong or {}}
    status = 422 if wrong else 200
    more["view_link"] = str(request.url_for("kept", document=document))
    return _private(with_explorer(request, "pages/kept_edit.html", found, status=status, aside=aside, **more))


def _readable(query):
    """Return a scenario that was sent; None where it cannot be read."""
    try:
        return scenario_from_query(query)
    except ScenarioError:
        return None


def _save(request, document, key, texts):
    """Save what was typed."""
    texts = {name: texts.get(name, "") for name in (*_TEXTS, "base", "how")}
    with reading(request) as session:
        known = documents.may_edit(session, KIND, document, key)
    if not known:
        return _private(form_again(request, texts, {}, 404, GONE))
    try:
        new = scenarios.written(*(texts[name] for name in _TEXTS))
    except DocumentError as error:
        return _edit_page(request, document, key, texts, error.wrong)
    if texts["how"] == "copy":
        return to_edit(request, kept_anew(request, new))
    base = texts["base"]
    number = int(base) if base.isascii() and base.isdigit() and len(base) < 9 else 0
    may_save(request, document)
    try:
        saved(request, document, key, number, new)
    except Conflict as conflict:
        return _conflict_page(request, key, texts, new, conflict.current)
    return _to_edit(request, document, key)


def saved(request: Request, document: str, key: str, base: int, new: scenarios.Written) -> documents.Revision:
    """Keep a revision, and return it; raises Conflict, and HTTPException where there is no such document or no room."""
    try:
        with writing(request) as session:
            return documents.save(session, KIND, document, key, base, new.title, new.body)
    except Refused as error:
        raise HTTPException(404, UNKNOWN) from error
    except RoomError as error:
        raise HTTPException(503, str(error)) from error


def _to_edit(request, document, key):
    """Return the way to the page that lets one change it."""
    path = request.app.url_path_for("edit_kept", document=document, key=key)
    return RedirectResponse(str(path), status_code=303)


def _conflict_page(request, key, texts, new, current):
    """Return the page that shows what was typed beside what somebody has saved in the meantime."""
    try:
        differs = differences(scenarios.scenario_of(current), scenario_from_query(new.query))
    except ScenarioError as error:
        raise HTTPException(410, UNREADABLE) from error
    context = {"kept": kept_view(current, current.number), "given": texts, "differs": differs, "key": key}
    return _private(page(request, "pages/kept_conflict.html", 409, **context))


def _bring_back(request, document, key, texts):
    """Save an earlier revision as the present one; where somebody has saved in the meantime, the page shows that."""
    _known(request, document, key)
    number, base = (text if text.isascii() and text.isdigit() and len(text) < 9 else "0" for text in _numbers(texts))
    with reading(request) as session:
        earlier = documents.revision(session, KIND, document, int(number))
    if earlier is None:
        raise HTTPException(404, "There is no such revision; only the first and the latest ones are kept.")
    new = scenarios.held(earlier)
    may_save(request, document)
    try:
        saved(request, document, key, int(base), new)
    except Conflict as conflict:
        typed = {"title": new.title, "notes": new.notes, "scenario": new.query}
        return _conflict_page(request, key, typed, new, conflict.current)
    return _to_edit(request, document, key)


def _numbers(texts):
    return texts.get("number", ""), texts.get("base", "")
