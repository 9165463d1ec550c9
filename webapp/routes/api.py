"""JSON answers, and their description."""

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse
from starlette.concurrency import run_in_threadpool

from engine import ScenarioError, findings_of, operating_point, query_from, scenario_from
from webapp.answers import QUERY_PARAMETERS, ProblemDocument, StageAnswer, stage_answer
from webapp.problems import rejected
from webapp.render import page
from webapp.routes.scenario import pairs_of

router = APIRouter()


@router.get(
    "/api/stage",
    summary="Solve a stage",
    responses={
        200: {"model": StageAnswer, "description": "Both switch states, SI numbers throughout."},
        422: {"model": ProblemDocument, "description": "Every rejected field at once, after RFC 9457."},
    },
    openapi_extra={"parameters": QUERY_PARAMETERS},
)
async def api_stage(request: Request):
    """Solve the stage that the query string describes, the same as that of the explorer's address.

    Fields that are left out have their defaults; quantities carry their unit ("4k7", "36V", "110%").
    """
    try:
        scenario = scenario_from(pairs_of(request))
        point = operating_point(scenario)
    except ScenarioError as error:
        return rejected(error)
    found = await run_in_threadpool(findings_of, point)
    return JSONResponse(stage_answer(query_from(scenario), point, found))


@router.get("/api", include_in_schema=False)
async def describe(request: Request):
    """Show the description of the JSON answers as a page."""
    return page(request, "pages/api.html", description=request.app.openapi())
