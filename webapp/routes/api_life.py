"""JSON answer about the years of service."""

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse
from pydantic import BaseModel
from starlette.concurrency import run_in_threadpool

from engine import (
    LOOK_AHEAD,
    MOST_YEARS,
    Fading,
    Problem,
    Scenario,
    ScenarioError,
    Step,
    life_of,
    query_from,
    scenario_from,
    shown,
    staircase_of,
)
from webapp.answers import QUERY_PARAMETERS, ProblemDocument
from webapp.present.panels.life import years_ahead
from webapp.problems import rejected
from webapp.routes.scenario import pairs_of

router = APIRouter()

AHEAD = "ahead"
"""Name of the years to look ahead."""

_PARAMETERS = [
    {
        "name": AHEAD,
        "in": "query",
        "required": False,
        "description": f"Years to look ahead, 1 to {MOST_YEARS:g}.",
        "schema": {"type": "string", "default": f"{LOOK_AHEAD:g}"},
    },
    *QUERY_PARAMETERS,
]


class FadingAnswer(BaseModel):
    """The margin over the years by one law of ageing; ends are null where they lie beyond the years ahead."""

    law: str
    left: list[float]
    margin: list[float]
    ends_in_year: float | None
    level_ends_in_year: float | None
    because: str


class LevelAnswer(BaseModel):
    """The level that comes nearest to its limit."""

    code: str
    value: float
    limit: float
    unit: str


class BurdenAnswer(BaseModel):
    """The stage under one more burden: temperatures in degrees Celsius, what fails, and what fails from here on."""

    code: str
    TA: list[float]
    years: float
    ageing: str
    overdrive: float | None
    worst_at: float
    level: LevelAnswer | None
    holds: bool
    failing: list[str]
    new: list[str]


class LifeAnswer(BaseModel):
    """What is left over the years of service: margin at worst by the law of the scenario, and by every law."""

    scenario: str
    measure: str
    years: list[float]
    margin: list[float]
    ends_in_year: float | None
    level_ends_in_year: float | None
    because: str
    laws: dict[str, FadingAnswer]
    staircase: list[BurdenAnswer]


@router.get(
    "/api/life",
    summary="Follow a stage over its years of service",
    responses={
        200: {"model": LifeAnswer, "description": "Margins over the years, when they end, and every burden before."},
        422: {"model": ProblemDocument, "description": "Every rejected field at once, after RFC 9457."},
    },
    openapi_extra={"parameters": _PARAMETERS},
)
async def api_life(request: Request):
    """Follow the weakest part of a stage over its service, at the temperatures that the stage asks for.

    The margin is the overdrive at worst less 1; where no overdrive is asked, that of the level with the LED lit. The
    staircase goes on to usual temperatures and 10 years where the stage asks for none.
    """
    own = [text for key, text in request.query_params.multi_items() if key == AHEAD]
    try:
        scenario, ahead = _asked([pair for pair in pairs_of(request) if pair[0] != AHEAD], own)
        return JSONResponse(await run_in_threadpool(life_answer, scenario, ahead))
    except ScenarioError as error:
        return rejected(error)


def _asked(pairs: list[tuple[str, str]], own: list[str]) -> tuple[Scenario, float]:
    """Return the stage and how far to look ahead; raise ScenarioError with every problem of both."""
    problems, scenario, ahead = [], None, LOOK_AHEAD
    try:
        scenario = scenario_from(pairs)
    except ScenarioError as error:
        problems += error.problems
    try:
        ahead = years_ahead(own[0] if own else "")
    except ScenarioError as error:
        problems += error.problems
    if len(own) > 1:
        problems.append(Problem(AHEAD, shown(own[1]), "one value", f"{AHEAD} is given more than once"))
    if problems or scenario is None:
        raise ScenarioError(problems)
    return scenario, ahead


def life_answer(scenario: Scenario, ahead: float) -> dict:
    """Return the answer of a stage; raises ScenarioError if an "auto" resistor cannot be sized."""
    life = life_of(scenario, ahead)
    chosen = _fading(life.chosen)
    return {
        "scenario": query_from(scenario),
        "measure": life.measure,
        "years": life.chosen.years.tolist(),
        **{key: chosen[key] for key in ("margin", "ends_in_year", "level_ends_in_year", "because")},
        "laws": {name: _fading(fading) for name, fading in life.laws.items()},
        "staircase": [_step(step) for step in staircase_of(scenario)],
    }


def _fading(fading: Fading) -> dict:
    """Return the margin by one law."""
    return {
        "law": fading.told,
        "left": fading.left.tolist(),
        "margin": fading.margin.tolist(),
        "ends_in_year": fading.ends_in_year,
        "level_ends_in_year": fading.level_ends_in_year,
        "because": fading.because,
    }


def _step(step: Step) -> dict:
    """Return one step of the staircase."""
    level = step.level
    return {
        "code": step.code,
        "TA": list(step.conditions.TA_ends),
        "years": step.conditions.years,
        "ageing": step.conditions.ageing,
        "overdrive": step.overdrive,
        "worst_at": step.TA,
        "level": level and {"code": level.code, "value": level.value, "limit": level.limit, "unit": level.unit},
        "holds": step.holds,
        "failing": list(step.failing),
        "new": list(step.new),
    }
