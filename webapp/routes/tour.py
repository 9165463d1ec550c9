"""The tour: the list of its experiments, and a page for each with the explorer on it."""

from fastapi import APIRouter, Request
from starlette.exceptions import HTTPException
from starlette.responses import RedirectResponse

from webapp.present.tour import EXPERIMENTS, experiment_view
from webapp.render import USUAL_STAGE, page
from webapp.routes.explored import explored

router = APIRouter(include_in_schema=False)


@router.get("/tour")
async def tour(request: Request):
    """Show what the tour has."""
    return page(request, "pages/tour.html", experiments=EXPERIMENTS)


@router.get("/tour/{number}")
def experiment(request: Request, number: str):
    """Show one experiment with the explorer; what is moved there is in this address.

    In a thread of its own, as figures of edges and panels may take long.
    """
    if number not in {str(one.number) for one in EXPERIMENTS}:
        raise HTTPException(404, "The tour has no such experiment.")
    request.state.explorer_at = request.url.path
    view = experiment_view(int(number))
    shown = explored(request, EXPERIMENTS[view.number - 1].scenario)
    if shown.short:
        query = "" if shown.query == view.query else f"?{shown.query or USUAL_STAGE}"
        return RedirectResponse(f"{request.url.path}{query}", status_code=303)
    last = len(EXPERIMENTS)
    return page(
        request, "pages/experiment.html", shown.status, usual=USUAL_STAGE, experiment=view, last=last, **shown.context
    )
