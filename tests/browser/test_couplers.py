"""Couplers in the browser: a card of one's own from a shipped one, with and without script; every page can be read."""

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from engine import card_names, card_to_toml, load_card, pack_card
from tests.browser.explorer import Explorer
from tests.browser.faults import TOOLS, told
from tests.browser.test_layout import NARROW

WINDOWS = ((1280, 720), (1920, 1080), (390, 844))
OWN = pack_card(load_card("general"))
CARDS = tuple(f"/couplers/{name}" for name in card_names())
PAGES = (
    "/couplers",
    *CARDS,
    f"/couplers/own?card={OWN}",
    "/couplers/new",
    "/couplers/new?from=two-way",
    "/couplers/new?from=push-pull",
    "/couplers/own?card=rubbish",
)

PLOT_FAULTS = """() => [...document.querySelectorAll(".plot")].flatMap((svg) => {
  const title = svg.querySelector("title").textContent;
  const frame = svg.getBoundingClientRect();
  const texts = [...svg.querySelectorAll("text")].map((text) => [text.textContent, text.getBoundingClientRect()]);
  const lies = (a, b) => a.left < b.right && b.left < a.right && a.top + 3 < b.bottom - 3 && b.top + 3 < a.bottom - 3;
  const faults = [];
  texts.forEach(([name, box], i) => {
    if (box.left < frame.left || box.right > frame.right || box.top < frame.top || box.bottom > frame.bottom)
      faults.push(`${title}: ${name} leaves the drawing`);
    for (const [other, place] of texts.slice(i + 1))
      if (lies(box, place)) faults.push(`${title}: ${name} lies on ${other}`);
  });
  return faults;
})"""


@pytest.fixture(scope="module")
def scriptless(browser: Browser, server: str) -> Iterator[Page]:
    context = browser.new_context(base_url=server, java_script_enabled=False)
    yield context.new_page()
    context.close()


@pytest.mark.parametrize("path", PAGES, ids=lambda path: path[:24])
def test_every_page_can_be_read(looking: Page, path):
    looking.goto(path)
    looking.evaluate("() => document.querySelectorAll('details').forEach((box) => { box.open = true; })")
    looking.evaluate(TOOLS)
    faults, shipped = {}, path in CARDS  # of which nothing has to be scrolled on a phone either
    for width, height in WINDOWS:
        looking.set_viewport_size({"width": width, "height": height})
        faults[f"{width} wide"] = [
            *looking.evaluate("(mayScroll) => cut(mayScroll)", width < NARROW and not shipped),
            *looking.evaluate(PLOT_FAULTS),
        ]
    found = told(faults)
    assert not found, found


def test_what_collides_in_a_drawing_is_noticed(page: Page):
    page.goto("/couplers/general")
    page.evaluate("() => document.querySelectorAll('.plot .trace-name').forEach((text) => text.setAttribute('y', 100))")
    assert any("lies on" in fault for fault in page.evaluate(PLOT_FAULTS))


def test_an_own_card_is_made_used_in_a_stage_and_shared(page: Page, anew):
    page.goto("/couplers")
    page.get_by_role("link", name="Low-drive coupler").click()
    page.get_by_role("link", name="Start a card from it").click()
    page.get_by_label("Title", exact=True).fill("Bench coupler")
    page.get_by_label("CTR, smallest").fill("120 %")
    page.get_by_role("button", name="Hold it against its model").click()
    expect(page.locator("h1")).to_have_text("Bench coupler")
    row = page.locator("#card-lines tr", has_text="CTR min")
    expect(row).to_contain_text("120 %")
    page.get_by_role("link", name="Use it in a stage").click()
    explorer = Explorer(page, page.url.partition("?")[2])
    assert page.locator("#coupler option:checked").text_content() == "Bench coupler"
    expect(page.locator("#hint-ctr")).to_contain_text("bin 120 –")
    explorer.drag("vs", 0.5)
    seen = explorer.at_rest()
    assert "coupler=own" in page.url
    assert anew(page.url)["schematic"] == seen["schematic"]
    page.locator("#card-change").click()
    expect(page.get_by_label("CTR, smallest")).to_have_value("120 %")


def test_the_link_follows_the_chosen_coupler(page: Page):
    explorer = Explorer(page)
    explorer.field("coupler").select_option("wide-bin")
    expect(page.locator("#card-page")).to_have_attribute("href", "/couplers/wide-bin")
    page.locator("#card-page").click()
    expect(page.locator("h1")).to_have_text(load_card("wide-bin").title)


def test_an_own_card_works_without_script(scriptless: Page):
    scriptless.goto("/couplers/new?from=general")
    scriptless.get_by_label("CTR, smallest").fill("eighty")
    scriptless.get_by_label("Forward voltage, points").fill("1 mA 1.09 V")
    scriptless.get_by_role("button", name="Hold it").click()
    expect(scriptless.locator("#error-line-CTR-min")).to_contain_text("'eighty' is not a number")
    expect(scriptless.get_by_label("Forward voltage, points")).to_have_value("1 mA 1.09 V")
    expect(scriptless.get_by_label("CTR, smallest")).to_have_value("eighty")
    scriptless.get_by_label("CTR, smallest").fill("80 %")
    scriptless.get_by_label("Forward voltage, points").fill("100 uA 1.00 V, 1 mA 1.09 V, 10 mA 1.18 V")
    scriptless.get_by_role("button", name="Hold it").click()
    expect(scriptless.locator("#card-lines")).to_be_visible()
    assert re.search(r"/couplers/own\?card=[\w-]+$", scriptless.url)


def test_a_file_is_taken_and_given(scriptless: Page):
    text = card_to_toml(load_card("photo-relay"))
    scriptless.goto("/couplers/new")
    file = {"name": "card.toml", "mimeType": "text/plain", "buffer": text.encode()}
    scriptless.get_by_label("Or a file").set_input_files(file)
    scriptless.get_by_role("button", name="Take the file").click()
    expect(scriptless.locator("h1")).to_have_text(load_card("photo-relay").title)
    with scriptless.expect_download() as given:
        scriptless.get_by_role("link", name="Download as TOML").click()
    assert given.value.suggested_filename == "mosfet-relay.toml"
    assert given.value.path().read_text() == text


def test_the_form_is_filled_in_from_the_keyboard(page: Page):
    page.goto("/couplers/new?from=general")
    page.get_by_label("Title", exact=True).focus()
    names = []
    for _ in range(6):
        names.append(page.evaluate("document.activeElement.name"))
        page.keyboard.press("Tab")
    assert names == ["title", "summary", "LED.VF", "LED.VF_limits.IF", "LED.VF_limits.min", "LED.VF_limits.max"]
    page.keyboard.press("Shift+Tab")
    page.keyboard.press("Enter")
    expect(page.locator("#card-lines")).to_be_visible()
