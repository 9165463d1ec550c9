"""Lessons that are kept, on top of documents: beginning, finding, saving, deleting. Each is given its session."""

import json
from dataclasses import dataclass

from sqlalchemy.orm import Session

from webapp.keeping import documents
from webapp.lessons.lesson import Lesson, LessonError, body_of, lesson_from

KIND = "lesson"
"""What a lesson is among documents."""

LONGEST_FILE = 60_000
"""Bytes of a lesson as it is kept: with room to spare in what a form may send, so that what is exported can be read."""


@dataclass(frozen=True, slots=True)
class Kept:
    """A lesson that is kept.

    Attributes
    ----------
    id : str
        What the link to it ends with.
    number : int
        Which revision it is.
    at : float
        When that was kept, since 1970 [s].
    lesson : Lesson
        What it says.
    """

    id: str
    number: int
    at: float
    lesson: Lesson


def begin(session: Session, lesson: Lesson) -> documents.Made:
    """Keep a new lesson, and return both its links; raises LessonError or documents.DocumentError."""
    return documents.create(session, KIND, lesson.title, _bounded(lesson))


def found(session: Session, id: str, number: int | None = None) -> Kept | None:
    """Return a lesson that is kept, at present or in one of its revisions; raises LessonError if it is unreadable."""
    one = documents.current(session, KIND, id) if number is None else documents.revision(session, KIND, id, number)
    return None if one is None else _kept(one)


def revisions(session: Session, id: str) -> tuple[documents.Revision, ...]:
    """Return the revisions that are kept, the newest first."""
    return documents.revisions(session, KIND, id)


def may_edit(session: Session, id: str, key: str) -> bool:
    """Return whether a key lets one change a lesson."""
    return documents.may_edit(session, KIND, id, key)


def save(session: Session, id: str, key: str, base: int, lesson: Lesson) -> Kept:
    """Keep what a lesson says from now on.

    Raises
    ------
    documents.Refused, documents.Conflict, documents.DocumentError, LessonError
        As `documents.save`; LessonError where it has become too long.
    """
    return _kept(documents.save(session, KIND, id, key, base, lesson.title, _bounded(lesson)))


def delete(session: Session, id: str, key: str) -> None:
    """Delete a lesson; raises documents.Refused where that cannot be."""
    documents.delete(session, KIND, id, key)


def _kept(one):
    return Kept(one.document, one.number, one.at, lesson_from(one.body, one.title))


def _bounded(lesson):
    """Return the body of a lesson; raises LessonError if it is too long."""
    body = body_of(lesson)
    size = len(json.dumps(body, ensure_ascii=False).encode("utf-8", "replace"))
    if size > LONGEST_FILE:
        raise LessonError({"": f"The whole lesson is longer than {LONGEST_FILE} bytes."})
    return body
