"""The database: opened once for each application, its tables brought up to date by themselves.

SQLite in a file unless an address names PostgreSQL. What is written is on disk before the request is answered: a
session that writes is committed where its block ends, and both databases wait for the disk at each commit.

On both, a session that reads sees one state, and one session writes at a time, in this process and in all others: what
it counts before it writes is still so when it is committed. SQLite locks the file for it; on PostgreSQL it holds an
advisory lock to the end of its transaction, as row locks would not keep others from adding rows that it has counted.
"""

import sqlite3
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import platformdirs
from alembic import command
from alembic.config import Config
from alembic.util import CommandError
from sqlalchemy import Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError, NoSuchModuleError, SQLAlchemyError
from sqlalchemy.orm import Session
from starlette.requests import Request

MIGRATIONS = Path(__file__).resolve().parent / "migrations"
WAIT = 10.0
"""How long a session waits for another one to finish writing [s]."""

_WRITES = "lightgap_writes"
"""Execution option of connections that are about to write."""

_WRITERS = 0x4C474150
"""Number of the lock that a session holds on PostgreSQL while it writes."""

_LEADING = threading.Lock()
"""Held while alembic runs, which knows one database at a time."""


class StoreError(RuntimeError):
    """A database that cannot be used; the sentence tells which, and why."""


def default_path() -> Path:
    """Return the file that is used where no setting names another: in the user's data folder."""
    return Path(platformdirs.user_data_path("lightgap", appauthor=False)) / "lightgap.sqlite3"


class Store:
    """The database of one application, opened at its first use.

    Parameters
    ----------
    database : str
        Path of an SQLite file, or the address of another database, as in `postgresql+psycopg://host/name`; empty for
        `default_path()`.
    """

    def __init__(self, database: str = "") -> None:
        self._database = database
        self._engine: Engine | None = None
        self._opening = threading.Lock()

    @property
    def engine(self) -> Engine:
        """The engine of the database, whose tables are those of this version."""
        if self._engine is None:
            with self._opening:
                if self._engine is None:
                    self._engine = _opened(self._database)
        return self._engine

    def open(self) -> None:
        """Open the database now; raises StoreError where that cannot be done."""
        _ = self.engine

    def close(self) -> None:
        """Let go of all connections; the next use opens the database again."""
        with self._opening:
            if self._engine is not None:
                self._engine.dispose()
            self._engine = None

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """Give a session that sees one state of the database, and keeps nothing."""
        with Session(self.engine, expire_on_commit=False) as session:
            yield session

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """Give the one session that may write at a time; it is committed at the end, and undone by an exception."""
        with Session(_writer(self.engine), expire_on_commit=False) as session, session.begin():
            yield session


def reading(request: Request):
    """Return a session for a request that only looks something up, as a context manager."""
    return request.app.state.store.reading()


def writing(request: Request):
    """Return a session for a request that keeps something, as a context manager; call it from a thread."""
    return request.app.state.store.writing()


def _opened(database: str) -> Engine:
    """Return the engine of a database whose tables are up to date."""
    name = database or str(default_path())
    try:
        engine = _made(make_url(_address(name)))
        _lead(engine)
    except CommandError as error:
        raise StoreError(f"the database {_shown(name)} was made by another version of Lightgap: {error}") from error
    except (ArgumentError, NoSuchModuleError, ModuleNotFoundError) as error:
        raise StoreError(f"the database {_shown(name)} cannot be reached: {error}") from error
    except (SQLAlchemyError, OSError) as error:
        reason = getattr(error, "orig", None) or error
        raise StoreError(f"the database {_shown(name)} cannot be used: {reason}") from error
    return engine


def _made(url) -> Engine:
    """Return the engine of a database, which takes one writer at a time."""
    if url.get_backend_name() == "postgresql":
        engine = create_engine(url, isolation_level="REPEATABLE READ", pool_pre_ping=True)
        _follow_postgresql(engine)
    else:
        engine = create_engine(url)
    if engine.dialect.name == "sqlite":
        _follow_sqlite(engine)
    return engine


def _writer(engine: Engine) -> Engine:
    """Return the engine for a session that writes.

    On PostgreSQL each of its statements sees what was committed before that statement: one state would be that from
    before it had to wait for the writer before it.
    """
    isolation = {"isolation_level": "READ COMMITTED"} if engine.dialect.name == "postgresql" else {}
    return engine.execution_options(**{_WRITES: True}, **isolation)


def _address(name: str) -> str:
    """Return the address of a database, whose folder is made where it is a file."""
    if "://" in name:
        return name
    path = Path(name).expanduser().absolute()
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    return f"sqlite+pysqlite:///{path}"


def _shown(name: str) -> str:
    """Return the name of a database without a password."""
    scheme, mark, rest = name.partition("://")
    return f"{scheme}{mark}{rest.rpartition('@')[2]}" if mark else name


def _follow_sqlite(engine: Engine) -> None:
    """Make SQLite write ahead, keep what is committed, check keys, and begin what writes as a writer.

    Two sessions that began as readers could not both go on to write: one would be refused at once, however long it
    is willing to wait.
    """

    @event.listens_for(engine, "connect")
    def connected(connection, record):
        connection.isolation_level = None  # no transactions but those begun below
        connection.execute(f"PRAGMA busy_timeout = {WAIT * 1000:.0f}")
        _write_ahead(connection)
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA foreign_keys = ON")

    @event.listens_for(engine, "begin")
    def begun(connection):
        writes = connection.get_execution_options().get(_WRITES)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _follow_postgresql(engine: Engine) -> None:
    """Make PostgreSQL let one session write at a time, and take any text.

    It keeps no NUL and refuses to look for one: so whoever asks for a name that has one is told that there is nothing.
    """

    @event.listens_for(engine, "begin")
    def begun(connection):
        if connection.get_execution_options().get(_WRITES):
            connection.exec_driver_sql(f"SET LOCAL lock_timeout = {WAIT * 1000:.0f}")
            connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_WRITERS})")

    @event.listens_for(engine, "before_cursor_execute", retval=True)
    def executed(connection, cursor, statement, parameters, context, many):
        return statement, _kept(parameters)


def _kept(parameters):
    """Return the parameters of a statement, or of one that is run several times, without a NUL."""
    if not isinstance(parameters, dict):
        return [_kept(row) for row in parameters] if isinstance(parameters, list) else parameters
    return {name: v.replace("\0", "\ufffd") if isinstance(v, str) else v for name, v in parameters.items()}


def _write_ahead(connection: sqlite3.Connection) -> None:
    """Make the file one that is written ahead; SQLite does not wait by itself for another who does the same."""
    until = time.monotonic() + WAIT
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or time.monotonic() > until:
                raise
        time.sleep(0.01)


def _lead(engine: Engine) -> None:
    """Lead the tables to the form of this version, all steps or none; no connection is left of what cannot be led."""
    try:
        _upgrade(engine)
    except BaseException:
        engine.dispose()
        raise


def _upgrade(engine: Engine) -> None:
    with _LEADING, _writer(engine).begin() as connection:
        command.upgrade(migrations(connection), "head")


def migrations(connection: Connection) -> Config:
    """Return the settings with which alembic leads the database of `connection` from one form to the next."""
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    return config
