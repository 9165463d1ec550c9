"""Parts of pages that are swapped in place."""

from fastapi import APIRouter, Request

from engine import ScenarioError, scenario_from
from webapp.forms import problem_views
from webapp.present.explorer import explore
from webapp.present.finding_list import finding_list as listed_findings
from webapp.present.stage import LATER
from webapp.render import fragment
from webapp.routes.partners import with_partner
from webapp.routes.scenario import LAST_GOOD, explorer_context, live_context, pairs_of

router = APIRouter(include_in_schema=False)


UNSEEN = "Lightgap-Unseen"
"""Header that names the sections out of view while a slider is dragged; they are left out of the answer."""


@router.get("/stage/live")
async def live(request: Request):
    """Answer a moved control with the solved stage, or with what is wrong."""
    left_out = LATER.intersection(request.headers.get(UNSEEN, "").split())
    try:
        explorer = explore(scenario_from(pairs_of(request)), left_out, slow=False)
    except ScenarioError as error:
        return fragment(
            request, "fragments/_problems.html", status_code=422, problems=problem_views(error.problems), notice=""
        )
    return fragment(request, "fragments/_live.html", **live_context(explorer))


@router.get("/stage/explorer")
async def explorer(request: Request):
    """Answer another kind of side with its controls too; a class that follows asks for the same all at once."""
    return request.app.state.pictures.answer(("explorer", request.url.query), lambda: _explorer(request))


def _explorer(request):
    """Return the explorer with its controls."""
    try:
        scenario, notice = with_partner(pairs_of(request), request.query_params.get(LAST_GOOD))
        made = explore(scenario, slow=False)
    except ScenarioError as error:
        return fragment(
            request, "fragments/_problems.html", status_code=422, problems=problem_views(error.problems), notice=""
        )
    return fragment(request, "fragments/_explorer.html", **explorer_context(made, notice=notice))


@router.get("/stage/finding-list")
def finding_list(request: Request):
    """Answer all findings once the hand rests, with that on speed, and remedies that do not slow the stage down.

    In a thread of its own, so that edges that are followed hold no live picture up.
    """
    return request.app.state.remembered.answer(("findings", request.url.query), lambda: _finding_list(request))


def _finding_list(request):
    """Return all findings."""
    try:
        found = listed_findings(scenario_from(pairs_of(request)))
    except ScenarioError as error:
        return fragment(
            request, "fragments/_problems.html", status_code=422, problems=problem_views(error.problems), notice=""
        )
    return fragment(request, "fragments/_finding_list.html", findings=found)
