"""The bench sheet of a stage, as a page to print."""

from fastapi import APIRouter, Request

from engine import ConvergenceError, Problem, ScenarioError, scenario_from
from webapp.forms import problem_views
from webapp.present.bench import bench_view
from webapp.present.diagnosis import DiagnosisView, diagnosis_view
from webapp.render import page
from webapp.routes.scenario import fallback, pairs_of

router = APIRouter(include_in_schema=False)

READING = "r."
"""How the names of readings begin that were typed into the sheet."""

UNSOLVED = "The circuit with the meter in it could not be solved."


@router.get("/bench")
def bench(request: Request):
    """Show what a meter reads at every point; of a stage that is refused, that of the last valid values.

    In a thread of its own, as every point is a circuit of its own.
    """
    try:
        return _sheet(request, scenario_from(stage_pairs(request)))
    except ScenarioError as error:
        problems = error.problems
        return fallback(request, error, show=lambda scenario: _sheet(request, scenario, problems))[0]


def stage_pairs(request):
    """Return key and text of the stage, without readings that were typed."""
    return [(key, text) for key, text in pairs_of(request) if not key.startswith(READING)]


def typed_readings(request):
    """Return name to text of the readings that were typed."""
    return {key: text for key, text in request.query_params.multi_items() if key.startswith(READING)}


def unsolved():
    """Return the refusal of a stage whose circuits with the meter find no solution."""
    return ScenarioError([Problem("meter", "", "another meter", UNSOLVED)])


def _sheet(request, scenario, problems=()):
    """Return the page of a stage."""
    try:
        typed = typed_readings(request)
        diagnosis = diagnosis_view(scenario, typed)
        view = bench_view(scenario, typed, diagnosis.errors)
    except ConvergenceError:
        view, diagnosis, problems = None, DiagnosisView(errors={}), (*problems, *unsolved().problems)
    context = {"bench": view, "diagnosis": diagnosis, "problems": problem_views(problems), "notice": ""}
    refused = problems or diagnosis.errors
    return page(request, "pages/bench.html", status_code=422 if refused else 200, **context)
