"""Sections out of view are spared while a slider is dragged, and are never behind where somebody sees them."""

import pytest
from playwright.sync_api import Page, expect

from tests.browser.explorer import Explorer

pytestmark = pytest.mark.usefixtures("alone")

SMALL, TALL = {"width": 1280, "height": 620}, {"width": 1280, "height": 2000}


@pytest.fixture
def answers(page: Page) -> list[str]:
    """Return what the server answers to moved controls, as it comes."""
    texts: list[str] = []
    page.on("response", lambda answer: texts.append(answer.text()) if "/stage/live" in answer.url else None)
    return texts


def first_row(page: Page) -> str:
    return page.locator(".nodes tbody tr").first.inner_text()


def test_tables_out_of_view_wait_for_the_end_of_a_drag(page: Page, answers, anew):
    page.set_viewport_size(SMALL)
    explorer = Explorer(page)
    before = first_row(page)
    explorer.hold("vs", 0.9)
    page.wait_for_function("() => document.getElementById('followers').dataset.query.startsWith('vs=')")
    assert first_row(page) == before
    assert not any('id="tables"' in answer for answer in answers)
    explorer.release()
    assert explorer.at_rest() == anew(page.url)
    assert first_row(page) != before


def test_tables_in_view_follow_the_hand(page: Page):
    page.set_viewport_size(TALL)
    explorer = Explorer(page)
    before = first_row(page)
    explorer.hold("vs", 0.9)
    expect(page.locator(".nodes tbody tr").first).not_to_have_text(before)
    explorer.release()


def test_a_section_that_comes_into_view_catches_up(page: Page):
    page.set_viewport_size(SMALL)
    explorer = Explorer(page)
    explorer.hold("vs", 0.9)
    page.wait_for_function("() => document.getElementById('followers').dataset.query.startsWith('vs=')")
    page.evaluate("document.getElementById('tables').scrollIntoView()")
    wanted = page.evaluate("document.getElementById('vs').value")
    expect(page.locator(".nodes tbody tr", has=page.locator("th", has_text="VS")).first).to_contain_text(wanted)
    explorer.release()


def test_keys_leave_nothing_behind(page: Page, anew):
    page.set_viewport_size(SMALL)
    explorer = Explorer(page)
    explorer.slider("rl").press("ArrowRight")
    assert explorer.at_rest() == anew(page.url)
