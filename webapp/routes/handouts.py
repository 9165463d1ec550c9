"""Hand-outs of a stage, to print."""

from fastapi import APIRouter, Request

from engine import ConvergenceError, ScenarioError, scenario_from
from webapp.present.handouts.options import options_of
from webapp.present.handouts.sheet import handout_view
from webapp.present.sharing import CAUTION
from webapp.render import page
from webapp.routes.panels import OWN
from webapp.routes.scenario import pairs_of
from webapp.routes.sharing import link_to, refusal

router = APIRouter(include_in_schema=False)

SHEET = "sheet"
"""Name of the field that says which hand-out."""

_MOST = 20  # values of a hand-out's own


@router.get("/handout")
def handout(request: Request):
    """Show a worksheet, an answer sheet or a design report of a stage.

    In a thread of its own, as a report looks at a stage from every side.
    """
    try:
        scenario = scenario_from([(key, text) for key, text in pairs_of(request) if key != SHEET])
        options = options_of(request.query_params.get(SHEET, ""), _own(request))
        view = handout_view(scenario, options, link_to(request, "stage", scenario))
    except (ScenarioError, ConvergenceError) as error:
        return refusal(request, error, "There is no such hand-out")
    return page(request, "pages/handout.html", handout=view, caution=CAUTION)


def _own(request):
    """Return what was chosen of the hand-out, as pairs."""
    own = [(key, text) for key, text in request.query_params.multi_items() if key.startswith(OWN)]
    return [(key.removeprefix(OWN), text) for key, text in own[:_MOST]]
