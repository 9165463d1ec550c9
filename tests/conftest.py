"""Fixtures for tests of the web application: in this process, and as a server on the loopback interface."""

import os
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from tests.serving import serving
from tests.tree import ROOT
from webapp.app import create_app
from webapp.settings import Settings

SERVER_LOG = pytest.StashKey[Path]()
DATA = pytest.StashKey[tempfile.TemporaryDirectory]()


def pytest_configure(config: pytest.Config) -> None:
    """Keep what is stored by tests, and by servers they start, out of the user's data folder."""
    config.stash[DATA] = tempfile.TemporaryDirectory(prefix="lightgap-tests-", ignore_cleanup_errors=True)
    os.environ["XDG_DATA_HOME"] = config.stash[DATA].name
    os.environ.pop("LIGHTGAP_DATABASE", None)


def pytest_unconfigure(config: pytest.Config) -> None:
    """Remove it."""
    config.stash[DATA].cleanup()


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Let a test that needs a server reach the loopback interface; every other test has no network."""
    for item in items:
        if _needs_server(item):
            item.add_marker(pytest.mark.allow_hosts(["127.0.0.1"]))


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item):
    """Show what the server printed beside a failure of a test that used it."""
    report = yield
    log = item.config.stash.get(SERVER_LOG, None)
    if report.failed and log and _needs_server(item):
        report.sections.append(("server output", log.read_text()))
    return report


def _needs_server(item: pytest.Item) -> bool:
    return "server" in getattr(item, "fixturenames", ())


@pytest.fixture(scope="session")
def app() -> FastAPI:
    """The application with default settings, whatever the environment says."""
    return create_app(Settings())


@pytest.fixture
def client(app: FastAPI) -> TestClient:
    """A client of the application, without a network between them."""
    return TestClient(app)


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory, pytestconfig: pytest.Config) -> Iterator[str]:
    """The address of the application, running in a process of its own."""
    log = tmp_path_factory.mktemp("server") / "output.txt"
    pytestconfig.stash[SERVER_LOG] = log
    with serving([sys.executable, "-m", "webapp", "--port", "0"], log, cwd=ROOT) as address:
        yield address
