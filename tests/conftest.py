"""Fixtures for tests of the web application: in this process, and as a server on the loopback interface."""

import gc
import itertools
import os
import re
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from anyio.from_thread import BlockingPortal, start_blocking_portal
from fastapi import FastAPI
from hypothesis import settings

from tests.asking import Asking
from tests.postgresql import address_of, run_sql, running_cluster
from tests.serving import serving
from tests.tree import ROOT
from webapp.app import begin, create_app
from webapp.remembered import Remembered
from webapp.settings import Settings
from webapp.store import Table

SERVER_LOG = pytest.StashKey[Path]()
DATA = pytest.StashKey[tempfile.TemporaryDirectory]()

# The same code is tried on the same examples, so that a failure is of a change; "make explore" tries others each time.
settings.register_profile("same", derandomize=True)
settings.register_profile("other", derandomize=False, print_blob=True)
settings.load_profile("same")


def pytest_configure(config: pytest.Config) -> None:
    """Keep what is stored by tests, and by servers they start, out of the user's data folder."""
    config.stash[DATA] = tempfile.TemporaryDirectory(prefix="lightgap-tests-", ignore_cleanup_errors=True)
    os.environ["XDG_DATA_HOME"] = config.stash[DATA].name
    os.environ.pop("LIGHTGAP_DATABASE", None)


def pytest_unconfigure(config: pytest.Config) -> None:
    """Remove it."""
    config.stash[DATA].cleanup()


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Let a test that needs a server reach the loopback interface; every other test has no network.

    Of the cases of a test, one runs on PostgreSQL too: it is the database that differs there, not the case.
    """
    for item in items:
        if _needs_server(item):
            item.add_marker(pytest.mark.allow_hosts(["127.0.0.1"]))
    on_both: set[tuple] = set()
    spared = [item for item in items if _on_postgresql(item) and _seen((item.path, item.originalname), on_both)]
    if spared:
        config.hook.pytest_deselected(items=spared)
        items[:] = [item for item in items if item not in spared]


def pytest_collection_finish() -> None:
    """Let the garbage collector leave aside what stays until the end: thousands of tests and all modules."""
    gc.collect()
    gc.freeze()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item):
    """Show what the server printed beside a failure of a test that used it."""
    report = yield
    log = item.config.stash.get(SERVER_LOG, None)
    if report.failed and log and _needs_server(item):
        report.sections.append(("server output", log.read_text()))
    return report


def _on_postgresql(item: pytest.Item) -> bool:
    callspec = getattr(item, "callspec", None)
    return callspec is not None and "postgresql" in (
        callspec.params.get(name) for name in ("database", "module_database")
    )


def _seen(key: tuple, seen: set[tuple]) -> bool:
    """Return whether a key is among those seen, and put it there."""
    before = key in seen
    seen.add(key)
    return before


def _needs_server(item: pytest.Item) -> bool:
    return "server" in getattr(item, "fixturenames", ())


@pytest.fixture(scope="session")
def cluster() -> Iterator[Path]:
    """The socket's folder of a PostgreSQL of these tests alone."""
    with running_cluster() as folder:
        yield folder


@pytest.fixture(scope="module")
def tables(cluster: Path, request: pytest.FixtureRequest) -> str:
    """The name of a PostgreSQL database of the tests of one module."""
    name = re.sub(r"\W", "_", request.module.__name__.rpartition(".")[2])
    run_sql(cluster, f"DROP DATABASE IF EXISTS {name}", f"CREATE DATABASE {name}")
    return name


@pytest.fixture(params=["sqlite", "postgresql"])
def database(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """The setting that names an empty database of one test; the test runs once on each kind."""
    if request.param == "sqlite":
        return str(tmp_path / "kept.sqlite3")
    folder, name = request.getfixturevalue("cluster"), request.getfixturevalue("tables")
    empty(folder, name)
    return address_of(folder, name)


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def module_database(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> str:
    """The setting that names one database of each kind for all tests of a module, which are in no one's way."""
    if request.param == "sqlite":
        return str(tmp_path_factory.mktemp("kept") / "kept.sqlite3")
    return address_of(request.getfixturevalue("cluster"), request.getfixturevalue("tables"))


@pytest.fixture(scope="session")
def built() -> list[FastAPI]:
    """Applications that tests have begun anew so far; what takes long to build is the same in all of them."""
    return []


@pytest.fixture
def opened(database: str, built: list[FastAPI], portal: BlockingPortal) -> Iterator[Callable[[], FastAPI]]:
    """A function that opens an application on the database of this test, as after a restart when called again."""
    count = itertools.count()

    def open_one() -> FastAPI:
        number = next(count)
        if number == len(built):
            built.append(create_app(Settings(database=database)))
        begin(built[number], Settings(database=database))
        return built[number]

    yield open_one
    for app in built:
        portal.call(app.state.hub.close)
        app.state.store.close()


def empty(folder: Path, name: str) -> None:
    """Remove all rows of a database, and leave its tables."""
    every = ", ".join(Table.metadata.tables)
    truncate = f"EXECUTE 'TRUNCATE {every} RESTART IDENTITY CASCADE'"
    made = "to_regclass('alembic_version') IS NOT NULL"
    run_sql(folder, f"DO $$ BEGIN IF {made} THEN {truncate}; END IF; END $$", database=name)


@pytest.fixture(scope="session")
def app() -> FastAPI:
    """The application with default settings, whatever the environment says."""
    return create_app(Settings())


@pytest.fixture(scope="session")
def portal() -> Iterator[BlockingPortal]:
    """An event loop that runs between requests too, in a thread of its own."""
    with start_blocking_portal() as portal:
        yield portal


@pytest.fixture
def client(app: FastAPI) -> Asking:
    """A client of the application, without a network between them."""
    app.state.remembered = Remembered()  # what another test has asked for is worked out anew, and by a template
    return Asking(app)


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory, pytestconfig: pytest.Config) -> Iterator[str]:
    """The address of the application, running in a process of its own."""
    log = tmp_path_factory.mktemp("server") / "output.txt"
    pytestconfig.stash[SERVER_LOG] = log
    with serving([sys.executable, "-m", "webapp", "--port", "0"], log, cwd=ROOT) as address:
        yield address
