"""JSON answer about square waves."""

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse
from pydantic import BaseModel
from starlette.concurrency import run_in_threadpool

from engine import (
    RATE_ENDS,
    UNITS,
    ConvergenceError,
    Scenario,
    ScenarioError,
    Square,
    as_typed,
    query_from,
    timing_of,
    trains_of,
    why_unfollowed,
)
from webapp.answers import QUERY_PARAMETERS, ProblemDocument
from webapp.present.panels.drawn import Typed
from webapp.present.panels.square import usual_rate
from webapp.present.panels.window import UNSOLVED
from webapp.problems import rejected
from webapp.routes.api_bounce import NominalSpan, spanned
from webapp.routes.trains import asked_of

router = APIRouter()

_LOW, _HIGH = (as_typed(end, UNITS["Hz"]) for end in RATE_ENDS)
_PARAMETERS = [
    {
        "name": "square",
        "in": "query",
        "required": False,
        "description": f"Rate of the square wave, {_LOW} to {_HIGH}; by itself the sure rate at worst.",
        "schema": {"type": "string"},
    },
    *QUERY_PARAMETERS,
]


class UtmostAnswer(BaseModel):
    """The highest rate at which both levels are surely seen, and the sure one from edges begun from rest."""

    value: float | None
    worst: float | None
    sure: float | None
    sure_worst: float | None


class PeriodAnswer(BaseModel):
    """One period of the steady state, the LED lit in its first half."""

    t: list[float]
    IF: list[float]
    nominal: list[float]
    low: list[float]
    high: list[float]
    limits: tuple[float, float]


class SquareWaveAnswer(BaseModel):
    """A stage on a square wave: what is read at the end of each half, how long each level holds, pulse widths."""

    rate: float
    sees: bool
    sees_worst: bool
    at_end: dict[str, NominalSpan]
    held: dict[str, NominalSpan]
    width_in: float
    width_out: NominalSpan
    settled: bool
    wave: PeriodAnswer


class SquareAnswer(BaseModel):
    """Square wave and utmost rate; null where the stage is not followed, for which `reason` tells why."""

    scenario: str
    reason: str
    utmost: UtmostAnswer | None
    square: SquareWaveAnswer | None


@router.get(
    "/api/square",
    summary="Follow a stage on a square wave",
    responses={
        200: {
            "model": SquareAnswer,
            "description": "The steady state at a rate, and the utmost rate.",
        },
        422: {"model": ProblemDocument, "description": "Every rejected field at once, after RFC 9457."},
    },
    openapi_extra={"parameters": _PARAMETERS},
)
async def api_square(request: Request):
    """Lead a stage through a square wave until its periods repeat themselves, nominal and at worst.

    In seconds and hertz, levels in volts or amperes.
    """
    try:
        scenario, (rate,) = asked_of(request, ("square",), _asked)
        return JSONResponse(await run_in_threadpool(square_answer, scenario, rate))
    except ScenarioError as error:
        return rejected(error)


def _asked(typed: Typed) -> tuple[float | None]:
    """Return the rate, None where none is given; what is wrong with it is left with `typed`."""
    return (typed.quantity("square", "Hz", None, RATE_ENDS),)


def square_answer(scenario: Scenario, rate: float | None) -> dict:
    """Return the answer of a stage; raises ScenarioError if an "auto" resistor cannot be sized."""
    reason, found, utmost = why_unfollowed(scenario), None, None
    if not reason:
        try:
            (found,), utmost = trains_of(scenario, [rate or usual_rate(timing_of(scenario))])
        except ConvergenceError:
            reason = UNSOLVED
    return {
        "scenario": query_from(scenario),
        "reason": reason,
        "utmost": utmost and {name: getattr(utmost, name) for name in ("value", "worst", "sure", "sure_worst")},
        "square": found and _square(found),
    }


def _square(found: Square) -> dict:
    """Return what becomes of one rate."""
    courses = {name: getattr(found, name).tolist() for name in ("t", "IF", "nominal", "low", "high")}
    return {
        "rate": found.rate,
        "sees": found.sees[0],
        "sees_worst": found.sees[1],
        "at_end": {level: spanned(span) for level, span in found.at_end.items()},
        "held": {level: spanned(span) for level, span in found.held.items()},
        "width_in": found.width_in,
        "width_out": spanned(found.width_out),
        "settled": found.settled,
        "wave": courses | {"limits": list(found.limits)},
    }
