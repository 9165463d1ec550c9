"""Whole pages."""

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse

from engine import Scenario, ScenarioError
from webapp.present.explorer import explore
from webapp.present.specimen import specimen
from webapp.present.starts import STARTS
from webapp.render import page
from webapp.routes.panels import panel_context
from webapp.routes.partners import with_partner
from webapp.routes.scenario import LAST_GOOD, explorer_context, fallback, pairs_of

router = APIRouter(include_in_schema=False)


@router.get("/")
async def home(request: Request):
    """Show the scenarios to start from."""
    return page(request, "pages/home.html", starts=STARTS, preview=explore(Scenario()).stage)


@router.get("/stage")
def stage(request: Request):
    """Show the explorer; a form sent without script is answered with the short link of what it means.

    In a thread of its own, as edges that are followed and panels may take long.
    """
    try:
        scenario, notice = with_partner(pairs_of(request), request.query_params.get(LAST_GOOD))
        explorer = explore(scenario)
    except ScenarioError as error:
        explorer, given = fallback(request, error)
        context = explorer_context(explorer, given, error.problems) | panel_context(request, explorer.scenario)
        return page(request, "pages/stage.html", status_code=422, **context)
    if LAST_GOOD in request.query_params and not notice:
        return RedirectResponse(_address(request, explorer.stage.query), status_code=303)
    context = explorer_context(explorer, notice=notice) | panel_context(request, explorer.scenario)
    return page(request, "pages/stage.html", **context)


@router.get("/specimen")
async def show_specimen(request: Request):
    """Show every symbol, field and finding once."""
    return page(request, "pages/specimen.html", specimen=specimen())


def _address(request, query):
    """Return the address of a scenario."""
    path = request.app.url_path_for("stage")
    return f"{path}?{query}" if query else str(path)
