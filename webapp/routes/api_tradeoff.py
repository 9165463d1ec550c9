"""JSON answer about what speed costs over one resistor."""

import math

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse
from pydantic import BaseModel
from starlette.concurrency import run_in_threadpool

from engine import (
    VARIED,
    ConvergenceError,
    Problem,
    PullUp,
    Scenario,
    ScenarioError,
    Tradeoff,
    Wanted,
    pull_up_for,
    query_from,
    scenario_from,
    shown,
    tradeoff_of,
    varied_in,
    wanted_from,
    why_untimed,
)
from webapp.answers import QUERY_PARAMETERS, ProblemDocument
from webapp.present.panels.window import UNSOLVED
from webapp.problems import rejected
from webapp.routes.scenario import pairs_of

router = APIRouter()

_WISHES = {"torate": "rate", "toedge": "edge"}
_WORDS = tuple(part.lower() for part in VARIED)
_TOLD = {
    "vary": f"What is varied: {', '.join(_WORDS)}; rl if left out.",
    "torate": "Wanted square-wave rate with its unit; the largest RL for it is told.",
    "toedge": "Wanted transition of the slower edge, 10 to 90 %, with its unit, in place of a rate.",
}
_OWN = [
    {"name": name, "in": "query", "required": False, "description": text, "schema": {"type": "string"}}
    for name, text in _TOLD.items()
]
_GROUPS = ("speed", "cost", "room")


class ShadedAnswer(BaseModel):
    """Where a finding does not hold."""

    code: str
    low: float
    high: float


class EndsAnswer(BaseModel):
    """What limits towards small and large values, in sentences."""

    low: str
    high: str


class PulledAnswer(BaseModel):
    """The largest standard RL that is fast enough; null with the reason where there is none."""

    RL: float | None
    reached: float | None
    unit: str
    reason: str
    scenario: str | None


class TradeoffAnswer(BaseModel):
    """A stage over a ladder of one resistor; null where a level is never reached or a stage has no such thing.

    `speed` holds `rate`, `worst`, `best` [Hz], `tPHL`, `tPLH`, `edge`, `on`, `off`, `storage` [s]; `cost` holds `IF`,
    `IL`, `I_dark` [A], `P_R1`, `P_VCC`, `P_RL` [W]; `room` holds `overdrive`, `CTR`, `level` at worst [-].
    """

    scenario: str
    vary: str
    reason: str
    x: list[float]
    unit: str
    present: float | None
    bare: float | None
    speed: dict[str, list[float | None]]
    cost: dict[str, list[float | None]]
    room: dict[str, list[float | None]]
    fails: list[list[str]]
    stretches: list[ShadedAnswer]
    limits: EndsAnswer
    chosen: PulledAnswer | None


@router.get(
    "/api/tradeoff",
    summary="Tell what speed costs over one resistor",
    responses={
        200: {"model": TradeoffAnswer, "description": "Speed, cost and margins over preferred values."},
        422: {"model": ProblemDocument, "description": "Every rejected field at once, after RFC 9457."},
    },
    openapi_extra={"parameters": [*_OWN, *QUERY_PARAMETERS]},
)
async def api_tradeoff(request: Request):
    """Follow both edges of a stage and solve its corners over about a dozen values of RL, RBE or R1.

    `stretches` tells where which finding does not hold; `chosen` is the largest standard RL with which a wanted rate
    or edge holds at worst and nothing fails that holds now.
    """
    try:
        scenario, part, wanted = _asked(request)
        return JSONResponse(await run_in_threadpool(tradeoff_answer, scenario, part, wanted))
    except ScenarioError as error:
        return rejected(error)


def _asked(request: Request) -> tuple[Scenario, str, Wanted | None]:
    """Return the scenario, what is varied and what is wanted; raise ScenarioError with all that is wrong."""
    own = [(key, text) for key, text in request.query_params.multi_items() if key in _TOLD]
    given, problems, scenario, wanted = dict(own), [], None, None
    for key in dict.fromkeys(key for key in given if sum(key == other for other, _ in own) > 1):
        problems.append(Problem(key, shown(given[key]), "one value", f"{key} is given more than once"))
    try:
        scenario = scenario_from([(key, text) for key, text in pairs_of(request) if key not in _TOLD])
    except ScenarioError as error:
        problems += error.problems
    try:
        wanted = wanted_from({name: given.get(key, "") for key, name in _WISHES.items()})
    except ScenarioError as error:
        keys = {name: key for key, name in _WISHES.items()}
        problems += [Problem(keys[p.field], p.given, p.accepted, p.reason) for p in error.problems]
    part = given.get("vary", "rl").strip().upper()
    possible = varied_in(scenario) if scenario else VARIED
    if part not in possible:
        accepted = f"one of {', '.join(one.lower() for one in possible)}"
        text = shown(given["vary"])
        problems.append(Problem("vary", text, accepted, f"'{text}' cannot be varied in this stage"))
    if problems:
        raise ScenarioError(problems)
    return scenario, part, wanted


def tradeoff_answer(scenario: Scenario, part: str, wanted: Wanted | None) -> dict:
    """Return the answer of a stage; raises ScenarioError if an "auto" resistor cannot be sized."""
    found = chosen = None
    reason = why_untimed(scenario)
    try:
        found = tradeoff_of(scenario, part)
        if wanted:
            chosen = pull_up_for(scenario, wanted.rate, wanted.edge, found if part == "RL" else None)
    except ConvergenceError:
        found, reason = None, UNSOLVED
    head = {"scenario": query_from(scenario), "vary": part.lower(), "reason": reason, "unit": "ohm"}
    return head | _over(found) | {"chosen": _chosen(chosen) if chosen else None}


def _over(found: Tradeoff | None) -> dict:
    """Return the figures over the values; none where edges are not followed."""
    if found is None:
        empty = {"x": [], "present": None, "bare": None, "fails": [], "stretches": []}
        return empty | {"limits": {"low": "", "high": ""}} | {name: {} for name in _GROUPS}
    return {
        "x": found.R.tolist(),
        "present": found.present,
        "bare": found.bare,
        **{name: _columns(getattr(found, name), name) for name in _GROUPS},
        "fails": [list(codes) for codes in found.failing],
        "stretches": [{"code": one.code, "low": one.low, "high": one.high} for one in found.stretches],
        "limits": {"low": found.low_end, "high": found.high_end},
    }


def _columns(group, name: str) -> dict:
    """Return the arrays of a group as lists; a rate of 0 is none."""
    rates = ("rate", "worst", "best") if name == "speed" else ()
    return {
        key: [None if not math.isfinite(v) or (key in rates and v == 0.0) else v for v in getattr(group, key).tolist()]
        for key in group.__slots__
    }


def _chosen(answer: PullUp) -> dict:
    """Return the load resistor for what is wanted."""
    return {
        "RL": answer.RL,
        "reached": answer.figure,
        "unit": "Hz" if answer.wanted.edge is None else "s",
        "reason": answer.reason,
        "scenario": query_from(answer.scenario) if answer.scenario else None,
    }
