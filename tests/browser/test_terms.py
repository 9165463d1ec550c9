"""Symbols explain themselves: by hand, by keyboard, without script, and for as long as one wants."""

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from tests.browser.explorer import Explorer
from webapp.present.panels import PANELS
from webapp.terms import TERMS

OPEN = ".said:popover-open"

FETCHED = """() => {
  const fetched = performance.getEntriesByType("resource").filter(({ name }) => name.endsWith("/terms.json"));
  return fetched.length ? { bytes: fetched[0].transferSize, times: fetched.length } : null;
}"""
"""How often a page has fetched what terms mean, and what of it came over the network; null before it has."""


def symbol(page: Page, name: str, within: str = "main") -> Locator:
    """Return the first place at which a symbol stands as a label."""
    return page.locator(f"{within} a.term[href='/terms#{TERMS[name].id}']").first


@pytest.fixture(scope="module")
def scriptless(browser: Browser, server: str) -> Iterator[Page]:
    context = browser.new_context(base_url=server, java_script_enabled=False)
    yield context.new_page()
    context.close()


def test_a_term_stays_open_while_a_slider_moves(page: Page):
    explorer = Explorer(page)
    symbol(page, "CTR", "#controls").click()
    note = page.locator(OPEN)
    expect(note).to_contain_text(TERMS["CTR"].sentence)
    note.evaluate("(note) => { note.marked = true; }")
    before = page.locator("#flag-OUT .reading").text_content()
    explorer.drag("ctr", 0.1)
    explorer.at_rest()
    assert page.locator("#flag-OUT .reading").text_content() != before
    expect(note).to_have_count(1)
    assert note.evaluate("(note) => note.marked && note.checkVisibility()")
    explorer.field("out").select_option("indicator")
    explorer.at_rest()
    expect(note).to_contain_text(TERMS["CTR"].sentence)


def test_it_opens_and_closes_by_keyboard_and_is_read_out(page: Page):
    Explorer(page)
    overdrive = symbol(page, "overdrive", "#verdict")
    overdrive.press("Enter")
    expect(page.locator(OPEN)).to_contain_text(TERMS["overdrive"].sentence)
    expect(page.locator("#term-spoken")).to_contain_text(TERMS["overdrive"].sentence)
    expect(overdrive).to_be_focused()
    symbol(page, "saturation", "#verdict").press("Space")
    expect(page.locator(OPEN)).to_have_count(1)
    expect(page.locator(OPEN)).to_contain_text(TERMS["saturation"].sentence)
    page.keyboard.press("Escape")
    expect(page.locator(OPEN)).to_have_count(0)
    expect(page.locator("#term-spoken")).to_be_empty()
    expect(page.locator("#toggle .label")).to_have_text("S1 closed")
    overdrive.press("Enter")
    page.get_by_role("button", name="Close overdrive").press("Enter")
    expect(page.locator(OPEN)).to_have_count(0)
    expect(overdrive).to_be_focused()


def test_it_does_not_cover_the_drawing(page: Page):
    page.set_viewport_size({"width": 1280, "height": 720})
    Explorer(page)
    page.evaluate("() => scrollTo(0, 0)")
    for name, within in (("VS", "#controls"), ("TA", "#controls"), ("worst case", "#verdict")):
        symbol(page, name, within).click()
        note, drawing = page.locator(OPEN).bounding_box(), page.locator("#schematic").bounding_box()
        assert note["y"] >= drawing["y"] + drawing["height"]
        assert note["y"] + note["height"] <= 720


def test_a_press_leads_to_the_meaning_without_script(scriptless: Page):
    scriptless.goto("/stage")
    symbol(scriptless, "IF", "#controls").click()
    expect(scriptless).to_have_url(re.compile("/terms#IF$"))
    meaning = scriptless.locator(":target")
    expect(meaning).to_contain_text(TERMS["IF"].sentence)
    expect(meaning).to_be_in_viewport()
    assert scriptless.locator(".said").filter(visible=True).count() == 0


def test_what_symbols_mean_is_fetched_once_and_serves_what_comes_later(browser: Browser, server: str):
    context = browser.new_context(base_url=server)
    page = context.new_page()
    page.goto("/findings")
    page.wait_for_function(FETCHED)
    page.goto("/stage")
    page.wait_for_function(FETCHED)
    assert page.evaluate(FETCHED) == {"bytes": 0, "times": 1}
    page.locator("#tab-off").click()
    page.wait_for_selector("#panel-off")
    page.route("**/terms.json", lambda route: route.abort())
    later = PANELS["off"].terms[0]
    symbol(page, later, "#panel").click()
    expect(page.locator(OPEN)).to_contain_text(TERMS[later].sentence)
    assert page.evaluate(FETCHED)["times"] == 1
    context.close()


def test_a_press_before_the_meanings_are_there_is_not_lost(page: Page):
    waiting = []
    page.route("**/terms.json", lambda route: waiting.append(route))
    Explorer(page)
    symbol(page, "VS", "#controls").click()
    symbol(page, "RL", "#controls").click()
    expect(page.locator(OPEN)).to_have_count(0)
    waiting[0].continue_()
    expect(page.locator(OPEN)).to_contain_text(TERMS["RL"].sentence)
    symbol(page, "RL", "#controls").click()
    expect(page.locator(OPEN)).to_have_count(0)
    assert len(waiting) == 1


def test_without_a_server_that_is_said_and_the_next_press_asks_again(page: Page):
    page.route("**/terms.json", lambda route: route.abort())
    Explorer(page)
    symbol(page, "VS", "#controls").click()
    expect(page.locator(OPEN)).to_contain_text("VS. What it means is not here: the server does not answer.")
    page.unroute("**/terms.json")
    symbol(page, "RL", "#controls").click()
    expect(page.locator(OPEN)).to_contain_text(TERMS["RL"].sentence)
    expect(page.locator(OPEN).get_by_role("link")).to_have_attribute("href", re.compile("/terms#RL$"))


def test_who_comes_for_the_first_time_is_told_of_the_tour(browser: Browser, server: str):
    context = browser.new_context(base_url=server)
    page = context.new_page()
    for told in (1, 0):
        page.goto("/stage")
        page.wait_for_load_state()
        expect(page.locator(".actions")).to_contain_text("Tour")
        expect(page.get_by_text("New here?")).to_have_count(told)
    context.close()
