"""A stage for a room: a back row reads it, keys drive it, and its link carries all of it."""

import re

import pytest
from playwright.sync_api import Page, expect

from engine import VOLT, parse, reading
from tests.browser.explorer import Explorer

ROOMS = ((1280, 720), (1920, 1080))
READABLE = 22  # CSS pixels that a number on the drawing must have
THICK = 3  # CSS pixels of a wire
STAGES = ("", "in=ac", "in=transistor", "out=relay", "out=controller", "in=two-wire&out=ac-triac")

SEEN = """() => {
  const faults = [];
  const text = (e) => e.textContent.replace(/\\s+/g, " ").trim();
  const within = (e, box) => {
    const b = e.getBoundingClientRect();
    return b.left >= box.left - 1 && b.top >= box.top - 1 && b.right <= box.right + 1 && b.bottom <= box.bottom + 1;
  };
  const window_ = { left: 0, top: 0, right: innerWidth, bottom: innerHeight };
  const scale = document.querySelector(".half-drawn").getScreenCTM().a;
  for (const reading of document.querySelectorAll("#schematic .reading, #schematic .node")) {
    if (!within(reading, window_)) faults.push(`${text(reading)} is out of the window`);
    const side = reading.closest(".half-drawn").getBoundingClientRect();
    if (!within(reading, side)) faults.push(`${text(reading)} leaves its side`);
  }
  const boxes = [...document.querySelectorAll("#schematic .flag")].map((flag) => ({
    flag, box: flag.querySelector("rect").getBoundingClientRect() }));
  for (const { flag, box } of boxes) {
    for (const line of flag.querySelectorAll("text")) {
      if (!within(line, box)) faults.push(`${text(line)} leaves its flag`);
    }
    for (const label of document.querySelectorAll("#schematic .label tspan, #schematic .current text")) {
      const b = label.getBoundingClientRect();
      const trim = b.height * 0.2;
      if (b.left < box.right && box.left < b.right && b.top + trim < box.bottom && box.top < b.bottom - trim)
        faults.push(`${text(label)} is under ${flag.id}`);
    }
  }
  for (const part of document.querySelectorAll("#class, #class p, #state, #controls, .choosing, .keys, #schematic")) {
    if (!within(part, window_)) faults.push(`${part.id || part.className} is out of the window`);
  }
  for (const control of document.querySelectorAll("#controls :is(select, input:not([type=hidden])), .choosing *")) {
    if (control.checkVisibility() && !within(control, window_)) faults.push(`${control.id} is out of the window`);
  }
  const { scrollHeight, scrollWidth } = document.documentElement;
  return {
    faults,
    smallest: Math.min(...[...document.querySelectorAll("#schematic .reading")]
      .map((e) => parseFloat(getComputedStyle(e).fontSize) * scale)),
    thinnest: parseFloat(getComputedStyle(document.querySelector(".half-drawn .wire")).strokeWidth) * scale,
    scrolls: scrollHeight > innerHeight + 1 || scrollWidth > innerWidth,
  };
}"""


def opened(page: Page, query: str = "") -> Page:
    """Return the page with a projected stage on it, its script at work."""
    page.goto(f"/project?{query}" if query else "/project")
    page.wait_for_selector("html.script", state="attached")
    return page


def reads(page: Page, node: str) -> str:
    return page.locator(f"#flag-{node} .reading").text_content()


@pytest.fixture
def projected(page: Page) -> Page:
    page.set_viewport_size({"width": 1280, "height": 720})
    return opened(page)


@pytest.mark.parametrize("panel", ["verdict", "nothing"])
def test_a_back_row_reads_every_number_and_nothing_is_cut_off(page: Page, panel):
    for query in STAGES if panel == "verdict" else STAGES[::3]:
        opened(page, f"{query}&panel={panel}")
        for width, height in ROOMS if not query else ROOMS[:1]:
            page.set_viewport_size({"width": width, "height": height})
            seen = page.evaluate(SEEN)
            assert seen["faults"] == [], (query, width)
            assert seen["smallest"] >= READABLE, (query, width)
            assert seen["thinnest"] >= THICK, (query, width)
            assert not seen["scrolls"], (query, width)


@pytest.mark.parametrize("query", [STAGES[0], STAGES[-1]])
def test_a_back_row_reads_the_code_of_a_class_too(page: Page, query):
    page.goto(f"/follow/new?{query}")
    page.get_by_role("button", name="Lead a class from this stage").click()
    page.wait_for_url(re.compile("/lead/"))  # loaded, so that it has left the key
    link = page.locator("#class-link").get_attribute("href")
    for panel in ("verdict", "nothing"):
        page.goto(f"{link}/project?panel={panel}")
        expect(page.locator("#class-followers")).to_have_text(re.compile("^0 follow"))
        for width, height in ROOMS:
            page.set_viewport_size({"width": width, "height": height})
            seen = page.evaluate(SEEN)
            assert seen["faults"] == [], (panel, width)
            assert seen["smallest"] >= READABLE, (panel, width)
            assert not seen["scrolls"], (panel, width)
            size = page.locator(".class-code b").evaluate("(code) => parseFloat(getComputedStyle(code).fontSize)")
            assert size >= 1.3 * READABLE * width / ROOMS[0][0]


@pytest.mark.parametrize("width", [390, 1280, 1920])
def test_the_longest_values_fit_their_fields(page: Page, width):
    page.set_viewport_size({"width": width, "height": 844 if width == 390 else 720})
    opened(page, "vs=399.5V&r1=39.95k&rl=399.5k&cl=399.5p&sliders=r1,rl,cl")
    cut = "(fields) => fields.filter((field) => field.scrollWidth > field.clientWidth).map((field) => field.value)"
    fields = page.locator(".field.dragged > input:visible")
    assert fields.count() == 3
    assert fields.evaluate_all(cut) == []


def test_one_key_leads_there_and_back_but_not_out_of_a_field(page: Page):
    explorer = Explorer(page, "vs=24V&panel=off")
    explorer.field("vs").press("p")
    page.wait_for_timeout(50)
    assert "/stage" in page.url
    expect(page.locator("#to-projector")).to_be_visible()
    explorer.type("vs", "36")
    explorer.slider("vs").press("p")
    expect(page).to_have_url(re.compile(r"/project\?vs=36V&panel=off$"))
    expect(page.locator("#panel-off")).to_be_visible()
    page.locator("#vs").press("Escape")  # leaves the field alone
    page.locator("body").press("Escape")
    expect(page).to_have_url(re.compile(r"/stage\?vs=36V&panel=off$"))


def test_keys_choose_and_move_a_slider_and_flip_the_switch(projected: Page):
    page, slider = projected, projected.locator("#slider-rl")
    for digit, key in (("1", "vs"), ("3", "ctr"), ("2", "rl")):
        page.keyboard.press(digit)
        expect(page.locator(f"#slider-{key}")).to_be_focused()
    assert float(slider.evaluate("(s) => parseFloat(getComputedStyle(s).outlineWidth)")) >= 2
    start = int(slider.input_value())
    page.keyboard.press("ArrowRight")
    assert int(slider.input_value()) == start + 1
    page.keyboard.press("Shift+ArrowLeft")
    assert int(slider.input_value()) < start - 2
    page.keyboard.press("Space")
    expect(page.locator("#state .shown a")).to_have_text("contact open")
    expect(page.locator("#toggle .label")).to_have_text("S1 open")
    expect(slider).to_be_focused()
    expect(page).to_have_url(re.compile(r"rl=.*sw=open"))
    slider.evaluate("(s) => s.blur()")
    page.keyboard.press("ArrowRight")  # the slider that was used last
    expect(slider).to_be_focused()


def test_the_picture_follows_a_slider_and_its_link_shows_the_same(projected: Page):
    page, slider = projected, projected.locator("#slider-vs")
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    box = slider.bounding_box()
    page.mouse.move(box["x"] + 0.66 * box["width"], box["y"] + box["height"] / 2)
    page.mouse.down()
    for step in range(12):
        page.mouse.move(box["x"] + (0.66 - 0.03 * step) * box["width"], box["y"] + box["height"] / 2)
        page.wait_for_timeout(10)
    page.mouse.up()
    volts = " ".join(reading(parse(page.locator("#vs").input_value(), VOLT), VOLT))
    expect(page.locator("#flag-VS .reading")).to_have_text(volts)
    assert {url.split("?")[0].rsplit("/", 1)[1] for url in asked} >= {"live"}
    kept = page.locator("#vs").input_value().replace(" ", "")
    expect(page).to_have_url(re.compile(f"vs={re.escape(kept)}$"))
    shown = page.locator("#schematic").inner_html()
    page.reload()
    assert page.locator("#schematic").inner_html() == shown


def test_sliders_and_what_is_shown_are_chosen_and_kept_in_the_address(projected: Page):
    page = projected
    page.locator("#choice-vs").select_option("ta")
    expect(page.locator("#slider-ta")).to_be_visible()
    expect(page.locator("#slider-vs")).to_be_hidden()
    expect(page.locator("#choice-ta")).to_be_focused()
    page.locator("#choice-rl").select_option("ta")  # two that change places
    expect(page).to_have_url(re.compile(r"sliders=rl%2Cta%2Cctr$"))
    page.locator("#shown-choice").select_option("nothing")
    expect(page.locator("#content")).to_have_class(re.compile("beside"))
    expect(page).to_have_url(re.compile(r"sliders=rl%2Cta%2Cctr&panel=nothing$"))
    page.locator("#shown-choice").select_option("timing")
    expect(page.locator("#panel-timing dd").first).to_be_visible()
    page.keyboard.press("Tab")
    page.reload()
    page.wait_for_selector("html.script", state="attached")
    places = page.locator("#controls .field:not([hidden])").evaluate_all("(all) => all.map((f) => f.dataset.field)")
    assert places == ["rl", "ta", "ctr"]
    before = page.locator("#panel-timing dd").first.text_content()
    page.keyboard.press("1")
    page.keyboard.press("Shift+ArrowRight")
    expect(page.locator("#panel-timing dd").first).not_to_have_text(before)


def test_before_and_after_change_places(projected: Page):
    page = projected
    page.keyboard.press("b")
    expect(page).to_have_url(re.compile(r"before=$"))
    page.keyboard.press("1")
    page.keyboard.press("Shift+ArrowLeft")
    expect(page.locator("#flag-VS .reading")).not_to_have_text("48.0 V")
    after = reads(page, "VS")
    page.locator("#shown-choice").select_option("before")
    expect(page.locator("#panel-before .change").first).to_contain_text("down")
    expect(page).to_have_url(re.compile("vs=.*panel=before"))
    page.keyboard.press("b")
    expect(page.locator("#flag-VS .reading")).to_have_text("48.0 V")
    expect(page.locator("#hold")).to_have_text("Show the after")
    expect(page.locator("#panel-before .change").first).to_contain_text("down")
    page.keyboard.press("b")
    expect(page.locator("#flag-VS .reading")).to_have_text(after)
    expect(page.locator("#slider-vs")).to_have_attribute("aria-valuetext", re.compile(f"^{after.split('.')[0]}"))
    page.locator("#let-go").click()
    expect(page).not_to_have_url(re.compile("before="))
    expect(page.locator("#panel-before")).to_contain_text("Hold a stage")


def test_a_typed_mistake_is_told_and_the_picture_stays(projected: Page):
    page = projected
    page.locator("#vs").fill("4,7k")
    page.locator("#vs").press("Enter")
    expect(page.locator("#error-vs")).to_be_visible()
    expect(page.locator("#vs")).to_have_attribute("aria-invalid", "true")
    assert reads(page, "VS") == "48.0 V"
