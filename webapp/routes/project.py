"""A stage for a room: the schematic large, three sliders of one's choice, one panel; its address carries all that."""

from urllib.parse import urlencode

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse

from engine import ScenarioError, query_from, scenario_from, scenario_from_query
from webapp.forms import problem_views
from webapp.present.explorer import explore
from webapp.present.lettering import lettered
from webapp.present.projected import projected, shown_of
from webapp.present.stage import LATER
from webapp.render import USUAL_STAGE, fragment, page
from webapp.routes.panels import OWN, panel_context
from webapp.routes.scenario import AFTER, BEFORE, LAST_GOOD, PANEL, SLIDERS, explorer_context, fallback, live_context
from webapp.routes.scenario import pairs_of as stage_pairs

router = APIRouter(include_in_schema=False)

_CARRIED = (PANEL, SLIDERS, BEFORE, AFTER)


@router.get("/project")
def project(request: Request):
    """Show a stage to a room; of one that is refused, that of the last valid values, and what is wrong.

    In a thread of its own, as panels may take long.
    """
    leave = str(request.app.url_path_for("stage"))
    return projected_page(request, str(request.url.path), "pages/project.html", leave=leave)


def projected_page(request, path, name, kept=None, **more):
    """Return a page that shows a stage to a room.

    Parameters
    ----------
    request : Request
        The request.
    path : str
        Path of the page, which its links stay on.
    name : str
        Its template.
    kept : Scenario or None
        What the bare path means; the usual stage where that is None.
    more
        What the template prints besides.

    Returns
    -------
    Response
        The page, or the way to the short link of a form that was sent without script.
    """
    request.state.explorer_at = path
    pairs, given, problems = stage_pairs(request), None, ()
    try:
        explorer = explore(kept if kept and not pairs else scenario_from(pairs), LATER - {"cycle"})
    except ScenarioError as error:
        (explorer, given), problems = fallback(request, error, kept), error.problems
    if not problems and LAST_GOOD in request.query_params and "HX-Request" not in request.headers:
        query = explorer.stage.query or (USUAL_STAGE if kept else "")
        return RedirectResponse(_short(request, path, query), status_code=303)
    context = explorer_context(explorer, given, problems)
    context |= _chosen(request, explorer, context.pop("groups")) | {"here": path}
    return page(request, name, 422 if problems else 200, **context, **more)


@router.get("/project/live")
async def project_live(request: Request):
    """Answer a moved control with the solved stage as it is projected, or with what is wrong."""
    request.state.explorer_at = str(request.app.url_path_for("project"))
    try:
        explorer = explore(scenario_from(stage_pairs(request)), LATER, slow=False)
    except ScenarioError as error:
        return fragment(
            request, "fragments/_problems.html", status_code=422, problems=problem_views(error.problems), notice=""
        )
    shown = shown_of(request.query_params.get(PANEL, ""))
    drawing = lettered(explorer.stage.sides, "beside" if shown == "nothing" else "stacked")
    return fragment(request, "fragments/_projected_live.html", **live_context(explorer), shown=shown, drawing=drawing)


@router.get("/project/panel")
def project_panel(request: Request):
    """Answer the panel that is shown, once the hand rests; nothing where the scenario is refused."""
    request.state.explorer_at = str(request.app.url_path_for("project"))
    try:
        context = panel_context(request, scenario_from(stage_pairs(request)))
    except ScenarioError:
        return fragment(request, "fragments/_panel_kept.html", status_code=422)
    return fragment(request, "fragments/_projected_panel.html", **context)


def _chosen(request, explorer, groups):
    """Return what a page prints of what is shown beside the drawing, and of the three sliders."""
    held, holding = _held(request)
    shown = shown_of(request.query_params.get(PANEL, ""))
    view = projected(groups, shown, request.query_params.get(SLIDERS, ""), held, holding)
    drawing = lettered(explorer.stage.sides, view.way)
    return panel_context(request, explorer.scenario) | {"view": view, "drawing": drawing}


def _held(request):
    """Return the query string of the stage that is held, None where none is or it is refused, and its name."""
    for name in (BEFORE, AFTER):
        if (query := request.query_params.get(name)) is not None:
            try:
                return query_from(scenario_from_query(query)), name
            except ScenarioError:
                return None, BEFORE
    return None, BEFORE


def _short(request, path, query):
    """Return the address of a projected stage whose form was sent without script."""
    kept = {key: text for key, text in request.query_params.items() if key in _CARRIED or key.startswith(OWN)}
    more = urlencode(kept)
    return f"{path}?{'&'.join(part for part in (query, more) if part)}"
