"""Two stages compared, each given by its link or by its query string alone."""

from dataclasses import dataclass
from urllib.parse import parse_qsl, urlencode, urlsplit

from fastapi import APIRouter, Request

from engine import Problem, Scenario, ScenarioError, operating_point, query_from, scenario_from
from webapp.forms import ProblemView, problem_views
from webapp.present.comparing.comparison import comparison
from webapp.present.comparing.stages import compared_stages
from webapp.render import page
from webapp.routes.scenario import of_stage

router = APIRouter(include_in_schema=False)

LONGEST = 12_000
"""The most characters of a stage's link: a card of one's own may be in it."""

_MOST = 300  # values in one link


@dataclass(frozen=True, slots=True)
class Given:
    """One of two stages as it was asked for.

    Attributes
    ----------
    key : str
        Name of its field: "a" or "b".
    mark : str
        What the ids of its drawing begin with.
    name : str
        "Before" or "After".
    text : str
        What was typed.
    longest : int
        The most characters that may be typed.
    scenario : Scenario or None
        What it means; None where it is not given, or refused.
    problems : tuple of ProblemView
        What is wrong with it.
    """

    key: str
    mark: str
    name: str
    text: str
    longest: int
    scenario: Scenario | None
    problems: tuple[ProblemView, ...]


@router.get("/compare")
def compare(request: Request):
    """Show what differs between the stages `a` and `b`; of one that is refused, what is wrong, and the other one.

    In a thread of its own, as two stages are judged.
    """
    both = tuple(_given(request, *of) for of in (("a", "a-", "Before"), ("b", "b-", "After")))
    scenarios = [given.scenario for given in both]
    context = {
        "stages": tuple(zip(both, compared_stages(*scenarios), strict=True)),
        "compared": comparison(*scenarios) if None not in scenarios else None,
        "swapped": _address(request, *reversed(scenarios)),
        "other_state": _other_state(request, scenarios),
    }
    refused = any(given.problems for given in both)
    return page(request, "pages/compare.html", 422 if refused else 200, **context)


def scenario_of(text):
    """Return the scenario that a link or a query string means; raises ScenarioError where it means none."""
    if len(text) > LONGEST:
        raise _refusal("too long for a stage")
    text = text.strip()
    try:
        parts = urlsplit(text) if "?" in text or text.startswith(("/", "http:", "https:")) else None
        pairs = parse_qsl(parts.query if parts else text, keep_blank_values=True, max_num_fields=_MOST, errors="strict")
    except ValueError:
        raise _refusal("cannot be read as a link or a query") from None
    if (text and not pairs) and not (parts and parts.path.endswith(("/stage", "/project"))):
        raise _refusal("no stage is in it")
    scenario = scenario_from(of_stage(pairs))
    operating_point(scenario)  # refused here where a resistor of it cannot be sized
    return scenario


def _refusal(reason):
    """Return the refusal of a text that holds no stage."""
    return ScenarioError([Problem("", "", "the link of a stage, or its query such as vs=24V&r1=4k7", reason)])


def _given(request, key, mark, name):
    """Return what was asked for under a key."""
    text = request.query_params.get(key)
    if text is None:
        return Given(key, mark, name, "", LONGEST, None, ())
    try:
        scenario = scenario_of(text)
    except ScenarioError as error:
        return Given(key, mark, name, text[:LONGEST], LONGEST, None, problem_views(error.problems))
    return Given(key, mark, name, query_from(scenario), LONGEST, scenario, ())


def _address(request, before, after):
    """Return the address of a comparison; empty where one of the stages is missing."""
    if before is None or after is None:
        return ""
    query = urlencode({"a": query_from(before), "b": query_from(after)})
    return f"{request.app.url_path_for('compare')}?{query}"


def _other_state(request, scenarios):
    """Return what the switch of both is to be changed to, and the address; None where a stage is missing."""
    if None in scenarios:
        return None
    state = "open" if scenarios[0].conditions.switch == "closed" else "closed"
    return f"Draw both with the switch {state}", _address(request, *(one.showing(state) for one in scenarios))
