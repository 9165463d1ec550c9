"""From a request to a scenario, and from a scenario to what the templates of the explorer print."""

from engine import Scenario, ScenarioError, scenario_from, scenario_from_query
from webapp.forms import followers, groups, problem_views
from webapp.present.card_links import card_links
from webapp.present.explorer import Explorer, explore

LAST_GOOD = "was"
"""Name of the hidden field by which a form without script carries the last scenario that was solved."""


PANEL = "panel"
"""Name of the panel that is open; a panel's own values begin with "p."."""


BEFORE = "before"
"""Name of the stage that is held to compare the shown one with, as a query string."""

AFTER = "after"
"""The same while the stage before is shown, so that the one after is held."""

SLIDERS = "sliders"
"""Name of the sliders that a projected stage has, by their keys."""

_ABOUT = frozenset({LAST_GOOD, PANEL, BEFORE, AFTER, SLIDERS})


def pairs_of(request):
    """Return the query string of a request as key and text, without what is about the page instead of the stage."""
    return of_stage(request.query_params.multi_items())


def of_stage(pairs):
    """Return those of key and text that are about a stage: not its last good scenario, its panel, what is held."""
    return [(key, text) for key, text in pairs if key not in _ABOUT and not key.startswith("p.")]


def live_context(explorer: Explorer):
    """Return what the live part prints."""
    return {
        "stage": explorer.stage,
        "followers": followers(explorer.scenario, explorer.values, explorer.hints),
        "problems": (),
        "notice": "",
    }


def explorer_context(explorer: Explorer, given=None, problems=(), notice=""):
    """Return what the whole explorer prints."""
    controls = groups(explorer.scenario, explorer.values, explorer.hints, given, problems)
    links = card_links(explorer.scenario.coupling)
    more = {"groups": controls, "problems": problem_views(problems), "card_links": links, "notice": notice}
    return live_context(explorer) | more


def fallback(request, error: ScenarioError, kept=None, show=explore):
    """Return what is shown where a request was refused, and the texts that were given.

    It is the last good scenario, if the form carried it; else the one that the page keeps, or what can be read of the
    request; else the default. `show` makes of it what is shown, and refuses what cannot be.
    """
    pairs = pairs_of(request)
    refused = {problem.field for problem in error.problems}
    readable = [(key, text) for key, text in pairs if key not in refused]
    for attempt in (_last_good(request), lambda: kept or scenario_from(readable), Scenario):
        try:
            shown = show(attempt())
        except ScenarioError:
            continue
        return shown, {key: text for key, text in pairs if key in refused}
    raise error


def _last_good(request):
    """Return a function that gives the last good scenario, or refuses if there is none."""

    def attempt():
        query = request.query_params.get(LAST_GOOD)
        if query is None:
            raise ScenarioError(())
        return scenario_from_query(query)

    return attempt
