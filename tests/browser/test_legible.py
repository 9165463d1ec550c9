"""What everyone can read: names, text equivalents, sizes, contrast, and no more said than needed."""

import re

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.explorer import Explorer
from tests.stages import TOGETHER

SMALLEST = 11  # CSS pixels as they arrive on the screen
LEAST_CONTRAST = 4.5  # to one
RICH = "in=contact-high&vs=400V&r1=1M&line=33R&rl=1k&r1w=50mW&ta=90C"
"""A stage with findings of every severity, cautions and both notes."""

TEXTS = """({ smallest, leastContrast }) => {
  const pencil = document.createElement("canvas").getContext("2d", { willReadFrequently: true });
  const drawn = (colour) => {
    pencil.clearRect(0, 0, 1, 1);
    pencil.fillStyle = colour;
    pencil.fillRect(0, 0, 1, 1);
    const [r, g, b, a] = pencil.getImageData(0, 0, 1, 1).data;
    return { rgb: [r, g, b], alpha: a / 255 };
  };
  const colours = new Map(); // each colour is drawn once, each ground is made once
  const rgba = (colour) => colours.get(colour) ?? colours.set(colour, drawn(colour)).get(colour);
  const over = (upper, lower) => lower.map((channel, i) => upper.rgb[i] * upper.alpha + channel * (1 - upper.alpha));
  const grounds = new Map();
  function behind(element) {
    if (!element) return [255, 255, 255];
    if (!grounds.has(element)) {
      const flag = element.matches(".flag, #part-RX, .part") ? element.querySelector("rect") : null;
      const layer = rgba(flag ? getComputedStyle(flag).fill : getComputedStyle(element).backgroundColor);
      grounds.set(element, over(layer, behind(element.parentElement)));
    }
    return grounds.get(element);
  }
  const luminance = (rgb) => {
    const [r, g, b] = rgb.map((c) => (c / 255 <= 0.04045 ? c / 255 / 12.92 : ((c / 255 + 0.055) / 1.055) ** 2.4));
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const found = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const text = walker.currentNode.textContent.trim();
    const element = walker.currentNode.parentElement;
    if (!text || !element.checkVisibility({ visibilityProperty: true })) continue;
    if (element.closest(".unseen, .skip, datalist, option, title, desc")) continue;
    const style = getComputedStyle(element);
    const svg = element.closest("svg");
    const scale = svg ? svg.getScreenCTM().a : 1;
    const ground = behind(element);
    const ink = over(rgba(svg ? style.fill : style.color), ground);
    const [dark, light] = [luminance(ink), luminance(ground)].sort((a, b) => a - b);
    found.push({ text, size: parseFloat(style.fontSize) * scale, contrast: (light + 0.05) / (dark + 0.05) });
  }
  for (const control of document.querySelectorAll("#controls :is(input:not([type=hidden], .slider), select)")) {
    if (!control.checkVisibility()) continue;
    const style = getComputedStyle(control);
    const [dark, light] = [style.color, style.backgroundColor].map((c) => luminance(rgba(c).rgb)).sort((a, b) => a - b);
    found.push({ text: control.id, size: parseFloat(style.fontSize), contrast: (light + 0.05) / (dark + 0.05) });
  }
  const small = found.filter(({ size }) => !(size >= smallest));
  const faint = found.filter(({ contrast }) => !(contrast >= leastContrast));
  return { count: found.length, small, faint };
}"""

SIZES = ((390, 844), (820, 1180), (1024, 768), (1920, 1080), (1280, 720))
WIDE = f"in=contact-high&line=33R&{list(TOGETHER.values())[-1]}&out=relay"
"""A stage both of whose sides are wide."""
PAGES = (
    "/stage",
    f"/stage?{RICH}",
    "/stage?out=relay",
    f"/stage?{WIDE}",
    "/",
    "/api",
    "/findings",
    "/bench?in=ac&out=relay",
    "/bench?vs=24V&r.r1.closed=23.2V&r.out.closed=3.3V",
    "/specimen",
    "/couplers",
    "/couplers/wide-bin",
    "/couplers/new",
)


def open_everything(page: Page):
    page.evaluate("() => document.querySelectorAll('details').forEach((box) => { box.open = true; })")


@pytest.mark.parametrize("path", PAGES)
def test_text_stands_out_and_is_large_enough(looking: Page, path):
    limits = {"smallest": SMALLEST - 0.05, "leastContrast": LEAST_CONTRAST}
    looking.goto(path)
    open_everything(looking)
    for width, height in SIZES:
        looking.set_viewport_size({"width": width, "height": height})
        texts = looking.evaluate(TEXTS, limits)
        assert texts["count"] > 10
        assert texts["small"] == [], width
        assert texts["faint"] == [], width
    looking.emulate_media(color_scheme="dark")
    assert looking.evaluate(TEXTS, limits)["faint"] == []


@pytest.mark.parametrize("query", ["", "in=logic&out=indicator", "in=contact-high&out=pull-down&line=10R"])
def test_everything_that_acts_has_a_name(looking: Page, query):
    Explorer(looking, query)
    looking.wait_for_selector("#panel .panel-body")
    open_everything(looking)
    for role in ("textbox", "combobox", "slider", "button", "link"):
        named = looking.get_by_role(role, name=re.compile(r"\w")).count()
        assert named == looking.get_by_role(role).count(), role
    assert looking.get_by_role("slider").count() >= 7


def test_drawing_has_a_title_and_a_description(page: Page):
    Explorer(page)
    for side in ("Input side", "Output side"):
        drawing = page.get_by_role("img", name=side)
        expect(drawing).to_have_count(1)
        expect(drawing).to_have_accessible_name(f"{side}, contact closed {drawing.locator('desc').text_content()}")
        for flag in drawing.locator(".flag .reading").all_text_contents():
            assert flag in drawing.locator("desc").text_content()


NUMBERS = """() => {
  const text = (element) => element.textContent.replace(/\\s+/g, " ").trim();
  const rows = (table) => Object.fromEntries([...document.querySelectorAll(`${table} tbody tr`)].map((row) =>
    [row.querySelector("th").firstChild.textContent.trim(), [...row.querySelectorAll("td")].map(text)]));
  const drawn = (group) => Object.fromEntries([...document.querySelectorAll(group)].map((place) => {
    const [name, ...number] = text(place.querySelector(".reading")).split(" ");
    return [name, `${number.join(" ")} ${text(place.querySelector(".range"))}`.trim()];
  }));
  return { nodes: rows(".nodes"), branches: rows(".branches"), flags: drawn(".flag"), currents: drawn(".current") };
}"""


@pytest.mark.parametrize("query", ["", "in=logic&active=low&out=pull-down", "in=contact-high&line=10R&out=indicator"])
def test_tables_carry_the_numbers_of_the_drawing(looking: Page, query):
    Explorer(looking, query)
    for column, state in enumerate(("closed", "open"), start=1):
        expect(looking.locator("#followers")).to_have_attribute(
            "data-query", re.compile("sw=open" if column == 2 else "^(?!.*sw=)")
        )
        found = looking.evaluate(NUMBERS)
        assert len(found["flags"]) >= 4
        assert found["flags"] == {name: cells[column] for name, cells in found["nodes"].items()}, state
        for symbol, part in (("IF", "LED"), ("IC", "U1")):
            assert found["currents"][symbol] == found["branches"][part][0]
        looking.locator("#toggle").click()


def squeezed(text: str) -> str:
    return " ".join(text.split())


def test_outcome_is_read_out_once_the_hand_rests(page: Page):
    explorer = Explorer(page)
    announcer = page.locator("#announcer")
    expect(announcer).to_have_attribute("aria-live", "polite")
    expect(announcer).to_have_text("")
    page.evaluate("""() => {
      window.said = [];
      const announcer = document.getElementById("announcer");
      new MutationObserver(() => window.said.push(announcer.textContent))
        .observe(announcer, { childList: true, characterData: true, subtree: true });
    }""")
    explorer.drag("vs", 0.3)
    for _ in range(5):
        explorer.slider("vs").press("ArrowLeft")
    expect(announcer).not_to_have_text("")
    page.wait_for_timeout(300)
    said = page.evaluate("window.said")
    assert len(said) == 1
    current = squeezed(page.locator("#current-IF .reading").text_content())
    assert said[0].startswith(f"Contact closed: {current}, VOUT ")
    assert said[0].endswith("Reads low, surely.")


def test_page_has_one_of_each_landmark_and_headings(page: Page):
    Explorer(page)
    expect(page.get_by_role("main")).to_have_count(1)
    expect(page.get_by_role("banner")).to_have_count(1)
    expect(page.get_by_role("form", name="Values")).to_have_count(1)
    expect(page.get_by_role("heading", level=1)).to_have_count(1)
    for name in ("Schematic", "How it is worked out", "Nodes and branches"):
        expect(page.get_by_role("region", name=name)).to_have_count(1)
    expect(page.get_by_role("complementary", name="Verdict")).to_have_count(1)


def test_calm_for_those_who_asked_for_it(browser: Browser, server: str):
    context = browser.new_context(base_url=server, reduced_motion="reduce")
    page = context.new_page()
    Explorer(page)
    moving = page.evaluate("""() => [...document.querySelectorAll("*")].filter((element) => {
      const style = getComputedStyle(element);
      return style.animationName !== "none" || parseFloat(style.transitionDuration) > 0;
    }).length""")
    assert moving == 0
    context.close()
