"""Panels that draw at random, in the hand: a long run with its progress, what ends it, and the next draw."""

import re

from playwright.sync_api import Page, expect

LOOSE = "vs=24V&ctrmin=20%25"


def panel(page: Page, query: str):
    page.goto(f"/stage?{query}")
    expect(page.locator("#panel .spread-answer")).to_be_visible()


def test_a_long_run_shows_its_progress_and_takes_the_place_of_the_quick_one(page: Page):
    panel(page, f"{LOOSE}&panel=spread")
    expect(page.locator(".spread-drawn", has_text="2,000 samples, draw 1")).to_be_visible()
    page.get_by_role("button", name="Draw 100,000 samples").click()
    expect(page.locator(".spread-run progress")).to_be_visible()
    expect(page.locator(".spread-told")).to_contain_text("of 100,000")
    expect(page.locator("#spread-result")).to_contain_text("100,000 samples, draw 1", timeout=60_000)
    expect(page.locator(".spread-run progress")).to_be_hidden()
    expect(page.get_by_role("button", name="Draw 100,000 samples")).to_be_enabled()


def test_samples_that_are_typed_are_drawn_at_once_and_belong_to_the_address(page: Page):
    panel(page, f"{LOOSE}&panel=spread")
    page.locator("#spread-samples").fill("6000")
    page.locator("#spread-samples").press("Tab")
    expect(page.locator("#spread-result")).to_contain_text("6,000 samples, draw 1", timeout=30_000)
    expect(page).to_have_url(re.compile("panel=spread.*p.samples=6000"))
    page.reload()
    expect(page.locator("#spread-result")).to_contain_text("6,000 samples, draw 1", timeout=30_000)


def test_another_stage_ends_a_run(page: Page):
    panel(page, f"{LOOSE}&panel=spread")
    page.get_by_role("button", name="Draw 100,000 samples").click()
    expect(page.locator(".spread-told")).to_contain_text("of 100,000")
    page.locator("#slider-vs").press("ArrowRight")
    expect(page.locator(".spread-told")).to_have_text("")
    expect(page.locator("#spread-result")).to_contain_text("2,000 samples, draw 1")
    page.wait_for_timeout(1500)
    expect(page.locator("#spread-result")).to_contain_text("2,000 samples, draw 1")


def test_the_server_answers_others_during_a_run(page: Page):
    panel(page, f"{LOOSE}&panel=spread")
    page.get_by_role("button", name="Draw 100,000 samples").click()
    expect(page.locator(".spread-told")).to_contain_text("of 100,000")
    status = page.evaluate("async () => (await fetch('/api/stage?vs=12V')).status")
    assert status == 200
    expect(page.locator(".spread-told")).to_contain_text("of 100,000")


def test_drawing_again_shows_the_next_bag(page: Page):
    panel(page, "ctrmin=20%25&panel=bag")
    before = page.locator("svg.bag").inner_html()
    page.get_by_text("Draw again").click()
    expect(page.locator("#bag-seed")).to_have_value("2")
    expect(page.locator("svg.bag")).not_to_have_js_property("innerHTML", before)
    expect(page).to_have_url(re.compile("panel=bag.*p.seed=2"))


def test_readings_are_answered_as_they_are_typed(page: Page):
    panel(page, "vs=24V&r1=10k&rl=1k&panel=bag")
    page.locator("#bag-vr1").fill("22.8V")
    page.locator("#bag-vr1").press("Tab")
    page.locator("#bag-vrl").fill("2V")
    page.locator("#bag-vrl").press("Tab")
    expect(page.locator(".bag-implied")).to_contain_text("This specimen has a CTR of about")


def test_a_panel_does_not_scroll_the_page_sideways(page: Page):
    for width, height in ((1280, 720), (390, 844)):
        page.set_viewport_size({"width": width, "height": height})
        for name in ("spread", "bag"):
            panel(page, f"{LOOSE}&panel={name}")
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
