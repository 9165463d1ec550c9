"""Couplers: the list of all, the page of each, and cards of one's own.

A card takes up to some tenths of a second to be held against its model, so that is done beside other requests.
"""

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.responses import RedirectResponse, Response

from engine import (
    CARD_FAMILIES,
    CardError,
    ConvergenceError,
    Problem,
    ScenarioError,
    card_from_toml,
    card_from_typed,
    card_names,
    card_to_toml,
    line_of,
    load_card,
    pack_card,
    typed_of,
    unpack_card,
)
from webapp.present.card_form import USUAL_FAMILY, card_form
from webapp.present.cards import OWN, families, file_name, own_card, shipped_card
from webapp.render import page
from webapp.routes.bodies import texts_of

router = APIRouter(include_in_schema=False)

UNKNOWN = "There is no coupler of this name."
_BYTE_ORDER_MARK = "\ufeff"


@router.get("/couplers")
async def couplers(request: Request):
    """Show every shipped card by family."""
    return page(request, "pages/couplers.html", families=await run_in_threadpool(families))


@router.get("/couplers/new")
async def new_card(request: Request):
    """Show the form for a card of one's own: empty, or with the lines of another card."""
    asked = request.query_params
    try:
        if packed := asked.get("card"):
            card = unpack_card(OWN, packed)
        elif name := asked.get("from"):
            card = _shipped(name)
        else:
            return _form(request, card_form(_family(asked.get("family", USUAL_FAMILY)), {}))
    except CardError as error:
        return _refused(request, error)
    return _form(request, card_form(card.family, typed_of(card)))


@router.post("/couplers/new")
async def make_card(request: Request):
    """Take the form: to the page of the card, or back to the form with what is wrong beside its field."""
    texts = await texts_of(request)
    family = _family(texts.get("family", ""))
    try:
        packed = await run_in_threadpool(lambda: _usable(card_from_typed(OWN, family, texts)))
    except ScenarioError as error:
        problems = error.problems
    except CardError as error:
        problems = [Problem(line_of(family, ""), "", "lines that can all be met", f"{error.line}: {error.reason}")]
    else:
        return _to_own(request, packed)
    return _form(request, card_form(family, texts, problems), 422)


@router.post("/couplers/import")
async def import_card(request: Request):
    """Take the text of a file, pasted or uploaded: to the page of the card, or back with what is wrong."""
    texts = await texts_of(request)
    text = texts.get("file") or texts.get("text", "")
    try:
        card = card_from_toml(OWN, text.removeprefix(_BYTE_ORDER_MARK))
        packed = await run_in_threadpool(_usable, card)
    except CardError as error:
        form = card_form(USUAL_FAMILY, {}, (), text, f"{error.line}: {error.reason}")
        return _form(request, form, 422)
    return _to_own(request, packed)


@router.get("/couplers/{card}")
async def coupler(request: Request, card: str):
    """Show one card, held against its model; where one's own is not given yet, lead to its form."""
    if card == OWN and not request.query_params.get("card"):
        return RedirectResponse(str(request.app.url_path_for("new_card")), status_code=303)
    try:
        if card == OWN:
            view = await run_in_threadpool(own_card, request.query_params["card"])
        else:
            view = await run_in_threadpool(shipped_card, _shipped(card).name)
    except (CardError, ConvergenceError) as error:
        return _refused(request, _as_card_error(error))
    return page(request, "pages/coupler.html", card=view)


@router.get("/couplers/{card}/toml")
async def coupler_toml(request: Request, card: str):
    """Give the text of a card as a file."""
    try:
        found = unpack_card(OWN, request.query_params.get("card", "")) if card == OWN else _shipped(card)
    except CardError as error:
        return _refused(request, error)
    headers = {"Content-Disposition": f'attachment; filename="{file_name(found.title)}"', "Cache-Control": "no-cache"}
    return Response(card_to_toml(found), media_type="text/plain", headers=headers)


def _shipped(name):
    """Return a shipped card, or raise the answer that there is none."""
    if name not in card_names():
        raise HTTPException(404, UNKNOWN)
    return load_card(name)


def _family(name):
    """Return the name of a family, or raise the answer that there is none."""
    if name not in CARD_FAMILIES:
        raise HTTPException(404, "There is no family of couplers of this name.")
    return name


def _usable(card):
    """Return the packed text of a card whose page can be shown; raise CardError where it cannot."""
    packed = pack_card(card)
    try:
        own_card(packed)
    except ConvergenceError as error:
        raise _as_card_error(error) from error
    return packed


def _as_card_error(error):
    """Return a test circuit that could not be solved as a card that cannot be used."""
    if isinstance(error, CardError):
        return error
    return CardError(OWN, "title", "its model cannot be solved on the test circuits of its lines")


def _to_own(request, packed):
    """Return the way to the page of a card of one's own."""
    return RedirectResponse(f"{request.app.url_path_for('coupler', card=OWN)}?card={packed}", status_code=303)


def _form(request, form, status_code=200):
    """Return the page with the form."""
    return page(request, "pages/coupler_new.html", status_code, form=form)


def _refused(request, error):
    """Return the small page about a card that cannot be."""
    sentence = f"This card cannot be used. {error.line}: {error.reason}."
    return page(request, "problems/card.html", 422, title="Unusable card", sentence=sentence)
