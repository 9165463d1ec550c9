"""The feasible bands under the sliders, asked for once the hand rests."""

from fastapi import APIRouter, Request

from engine import ConvergenceError, ScenarioError, operating_point, scenario_from
from webapp.forms import sliders_of
from webapp.present.bands import band_views
from webapp.present.controls import values_in_force
from webapp.render import fragment
from webapp.routes.scenario import pairs_of

router = APIRouter(include_in_schema=False)


@router.get("/stage/bands")
def stage_bands(request: Request):
    """Answer every band of a stage, or none where the scenario is refused: those that are shown stay.

    In a thread of its own, so that no live picture has to wait.
    """
    return request.app.state.remembered.answer(("bands", request.url.query), lambda: _bands(request))


def _bands(request):
    """Return every band of a stage."""
    try:
        scenario = scenario_from(pairs_of(request))
        bands = band_views(scenario, sliders_of(scenario, values_in_force(operating_point(scenario))))
    except (ScenarioError, ConvergenceError):
        return fragment(request, "fragments/_bands.html", status_code=422, bands=())
    return fragment(request, "fragments/_bands.html", bands=bands)
