"""What requests about trains of edges have in common: values of their own beside the stage."""

from collections.abc import Callable

from fastapi import Request

from engine import Problem, Scenario, ScenarioError, scenario_from, shown
from webapp.present.panels.drawn import Typed
from webapp.routes.scenario import pairs_of


def asked_of(request: Request, own: tuple[str, ...], read: Callable[[Typed], tuple]) -> tuple[Scenario, tuple]:
    """Return the stage and what is read of a request's own values; raise ScenarioError with every problem of both."""
    given = [(key, text) for key, text in request.query_params.multi_items() if key in own]
    texts, problems, scenario = {}, [], None
    for key, text in given:
        if key in texts:
            problems.append(Problem(key, shown(text), "one value", f"{key} is given more than once"))
        texts.setdefault(key, text)
    try:
        scenario = scenario_from([pair for pair in pairs_of(request) if pair[0] not in own])
    except ScenarioError as error:
        problems += error.problems
    typed = Typed(texts)
    values = read(typed)
    problems += typed.problems
    if problems or scenario is None:
        raise ScenarioError(problems)
    return scenario, values
