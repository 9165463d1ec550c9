"""Bodies of forms: read up to a bound, urlencoded or multipart, into texts by name."""

import re
from urllib.parse import parse_qsl

from starlette.exceptions import HTTPException
from starlette.requests import Request

LONGEST_BODY = 65536
"""The most bytes of a body; a card's file is far shorter, even when every byte of it is escaped."""

_MOST_FIELDS = 200
_BOUNDARY = re.compile(r'boundary="?([A-Za-z0-9\'()+_,./:=?-]{1,70})"?')
_NAME = re.compile(rb'\bname="([^"\r\n]{1,80})"')


async def texts_of(request: Request) -> dict[str, str]:
    """Return the fields of a form that was sent; of a name given twice, the first that is not empty.

    Raises HTTPException: 413 for a body that is too long, 400 for one that is no form, 415 for another kind.
    """
    kind = request.headers.get("Content-Type", "")
    body = await bounded(request)
    if kind.startswith("application/x-www-form-urlencoded"):
        pairs = _urlencoded(body)
    elif kind.startswith("multipart/form-data"):
        pairs = _multipart(body, kind)
    else:
        raise HTTPException(415, "A form is wanted here.")
    texts: dict[str, str] = {}
    for name, text in pairs:
        texts[name] = texts.get(name) or text
    return texts


async def bounded(request: Request) -> bytes:
    """Return the body, refused as soon as it is too long."""
    body = bytearray()
    async for chunk in request.stream():
        body += chunk
        if len(body) > LONGEST_BODY:
            raise HTTPException(413, f"What was sent is longer than {LONGEST_BODY} bytes.")
    return bytes(body)


def _urlencoded(body: bytes) -> list[tuple[str, str]]:
    try:
        text = body.decode("ascii", "replace")
        return parse_qsl(text, keep_blank_values=True, errors="replace", max_num_fields=_MOST_FIELDS)
    except ValueError as error:
        raise HTTPException(400, f"What was sent has more than {_MOST_FIELDS} fields.") from error


def _multipart(body: bytes, kind: str) -> list[tuple[str, str]]:
    boundary = _BOUNDARY.search(kind)
    if boundary is None:
        raise HTTPException(400, "What was sent does not say where its parts end.")
    parts = (b"\r\n" + body).split(b"\r\n--" + boundary[1].encode())
    if len(parts) > _MOST_FIELDS:
        raise HTTPException(400, f"What was sent has more than {_MOST_FIELDS} fields.")
    found = []
    for part in parts[1:]:
        head, _, content = part.partition(b"\r\n\r\n")
        if name := _NAME.search(head):
            found.append((name[1].decode("utf-8", "replace"), content.decode("utf-8", "replace")))
    return found
