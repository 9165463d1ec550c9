"""JSON about logbooks of real units: what was read, what it says of the coupler, how that goes."""

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse
from starlette.exceptions import HTTPException

from engine import ConvergenceError, ScenarioError
from webapp.logbookanswers import LogbookAnswer, logbook_answer
from webapp.routes.logbooks import UNREADABLE, opened_logbook

router = APIRouter()

_ID = {
    "name": "log",
    "in": "path",
    "required": True,
    "description": "What the link to a logbook ends with; not the key to write with.",
    "schema": {"type": "string"},
}


@router.get(
    "/api/logbooks/{log}",
    summary="Read a logbook",
    responses={
        200: {"model": LogbookAnswer, "description": "Its entries, and how the measured transfer ratio goes."},
        404: {"description": "There is no such logbook."},
        410: {"description": "This version cannot read its stage any more."},
    },
    openapi_extra={"parameters": [_ID]},
)
def api_logbook(request: Request):
    """Give a logbook: readings beside their windows, measured transfer ratios beside the card's limits."""
    kept, scenario, entries = opened_logbook(request, request.path_params["log"])
    try:
        answer = logbook_answer(kept, scenario, entries, str(request.url_for("logbook", log=kept.id)))
    except (ScenarioError, ConvergenceError) as error:
        raise HTTPException(410, UNREADABLE) from error
    return JSONResponse(answer, headers={"Cache-Control": "no-store"})
