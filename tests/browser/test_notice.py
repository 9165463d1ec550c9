"""What has been taken in place of a partner that does not fit is said above the stage, until it has been read."""

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.browser.explorer import Explorer
from tests.browser.faults import TOOLS

pytestmark = pytest.mark.usefixtures("alone")


def told_of_another_coupler(page: Page) -> tuple[Explorer, Locator]:
    """Return the explorer, whose output side has just asked for another coupler, and what is said of it."""
    explorer = Explorer(page)
    explorer.field("out").select_option("gate")
    notice = page.locator("#problems .notice")
    expect(notice).to_contain_text("So the coupler is now: Gate-driver coupler.")
    explorer.at_rest()
    return explorer, notice


@pytest.mark.parametrize(("width", "height"), [(1280, 720), (390, 844)])
def test_notice_can_be_read(page: Page, width, height):
    page.set_viewport_size({"width": width, "height": height})
    told_of_another_coupler(page)
    page.evaluate(TOOLS)
    assert page.evaluate("(mayScroll) => cut(mayScroll)", width < 1000) == []


def test_notice_covers_nothing_of_the_stage(page: Page):
    page.set_viewport_size({"width": 1280, "height": 720})
    told_of_another_coupler(page)
    notice, drawing = (page.locator(part).bounding_box() for part in ("#problems", "#schematic"))
    assert notice["y"] + notice["height"] <= drawing["y"] + 1


def test_notice_goes_with_the_next_change(page: Page):
    explorer, notice = told_of_another_coupler(page)
    explorer.slider("vs").press("ArrowRight")
    expect(notice).to_have_count(0)


def test_notice_can_be_closed(page: Page):
    explorer, notice = told_of_another_coupler(page)
    stage = explorer.seen()
    page.get_by_role("button", name="Close").press("Enter")
    expect(notice).to_have_count(0)
    assert explorer.at_rest() == stage
    assert page.locator("#problems").bounding_box()["height"] == 0
