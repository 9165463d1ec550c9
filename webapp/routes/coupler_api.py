"""JSON answers about couplers."""

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse
from starlette.concurrency import run_in_threadpool

from engine import CardError, ConvergenceError, Problem, ScenarioError, card_names, load_card, shown, unpack_card
from webapp.answers import ProblemDocument
from webapp.cardanswers import CardAnswer, CardList, card_answer, list_answer
from webapp.present.cards import OWN
from webapp.problems import problem, rejected

router = APIRouter()

_PARAMETERS = [
    {
        "name": "card",
        "in": "path",
        "required": True,
        "description": f"Name of a coupler, or {OWN}.",
        "schema": {"type": "string", "default": card_names()[0]},
    },
    {
        "name": "card",
        "in": "query",
        "required": False,
        "description": f"Packed text of a card of one's own, where the path says {OWN}.",
        "schema": {"type": "string", "default": ""},
    },
]


@router.get(
    "/api/couplers",
    summary="List the couplers",
    responses={200: {"model": CardList, "description": "Every shipped coupler, by family."}},
)
async def api_couplers():
    """List every shipped coupler."""
    return JSONResponse(list_answer())


@router.get(
    "/api/couplers/{card}",
    summary="Hold a coupler against its model",
    responses={
        200: {"model": CardAnswer, "description": "Every line, SI numbers throughout."},
        404: {"description": "There is no such coupler."},
        422: {"model": ProblemDocument, "description": "A card of one's own that cannot be used."},
    },
    openapi_extra={"parameters": _PARAMETERS},
)
async def api_coupler(request: Request):
    """Give every line of a card beside what its model reads on the test circuit of that line."""
    name, packed = request.path_params["card"], request.query_params.get("card", "")
    if name != OWN and name not in card_names():
        return problem(404, f"There is no such coupler; there are {', '.join(card_names())}, {OWN}.")
    try:
        card = unpack_card(OWN, packed) if name == OWN else load_card(name)
        return JSONResponse(await run_in_threadpool(card_answer, card))
    except CardError as error:
        reason = f"{error.line}: {error.reason}"
    except ConvergenceError:
        reason = "its model cannot be solved on the test circuits of its lines"
    return rejected(ScenarioError([Problem("card", shown(packed), "a card whose lines can all be met", reason)]))
