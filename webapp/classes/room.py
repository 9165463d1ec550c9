"""What is kept of classes: making one, showing it a scenario, ending it, who is there. Each function gets its session.

Bounds are kept here: how many classes and for how long, how long a scenario may be.
"""

import hashlib
import hmac
import secrets
import time
from collections.abc import Collection
from dataclasses import dataclass

from sqlalchemy import delete, func, select
from sqlalchemy.orm import Session

from webapp.classes.codes import new_code
from webapp.store import Attendance, ClassRow, announce
from webapp.store.hunts import LONGEST_SCENARIO

MOST_CLASSES = 5000
"""Classes that are kept at once."""

KEPT_FOR = 60 * 86400.0
"""How long a class is kept after its scenario last changed [s]."""

HEARD_FOR = 15.0
"""How long what a process has said of its followers holds [s]."""

_LONGEST_KEY = 64
"""Characters of a key that are looked at; ours are shorter."""

_NO_KEY = bytes(32)
"""Compared with where there is no class, so that this takes as long."""


class ClassError(ValueError):
    """Something that a class does not take; the sentence tells what and why."""


class RoomError(ClassError):
    """There is no room for another class."""


class EndedError(ClassError):
    """The class has ended."""


@dataclass(frozen=True, slots=True)
class Made:
    """What leads to a class that was made just now.

    Attributes
    ----------
    code : str
        For who follows.
    key : str
        For who leads.
    """

    code: str
    key: str


@dataclass(frozen=True, slots=True)
class Shown:
    """What a class is shown.

    Attributes
    ----------
    code : str
        The class.
    number : int
        Which scenario it is, counted from the first.
    scenario : str
        Its query string.
    ended : bool
        Whether it is the last one.
    """

    code: str
    number: int
    scenario: str
    ended: bool


def make(session: Session, query: str) -> Made:
    """Keep a new class that is shown a scenario, and let go of those that are too old."""
    now = time.time()
    session.execute(delete(ClassRow).where(ClassRow.moved < now - KEPT_FOR))
    _must_fit(query)
    if session.scalar(select(func.count()).select_from(ClassRow)) >= MOST_CLASSES:
        raise RoomError("There is no room for another class at present. Old ones are removed as time goes by.")
    made = Made(new_code(), secrets.token_urlsafe(18))
    session.add(ClassRow(code=made.code, key=_digest(made.key), scenario=query, number=1, made=now, moved=now))
    return made


def found(session: Session, code: str) -> Shown | None:
    """Return what a class is shown; None where there is no such class."""
    return look(session, (code,)).get(code)


def look(session: Session, codes: Collection[str]) -> dict[str, Shown]:
    """Return what classes are shown, by their codes."""
    columns = (ClassRow.code, ClassRow.number, ClassRow.scenario, ClassRow.ended)
    living = ClassRow.moved >= time.time() - KEPT_FOR
    rows = session.execute(select(*columns).where(ClassRow.code.in_(list(codes)), living))
    return {code: Shown(code, number, scenario, ended is not None) for code, number, scenario, ended in rows}


def led(session: Session, code: str, key: str) -> Shown | None:
    """Return what a class is shown, for who has its key."""
    row = _led(session, code, key)
    return _shown(row) if row else None


def show(session: Session, code: str, key: str, query: str) -> Shown | None:
    """Show a class a scenario, and return what it is shown then; None where there is none, or the key does not fit.

    Raises
    ------
    EndedError
        If the class has ended.
    ClassError
        If the scenario is too long.
    """
    row = _led(session, code, key)
    if row is None:
        return None
    if row.ended:
        raise EndedError("This class has ended.")
    _must_fit(query)
    if row.scenario != query:
        row.scenario, row.number, row.moved = query, row.number + 1, time.time()
        announce(session, code)
    return _shown(row)


def end(session: Session, code: str, key: str) -> Shown | None:
    """End a class; None where there is none, or the key does not fit."""
    row = _led(session, code, key)
    if row is None:
        return None
    row.ended = row.ended or time.time()
    announce(session, code)
    return _shown(row)


def attend(session: Session, process: str, counts: dict[str, int]) -> None:
    """Keep how many follow classes through one process, by code; none for a class removes it."""
    now = time.time()
    session.execute(delete(Attendance).where(Attendance.process == process, Attendance.code.in_(list(counts))))
    kept = set(session.scalars(select(ClassRow.code).where(ClassRow.code.in_(list(counts)))))
    rows = (Attendance(code=code, process=process, followers=n, at=now) for code, n in counts.items())
    session.add_all(row for row in rows if row.followers and row.code in kept)
    session.execute(delete(Attendance).where(Attendance.at < now - 20 * HEARD_FOR))


def followers(session: Session, code: str) -> int:
    """Return how many follow a class, through all processes."""
    heard = (Attendance.code == code, Attendance.at > time.time() - HEARD_FOR)
    return session.scalar(select(func.sum(Attendance.followers)).where(*heard)) or 0


def _led(session, code, key):
    """Return the row of a class for who has its key."""
    row = session.get(ClassRow, code)
    fits = hmac.compare_digest(row.key if row else _NO_KEY, _digest(key[:_LONGEST_KEY]))
    return row if row is not None and fits else None


def _shown(row):
    return Shown(row.code, row.number, row.scenario, row.ended is not None)


def _digest(key):
    """Return what is kept of a key; it is long and random, so that one pass suffices."""
    return hashlib.sha256(key.encode("utf-8", "replace")).digest()


def _must_fit(query):
    if len(query) > LONGEST_SCENARIO:
        raise ClassError(f"The address of this stage is longer than {LONGEST_SCENARIO} characters.")
