"""The signal rate takes long to judge: it is not asked for while the hand moves, and is told once it rests."""

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.explorer import Explorer

WANTED = "rl=10k&rate=12kHz"


@pytest.fixture
def asked(page: Page) -> list[str]:
    """Return what is asked of the server within the explorer, as it is asked."""
    paths: list[str] = []
    page.on("request", lambda request: paths.append(request.url) if "/stage/" in request.url else None)
    return paths


def lists(asked: list[str]) -> list[str]:
    return [url for url in asked if "/stage/finding-list" in url]


def test_a_drag_asks_for_no_timing_and_the_finding_comes_once_the_hand_rests(page: Page, asked, anew):
    explorer = Explorer(page, WANTED)
    row = page.locator("#edge-rate")
    expect(row.locator("p").first).to_contain_text("less than the 12 kHz wanted")
    explorer.at_rest()
    place, room = row.bounding_box()["y"], row.bounding_box()["height"]
    asked.clear()
    explorer.hold("vcc", 0.53)
    page.wait_for_timeout(1200)
    assert any("/stage/live" in url for url in asked)
    assert lists(asked) == []
    assert not [url for url in asked if "/stage/panel" in url]
    expect(row.locator(".checking")).to_be_visible()
    expect(row.locator("p").first).to_be_hidden()
    expect(row.locator("[data-mend]")).to_be_hidden()
    assert (row.bounding_box()["y"], row.bounding_box()["height"]) == (place, room)
    explorer.release()
    explorer.at_rest()
    expect(row.locator(".checking")).to_be_hidden(timeout=30_000)
    expect(row.locator("p").first).to_contain_text("less than the 12 kHz wanted")
    assert len(lists(asked)) == 1
    assert explorer.seen() == anew(page.url)


def test_without_a_wanted_rate_nothing_is_asked(page: Page, asked):
    explorer = Explorer(page)
    explorer.drag("rl", 0.6)
    explorer.at_rest()
    page.wait_for_timeout(500)
    assert lists(asked) == []
    expect(page.locator("#edge-rate")).to_have_count(0)


def test_a_rate_that_is_typed_is_awaited_answered_mended_and_taken_back(page: Page, anew):
    explorer = Explorer(page, "rl=10k")
    explorer.field("rate").fill("12 kHz")
    explorer.field("rate").press("Enter")
    row = page.locator("#edge-rate")
    expect(row.locator("p").first).to_contain_text("less than the 12 kHz wanted", timeout=30_000)
    row.locator("[data-mend]").click()
    expect(row.locator("p").first).to_contain_text("keeps up with the 12 kHz wanted", timeout=30_000)
    expect(row).to_have_class(re.compile("pass"))
    assert explorer.at_rest() == anew(page.url)
    explorer.field("rate").fill("none")
    explorer.field("rate").press("Enter")
    expect(row).to_have_count(0)


def test_the_panel_on_speed_sets_the_rate_of_the_stage(page: Page):
    Explorer(page, "rl=10k&panel=timing")
    page.locator("#timing-rate").fill("1 kHz")
    page.locator("#timing-rate").press("Enter")
    expect(page.locator("#rate")).to_have_value("1 kHz")
    expect(page).to_have_url(re.compile("rate=1kHz"))
    expect(page.locator("#edge-rate p").first).to_contain_text("keeps up with the 1 kHz wanted", timeout=30_000)
    expect(page.locator("#panel-timing")).to_contain_text("1 kHz holds, at worst too", timeout=30_000)
