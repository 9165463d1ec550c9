"""Documents that are kept: making one, finding it, saving over it, deleting it. Each function is given its session.

A document has an id to be read by and a key to be changed by; of the key, only a digest is kept. It has revisions; who
saves tells which one they began with, so that nobody overwrites what they have not seen. Bounds are kept here: how
many documents and revisions, how many bytes. What is deleted, what never was, and what somebody has no key to are told
apart by nobody: each costs the same look-up and the same comparison.
"""

import hashlib
import hmac
import json
import secrets
import time
import unicodedata
from dataclasses import dataclass

from sqlalchemy import delete as deletion
from sqlalchemy import func, select, update
from sqlalchemy.orm import Session

from webapp.store.documents import LONGEST_CONTENT, LONGEST_HEADING, Document, DocumentRevision

KINDS = ("scenario", "lesson")
"""What is kept."""

MOST_DOCUMENTS = 20_000
"""Documents that are kept at once."""

MOST_BYTES = 4_000_000_000
"""Bytes of all documents together."""

MOST_REVISIONS = 200
"""Revisions of one document; beyond that the oldest are let go of, all but the first."""

_LONGEST_NAME = 64
"""Characters of an id or a key that are looked at; ours are shorter."""

_NO_KEY = bytes(32)
"""Compared with where there is no document, so that this takes as long."""


class DocumentError(ValueError):
    """Something that a document does not take.

    Parameters
    ----------
    wrong : dict of str to str
        Field to what is wrong with it; the field "" is the document itself.
    """

    def __init__(self, wrong: dict[str, str]) -> None:
        super().__init__(" ".join(wrong.values()))
        self.wrong = wrong


class RoomError(DocumentError):
    """There is no room for more."""


class Refused(LookupError):  # noqa: N818  a refusal, not a fault
    """There is no such document, or the key is not its key; which of the two is not told."""

    def __init__(self) -> None:
        super().__init__("There is nothing at this address, or the key does not fit.")


@dataclass(frozen=True, slots=True)
class Made:
    """Both links to a document that was made just now.

    Attributes
    ----------
    id : str
        What the link to look at it ends with.
    key : str
        What lets one change it.
    """

    id: str
    key: str


@dataclass(frozen=True, slots=True)
class Revision:
    """One form of a document.

    Attributes
    ----------
    document : str
        The document's id.
    number : int
        Which revision it is, from 1.
    at : float
        When it was kept, since 1970 [s].
    title : str
        What the document is called.
    body : dict
        What it says.
    """

    document: str
    number: int
    at: float
    title: str
    body: dict


@dataclass(frozen=True, slots=True)
class Dated:
    """A revision without what it says.

    Attributes
    ----------
    number : int
        Which revision it is, from 1.
    at : float
        When it was kept, since 1970 [s].
    title : str
        What the document was called.
    """

    number: int
    at: float
    title: str


class Conflict(ValueError):  # noqa: N818  an outcome to be told, not a fault
    """Somebody has saved in the meantime.

    Parameters
    ----------
    current : Revision
        What is kept now.
    """

    def __init__(self, current: Revision) -> None:
        super().__init__(f"Revision {current.number} has been saved in the meantime.")
        self.current = current


def titled(text: str) -> str:
    """Return a title on one line; raises DocumentError where there is none, or it is too long."""
    title = " ".join(text[: 10 * LONGEST_HEADING].split())
    if not title:
        raise DocumentError({"title": "A title is wanted."})
    if any(unicodedata.category(c) in ("Cc", "Cs", "Cn", "Co") for c in title):
        raise DocumentError({"title": "There is a character that cannot be shown."})
    if len(title) > LONGEST_HEADING or len(text) > 10 * LONGEST_HEADING:
        raise DocumentError({"title": f"This is longer than {LONGEST_HEADING} characters."})
    return title


def create(session: Session, kind: str, title: str, body: dict) -> Made:
    """Keep a new document, and return both its links.

    Raises
    ------
    DocumentError
        If title or body cannot be kept; RoomError if there is no room.
    """
    if kind not in KINDS:
        raise ValueError(f"no kind of document: {kind}")
    content = _content_of(body)
    if session.scalar(select(func.count()).select_from(Document)) >= MOST_DOCUMENTS:
        raise RoomError({"": "There is no room for more to be kept at present."})
    _leave_room(session, len(content))
    made = Made(secrets.token_urlsafe(12), secrets.token_urlsafe(18))
    now, size = time.time(), len(content.encode())
    session.add(Document(id=made.id, kind=kind, key=_digest(made.key), made=now, number=1, size=size))
    session.flush()
    session.add(DocumentRevision(document=made.id, number=1, at=now, title=titled(title), content=content))
    return made


def current(session: Session, kind: str, id: str) -> Revision | None:
    """Return the present revision of a document; None if it never was, or is deleted."""
    return _one(session, kind, id, DocumentRevision.number == Document.number)


def revision(session: Session, kind: str, id: str, number: int) -> Revision | None:
    """Return one revision of a document; None if there is none, or it has been let go of."""
    return _one(session, kind, id, DocumentRevision.number == number) if 0 < number < 2**31 else None


def revisions(session: Session, kind: str, id: str) -> tuple[Revision, ...]:
    """Return the revisions of a document that are kept, the newest first."""
    rows = session.scalars(_rows(kind, id).order_by(DocumentRevision.number.desc()).limit(MOST_REVISIONS))
    return tuple(_shown(row) for row in rows)


def dated(session: Session, kind: str, id: str) -> tuple[Dated, ...]:
    """Return number, date and title of the revisions that are kept, the newest first."""
    one = DocumentRevision
    rows = _rows(kind, id).with_only_columns(one.number, one.at, one.title).order_by(one.number.desc())
    return tuple(Dated(*row) for row in session.execute(rows.limit(MOST_REVISIONS)))


def may_edit(session: Session, kind: str, id: str, key: str) -> bool:
    """Return whether a key lets one change a document."""
    return _known(session, kind, id, key) is not None


def save(session: Session, kind: str, id: str, key: str, base: int, title: str, body: dict) -> Revision:  # noqa: PLR0913
    """Keep a new revision of a document, and return it.

    Parameters
    ----------
    session : Session
        One that writes.
    kind : str
        What it is.
    id : str
        The document.
    key : str
        What lets one change it.
    base : int
        The revision that was changed.
    title : str
        What it is called from now on.
    body : dict
        What it says from now on.

    Raises
    ------
    Refused
        If there is no such document, or the key does not fit.
    Conflict
        If `base` is not the present revision.
    DocumentError
        If title or body cannot be kept; RoomError if there is no room.
    """
    document = _known(session, kind, id, key)
    if document is None:
        raise Refused
    content, title = _content_of(body), titled(title)
    size = len(content.encode())
    _leave_room(session, size)
    # Counted on only from the base, in one statement: of two that save at once, on any database, one finds no row.
    moved = update(Document).where(Document.id == id, Document.number == base)
    if not session.execute(moved.values(number=base + 1, size=Document.size + size)).rowcount:
        raise Conflict(current(session, kind, id))
    row = DocumentRevision(document=id, number=base + 1, at=time.time(), title=title, content=content)
    session.add(row)
    session.flush()
    _let_go(session, id)
    return _shown(row)


def delete(session: Session, kind: str, id: str, key: str) -> None:
    """Delete a document with all its revisions; raises Refused if there is none, or the key does not fit."""
    document = _known(session, kind, id, key)
    if document is None:
        raise Refused
    session.execute(deletion(Document).where(Document.id == id))


def _known(session, kind, id, key):
    """Return a document for who has its key."""
    row = session.scalar(select(Document).where(Document.id == id[:_LONGEST_NAME], Document.kind == kind))
    fits = hmac.compare_digest(row.key if row else _NO_KEY, _digest(key[:_LONGEST_NAME]))
    return row if row is not None and fits else None


def _digest(key):
    """Return what is kept of a key; it is long and random, so that one pass suffices."""
    return hashlib.sha256(key.encode("utf-8", "replace")).digest()


def _rows(kind, id):
    """Return the question for the revisions of a document."""
    joined = select(DocumentRevision).join(Document, Document.id == DocumentRevision.document)
    return joined.where(Document.id == id[:_LONGEST_NAME], Document.kind == kind)


def _one(session, kind, id, which):
    row = session.scalar(_rows(kind, id).where(which))
    return _shown(row) if row is not None else None


def _shown(row):
    """Return a row as it is given away."""
    return Revision(row.document, row.number, row.at, row.title, json.loads(row.content))


def _content_of(body):
    """Return the text that a body is kept as; raises DocumentError if it is too long, or no text."""
    try:
        content = json.dumps(body, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
        size = len(content.encode())
    except (UnicodeEncodeError, ValueError) as error:
        raise DocumentError({"": "There is a character or a number that cannot be kept."}) from error
    if size > LONGEST_CONTENT:
        raise DocumentError({"": f"This is longer than {LONGEST_CONTENT} bytes."})
    return content


def _leave_room(session, size):
    """Raise RoomError if `size` bytes more are too many."""
    if (session.scalar(select(func.sum(Document.size))) or 0) + size > MOST_BYTES:
        raise RoomError({"": "There is no room for more to be kept at present."})


def _let_go(session, id):
    """Let go of the oldest revisions beyond as many as are kept, all but the first."""
    mine = DocumentRevision.document == id
    numbers = session.scalars(select(DocumentRevision.number).where(mine).order_by(DocumentRevision.number)).all()
    gone = numbers[1 : 1 + len(numbers) - MOST_REVISIONS] if len(numbers) > MOST_REVISIONS else ()
    if not gone:
        return
    which = (mine, DocumentRevision.number.in_(gone))
    freed = sum(len(text.encode()) for text in session.scalars(select(DocumentRevision.content).where(*which)))
    session.execute(deletion(DocumentRevision).where(*which))
    session.execute(update(Document).where(Document.id == id).values(size=Document.size - freed))
