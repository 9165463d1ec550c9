"""The findings, documented: as a page, and as JSON of the same."""

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse

from webapp.findinganswers import FindingList, list_answer
from webapp.present.findings import rule_views
from webapp.render import page

router = APIRouter()


@router.get("/findings", include_in_schema=False)
async def findings(request: Request):
    """Show what every stage is asked, and a stage that raises each finding."""
    return page(request, "pages/findings.html", rules=rule_views())


@router.get(
    "/api/findings",
    summary="List the findings",
    responses={200: {"model": FindingList, "description": "Every finding that a stage may have."}},
)
async def api_findings():
    """List what every stage is asked, why, by what limit, and a stage that raises it."""
    return JSONResponse(list_answer())
