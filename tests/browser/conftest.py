"""Debian's Chromium, driven by Playwright; every test in this folder runs in it."""

import contextlib
import re
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Error, Page, expect, sync_playwright

from tests.browser.explorer import Explorer, leave_alone
from tests.tree import ROOT

SCREENSHOTS = ROOT / ".artifacts"
FAILED = pytest.StashKey[bool]()
CALM = [  # nothing asks the network on its own account
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
EXECUTABLES = (
    "chromium-headless-shell",
    "chromium",
)  # the first one draws no window of its own, which is a third less work
# Playwright's default would hide that a page changes its address too often.
UNWANTED = ["--disable-ipc-flooding-protection"]

expect.set_options(
    timeout=20_000
)  # ms; on a busy machine a server takes its time, and what comes at once costs nothing


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark the tests of this folder."""
    for item in items:
        if item.path.is_relative_to(Path(__file__).parent):
            item.add_marker(pytest.mark.browser)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo):
    """Note for the fixtures whether the test itself failed."""
    report = yield
    if call.when == "call":
        item.stash[FAILED] = report.failed
    return report


@pytest.fixture(scope="package")
def browser() -> Iterator[Browser]:
    """A running Chromium."""
    executable = next(filter(None, map(shutil.which, EXECUTABLES)), None)
    if executable is None:
        pytest.fail(
            "Chromium is missing; 'make test' installs it, and so does 'apt-get install chromium-headless-shell'"
        )
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=executable, args=CALM, ignore_default_args=UNWANTED)
        yield chromium
        chromium.close()


@pytest.fixture(scope="package")
def person(browser: Browser, server: str) -> Iterator[BrowserContext]:
    """One person's browser, for whom relative addresses lead to the server; shared, as it then loads files once."""
    context = browser.new_context(base_url=server)
    yield context
    context.close()


@pytest.fixture
def page(person: BrowserContext, request: pytest.FixtureRequest) -> Iterator[Page]:
    """An empty page; errors of scripts and policy fail the test."""
    page = person.new_page()
    try:
        with _watched(page, request.node):
            yield page
            with contextlib.suppress(Error):  # of a page that has no storage, or is closed
                page.evaluate(
                    "localStorage.removeItem('lightgap.kept')"
                )  # what one test keeps is no concern of the next
    finally:
        page.close()


@pytest.fixture(scope="module")
def _looking(person: BrowserContext) -> Iterator[Page]:
    page = person.new_page()
    yield page
    page.close()


@pytest.fixture
def looking(_looking: Page, request: pytest.FixtureRequest) -> Iterator[Page]:
    """A page for addresses that are opened and looked at only; one for a module, as each new one costs a process."""
    _looking.set_viewport_size({"width": 1280, "height": 720})
    _looking.emulate_media(media="null", color_scheme="light")
    with _watched(_looking, request.node):
        yield _looking


@contextlib.contextmanager
def _watched(page: Page, test: pytest.Item) -> Iterator[None]:
    """Fail a test on errors of scripts and policy, and keep a picture of the page of one that fails."""
    faults: list[str] = []

    def note(error: Error) -> None:
        faults.append(str(error))

    def listen(message: ConsoleMessage) -> None:
        faults.extend(_policy_breach(message))

    page.on("pageerror", note)
    page.on("console", listen)
    yield
    page.remove_listener("pageerror", note)
    page.remove_listener("console", listen)
    if test.stash.get(FAILED, True) or faults:
        page.screenshot(path=SCREENSHOTS / (re.sub(r"\W+", "-", test.name) + ".png"), full_page=True)
    assert not faults


@pytest.fixture
def alone(page: Page) -> None:
    """Leave away the panels and bands of a test that looks at the stage alone."""
    leave_alone(page)


@pytest.fixture(scope="package")
def other_person(browser: Browser, server: str) -> Iterator[Page]:
    """A page that shares nothing with the page of a test, and shows the stage alone."""
    context = browser.new_context(base_url=server)
    page = context.new_page()
    leave_alone(page)
    yield page
    context.close()


@pytest.fixture
def anew(other_person: Page) -> Callable[[str], dict]:
    """Return what another person sees who opens an address of the explorer."""
    return lambda address: Explorer(other_person, address.partition("?")[2]).seen()


def _policy_breach(message: ConsoleMessage) -> list[str]:
    return [message.text] if "Content Security Policy" in message.text else []
