"""Scenarios that are kept, for whoever has a link: the page, its revisions, what differs, the file."""

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse
from starlette.exceptions import HTTPException
from starlette.responses import RedirectResponse

from engine import ConvergenceError, ScenarioError, query_from, scenario_from, scenario_from_query
from webapp.keeping import documents, scenarios
from webapp.keeping.scenarios import KIND
from webapp.present.kept import differences, kept_view, revision_rows
from webapp.render import USUAL_STAGE, fragment, page
from webapp.routes.explored import explored
from webapp.routes.scenario import pairs_of
from webapp.store import reading

router = APIRouter(include_in_schema=False)

UNKNOWN = "There is nothing at this address."
UNREADABLE = "The stage that is kept here cannot be read by this version of Lightgap."


@router.get("/s/{document}.json")
def kept_file(request: Request, document: str):
    """Answer the kept scenario as a file."""
    kept = revision_at(request, document)
    headers = {"Content-Disposition": f'attachment; filename="{kept.document}.json"', "Cache-Control": "no-store"}
    return JSONResponse(scenarios.exported(kept), headers=headers)


@router.get("/s/{document}")
def kept(request: Request, document: str):
    """Show what is kept, with the explorer: what is moved there changes nothing that is kept."""
    return _shown(request, revision_at(request, document))


@router.get("/s/{document}/revisions/{number}")
def kept_revision(request: Request, document: str, number: str):
    """Show what was kept once."""
    return _shown(request, revision_at(request, document, number))


@router.get("/s/{document}/revisions/{number}/differs")
def kept_differs(request: Request, document: str, number: str):
    """Answer what differs between a revision and the scenario of the explorer, once the hand rests."""
    found = revision_at(request, document, number)
    try:
        here = scenario_from(pairs_of(request))
        context = differing(found, here)
    except ScenarioError:
        raise HTTPException(422, "This is no scenario.") from None
    return fragment(request, "fragments/_kept_differs.html", **context)


def revision_at(request: Request, document: str, number: str = "") -> documents.Revision:
    """Return a revision, the present one where none is named, or raise the answer that there is none."""
    with reading(request) as session:
        if not number:
            found = documents.current(session, KIND, document)
        else:
            counted = int(number) if number.isascii() and number.isdigit() and len(number) < 9 else 0
            found = documents.revision(session, KIND, document, counted)
    if found is None:
        raise HTTPException(404, UNKNOWN)
    return found


def differing(found: documents.Revision, here) -> dict:
    """Return what the strip prints that tells what differs from a revision."""
    kept_scenario = scenarios.scenario_of(found)
    differs = differences(kept_scenario, here)
    return {"kept_id": found.document, "number": found.number, "differs": differs, "here_query": query_from(here)}


def with_explorer(request: Request, template: str, found: documents.Revision, **more):
    """Return a page that shows a revision and the explorer at its own address; 410 where its stage cannot be read.

    `more` may have a `status` of its own, and an `aside` scenario that is shown where the address names none.
    """
    request.state.explorer_at = request.url.path
    status, aside = more.pop("status", 200), more.pop("aside", None)
    try:
        stage = scenarios.scenario_of(found)
        shown = explored(request, aside or stage)
        here = shown.context["stage"].query
        strip = differing(found, scenario_from_query(here))
    except (ScenarioError, ConvergenceError) as error:
        raise HTTPException(410, UNREADABLE) from error
    if shown.short:
        query = "" if shown.query == found.body["scenario"] else f"?{shown.query or USUAL_STAGE}"
        return RedirectResponse(f"{request.url.path}{query}", status_code=303)
    status = shown.status if status == 200 else status
    answer = page(request, template, status, usual=USUAL_STAGE, **strip, **shown.context, **more)
    answer.headers["X-Robots-Tag"] = "noindex"  # who has the link may look, nobody is to find it
    return answer


def _shown(request, found):
    """Return the page of a revision."""
    with reading(request) as session:
        dated = documents.dated(session, KIND, found.document)
    if not dated:  # deleted just now
        raise HTTPException(404, UNKNOWN)
    view, rows = kept_view(found, dated[0].number), revision_rows(dated)
    return with_explorer(request, "pages/kept.html", found, kept=view, rows=rows)
