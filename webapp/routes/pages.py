"""Whole pages."""

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse

from engine import Scenario
from webapp.lessons.shipped import shipped_lessons
from webapp.present.explorer import explore
from webapp.present.specimen import specimen
from webapp.present.starts import STARTS
from webapp.render import page
from webapp.routes.explored import explored

router = APIRouter(include_in_schema=False)


@router.get("/")
async def home(request: Request):
    """Show the scenarios to start from."""
    context = {"starts": STARTS, "lessons": shipped_lessons().items(), "preview": explore(Scenario()).stage}
    return page(request, "pages/home.html", **context)


@router.get("/stage")
def stage(request: Request):
    """Show the explorer; a form sent without script is answered with the short link of what it means.

    In a thread of its own, as edges that are followed and panels may take long.
    """
    found = explored(request)
    if found.short:
        return RedirectResponse(_address(request, found.query), status_code=303)
    return page(request, "pages/stage.html", found.status, **found.context)


@router.get("/specimen")
async def show_specimen(request: Request):
    """Show every symbol, field and finding once."""
    return page(request, "pages/specimen.html", specimen=specimen())


def _address(request, query):
    """Return the address of a scenario."""
    path = request.app.url_path_for("stage")
    return f"{path}?{query}" if query else str(path)
