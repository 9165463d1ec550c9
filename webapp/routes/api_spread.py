"""JSON answer about what a stage does over many samples."""

import asyncio

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse
from pydantic import BaseModel, Field
from starlette.concurrency import run_in_threadpool

from engine import (
    DISTRIBUTIONS,
    KINDS,
    LEAST_SAMPLES,
    MOST_SAMPLES,
    MOST_SEED,
    ConvergenceError,
    Distribution,
    Plan,
    Problem,
    Run,
    Scenario,
    ScenarioError,
    SpreadOf,
    query_from,
    scenario_from,
    shown,
)
from webapp.answers import QUERY_PARAMETERS, ProblemDocument
from webapp.present.panels.drawn import plan_for
from webapp.present.panels.spread import UNSOLVED
from webapp.problems import rejected
from webapp.routes.scenario import pairs_of
from webapp.routes.spread_run import finished

router = APIRouter()

OWN = "samples", "seed", "dist"
"""Names of this answer's own parameters."""

_LONGEST = 30.0  # [s]
_AT_ONCE = asyncio.Semaphore(2)
_TOLD = (
    f"Stages to draw, {LEAST_SAMPLES} to {MOST_SAMPLES}; fewer on alternating voltage.",
    f"Number that decides which are drawn, 0 to {MOST_SEED}.",
    f"Distribution of tolerances: {' or '.join(DISTRIBUTIONS)}.",
)
_PARAMETERS = [
    {
        "name": name,
        "in": "query",
        "required": False,
        "description": told,
        "schema": {"type": "string", "default": usual},
    }
    for name, told, usual in zip(OWN, _TOLD, ("2000", "1", DISTRIBUTIONS[0]), strict=True)
] + QUERY_PARAMETERS


class HistogramAnswer(BaseModel):
    """Samples in bins, evenly from the smallest to the largest value."""

    low: float
    high: float
    counts: list[int]


class DistributionAnswer(BaseModel):
    """One quantity over all samples; `value`, `low` and `high` are nominal and over all corners."""

    value: float
    low: float
    high: float
    min: float
    p1: float
    median: float
    p99: float
    max: float
    mean: float
    sd: float
    unit: str
    histogram: HistogramAnswer


class SpreadAnswer(BaseModel):
    """A stage over many samples.

    Yields are shares of the samples that keep a rule, by the code of its finding, and of those that keep all. What is
    `guaranteed` is kept at every corner too; what is `undrawn` is judged for the stage as a whole, and fails.
    """

    scenario: str
    samples: int
    seed: int
    dist: str
    quantities: dict[str, dict[str, DistributionAnswer]]
    nodes: dict[str, dict[str, DistributionAnswer]]
    currents: dict[str, dict[str, DistributionAnswer]]
    powers: dict[str, dict[str, DistributionAnswer]]
    yields: dict[str, float] = Field(alias="yield")
    guaranteed: list[str]
    undrawn: list[str]


@router.get(
    "/api/spread",
    summary="Draw a stage many times",
    responses={
        200: {"model": SpreadAnswer, "description": "Distributions in both switch states, and yields."},
        422: {"model": ProblemDocument, "description": "Every rejected field at once, after RFC 9457."},
    },
    openapi_extra={"parameters": _PARAMETERS},
)
async def api_spread(request: Request):
    """Draw everything that varies at random, solve each stage in both states, and hold it against every rule.

    The same numbers give the same answer. Distributions are common practice: data sheets state limits alone.
    """
    try:
        pairs = pairs_of(request)
        scenario, plan = _asked([p for p in pairs if p[0] not in OWN], [p for p in pairs if p[0] in OWN])
        async with _AT_ONCE:
            found = await run_in_threadpool(lambda: finished(Run(scenario, plan), _LONGEST))
    except ScenarioError as error:
        return rejected(error)
    except ConvergenceError:
        return rejected(ScenarioError([Problem("seed", str(plan.seed), "another draw", UNSOLVED)]))
    return JSONResponse(spread_answer(found))


def _asked(pairs: list[tuple[str, str]], own: list[tuple[str, str]]) -> tuple[Scenario, Plan]:
    """Return the stage and what is drawn; raise ScenarioError with every problem of both."""
    problems, texts = [], {}
    for key, text in own:
        if key in texts:
            problems.append(Problem(key, shown(text), "one value", f"{key} is given more than once"))
        texts.setdefault(key, text)
    scenario, plan = Scenario(), Plan()
    try:
        scenario = scenario_from(pairs)
    except ScenarioError as error:
        problems += error.problems
    try:
        plan = plan_for(texts, scenario)
    except ScenarioError as error:
        problems += error.problems
    if problems:
        raise ScenarioError(problems)
    return scenario, plan


def spread_answer(found: SpreadOf) -> dict:
    """Return the answer."""
    kinds = {
        kind: {
            state: {name: _distribution(one) for name, one in of_state[kind].items()}
            for state, of_state in found.states.items()
        }
        for kind in KINDS
    }
    return {
        "scenario": query_from(found.scenario),
        "samples": found.plan.samples,
        "seed": found.plan.seed,
        "dist": found.plan.dist,
        **kinds,
        "yield": {code: kept.share for code, kept in found.yields.items()} | {"all": found.all.share},
        "guaranteed": [code for code, kept in found.yields.items() if kept.guaranteed],
        "undrawn": list(found.undrawn),
    }


def _distribution(one: Distribution) -> dict:
    """Return one quantity."""
    return {
        "value": one.value,
        "low": one.low,
        "high": one.high,
        "min": one.minimum,
        "p1": one.p1,
        "median": one.median,
        "p99": one.p99,
        "max": one.maximum,
        "mean": one.mean,
        "sd": one.sd,
        "unit": one.unit,
        "histogram": {"low": one.minimum, "high": one.maximum, "counts": one.counts.tolist()},
    }
