"""JSON answer about what a meter shows at every point of a stage."""

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse
from pydantic import BaseModel

from engine import ConvergenceError, ScenarioError, bench_sheet, loose_checks, scenario_from
from webapp.answers import QUERY_PARAMETERS, ProblemDocument
from webapp.problems import rejected
from webapp.routes.bench import stage_pairs, unsolved

router = APIRouter()


class ReadingAnswer(BaseModel):
    """What a meter shows: nominal, at the least, at the most; `bare` is what stands there without it."""

    expected: float
    low: float
    high: float
    bare: float


class PointAnswer(BaseModel):
    """One point. A state is null where no figure is given; `range` is "dc" for the mean, "ac" for the rms."""

    id: str
    red: str
    black: str
    side: str
    words: str
    range: str
    states: dict[str, ReadingAnswer | None]
    remark: str
    unit: str


class MeterAnswer(BaseModel):
    """The meter; resistance and floor are those of its lowest range, `per_volt` is 0 where all have the same."""

    kind: str
    R_in: float
    share: float
    floor: float
    ranges: list[float]
    per_volt: float


class CheckAnswer(BaseModel):
    """A reading on the coupler out of its circuit; null where the meter shows that it is over its range."""

    id: str
    words: str
    how: str
    unit: str
    expected: float | None
    low: float | None
    high: float | None


class BenchAnswer(BaseModel):
    """The bench sheet of a stage."""

    points: list[PointAnswer]
    meter: MeterAnswer
    checks: list[CheckAnswer]


@router.get(
    "/api/bench",
    summary="Tell what a meter shows at every point of a stage",
    responses={
        200: {"model": BenchAnswer, "description": "SI numbers throughout."},
        422: {"model": ProblemDocument, "description": "Every rejected field at once, after RFC 9457."},
    },
    openapi_extra={"parameters": QUERY_PARAMETERS},
)
def api_bench(request: Request):
    """Tell what a meter shows between nodes that can be reached, both states, with the window of every good unit.

    The resistance of the meter is part of the circuit. The window holds all corners and the error of the meter.
    """
    try:
        scenario = scenario_from(stage_pairs(request))
        sheet, checks = bench_sheet(scenario), loose_checks(scenario)
    except ScenarioError as error:
        return rejected(error)
    except ConvergenceError:
        return rejected(unsolved())
    points, meter = [_point(row) for row in sheet.rows], _record(sheet.meter)
    return JSONResponse({"points": points, "meter": meter, "checks": [_record(check) for check in checks]})


def _record(found):
    """Return a record of the engine as names and values."""
    return {name: getattr(found, name) for name in found.__slots__}


def _point(row):
    """Return one point in the shape of the contract."""
    probe = row.probe
    return {
        "id": probe.id,
        "red": probe.red,
        "black": probe.black,
        "side": probe.side,
        "words": probe.words,
        "range": row.coupling,
        "states": {state: found and _record(found) for state, found in row.states.items()},
        "remark": row.remark,
        "unit": "V",
    }
