"""Before and after: two stages beside each other, and the explorer beside what it was."""

import re

from playwright.sync_api import Page, expect

from tests.browser.explorer import Explorer
from tests.browser.faults import TOOLS, told

FAILING = "/compare?a=&b=rl%3D470R%26vs%3D24V"


def test_both_stages_stand_beside_each_other_and_on_a_phone_under_each_other(page: Page):
    page.goto(FAILING)
    for width, beside in ((1920, True), (1280, True), (820, False), (390, False)):
        page.set_viewport_size({"width": width, "height": 844})
        a, b = (page.locator(f"#{mark}-schematic").bounding_box() for mark in "ab")
        assert (abs(a["y"] - b["y"]) < 2) == beside, width
        assert (a["x"] + a["width"] <= b["x"]) == beside, width
        assert page.evaluate("document.documentElement.scrollWidth") == width
        page.evaluate(TOOLS)
        assert not told({str(width): page.evaluate("(mayScroll) => cut(mayScroll)", width < 1000)})
    expect(page.get_by_role("img", name=re.compile("side"))).to_have_count(4)


def test_a_wrong_link_is_told_beside_it_and_mended_there(page: Page):
    page.goto("/compare?a=vs%3Dmuch&b=rl%3D470R")
    expect(page.locator("#a-stage .error")).to_contain_text("Supply voltage")
    expect(page.locator("#b-schematic")).to_be_visible()
    page.get_by_label("Stage before").fill(f"{page.url.split('/compare')[0]}/stage?vs=24V&panel=timing")
    page.get_by_role("button", name="Compare").click()
    expect(page.locator("#compared .told")).to_contain_text("values differ")
    page.get_by_role("link", name="Exchange").click()
    expect(page.locator("#a")).to_have_value("rl=470R")
    page.get_by_role("link", name="switch open").click()
    expect(page.locator("#a-schematic")).to_contain_text("S1 open")
    expect(page.locator("#b-schematic")).to_contain_text("S1 open")


def test_what_is_held_is_compared_with_what_the_sliders_make(page: Page):
    explorer = Explorer(page, "vs=24V")
    page.locator("#verdict [data-hold]").click()
    expect(page.locator("#panel .before-told")).to_contain_text("the same")
    expect(page).to_have_url(re.compile(r"vs=24V&panel=before&before=vs%3D24V$"))
    explorer.slider("rl").press("End")
    expect(page.locator("#panel .before-told")).to_contain_text("1 value differs")
    expect(page).to_have_url(re.compile(r"rl=.*&panel=before&before=vs%3D24V$"))
    shown = page.locator("#panel").inner_text()
    page.reload()
    expect(page.locator("#panel")).to_have_text(re.compile("1 value differs"))
    assert page.locator("#panel").inner_text() == shown
    page.locator("#tab-off").click()
    expect(page).to_have_url(re.compile(r"panel=off&before=vs%3D24V$"))  # held on
    page.locator("#tab-before").click()
    page.locator("#panel .before-more a").click()
    expect(page).to_have_url(re.compile(r"/compare\?a=vs%3D24V&b=vs%3D24V%26rl"))
    page.go_back()
    page.locator("[data-let-go]").click()
    expect(page.locator("#panel")).to_contain_text("Hold a stage")
    expect(page).not_to_have_url(re.compile("before=v"))
