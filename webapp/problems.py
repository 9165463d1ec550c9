"""What is answered when a request cannot be.

JSON under `/api` is `application/problem+json` (RFC 9457); everywhere else it is a small page.
"""

from http import HTTPStatus
from typing import Any

from fastapi.responses import JSONResponse
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from engine import ScenarioError
from webapp.render import page

SENTENCES = {
    404: "There is nothing at this address.",
    405: "This address does not answer a request of this kind.",
}
UNREACHABLE = "What is kept here cannot be reached at present. Try again in a moment."


def problem(status: int, detail: str, headers: dict[str, str] | None = None, **members: Any) -> JSONResponse:
    """Return the JSON answer for `status`; `members` are the further members of the object."""
    content = {"type": "about:blank", "title": HTTPStatus(status).phrase, "status": status, "detail": detail, **members}
    return JSONResponse(content, status, headers, media_type="application/problem+json")


def rejected(error: ScenarioError) -> JSONResponse:
    """Return the JSON answer to a scenario that cannot be, with one entry for each rejected field."""
    errors = [{"field": p.field, "given": p.given, "accepted": p.accepted, "reason": p.reason} for p in error.problems]
    return problem(422, "; ".join(str(p) for p in error.problems), errors=errors)


async def refused(request: Request, error: HTTPException) -> Response:
    """Answer an address or a method that no route serves."""
    unsaid = error.detail == HTTPStatus(error.status_code).phrase
    sentence = SENTENCES.get(error.status_code, error.detail) if unsaid else error.detail
    if request.url.path.startswith("/api/"):
        return problem(error.status_code, sentence, error.headers)
    title = HTTPStatus(error.status_code).phrase
    answer = page(request, "problems/not_found.html", error.status_code, title=title, sentence=sentence)
    answer.headers.update(error.headers or {})
    return answer


async def unreachable(request: Request, error: Exception) -> Response:
    """Answer where the database does not: it is down, or others write for too long."""
    return await refused(request, HTTPException(503, UNREACHABLE, {"Retry-After": "5"}))
