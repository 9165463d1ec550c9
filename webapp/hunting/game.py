"""What is kept of hunts: making one, taking part, reading, answering, ending. Each function is given its session.

Bounds are kept here: how many hunts and for how long, how many take part, how often each may answer.
"""

import base64
import hashlib
import secrets
import time
import unicodedata

from sqlalchemy import bindparam, delete, func, select
from sqlalchemy.orm import Session

from webapp.hunting.readings import Place
from webapp.store.hunts import LONGEST_NICKNAME, LONGEST_SCENARIO, Hunt, Hunter, Taken

MOST_HUNTS = 5000
"""Hunts that are kept at once."""

KEPT_FOR = 120 * 86400.0
"""How long a hunt is kept after it was made [s]."""

MOST_HUNTERS = 300
"""Who may take part in one hunt."""

MOST_TAKEN = 400
"""Different readings of one who takes part."""

MOST_TRIES = 12
"""Answers of one who takes part; the first is the one that counts."""


_TAKEN = (
    select(Taken.number, Taken.state, Taken.red, Taken.black)
    .where(Taken.hunter == bindparam("hunter"))
    .order_by(Taken.number)
)


class HuntError(ValueError):
    """Something that a hunt does not allow; the sentence tells what and why."""


class RoomError(HuntError):
    """There is no room for another hunt."""


def make(session: Session, query: str, fault: str) -> Hunt:
    """Keep a new hunt for a stage and its hidden fault, and let go of those that are too old."""
    now = time.time()
    session.execute(delete(Hunt).where(Hunt.made < now - KEPT_FOR))
    if len(query) > LONGEST_SCENARIO:
        raise HuntError(f"The address of this stage is longer than {LONGEST_SCENARIO} characters.")
    if session.scalar(select(func.count()).select_from(Hunt)) >= MOST_HUNTS:
        raise RoomError("There is no room for another hunt at present. Old ones are removed as time goes by.")
    hunt = Hunt(
        id=secrets.token_urlsafe(12),
        key=secrets.token_urlsafe(18),
        scenario=query,
        fault=fault,
        secret=secrets.token_bytes(32),
        made=now,
    )
    session.add(hunt)
    return hunt


def found(session: Session, hunt: str) -> Hunt | None:
    """Return a hunt that is kept, by what its link ends with."""
    kept = session.get(Hunt, hunt) if len(hunt) <= 32 else None
    return kept if kept is not None and kept.made >= time.time() - KEPT_FOR else None


def watched(session: Session, hunt: str, key: str) -> Hunt | None:
    """Return a hunt for who has the key to it."""
    kept = found(session, hunt)
    known = secrets.compare_digest((kept.key if kept else "").encode(), key.encode("utf-8", "replace"))
    return kept if kept and known else None


def end(hunt: Hunt) -> None:
    """End a hunt: nobody reads or answers any more, and everybody is shown the fault."""
    hunt.ended = hunt.ended or time.time()


def join(session: Session, hunt: Hunt, nickname: str) -> str:
    """Let somebody take part, and return the token to be known again by; raises HuntError where that cannot be."""
    shown, folded = named(nickname)
    if hunt.ended:
        raise HuntError("This hunt has ended.")
    mine = select(Hunter).where(Hunter.hunt == hunt.id)
    if session.scalar(mine.where(Hunter.folded == folded)):
        raise HuntError("Somebody has taken this name already. Take another one.")
    if session.scalar(select(func.count()).select_from(mine.subquery())) >= MOST_HUNTERS:
        raise HuntError(f"There are {MOST_HUNTERS} in this hunt, and no more fit in.")
    token = secrets.token_urlsafe(24)
    session.add(Hunter(hunt=hunt.id, token=_kept(token), nickname=shown, folded=folded, joined=time.time()))
    return token


def named(nickname: str) -> tuple[str, str]:
    """Return a nickname as it is shown and as it is compared; raises HuntError where it is none."""
    plain = unicodedata.normalize("NFKC", nickname[: 10 * LONGEST_NICKNAME])
    shown = " ".join(plain.split())
    if not shown:
        raise HuntError("A name is wanted, by which the others know you.")
    if any(unicodedata.category(c)[0] == "C" for c in shown):
        raise HuntError("The name has a character that cannot be shown.")
    if len(shown) > LONGEST_NICKNAME:
        raise HuntError(f"The name is longer than {LONGEST_NICKNAME} characters.")
    folded = shown.casefold().replace(" ", "")
    if not any(c.isalnum() for c in folded):
        raise HuntError("The name needs a letter or a digit.")
    return shown, folded


def known(session: Session, hunt: Hunt, token: str) -> Hunter | None:
    """Return who shows a token."""
    mine = select(Hunter).where(Hunter.hunt == hunt.id, Hunter.token == _kept(token))
    return session.scalar(mine) if 0 < len(token) <= 64 else None


def taken(session: Session, hunter: Hunter) -> list[tuple[int, Place]]:
    """Return the readings that somebody has taken, in their order, with their numbers."""
    rows = session.execute(_TAKEN, {"hunter": hunter.id})
    return [(number, Place(state, red, black)) for number, state, red, black in rows]


def take(session: Session, hunt: Hunt, hunter: Hunter, place: Place) -> list[tuple[int, Place]]:
    """Keep that somebody takes a reading, and return all that they have taken, as `taken`.

    One that is known already, either way round, is not counted again.
    """
    if hunt.ended:
        raise HuntError("This hunt has ended.")
    before = taken(session, hunter)
    if any(p.state == place.state and {p.red, p.black} == {place.red, place.black} for _, p in before):
        return before
    if len(before) >= MOST_TAKEN:
        raise HuntError(f"You have taken {MOST_TAKEN} readings, and no more are kept.")
    number = len(before) + 1
    session.add(Taken(hunter=hunter.id, state=place.state, red=place.red, black=place.black, number=number))
    return [*before, (number, place)]


def answer(session: Session, hunt: Hunt, hunter: Hunter, fault: str, right: bool) -> None:
    """Keep an answer: the first one counts, later ones tell only whether the fault has been found in the end."""
    if hunt.ended:
        raise HuntError("This hunt has ended.")
    if hunter.found_readings is not None:
        raise HuntError("You have found the fault already.")
    if hunter.tries >= MOST_TRIES:
        raise HuntError(f"You have answered {MOST_TRIES} times, and no more answers are taken.")
    readings = session.scalar(select(func.count()).select_from(Taken).where(Taken.hunter == hunter.id))
    hunter.tries += 1
    if hunter.answer is None:
        hunter.answer, hunter.right, hunter.answer_readings = fault, right, readings
    hunter.found_readings = readings if right else None


def board(session: Session, hunt: Hunt) -> list[tuple[Hunter, int]]:
    """Return who takes part, each with the number of readings: who found it with the fewest first."""
    count = select(func.count()).where(Taken.hunter == Hunter.id).scalar_subquery()
    rows = session.execute(select(Hunter, count).where(Hunter.hunt == hunt.id)).all()
    return sorted(((hunter, number) for hunter, number in rows), key=_rank)


def _rank(entry):
    """Return what the board is sorted by: found at once, found later, still looking."""
    hunter, _ = entry
    if hunter.found_readings is None:
        return (2, 0, hunter.joined)
    return (0 if hunter.right else 1, hunter.found_readings, hunter.joined)


def _kept(token):
    """Return what is kept of a token, which does not give it away."""
    return base64.urlsafe_b64encode(hashlib.sha256(token.encode("utf-8", "replace")).digest()).decode().rstrip("=")
