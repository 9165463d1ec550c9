"""What is kept of logbooks: beginning one, finding it, writing into it, deleting it. Each function has its session.

Bounds are kept here: how many logbooks, how many entries, how long each text may be, which days there are.
"""

import datetime
import json
import math
import re
import secrets
import time
import unicodedata
from dataclasses import dataclass

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from webapp.store.hunts import LONGEST_NICKNAME, LONGEST_SCENARIO
from webapp.store.logbooks import LONGEST_NOTE, LONGEST_READINGS, LONGEST_TITLE, Logbook, LogEntry

MOST_LOGBOOKS = 5000
"""Logbooks that are kept at once."""

MOST_ENTRIES = 200
"""Entries of one logbook."""

MOST_READINGS = 100
"""Readings of one entry."""

FIRST_YEAR = 1970
"""Year from which on a date is taken."""

_DAY = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)


class LogError(ValueError):
    """Something that a logbook does not take.

    Parameters
    ----------
    wrong : dict of str to str
        Field to what is wrong with it; the field "" is the logbook itself.
    """

    def __init__(self, wrong: dict[str, str]) -> None:
        super().__init__(" ".join(wrong.values()))
        self.wrong = wrong


class RoomError(LogError):
    """There is no room for more."""


@dataclass(frozen=True, slots=True)
class Written:
    """One entry before it is kept.

    Attributes
    ----------
    day : str
        The date.
    readings : dict of str to float
        Point and state, parted by a dot, to what the meter showed [V].
    note : str
        A note.
    nickname : str
        Who read; may be empty.
    """

    day: str
    readings: dict
    note: str
    nickname: str


def written(texts, readings, today: datetime.date) -> Written:
    """Return the entry that the texts of a form mean; raises LogError with every field that cannot be."""
    wrong: dict[str, str] = {}
    day = texts.get("date", "").strip() or today.isoformat()
    if reason := _no_day(day, today):
        wrong["date"] = reason
    note = _plain(texts.get("note", ""), "note", LONGEST_NOTE, wrong)
    nickname = _plain(texts.get("nickname", ""), "nickname", LONGEST_NICKNAME, wrong)
    if not readings:
        wrong["readings"] = "At least one reading is wanted."
    elif len(readings) > MOST_READINGS or not all(map(math.isfinite, readings.values())):
        wrong["readings"] = f"At most {MOST_READINGS} readings are taken, all of them numbers."
    if wrong:
        raise LogError(wrong)
    return Written(day, readings, note, nickname)


def titled(text: str) -> str:
    """Return what a unit is called; raises LogError where that is nothing, or too long."""
    wrong: dict[str, str] = {}
    title = _plain(text, "title", LONGEST_TITLE, wrong)
    if not title and not wrong:
        wrong["title"] = "A name for the unit is wanted."
    if wrong:
        raise LogError(wrong)
    return title


def _no_day(text, today):
    """Return why a text is no day to read on; empty if it is one."""
    try:
        day = datetime.date.fromisoformat(text) if _DAY.fullmatch(text) else None
    except ValueError:
        day = None
    if day is None:
        return "This is no date; accepted: year, month and day, as in 2024-05-31."
    # Where it is tomorrow already, the server's day is a day behind.
    if day > today + datetime.timedelta(days=1) or day.year < FIRST_YEAR:
        return f"A date from {FIRST_YEAR} up to today is wanted."
    return ""


def _plain(text, field, longest, wrong):
    """Return a text on one line, and note what is wrong with it."""
    found = " ".join(text[: 10 * longest].split())
    if any(unicodedata.category(c) in ("Cc", "Cs", "Cn", "Co") for c in found):
        wrong[field] = "There is a character that cannot be shown."
    elif len(found) > longest or len(text) > 10 * longest:
        wrong[field] = f"This is longer than {longest} characters."
    return found


def begin(session: Session, query: str, title: str, first: Written | None = None) -> Logbook:
    """Keep a new logbook, with its first entry where there is one."""
    if len(query) > LONGEST_SCENARIO:
        raise LogError({"": f"The address of this stage is longer than {LONGEST_SCENARIO} characters."})
    if session.scalar(select(func.count()).select_from(Logbook)) >= MOST_LOGBOOKS:
        raise RoomError({"": "There is no room for another logbook at present."})
    made = {"id": secrets.token_urlsafe(12), "key": secrets.token_urlsafe(18), "made": time.time()}
    book = Logbook(scenario=query, title=title, **made)
    session.add(book)
    session.flush()
    if first is not None:
        enter(session, book, first)
    return book


def found(session: Session, log: str) -> Logbook | None:
    """Return a logbook that is kept."""
    return session.get(Logbook, log) if len(log) <= 32 else None


def may_write(book: Logbook, key: str) -> bool:
    """Return whether a key lets one write into a logbook."""
    return secrets.compare_digest(book.key.encode(), key.encode("utf-8", "replace"))


def enter(session: Session, book: Logbook, entry: Written) -> LogEntry:
    """Keep an entry."""
    if count(session, book) >= MOST_ENTRIES:
        raise RoomError({"": f"There are {MOST_ENTRIES} entries in this logbook, and no more fit in."})
    text = json.dumps(entry.readings)
    if len(text) > LONGEST_READINGS:
        raise LogError({"readings": "There are too many readings."})
    kept = LogEntry(logbook=book.id, day=entry.day, readings=text, note=entry.note, nickname=entry.nickname)
    session.add(kept)
    return kept


def count(session: Session, book: Logbook) -> int:
    """Return how many entries a logbook has."""
    return session.scalar(select(func.count()).select_from(LogEntry).where(LogEntry.logbook == book.id))


def delete(session: Session, book: Logbook) -> None:
    """Delete a logbook with all its entries."""
    session.delete(book)


def entries(session: Session, book: Logbook) -> list[Written]:
    """Return the entries of a logbook, the newest first."""
    mine = select(LogEntry).where(LogEntry.logbook == book.id).order_by(LogEntry.day.desc(), LogEntry.id.desc())
    return [Written(one.day, json.loads(one.readings), one.note, one.nickname) for one in session.scalars(mine)]
