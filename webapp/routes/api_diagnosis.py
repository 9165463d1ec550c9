"""JSON answer about what is wrong with a stage, from what a meter read."""

import json

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse
from pydantic import BaseModel
from starlette.concurrency import run_in_threadpool

from engine import ConvergenceError, Diagnosis, Problem, ScenarioError, diagnose, scenario_from, shown
from webapp.answers import QUERY_PARAMETERS, ProblemDocument
from webapp.present.diagnosis import MOST_TYPED, readings_of
from webapp.problems import problem, rejected
from webapp.routes.bench import stage_pairs, unsolved
from webapp.routes.bodies import bounded

router = APIRouter()

_SHAPE = 'an object like {"readings": [{"point": "out", "state": "closed", "value": 0.12}]}'


_TEXT = {"type": "string"}
_READING = {
    "type": "object",
    "required": ["point", "state", "value"],
    "properties": {
        "point": _TEXT | {"description": "Id of a point of `/api/bench`."},
        "state": _TEXT | {"enum": ["closed", "open"]},
        "value": {"anyOf": [{"type": "number"}, _TEXT], "description": "Volts, or a text with its unit."},
    },
}
_BODY = {
    "type": "object",
    "required": ["readings"],
    "properties": {"readings": {"type": "array", "maxItems": MOST_TYPED, "items": _READING}},
    "example": {"readings": [{"point": "led", "state": "closed", "value": 1.13}]},
}


class RankedAnswer(BaseModel):
    """A fault; `fault` is "good" and `part` empty where nothing is wrong.

    `same_readings_as` are the faults that no reading of the sheet tells from it, `same_so_far_as` those that these
    readings do not tell from it, though others may.
    """

    fault: str
    part: str
    kind: str
    text: str
    probability: float
    same_readings_as: list[str]
    same_so_far_as: list[str]


class NextAnswer(BaseModel):
    """The reading that tells most, and how much in bit."""

    point: str
    state: str
    gain: float


class RuledOutAnswer(BaseModel):
    """A fault that the readings speak against: the reading that is farthest off, and by how many standard deviations.

    `together` is true where it is so only by all the other readings.
    """

    fault: str
    point: str
    state: str
    expected: float
    sigmas: float
    together: bool


class DiagnosisAnswer(BaseModel):
    """What the readings say; `next` is null where no reading tells more."""

    ranking: list[RankedAnswer]
    next: NextAnswer | None
    explained: bool
    chance: float
    ruled_out: list[RuledOutAnswer]


@router.post(
    "/api/diagnosis",
    summary="Find what is wrong with a stage",
    responses={
        200: {"model": DiagnosisAnswer, "description": "Every single fault and the good stage, the likeliest first."},
        400: {"description": "What was sent is no JSON."},
        413: {"description": "What was sent is too long."},
        422: {"model": ProblemDocument, "description": "Every rejected field at once, after RFC 9457."},
    },
    openapi_extra={
        "parameters": QUERY_PARAMETERS,
        "requestBody": {"required": True, "content": {"application/json": {"schema": _BODY}}},
    },
)
async def api_diagnosis(request: Request):
    """Rank what may be wrong with the stage that the query string describes, by readings of the points of its sheet.

    One fault at a time, with the tolerances of all sound parts and the error of the meter.
    """
    body = await bounded(request)
    try:
        sent = json.loads(body)
    except (ValueError, RecursionError):
        return problem(400, "What was sent is no JSON.")
    try:
        scenario = scenario_from(stage_pairs(request))
        found = await run_in_threadpool(diagnose, scenario, _readings(sent))
    except ScenarioError as error:
        return rejected(error)
    except ConvergenceError:
        return rejected(unsolved())
    return JSONResponse(diagnosis_answer(found))


def _readings(sent):
    """Return the readings of a body; raise ScenarioError where it has another shape."""
    listed = sent.get("readings") if isinstance(sent, dict) else None
    if not isinstance(listed, list) or len(listed) > MOST_TYPED:
        reason = "readings are not a list" if not isinstance(listed, list) else f"there are over {MOST_TYPED} readings"
        raise ScenarioError([Problem("readings", shown(str(listed)[:200]), _SHAPE, reason)])
    found, problems = [], []
    for k, one in enumerate(listed):
        try:
            found += _one(one, f"readings.{k}")
        except ScenarioError as error:
            problems += error.problems
    if problems:
        raise ScenarioError(problems)
    return found


def _one(one, field):
    """Return a list with one reading."""
    point, state, value = (one.get(name) if isinstance(one, dict) else None for name in ("point", "state", "value"))
    if not (isinstance(point, str) and isinstance(state, str)):
        raise ScenarioError([Problem(field, shown(str(one)[:200]), _SHAPE, "point and state are not both texts")])
    if isinstance(value, str):
        found = readings_of({f"r.{shown(point)}.{shown(state)}": value or "?"})
        return [(shown(point), shown(state), found[0][2] if found else 0.0)]
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ScenarioError([Problem(field, shown(str(value)[:200]), "a voltage in volts", "value is no number")])
    try:
        return [(shown(point), shown(state), float(value))]
    except OverflowError:
        raise ScenarioError([Problem(field, "a long number", "a voltage in volts", "value is too large")]) from None


def diagnosis_answer(found: Diagnosis) -> dict:
    """Return the answer."""
    return {
        "ranking": [
            {
                "fault": one.fault.id,
                "part": one.fault.part,
                "kind": one.fault.kind,
                "text": one.fault.text,
                "probability": one.probability,
                "same_readings_as": [fault.id for fault in one.same_readings_as],
                "same_so_far_as": [fault.id for fault in one.same_so_far_as],
            }
            for one in found.ranking
        ],
        "next": found.next and {"point": found.next.point, "state": found.next.state, "gain": found.next.gain},
        "explained": found.explained,
        "chance": found.chance,
        "ruled_out": [
            {
                "fault": one.fault.id,
                "point": one.point,
                "state": one.state,
                "expected": one.expected,
                "sigmas": one.sigmas,
                "together": one.together,
            }
            for one in found.ruled_out
        ],
    }
