"""JSON answer about the feasible bands of a stage."""

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse
from pydantic import BaseModel, RootModel

from engine import ScenarioError, operating_point, scenario_from
from webapp.answers import QUERY_PARAMETERS, ProblemDocument
from webapp.forms import sliders_of
from webapp.present.bands import bands_for, units_of
from webapp.present.controls import values_in_force
from webapp.problems import rejected
from webapp.routes.scenario import pairs_of

router = APIRouter()


class BandAnswer(BaseModel):
    """A stretch of one parameter in which every finding passes, the other parameters as they stand.

    It is the one around the parameter's value (`here` is true), or else the nearest one. `low_set_by` and `high_set_by`
    are the codes of the findings that break just outside, empty at the end of what was looked at. `instant` is true
    where findings over the cycle of an alternating line are left out.
    """

    low: float
    high: float
    low_set_by: str
    high_set_by: str
    value: float
    here: bool
    instant: bool
    unit: str


class NoBandAnswer(BaseModel):
    """A parameter that mends nothing by itself; `conflict` are the findings that break where fewest do."""

    empty: bool
    conflict: list[str]
    value: float
    here: bool
    instant: bool
    unit: str


class BandsAnswer(RootModel):
    """By key of the parameter, for every one that has a slider; without those that would take too long."""

    root: dict[str, BandAnswer | NoBandAnswer]


@router.get(
    "/api/band",
    summary="Find over which stretch of each parameter a stage holds",
    responses={
        200: {"model": BandsAnswer, "description": "SI numbers throughout, temperatures in degrees Celsius."},
        422: {"model": ProblemDocument, "description": "Every rejected field at once, after RFC 9457."},
    },
    openapi_extra={"parameters": QUERY_PARAMETERS},
)
def api_band(request: Request):
    """Find the feasible band of every parameter that has a slider, by itself, the others as they stand.

    It goes over the span of the slider, to a hundredth of it or the next value of E24. With another drive or load
    current the resistor is sized again. A signal rate that is wanted is left aside, as edges take long to follow.
    """
    try:
        scenario = scenario_from(pairs_of(request))
        bands = bands_for(scenario, sliders_of(scenario, values_in_force(operating_point(scenario))))
    except ScenarioError as error:
        return rejected(error)
    units = units_of(scenario)
    return JSONResponse({key: band_answer(band, units[key]) for key, band in bands.items()})


def band_answer(band, unit):
    """Return one band in the shape of the contract."""
    more = {"value": band.value, "here": band.here, "instant": band.instant, "unit": unit.name}
    if band.low is None:
        return {"empty": True, "conflict": list(band.conflict)} | more
    ends = {"low": band.low, "high": band.high, "low_set_by": band.low_set_by, "high_set_by": band.high_set_by}
    return ends | more
