"""JSON answer with both resistors chosen."""

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse
from pydantic import BaseModel
from starlette.concurrency import run_in_threadpool

from engine import (
    KEPT,
    PREFERENCES,
    WISHES,
    Chosen,
    ConvergenceError,
    Problem,
    Scenario,
    ScenarioError,
    Sizing,
    Wishes,
    query_from,
    scenario_from,
    shown,
    size_for,
    wishes_from,
)
from webapp.answers import QUERY_PARAMETERS, ProblemDocument
from webapp.present.panels.window import UNSOLVED
from webapp.problems import rejected
from webapp.routes.scenario import pairs_of

router = APIRouter()

_TOLD = (
    "Overdrive at the worst corner, 1 to 100: available over needed current, or LED current over threshold.",
    "Least LED current at every corner, or none.",
    "Most LED current at every corner, or none.",
    "Time from 10 to 90 % of the swing that neither edge exceeds at worst, or none.",
    f"Resistor that stays as it is: {', '.join(KEPT)}.",
    f"What comes first: {' or '.join(PREFERENCES)}.",
)
_USUAL = (f"{Wishes().overdrive:g}", "none", "none", "none", "none", PREFERENCES[0])
_PARAMETERS = [
    {
        "name": name,
        "in": "query",
        "required": False,
        "description": told,
        "schema": {"type": "string", "default": usual},
    }
    for name, told, usual in zip(WISHES, _TOLD, _USUAL, strict=True)
] + QUERY_PARAMETERS


class ChosenAnswer(BaseModel):
    """One resistor; what fails with the next smaller and the next larger value of the series, and a raised rating."""

    chosen: float
    series: str
    kept: bool
    below: list[str]
    above: list[str]
    rating: float | None


class DriveAnswer(BaseModel):
    """LED current of the lit stage."""

    value: float
    low: float
    high: float
    unit: str


class SpeedAnswer(BaseModel):
    """Where a signal rate or a time of an edge is asked for: both at worst, in hertz and seconds; null for none."""

    max_rate: float | None
    transition: float | None


class NearestAnswer(BaseModel):
    """The pair of resistors with which the fewest codes fail."""

    R1: ChosenAnswer
    RL: ChosenAnswer
    failing: list[str]
    scenario: str


class SizeAnswer(BaseModel):
    """Both resistors; or, where no pair makes everything hold, what excludes what, and the nearest pair.

    Codes are those of findings, and "overdrive", "least-current", "most-current" and "edge-time" for what was asked
    beside them. `untimed` tells why edges are not followed, where a signal rate or a time of an edge is asked for.
    """

    R1: ChosenAnswer | None = None
    RL: ChosenAnswer | None = None
    binding: str | None = None
    scenario: str | None = None
    conflict: list[str] | None = None
    alone: list[str] | None = None
    pairs: list[list[str]] | None = None
    nearest: NearestAnswer | None = None
    IF: DriveAnswer
    overdrive: float | None
    speed: SpeedAnswer | None = None
    untimed: str | None = None


@router.get(
    "/api/size",
    summary="Choose both resistors",
    response_model_exclude_none=True,
    responses={
        200: {"model": SizeAnswer, "description": "Resistors of the stage's series, or what excludes what."},
        422: {"model": ProblemDocument, "description": "Every rejected field at once, after RFC 9457."},
    },
    openapi_extra={"parameters": _PARAMETERS},
)
async def api_size(request: Request):
    """Choose R1 and RL of the stage's series so that every finding holds at every corner, solved there.

    A conflict names codes that never hold all at once; `alone` are those that hold with no pair of resistors.
    """
    try:
        pairs = pairs_of(request)
        scenario, wishes = _asked([p for p in pairs if p[0] not in WISHES], [p for p in pairs if p[0] in WISHES])
        return JSONResponse(size_answer(await run_in_threadpool(size_for, scenario, wishes)))
    except ScenarioError as error:
        return rejected(error)
    except ConvergenceError:
        return rejected(ScenarioError([Problem("r1", str(scenario.input.R1), "another stage", UNSOLVED)]))


def _asked(pairs: list[tuple[str, str]], own: list[tuple[str, str]]) -> tuple[Scenario, Wishes]:
    """Return the stage and the wishes; raise ScenarioError with every problem of both."""
    problems, texts = [], {}
    for key, text in own:
        if key in texts:
            problems.append(Problem(key, shown(text), "one value", f"{key} is given more than once"))
        texts.setdefault(key, text)
    scenario, wishes = Scenario(), Wishes()
    try:
        scenario = scenario_from(pairs)
    except ScenarioError as error:
        problems += error.problems
    try:
        wishes = wishes_from(texts)
    except ScenarioError as error:
        problems += error.problems
    if problems:
        raise ScenarioError(problems)
    return scenario, wishes


def size_answer(sizing: Sizing) -> dict:
    """Return the answer."""
    parts = {part: _chosen(one, sizing.series) for part, one in sizing.chosen.items()}
    value, low, high = sizing.IF
    figures = {"IF": {"value": value, "low": low, "high": high, "unit": "A"}, "overdrive": sizing.overdrive}
    if sizing.speed is not None:
        figures["speed"] = dict(zip(("max_rate", "transition"), sizing.speed, strict=True))
    if sizing.untimed:
        figures["untimed"] = sizing.untimed
    query, conflict = query_from(sizing.scenario), sizing.conflict
    if conflict is None:
        return parts | {"binding": sizing.binding, "scenario": query} | figures
    return {
        "conflict": list(conflict.together or conflict.alone or conflict.failing),
        "alone": list(conflict.alone),
        "pairs": [list(pair) for pair in conflict.pairs],
        "nearest": parts | {"failing": list(conflict.failing), "scenario": query},
    } | figures


def _chosen(one: Chosen, series: str) -> dict:
    """Return one resistor."""
    return {
        "chosen": one.R,
        "series": series,
        "kept": one.kept,
        "below": list(one.below),
        "above": list(one.above),
        "rating": one.rating,
    }
