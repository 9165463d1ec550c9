"""What processes tell one another through PostgreSQL (LISTEN and NOTIFY); on SQLite nobody is told anything.

An announcement is only a hint that something is to be looked up: it may come late or be lost with a connection, so
whoever listens also looks from time to time.
"""

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from sqlalchemy import Engine, func, select
from sqlalchemy.exc import SQLAlchemyError
from sqlalchemy.orm import Session

CHANNEL = "lightgap_class"
"""Name of the channel."""

_LOOK_UP = 0.5
"""How often a listener looks whether it is still wanted [s]."""

AGAIN = 2.0
"""How long it waits before it connects anew [s]."""


def announce(session: Session, text: str) -> None:
    """Tell all processes a text once the session is committed."""
    if session.get_bind().dialect.name == "postgresql":
        session.execute(select(func.pg_notify(CHANNEL, text)))


@contextmanager
def listening(engine: Engine, told: Callable[[str], None]) -> Iterator[bool]:
    """Have `told` called, in a thread of its own, with whatever is announced; gives whether anything can be.

    It is called with an empty text where announcements may have been missed.
    """
    if engine.dialect.name != "postgresql":
        yield False
        return
    ended = threading.Event()
    threading.Thread(target=_listen, args=(engine, told, ended), daemon=True).start()
    try:
        yield True
    finally:
        ended.set()


def _listen(engine, told, ended):
    """Listen until the end, over lost connections."""
    while not ended.is_set():
        try:
            _listen_once(engine, told, ended)
        except (SQLAlchemyError, engine.dialect.loaded_dbapi.Error):
            time.sleep(AGAIN)


def _listen_once(engine, told, ended):
    """Listen with one connection, which is none of the pool's any more."""
    pooled = engine.raw_connection()
    connection = pooled.driver_connection
    pooled.detach()
    try:
        connection.rollback()
        connection.autocommit = True
        connection.execute(f"LISTEN {CHANNEL}")
        told("")
        while not ended.is_set():
            for note in connection.notifies(timeout=_LOOK_UP):
                told(note.payload)
                if ended.is_set():
                    return
    finally:
        connection.close()
