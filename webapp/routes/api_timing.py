"""JSON answer about both edges."""

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse
from pydantic import BaseModel
from starlette.concurrency import run_in_threadpool

from engine import ConvergenceError, Edge, Scenario, ScenarioError, query_from, scenario_from, timing_of, why_untimed
from webapp.answers import QUERY_PARAMETERS, ProblemDocument
from webapp.present.panels.window import UNSOLVED
from webapp.problems import rejected
from webapp.routes.line_answer import LineAnswer, line_answer
from webapp.routes.scenario import pairs_of

router = APIRouter()

_RANGED = ("tPHL", "tPLH", "distortion", "max_rate", "narrowest_pulse")
_TIMES = ("delay", "transition", "half", "total", "valid")


class SpanAnswer(BaseModel):
    """Extremes over nominal stage and corners; null where a level is never reached."""

    low: float | None
    high: float | None


class WaveAnswer(BaseModel):
    """What is read at the output over time: nominal, least and most of all corners; the limit of the new level.

    `IF` is the LED current of the nominal stage.
    """

    t: list[float]
    nominal: list[float]
    low: list[float]
    high: list[float]
    IF: list[float]
    limit: float


class EdgeAnswer(BaseModel):
    """One edge: delay to 10 %, storage (the delay, where the LED goes dark), transition from 10 to 90 %, both together.

    `half` is the time to 50 %, `valid` that until the receiver surely reads the new level. All of the nominal stage.
    """

    delay: float | None
    storage: float | None
    transition: float | None
    total: float | None
    half: float | None
    valid: float | None
    range: dict[str, SpanAnswer]
    wave: WaveAnswer


class TimingAnswer(BaseModel):
    """How fast a stage is; all but scenario and reason are null or empty where its edges are not followed."""

    scenario: str
    reason: str
    edges: dict[str, EdgeAnswer]
    tPHL: float | None  # noqa: N815, as printed
    tPLH: float | None  # noqa: N815, as printed
    distortion: float | None
    max_rate: float | None
    narrowest_pulse: float | None
    limited_by: str
    range: dict[str, SpanAnswer]
    line: LineAnswer | None


@router.get(
    "/api/timing",
    summary="Tell how fast a stage is",
    responses={
        200: {"model": TimingAnswer, "description": "Both edges, the highest rate, the narrowest pulse."},
        422: {"model": ProblemDocument, "description": "Every rejected field at once, after RFC 9457."},
    },
    openapi_extra={"parameters": QUERY_PARAMETERS},
)
async def api_timing(request: Request):
    """Follow both edges of a stage from rest to rest, nominal and at the corners that are extreme for speed.

    In seconds and hertz. The highest rate is that of a square wave each half of which is long enough for the slower
    edge; `reason` tells why edges are not followed, where they are not. Where the line sets the pace, `line` has how
    fast the stage answers: from the switch of the line, or of a triac's LED, at the worst instant of the cycle.
    """
    try:
        scenario = scenario_from(pairs_of(request))
        return JSONResponse(await run_in_threadpool(timing_answer, scenario))
    except ScenarioError as error:
        return rejected(error)


def timing_answer(scenario: Scenario) -> dict:
    """Return the answer of a stage; raises ScenarioError if an "auto" resistor cannot be sized."""
    query, reason = query_from(scenario), why_untimed(scenario)
    try:
        found = timing_of(scenario)
    except ConvergenceError:
        found, reason = None, UNSOLVED
    if found is None:
        empty = {"edges": {}, "limited_by": "", "range": {}} | dict.fromkeys(_RANGED)
        return {"scenario": query, "reason": reason} | empty | {"line": line_answer(scenario)}
    return {
        "scenario": query,
        "reason": "",
        "edges": {name: _edge(name, edge) for name, edge in found.edges.items()},
        **{name: getattr(found, name).value for name in _RANGED},
        "limited_by": found.limited_by,
        "range": {name: _ends(getattr(found, name)) for name in _RANGED},
        "line": None,
    }


def _edge(name: str, edge: Edge) -> dict:
    """Return one edge."""
    times = {key: getattr(edge, key).value for key in _TIMES}
    wave = {key: getattr(edge.wave, key).tolist() for key in ("t", "nominal", "low", "high", "IF")}
    return times | {
        "storage": times["delay"] if name == "off" else 0.0,
        "range": {key: _ends(getattr(edge, key)) for key in _TIMES},
        "wave": wave | {"limit": edge.wave.limit},
    }


def _ends(span) -> dict:
    """Return the extremes."""
    return {"low": span.low, "high": span.high}
