"""JSON about scenarios that are kept: reading, keeping, saving over, deleting."""

import re

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, Response
from pydantic import BaseModel
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException

from webapp.answers import ProblemDocument
from webapp.keeping import documents, scenarios
from webapp.keeping.documents import Conflict, DocumentError, Refused
from webapp.keeping.scenarios import FORMAT, KIND, VERSION
from webapp.problems import problem
from webapp.routes.bodies import bounded
from webapp.routes.keeping import kept_anew
from webapp.routes.kept import UNKNOWN, revision_at
from webapp.routes.kept_edit import may_save, saved
from webapp.store import reading, writing

router = APIRouter()

KEY = "Lightgap-Key"
"""Header that carries what lets one change a scenario."""

_TAG = re.compile(r'"([1-9][0-9]{0,8})"', re.ASCII)
_TEXT = {"type": "string"}
_BODY = {
    "type": "object",
    "required": ["title", "scenario"],
    "additionalProperties": False,
    "properties": {
        "format": _TEXT | {"enum": [FORMAT], "description": "May be left out, as may the version."},
        "version": {"type": "integer", "enum": [VERSION]},
        "title": _TEXT | {"maxLength": 120},
        "notes": _TEXT | {"maxLength": 5000, "description": "Simple Markdown."},
        "scenario": _TEXT | {"description": "Query string of `/api/stage`."},
        **{name: {"description": "Left aside."} for name in ("id", "revision", "at")},
    },
    "example": {"title": "A panel of 36 V", "notes": "R1 runs warm.", "scenario": "vs=36V&r1=6k8"},
}
_SENT = {"requestBody": {"required": True, "content": {"application/json": {"schema": _BODY}}}}


def _header(name, text):
    """Return the description of a header."""
    return {"name": name, "in": "header", "required": True, "description": text, "schema": _TEXT}


_ID = {"name": "document", "in": "path", "required": True, "description": "What the link ends with.", "schema": _TEXT}
_KEYED = _header(KEY, "The key that the scenario was kept with.")
_BASED = _header("If-Match", 'The revision that was changed, as in "3": the ETag of the answer it came with.')
_REFUSALS = {
    400: {"description": "What was sent is no JSON."},
    413: {"description": "What was sent is too long."},
    422: {"model": ProblemDocument, "description": "Every rejected member at once, after RFC 9457."},
    429: {"description": "This comes too often."},
    503: {"description": "There is no room for more."},
}
_ABSENT = {404: {"description": "It never was, it has been deleted, or the key does not fit: which one is not told."}}


class KeptAnswer(BaseModel):
    """A scenario that is kept; the same object is the shape of files."""

    format: str
    version: int
    title: str
    notes: str
    scenario: str
    id: str
    revision: int
    at: str


class NewAnswer(KeptAnswer):
    """A scenario that was kept just now, with the key that lets one change it: it is told this once."""

    key: str
    view: str
    edit: str


@router.get(
    "/api/kept/{document}",
    summary="Read a scenario that is kept",
    responses={200: {"model": KeptAnswer, "description": "The present revision, or the one that is named."}} | _ABSENT,
    openapi_extra={
        "parameters": [
            _ID,
            {"name": "revision", "in": "query", "required": False, "description": "A revision.", "schema": _TEXT},
        ]
    },
)
def api_kept(request: Request):
    """Give a scenario that is kept, with its revision as ETag."""
    named = request.query_params.get("revision")
    if named == "":
        raise HTTPException(404, UNKNOWN)
    return _answer(revision_at(request, request.path_params["document"], named or ""))


@router.post(
    "/api/kept",
    summary="Keep a scenario",
    status_code=201,
    responses={201: {"model": NewAnswer, "description": "Kept, and on disk."}} | _REFUSALS,
    openapi_extra=_SENT,
)
async def api_keep(request: Request):
    """Keep a scenario under new links; it is solved first, and kept in its canonical form."""
    return await _taken(request, _keep)


@router.put(
    "/api/kept/{document}",
    summary="Save over a scenario that is kept",
    responses={
        200: {"model": KeptAnswer, "description": "The new revision, on disk."},
        412: {"description": "Somebody has saved in the meantime: `current` is what is kept. Nothing was changed."},
        428: {"description": "If-Match is missing."},
    }
    | _ABSENT
    | _REFUSALS,
    openapi_extra={"parameters": [_ID, _KEYED, _BASED]} | _SENT,
)
async def api_save_kept(request: Request):
    """Save a new revision over the one that If-Match names; those before it are kept."""
    return await _taken(request, _save)


@router.delete(
    "/api/kept/{document}",
    summary="Delete a scenario that is kept",
    status_code=204,
    responses={204: {"description": "Deleted, with all its revisions."}} | _ABSENT,
    openapi_extra={"parameters": [_ID, _KEYED]},
)
def api_delete_kept(request: Request):
    """Delete a scenario with all its revisions."""
    try:
        with writing(request) as session:
            documents.delete(session, KIND, request.path_params["document"], request.headers.get(KEY, ""))
    except Refused as error:
        raise HTTPException(404, UNKNOWN) from error
    return Response(status_code=204)


async def _taken(request, act):
    """Return what `act` answers to the text that was sent, in a thread."""
    body = await bounded(request)
    try:
        text = body.decode()
    except UnicodeDecodeError:
        return problem(400, "What was sent is no JSON.")
    return await run_in_threadpool(act, request, text)


def _keep(request, text):
    """Keep what was sent."""
    try:
        new = scenarios.read_text(text, whole=False)
    except DocumentError as error:
        return _rejected(error)
    made = kept_anew(request, new)
    view = request.url_for("kept", document=made.id)
    edit = request.url_for("edit_kept", document=made.id, key=made.key)
    answer = scenarios.exported(revision_at(request, made.id, "1"))
    answer |= {"key": made.key, "view": str(view), "edit": str(edit)}
    place = request.app.url_path_for("api_kept", document=made.id)
    return JSONResponse(answer, 201, {"Location": str(place), "ETag": '"1"', "Cache-Control": "no-store"})


def _save(request, text):
    """Save what was sent over what is kept."""
    document, key = request.path_params["document"], request.headers.get(KEY, "")
    with reading(request) as session:
        if not documents.may_edit(session, KIND, document, key):
            raise HTTPException(404, UNKNOWN)
    base = request.headers.get("If-Match")
    if base is None:
        return problem(428, 'If-Match is missing: the revision that was changed, as in "3".')
    named = _TAG.fullmatch(base.strip())
    try:
        new = scenarios.read_text(text, whole=False)
    except DocumentError as error:
        return _rejected(error)
    may_save(request, document)
    try:
        return _answer(saved(request, document, key, int(named[1]) if named else 0, new))
    except Conflict as conflict:
        kept = scenarios.exported(conflict.current)
        return problem(412, str(conflict), {"ETag": f'"{conflict.current.number}"'}, current=kept)


def _answer(revision):
    """Return a revision as JSON."""
    headers = {"ETag": f'"{revision.number}"', "Cache-Control": "no-store"}
    return JSONResponse(scenarios.exported(revision), headers=headers)


def _rejected(error):
    """Return the answer to what cannot be kept: 400 for what is no JSON, else one entry for each member."""
    if list(error.wrong) == [""]:
        return problem(400, error.wrong[""])
    accepted = {"title": "up to 120 characters", "notes": "up to 5000 characters", "scenario": "a query string"}
    errors = [
        {"field": field, "given": "", "accepted": accepted.get(field, "a kept scenario"), "reason": reason}
        for field, reason in error.wrong.items()
    ]
    return problem(422, " ".join(f"{one['field']}: {one['reason']}" for one in errors), errors=errors)
