"""The page on which every symbol and term says what it means."""

from fastapi import APIRouter, Request

from webapp.present.glossary import glossary
from webapp.render import page

router = APIRouter(include_in_schema=False)


@router.get("/terms")
async def terms(request: Request):
    """Show every symbol and term in the order of the alphabet, then the parts and nodes of drawings."""
    return page(request, "pages/terms.html", glossary=glossary())
