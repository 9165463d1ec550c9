"""Keeping a scenario anew: the form, taking it, and taking a file."""

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.responses import RedirectResponse

from engine import ConvergenceError, Scenario, ScenarioError, scenario_from, scenario_from_query
from webapp.forms import problem_views
from webapp.keeping import documents, scenarios
from webapp.keeping.documents import DocumentError, Made, RoomError
from webapp.keeping.scenarios import KIND, UNSOLVED, Written
from webapp.present.hunts import hunt_stage
from webapp.render import page
from webapp.routes.bodies import texts_of
from webapp.routes.scenario import pairs_of
from webapp.store import reading, writing

router = APIRouter(include_in_schema=False)

COPY_OF = "of"
"""What the address of the form names the scenario by that is to be copied."""

TOO_OFTEN = "This comes too often. Wait a moment, then try again."


@router.get("/keep")
def keep(request: Request):
    """Show the form for the scenario of the address, with the texts of one that is to be copied."""
    pairs = [(key, text) for key, text in pairs_of(request) if key != COPY_OF]
    source = _source(request)
    try:
        scenario = scenario_from(pairs)
        return _form(request, scenario, source)
    except ScenarioError as error:
        told = " ".join(f"{view.text}." for view in problem_views(error.problems))
    except ConvergenceError:
        told = UNSOLVED
    sentence = f"This scenario cannot be kept. {told}"
    return page(request, "problems/not_found.html", 422, title="Not kept", sentence=sentence)


@router.post("/keep")
async def keep_scenario(request: Request):
    """Keep a scenario: to the page that lets one change it."""
    return await run_in_threadpool(_keep, request, await texts_of(request))


@router.get("/keep/import")
def new_import(request: Request):
    """Show where a file is taken."""
    return page(request, "pages/keep_import.html", wrong={}, typed="")


@router.post("/keep/import")
async def import_kept(request: Request):
    """Keep the scenario of a file, pasted or sent: to the page that lets one change it."""
    return await run_in_threadpool(_import, request, await texts_of(request))


def kept_anew(request: Request, new: Written) -> Made:
    """Keep a scenario, and return its links; raises HTTPException where that comes too often, or there is no room."""
    may_keep(request)
    try:
        with writing(request) as session:
            return documents.create(session, KIND, new.title, new.body)
    except RoomError as error:
        raise HTTPException(503, str(error)) from error


def may_keep(request: Request) -> None:
    """Count that something is kept anew; raises HTTPException where that comes too often from one address, or all."""
    rates = request.app.state.hunt_rates
    client = request.client.host if request.client else ""
    if wait := rates.keeping.wait_for(client) or rates.keeping_all.wait_for("all"):
        raise HTTPException(429, TOO_OFTEN, {"Retry-After": f"{wait + 1:.0f}"})


def to_edit(request: Request, made: Made) -> RedirectResponse:
    """Return the way to the page that lets one change what was made just now."""
    path = request.app.url_path_for("edit_kept", document=made.id, key=made.key)
    return RedirectResponse(str(path), status_code=303)


def _keep(request, texts):
    """Keep a scenario, or show the form again with what is wrong."""
    title, notes, query = (texts.get(name, "") for name in ("title", "notes", "scenario"))
    try:
        new = scenarios.written(title, notes, query)
    except DocumentError as error:
        return form_again(request, texts, error.wrong)
    return to_edit(request, kept_anew(request, new))


def form_again(request: Request, texts: dict[str, str], wrong: dict[str, str], status: int = 422, notice: str = ""):
    """Return the form with what was typed, and a notice; the usual stage where the scenario cannot be shown."""
    given = {name: texts.get(name, "")[:20_000] for name in ("title", "notes")}
    try:
        scenario = scenario_from_query(texts.get("scenario", "")) if "scenario" not in wrong else Scenario()
    except ScenarioError:
        scenario = Scenario()
    return _form(request, scenario, given, wrong, status=status, notice=notice)


def _import(request, texts):
    """Keep the scenario of a file, or tell what is wrong with it."""
    text = texts.get("file", "").strip() or texts.get("text", "")
    try:
        new = scenarios.read_text(text)
    except DocumentError as error:
        return page(request, "pages/keep_import.html", 422, wrong=error.wrong, typed=text[:100_000])
    return to_edit(request, kept_anew(request, new))


def _form(request, scenario, given, wrong=None, **more):
    """Return the page with the form."""
    stage = hunt_stage(scenario, scenario.conditions.switch)
    status, notice = more.get("status", 200), more.get("notice", "")
    return page(request, "pages/keep.html", status, stage=stage, given=given, wrong=wrong or {}, notice=notice)


def _source(request):
    """Return the texts that the form begins with: those of a scenario that is to be copied, where one is named."""
    copied = request.query_params.get(COPY_OF, "")
    if copied:
        with reading(request) as session:
            kept = documents.current(session, KIND, copied)
        if kept is not None:
            return {"title": kept.title, "notes": scenarios.held(kept).notes}
    return {"title": "", "notes": ""}
