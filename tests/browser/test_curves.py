"""The panel of curves in a browser: the reading follows pointer and keys, the form asks anew, files come down."""

import csv

import pytest
from playwright.sync_api import Page, expect

ADDRESS = "/stage?panel=curves"
BOXES = """graph => [...graph.querySelectorAll("text")].map((text) => {
  const box = text.getBBox();
  return [text.textContent, box.x, box.y, box.x + box.width, box.y + box.height];
})"""
SIZE = """graph => {
  const scale = graph.getBoundingClientRect().width / graph.viewBox.baseVal.width;
  return scale * parseFloat(getComputedStyle(graph.querySelector("text")).fontSize);
}"""


def opened(page: Page, more: str = ""):
    page.goto(ADDRESS + more)
    expect(page.locator("svg.graph")).to_be_visible()
    return page.locator("svg.graph")


def shown(page: Page) -> list[str]:
    return page.locator(".readout dd").all_text_contents()


def row(page: Page, number: int) -> list[str]:
    return page.locator(f"[data-readings] tbody tr:nth-child({number}) :is(th, td)").all_text_contents()


def test_the_reading_follows_the_pointer(page: Page):
    graph = opened(page)
    graph.scroll_into_view_if_needed()
    box = graph.bounding_box()
    seen = set()
    for share in (0.2, 0.45, 0.7):
        page.mouse.move(box["x"] + share * box["width"], box["y"] + box["height"] / 2)
        texts = shown(page)
        seen.add(texts[0])
        assert texts in [row(page, k + 1) for k in range(page.locator("[data-readings] tbody tr").count())]
    assert len(seen) == 3


def test_the_reading_follows_the_keys_and_is_spoken(page: Page):
    graph = opened(page, "&p.plot=transfer&p.points=11")
    graph.focus()
    page.keyboard.press("Home")
    assert shown(page) == row(page, 1)
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowLeft")
    assert shown(page) == row(page, 2)
    expect(page.locator("[data-spoken]")).to_contain_text(row(page, 2)[1])
    page.keyboard.press("End")
    page.keyboard.press("ArrowRight")
    assert shown(page) == row(page, 11)
    expect(graph).to_be_focused()


def test_the_form_asks_anew_and_the_address_tells_what_is_shown(page: Page):
    opened(page)
    page.select_option("[name='p.plot']", "any")
    expect(page.locator("[name='p.over']")).to_be_visible()
    page.select_option("[name='p.over']", "vs")
    expect(page.locator("[name='p.to']")).to_have_value("96 V")
    page.fill("[name='p.points']", "5")
    page.keyboard.press("Tab")
    expect(page.locator("[data-readings] tbody tr")).to_have_count(5)
    page.wait_for_url("**p.over=vs&p.points=5")
    page.reload()
    expect(page.locator("[data-readings] tbody tr")).to_have_count(5)
    expect(page.locator("figcaption").last).to_contain_text("over VS")


def test_a_moved_stage_moves_what_was_left_alone(page: Page):
    opened(page, "&p.plot=any&p.over=vs&p.from=5V")
    expect(page.locator("[name='p.to']")).to_have_value("96 V")
    page.fill("#controls [name=vs]", "24 V")
    page.keyboard.press("Tab")
    expect(page.locator("[name='p.to']")).to_have_value("48 V")
    expect(page.locator("[name='p.from']")).to_have_value("5V")


@pytest.mark.parametrize("kind", ["CSV", "SVG"])
def test_files_come_down(page: Page, kind):
    opened(page, "&p.plot=room")
    with page.expect_download() as download:
        page.locator(".curve-files").get_by_text(kind).click()
    name = download.value.suggested_filename
    assert name == f"room.{kind.lower()}"
    if kind == "CSV":
        with open(download.value.path(), newline="", encoding="utf-8") as file:
            assert len(list(csv.reader(file))) == 1 + page.locator("[data-readings] tbody tr").count()


@pytest.mark.parametrize("plot", ["characteristics", "transfer", "room", "any"])
def test_nothing_is_clipped(looking: Page, plot):
    graph = opened(looking, f"&p.plot={plot}")
    width, height = (int(part) for part in graph.get_attribute("viewBox").split()[2:])
    for size in ((1280, 720), (390, 844)):
        looking.set_viewport_size({"width": size[0], "height": size[1]})
        boxes = graph.evaluate(BOXES)
        assert [text for text, x0, y0, x1, y1 in boxes if x0 < 0 or y0 < -2 or x1 > width or y1 > height] == []
        assert looking.evaluate("document.documentElement.scrollWidth") <= size[0]
        size_of_text = graph.evaluate(SIZE)
        assert size_of_text >= 13.0 or size[0] < 1000
