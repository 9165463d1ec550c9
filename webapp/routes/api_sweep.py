"""JSON answer of a stage over one of its parameters."""

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse
from pydantic import BaseModel
from starlette.concurrency import run_in_threadpool

from engine import (
    FEWEST_POINTS,
    MOST_POINTS,
    SCALES,
    USUAL_POINTS,
    Problem,
    Scenario,
    ScenarioError,
    query_from,
    scenario_from,
    shown,
    sweep_asked,
    sweep_of,
)
from webapp.answers import QUERY_PARAMETERS, ProblemDocument
from webapp.problems import rejected
from webapp.routes.scenario import pairs_of

router = APIRouter()


def _described(name, text, default=None):
    """Return the description of one query parameter of this answer's own."""
    schema = {"type": "string"} | ({} if default is None else {"default": default})
    return {"name": name, "in": "query", "required": default is None, "description": text, "schema": schema}


_OWN = {
    "over": _described("over", "Key of the field that is swept, any that is a number."),
    "from": _described("from", "First value, with its unit."),
    "to": _described("to", "Last value, with its unit."),
    "points": _described("points", f"How many values, {FEWEST_POINTS} to {MOST_POINTS}.", str(USUAL_POINTS)),
    "scale": _described("scale", f"Spacing of the values: {' or '.join(SCALES)}.", SCALES[0]),
}
"""The query parameters of this answer's own."""


class RangesAnswer(BaseModel):
    """A result's extremes over all corners at every value."""

    low: list[float | None]
    high: list[float | None]


class GapAnswer(BaseModel):
    """A value that makes no stage, and why."""

    x: float
    reason: str


class SweepAnswer(BaseModel):
    """Every result at every value; null where a value makes no stage, or one that does not have the result.

    Results are quantities by symbol, potentials of nodes as "V(OUT)", currents and powers of parts as "I(RL)", "P(RL)".
    """

    scenario: str
    over: str
    unit: str
    x: list[float]
    states: dict[str, dict[str, list[float | None]]]
    ranges: dict[str, dict[str, RangesAnswer]]
    units: dict[str, str]
    levels: dict[str, list[str | None]]
    margins: dict[str, list[float | None]]
    gaps: list[GapAnswer]


@router.get(
    "/api/sweep",
    summary="Sweep a stage over one of its parameters",
    responses={
        200: {"model": SweepAnswer, "description": "Every result at every value, SI numbers throughout."},
        422: {"model": ProblemDocument, "description": "Every rejected field at once, after RFC 9457."},
    },
    openapi_extra={"parameters": [*_OWN.values(), *QUERY_PARAMETERS]},
)
async def api_sweep(request: Request):
    """Solve the stage that the query string describes over a span of one of its fields, corners and all.

    What is "auto" is sized anew at every value; give resistors to have a stage that is built.
    """
    try:
        given = _own(request)
        scenario = scenario_from([(key, text) for key, text in pairs_of(request) if key not in _OWN])
        return JSONResponse(await run_in_threadpool(sweep_answer, scenario, given))
    except ScenarioError as error:
        return rejected(error)


def _own(request: Request):
    """Return this answer's own parameters; raise ScenarioError where one is given more than once."""
    own = [(key, text) for key, text in request.query_params.multi_items() if key in _OWN]
    given = dict(own)
    if len(given) < len(own):
        twice = [key for key in given if sum(key == other for other, _ in own) > 1]
        raise ScenarioError(
            [Problem(key, shown(given[key]), "one value", f"{key} is given more than once") for key in twice]
        )
    return given


def sweep_answer(scenario: Scenario, given: dict[str, str]):
    """Return the JSON object of a sweep; raise ScenarioError where it cannot be."""
    wanted = sweep_asked(scenario, given)
    sweep = sweep_of(scenario, wanted.key, wanted.low, wanted.high, wanted.points, wanted.scale)
    found = sweep.states
    levels = {state: [verdict.level if verdict else None for verdict in sweep.verdicts(state)] for state in found}
    return {
        "scenario": query_from(scenario),
        "over": sweep.key,
        "unit": sweep.unit,
        "x": sweep.x,
        "states": {state: {name: one.value for name, one in results.items()} for state, results in found.items()},
        "ranges": {
            state: {name: {"low": one.low, "high": one.high} for name, one in results.items()}
            for state, results in found.items()
        },
        "units": {name: one.unit for results in found.values() for name, one in results.items()},
        "levels": levels,
        "margins": sweep.margins(),
        "gaps": [{"x": x, "reason": reason} for x, reason in zip(sweep.x, sweep.reasons, strict=True) if reason],
    }
