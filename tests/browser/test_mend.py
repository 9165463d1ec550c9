"""A remedy is one press: applied in place with script, a link without; the way back leads to the stage before."""

import re

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.explorer import Explorer

BROKEN = "r1w=100mW&rl=1k"  # a resistor too small in either way


def first(page: Page):
    return page.locator(".findings [data-mend]").first


@pytest.mark.usefixtures("alone")
def test_a_press_mends_in_place(page: Page, anew):
    explorer = Explorer(page, BROKEN)
    page.evaluate("() => { window.stayed = true; }")
    said, leads_to = first(page).text_content(), first(page).get_attribute("href")
    assert re.fullmatch(r"Mend it: \w+ .*(R1|RL)\b.*", said.strip())
    failing = page.locator(".findings > .caution, .findings > .stop").count()
    first(page).click()
    expect(page).to_have_url(re.compile(re.escape(leads_to) + "$"))
    at_rest = explorer.at_rest()
    assert page.evaluate("window.stayed")
    assert page.locator(".findings > .caution, .findings > .stop").count() < failing
    assert at_rest == anew(page.url)


def test_back_leads_to_the_stage_before_and_forward_again(page: Page, anew):
    explorer = Explorer(page, BROKEN)
    before = explorer.at_rest()
    first(page).click()
    expect(page).not_to_have_url(re.compile(BROKEN))
    mended = explorer.at_rest()
    page.go_back()
    expect(page).to_have_url(re.compile(BROKEN))
    expect(first(page)).to_be_visible()
    assert explorer.seen() == before
    page.go_forward()
    expect(page).not_to_have_url(re.compile(BROKEN))
    expect(page.locator(".findings > .caution, .findings > .stop")).to_have_count(mended["verdict"].count("Mend it"))
    assert explorer.seen() == mended == anew(page.url)


@pytest.mark.usefixtures("alone")
def test_what_was_moved_a_moment_ago_is_not_lost_on_the_way_back(page: Page):
    explorer = Explorer(page)
    explorer.field("rl").fill("1k")
    explorer.field("rl").press("Enter")
    expect(first(page)).to_be_visible()
    first(page).click()
    expect(page.locator(".findings [data-mend]")).to_have_count(0)
    explorer.at_rest()
    page.go_back()
    expect(page).to_have_url(re.compile("rl=1k$"))


@pytest.mark.usefixtures("alone")
def test_the_focus_stays_at_the_findings_and_the_outcome_is_told(page: Page):
    explorer = Explorer(page, BROKEN)
    presses = 0
    while page.locator(".findings [data-mend]").count():
        said = first(page).text_content().strip()
        first(page).press("Enter")
        expect(page.locator("#announcer")).to_have_text(f"{said}: done.")
        explorer.at_rest()
        focused = page.locator(":focus")
        expect(focused).to_have_attribute("data-mend", "") if first(page).count() else expect(focused).to_have_count(1)
        presses += 1
        assert presses < 4
    assert presses == 2
    expect(page.locator(".findings summary")).to_be_focused()
    expect(page.locator("#announcer")).to_contain_text("Contact closed")


@pytest.mark.usefixtures("alone")
def test_controls_work_on_after_a_remedy(page: Page, anew):
    explorer = Explorer(page, BROKEN)
    first(page).click()
    expect(page).not_to_have_url(re.compile(BROKEN))
    explorer.drag("vs", 0.5)
    assert explorer.at_rest() == anew(page.url)


@pytest.mark.parametrize("query", [BROKEN, "in=two-wire&r1=100R"])
def test_without_script_a_remedy_is_a_link(browser: Browser, server: str, query):
    context = browser.new_context(base_url=server, java_script_enabled=False)
    page = context.new_page()
    page.goto(f"/stage?{query}")
    leads_to = first(page).get_attribute("href")
    first(page).click()
    expect(page).to_have_url(f"{server}{leads_to}")
    expect(page.locator("#schematic svg")).to_have_count(2)
    context.close()
