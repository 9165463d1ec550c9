"""A stage to pass on: the page with link, code, pictures and text; the picture; the view for a frame elsewhere."""

from fastapi import APIRouter, Request
from fastapi.responses import PlainTextResponse, Response
from starlette.concurrency import run_in_threadpool

from engine import ConvergenceError, Problem, ScenarioError, operating_point, query_from, scenario_from
from webapp.forms import problem_views
from webapp.present.embedded import embedded_view
from webapp.present.picture import STYLE_HASH, picture_of
from webapp.present.sharing import CAUTION, joined, share_view, text_of
from webapp.problems import rejected
from webapp.render import fragment, page
from webapp.routes.panels import OWN
from webapp.routes.scenario import pairs_of

router = APIRouter(include_in_schema=False)

UNSOLVED = "The circuit could not be solved."

FRAMED = "default-src 'none'; style-src 'self'; img-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors *"
"""Content security policy of what may stand in a frame of another page: no script, no form, nothing from elsewhere."""

DRAWN = f"default-src 'none'; style-src '{STYLE_HASH}'; frame-ancestors 'none'"
"""Content security policy of a picture: its own style and nothing else."""

_POLICY = "Content-Security-Policy"


@router.get("/share")
def share(request: Request):
    """Show how to pass a stage on."""
    try:
        scenario = asked(request)
        view = share_view(scenario, link_to(request, "stage", scenario), link_to(request, "embed", scenario))
    except (ScenarioError, ConvergenceError) as error:
        return refusal(request, error, "There is nothing to share")
    return page(request, "pages/share.html", share=view, caution=CAUTION)


@router.get("/share.txt")
def share_text(request: Request):
    """Answer a stage in plain text."""
    try:
        scenario = asked(request)
        return PlainTextResponse(text_of(scenario, link_to(request, "stage", scenario)), headers=_fresh())
    except ScenarioError as error:
        return rejected(error)
    except ConvergenceError:
        return rejected(_unsolved())


@router.get("/embed")
async def embed(request: Request):
    """Show a stage within a page of somebody else."""
    try:
        view = await run_in_threadpool(lambda: embedded_view(asked(request)))
        answer = page(request, "pages/embed.html", stage=view, problems=())
    except (ScenarioError, ConvergenceError) as error:
        problems = problem_views(_told(error).problems)
        answer = page(request, "pages/embed.html", status_code=422, stage=None, problems=problems)
    answer.headers[_POLICY] = FRAMED
    return answer


@router.get("/stage/schematic.svg")
def schematic_svg(request: Request):
    """Answer the schematic as a drawing that stands alone; without figures, or in black, where that is asked for."""
    chosen = request.query_params.get
    solved, ink = chosen(f"{OWN}figures") != "none", "black" if chosen(f"{OWN}ink") == "black" else "colour"
    try:
        drawn = picture_of(operating_point(asked(request)), solved=solved, ink=ink)
    except ScenarioError as error:
        return rejected(error)
    except ConvergenceError:
        return rejected(_unsolved())
    answer = fragment(request, "files/schematic.svg", p=drawn)
    return Response(answer.body.lstrip(), media_type="image/svg+xml", headers={_POLICY: DRAWN} | _fresh())


def asked(request):
    """Return the scenario that a request names; raise ScenarioError where that is none."""
    return scenario_from(pairs_of(request))


def link_to(request, route, scenario, query=""):
    """Return the whole address of a stage under a route, with more of a query string where that is given."""
    parts = joined(query_from(scenario), query)
    address = str(request.url_for(route))
    return f"{address}?{parts}" if parts else address


def refusal(request, error, heading):
    """Return the small page about a stage that is refused."""
    sentence = " ".join(f"{view.label}: {view.text}." for view in problem_views(_told(error).problems))
    return page(request, "problems/not_found.html", 422, title=heading, sentence=sentence)


def _told(error):
    """Return what is wrong as problems of fields."""
    return error if isinstance(error, ScenarioError) else _unsolved()


def _unsolved():
    return ScenarioError([Problem("", "", "other values", UNSOLVED)])


def _fresh():
    """Return the header by which a browser asks again."""
    return {"Cache-Control": "no-cache"}
