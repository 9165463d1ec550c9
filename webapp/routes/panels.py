"""The panels of the explorer, one at a time."""

from fastapi import APIRouter, Request

from engine import Scenario, ScenarioError, pairs_from, query_from, scenario_from
from webapp.present.panels import PANELS
from webapp.render import fragment
from webapp.routes.scenario import AFTER, BEFORE, PANEL, pairs_of

router = APIRouter(include_in_schema=False)

OWN = "p."
"""What the names of a panel's own values begin with."""

_MOST, _LONGEST = 20, 200  # values of a panel, characters of one
_LONGEST_HELD = 12_000  # a card of one's own may be in it


def own_values(request: Request):
    """Return the panel's own values of a request, by key: so many of them, and so long."""
    own = [(key, text) for key, text in request.query_params.multi_items() if key.startswith(OWN)]
    return {key.removeprefix(OWN): text[:_LONGEST] for key, text in own[:_MOST]}


def held_stage(request: Request):
    """Return the query string of the stage that is held to compare with, under its name; empty where none is."""
    held = {name: request.query_params[name] for name in (BEFORE, AFTER) if name in request.query_params}
    return {name: query[:_LONGEST_HELD] for name, query in held.items()}


def panel_context(request: Request, scenario: Scenario):
    """Return what the panel that a request names prints; nothing of one where it names none.

    Raises ScenarioError if the scenario's "auto" resistors cannot be sized.
    """
    name = request.query_params.get(PANEL, "")
    chosen = PANELS.get(name)
    return {
        "panels": tuple(PANELS.values()),
        "chosen": chosen,
        "panel": chosen.view(scenario, own_values(request) | held_stage(request)) if chosen else None,
        "pairs": tuple(pairs_from(scenario)),
        "panel_query": query_from(scenario),
    }


@router.get("/stage/panel")
def stage_panel(request: Request):
    """Answer the panel that is asked for, or nothing where the scenario is refused: the one that is shown stays.

    In a thread of its own, so that a panel that takes long holds no live picture up.
    """
    return request.app.state.remembered.answer(("panel", request.url.query), lambda: _panel(request))


def _panel(request):
    """Return the panel that is asked for."""
    try:
        context = panel_context(request, scenario_from(pairs_of(request)))
    except ScenarioError:
        return fragment(request, "fragments/_panel_kept.html", status_code=422)
    return fragment(request, "fragments/_panel.html", **context)
