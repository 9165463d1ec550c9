"""JSON answer about a step between the grounds of both sides."""

import math

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse
from pydantic import BaseModel
from starlette.concurrency import run_in_threadpool

from engine import (
    CommonMode,
    ConvergenceError,
    Disturbance,
    Problem,
    Scenario,
    ScenarioError,
    Steepest,
    common_mode_of,
    largest_slope,
    query_from,
    scenario_from,
    shown,
)
from webapp.answers import QUERY_PARAMETERS, ProblemDocument
from webapp.present.panels.drawn import Typed
from webapp.present.panels.step import USUAL, asked
from webapp.present.panels.window import UNSOLVED
from webapp.problems import rejected
from webapp.routes.scenario import pairs_of

router = APIRouter()

_ABOUT = {
    "dv": f"Step between the grounds, 1 V to 20 kV; {USUAL['dv']} by itself.",
    "slope": f"Its slope, 0.001 V/us to 1 MV/us; {USUAL['slope']} by itself.",
}
_PARAMETERS = [
    {"name": key, "in": "query", "required": False, "description": about, "schema": {"type": "string"}}
    for key, about in _ABOUT.items()
]
_SPANS = ("peak", "room", "unsure", "wrong", "IF_rest", "IF_most", "IF_least", "VR_most")


class SpanOfStepAnswer(BaseModel):
    """Nominal value and extremes over all corners; null for a time that does not end."""

    value: float | None
    low: float | None
    high: float | None


class StepWaveAnswer(BaseModel):
    """What is read from the ramp on: nominal, least and most of all corners; LED current; the limit."""

    t: list[float]
    nominal: list[float]
    low: list[float]
    high: list[float]
    IF: list[float]
    limit: float


class DisturbanceAnswer(BaseModel):
    """What a step does in one state by one way of the grounds; `rising` is the input's ground against the output's.

    `peak` is off the level at rest, `room` what is left to its limit, `unsure` how long the level is not surely read,
    `wrong` how long the other one is, `VR_most` the largest reverse voltage of the LED.
    """

    lit: bool
    rising: bool
    level: str
    peak: SpanOfStepAnswer
    room: SpanOfStepAnswer
    unsure: SpanOfStepAnswer
    wrong: SpanOfStepAnswer
    IF_rest: SpanOfStepAnswer
    IF_most: SpanOfStepAnswer
    IF_least: SpanOfStepAnswer
    VR_most: SpanOfStepAnswer
    wave: StepWaveAnswer


class BarrierAnswer(BaseModel):
    """What couples: capacitance, shares of its current that land in the base and that leave at the LED's anode."""

    C_io: float
    base: float
    anode: float
    collector: float


class SteepestAnswer(BaseModel):
    """The steepest slope that is stood at worst; null where any is (up to 1e11 V/s), 0 where not even 1e6 V/s is."""

    slope: float | None
    any: bool
    lost_first: str | None


class CommonModeAnswer(BaseModel):
    """How a stage stands a step. `reason` tells why its output is not followed; then `disturbances` is empty."""

    scenario: str
    dV: float  # noqa: N815, as printed
    slope: float
    barrier: BarrierAnswer
    current: float
    lasting: float
    charge: float
    CMTI: float | None
    reason: str
    holds: bool | None
    steepest: SteepestAnswer | None
    disturbances: list[DisturbanceAnswer]


@router.get(
    "/api/step",
    summary="Tell how a stage stands a step between its grounds",
    responses={
        200: {"model": CommonModeAnswer, "description": "Both states, both ways, the most harmful first; SI numbers."},
        422: {"model": ProblemDocument, "description": "Every rejected field at once, after RFC 9457."},
    },
    openapi_extra={"parameters": [*_PARAMETERS, *QUERY_PARAMETERS]},
)
async def api_step(request: Request):
    """Move the ground of the input side against that of the output by `dv` at `slope`, both ways, LED lit and dark.

    Shares of the barrier's current are assumptions; the CMTI that a real part states governs.
    """
    try:
        scenario, step, slope = _asked(pairs_of(request))
        return JSONResponse(await run_in_threadpool(step_answer, scenario, step, slope))
    except ScenarioError as error:
        return rejected(error)
    except ConvergenceError:
        return rejected(ScenarioError([Problem("r1", str(scenario.input.R1), "another stage", UNSOLVED)]))


def _asked(pairs: list[tuple[str, str]]) -> tuple[Scenario, float, float]:
    """Return stage, step and slope; raise ScenarioError with every problem of all."""
    own, texts, scenario = [pair for pair in pairs if pair[0] in _ABOUT], {}, Scenario()
    problems = []
    for key, text in own:
        if key in texts:
            problems.append(Problem(key, shown(text), "one value", f"{key} is given more than once"))
        texts.setdefault(key, text)
    typed = Typed(texts)
    step, slope = asked(typed)
    problems += typed.problems
    try:
        scenario = scenario_from([pair for pair in pairs if pair[0] not in _ABOUT])
    except ScenarioError as error:
        problems += error.problems
    if problems:
        raise ScenarioError(problems)
    return scenario, step, slope


def step_answer(scenario: Scenario, step: float, slope: float) -> dict:
    """Return the answer of a stage; raises ScenarioError if an "auto" resistor cannot be sized."""
    found = common_mode_of(scenario, step, slope)
    barrier = found.barrier
    return {
        "scenario": query_from(scenario),
        "dV": step,
        "slope": slope,
        "barrier": {
            "C_io": barrier.C, "base": barrier.base, "anode": barrier.anode, "collector": barrier.collector,
        },
        "current": found.current,
        "lasting": found.lasting,
        "charge": found.charge,
        "CMTI": found.CMTI,
        "reason": found.reason,
        "holds": found.holds,
        "steepest": _steepest(found, largest_slope(scenario, step)),
        "disturbances": [_disturbance(one) for one in found.disturbances],
    }  # fmt: skip


def _steepest(found: CommonMode, steepest: Steepest | None) -> dict | None:
    """Return the steepest slope."""
    if steepest is None:
        return None
    any_does = math.isinf(steepest.slope)
    lost = {True: "lit", False: "dark", None: None}[steepest.lit]
    return {"slope": None if any_does else steepest.slope, "any": any_does, "lost_first": lost}


def _disturbance(one: Disturbance) -> dict:
    """Return one state by one way of the grounds."""
    spans = {
        name: {"value": span.value, "low": span.low, "high": span.high}
        for name, span in ((name, getattr(one, name)) for name in _SPANS)
    }
    wave = {name: getattr(one.wave, name).tolist() for name in ("t", "nominal", "low", "high", "IF")}
    state = {"lit": one.lit, "rising": one.rising, "level": one.level}
    return state | spans | {"wave": wave | {"limit": one.wave.limit}}
