"""The explorer of a request, for every page that shows it: the scenario, its panel, and what was refused."""

from dataclasses import dataclass

from fastapi import Request

from engine import Scenario, ScenarioError
from webapp.present.explorer import explore
from webapp.routes.panels import panel_context
from webapp.routes.partners import with_partner
from webapp.routes.scenario import LAST_GOOD, explorer_context, fallback, pairs_of


@dataclass(frozen=True, slots=True)
class Explored:
    """What a page with the explorer answers.

    Attributes
    ----------
    context : dict
        What its template prints.
    status : int
        200, or 422 where something was refused and the last good scenario is shown.
    query : str
        Query string of the scenario that is shown.
    short : bool
        Whether the request is a form sent without script, to be answered with the short link of what it means.
    """

    context: dict
    status: int
    query: str
    short: bool = False


def explored(request: Request, kept: Scenario | None = None) -> Explored:
    """Return the explorer for the scenario of the address; raises ScenarioError where not even the usual one is read.

    Parameters
    ----------
    request : Request
        The request.
    kept : Scenario or None
        What a bare path means; the usual stage where that is None.
    """
    was = request.query_params.get(LAST_GOOD)
    try:
        pairs, notice = pairs_of(request), ""
        scenario = kept
        if pairs or kept is None:
            scenario, notice = with_partner(pairs, was)
        explorer = explore(scenario)
    except ScenarioError as error:
        explorer, given = fallback(request, error, kept)
        context = explorer_context(explorer, given, error.problems) | panel_context(request, explorer.scenario)
        return Explored(context, 422, explorer.stage.query)
    context = explorer_context(explorer, notice=notice)
    if was is not None and not notice:
        return Explored(context, 200, explorer.stage.query, short=True)
    return Explored(context | panel_context(request, explorer.scenario), 200, explorer.stage.query)
