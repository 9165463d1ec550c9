"""JSON answers about contacts that bounce."""

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse
from pydantic import BaseModel
from starlette.concurrency import run_in_threadpool

from engine import (
    BOUNCE_ENDS,
    BOUNCE_TIME,
    BOUNCES,
    MOST_BOUNCES,
    UNITS,
    Bounced,
    Bouncing,
    ConvergenceError,
    FilterCase,
    Scenario,
    ScenarioError,
    as_typed,
    filter_for,
    query_from,
    why_unbounced,
)
from webapp.answers import QUERY_PARAMETERS, ProblemDocument
from webapp.present.panels.bounce import bounce_asked
from webapp.present.panels.window import UNSOLVED
from webapp.problems import rejected
from webapp.routes.api_timing import SpanAnswer
from webapp.routes.trains import asked_of

router = APIRouter()

_OWN = ("tb", "bounces")
_LOW, _HIGH = (as_typed(end, UNITS["s"]) for end in BOUNCE_ENDS)
_PARAMETERS = [
    {
        "name": "tb",
        "in": "query",
        "required": False,
        "description": f"From the first touch of the contact to the last, {_LOW} to {_HIGH}.",
        "schema": {"type": "string", "default": as_typed(BOUNCE_TIME, UNITS["s"])},
    },
    {
        "name": "bounces",
        "in": "query",
        "required": False,
        "description": f"How often it lets go again, 1 to {MOST_BOUNCES}.",
        "schema": {"type": "string", "default": str(BOUNCES)},
    },
    *QUERY_PARAMETERS,
]


class NominalSpan(SpanAnswer):
    """Nominal value beside the extremes."""

    value: float | None


class BouncedAnswer(BaseModel):
    """Edges that any receiver sees and that one may see at the most, nominal and at worst; until the level is sure."""

    surely: tuple[int, int]
    possibly: tuple[int, int]
    stable: NominalSpan


class BounceWave(BaseModel):
    """One edge of the nominal stage; `contact` are the times at which the contact changes."""

    t: list[float]
    contact: list[float]
    IF: list[float]
    nominal: list[float]
    low: list[float]
    high: list[float]
    limits: tuple[float, float]


class FilterAnswer(BaseModel):
    """A stage with one filter capacitor: both edges with bounces that shrink, and with one long gap."""

    C: float
    edges: dict[str, BouncedAnswer]
    worst: dict[str, BouncedAnswer]
    delay: dict[str, NominalSpan]
    max_rate: NominalSpan
    waves: dict[str, BounceWave]


class BounceAnswer(BaseModel):
    """What becomes of contact bounce; `C` is null where no filter is proposed, for which `because` has the reason."""

    scenario: str
    reason: str
    C: float | None
    because: str
    cases: list[FilterAnswer]


@router.get(
    "/api/bounce",
    summary="Follow a contact that bounces",
    responses={
        200: {"model": BounceAnswer, "description": "Edges that are seen, the filter that hides the bounce, its cost."},
        422: {"model": ProblemDocument, "description": "Every rejected field at once, after RFC 9457."},
    },
    openapi_extra={"parameters": _PARAMETERS},
)
async def api_bounce(request: Request):
    """Lead a stage through a contact that bounces, and propose the smallest E6 capacitor that makes one edge of it.

    In seconds, hertz and farad. `reason` tells why nothing is followed, where the input is no contact.
    """
    try:
        scenario, (tb, bounces) = asked_of(request, _OWN, bounce_asked)
        return JSONResponse(await run_in_threadpool(bounce_answer, scenario, tb, bounces))
    except ScenarioError as error:
        return rejected(error)


def bounce_answer(scenario: Scenario, tb: float, bounces: int) -> dict:
    """Return the answer of a stage; raises ScenarioError if an "auto" resistor cannot be sized."""
    reason = why_unbounced(scenario)
    try:
        found = filter_for(scenario, tb, bounces)
    except ConvergenceError:
        found, reason = None, UNSOLVED
    head = {"scenario": query_from(scenario), "reason": reason}
    if found is None:
        return head | {"C": None, "because": "", "cases": []}
    return head | {"C": found.C, "because": found.reason, "cases": [_case(case) for case in found.cases]}


def _case(case: FilterCase) -> dict:
    """Return one filter."""
    return {
        "C": case.C,
        "edges": {edge: _bounced(one) for edge, one in case.edges.items()},
        "worst": {edge: _bounced(one) for edge, one in case.worst.items()},
        "delay": {edge: spanned(span) for edge, span in case.delay.items()},
        "max_rate": spanned(case.rate),
        "waves": {edge: _wave(wave) for edge, wave in case.waves.items()},
    }


def spanned(span) -> dict:
    """Return nominal value and extremes."""
    return {"value": span.value, "low": span.low, "high": span.high}


def _bounced(one: Bounced) -> dict:
    """Return what is seen of one edge."""
    return {"surely": list(one.surely), "possibly": list(one.possibly), "stable": spanned(one.stable)}


def _wave(wave: Bouncing) -> dict:
    """Return one waveform."""
    courses = {"t": wave.t, "IF": wave.IF, "nominal": wave.y, "low": wave.low, "high": wave.high}
    return {
        **{name: course.tolist() for name, course in courses.items()},
        "contact": list(wave.contact),
        "limits": list(wave.limits),
    }
