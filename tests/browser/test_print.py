"""On paper: black on white, values in place of controls, everything whole."""

import re

import pytest
from playwright.sync_api import Page

from tests.browser.explorer import Explorer
from tests.browser.faults import TOOLS, restyled, told
from tests.browser.test_legible import RICH

MARGIN = 12  # mm, as in print.css
PAPERS = {"A4": (210, 297), "Letter": (215.9, 279.4)}
"""Width and height in mm, ISO 216 and ANSI/ASME Y14.1."""

STAGES = (
    "",
    RICH,
    "in=logic&active=low&vs=39.95V&r1=39.95k&rl=39.95M&vcc=399.5mV&logic=ttl&tol=12.5%25&sw=open",
    "vs=399.5mV&r1=1.65M&line=39.95k&leak=39.95M&out=indicator&vcc=399.5V&rl=1.05M&ctr=399.5%25",
)
COUPLERS = "/couplers", "/couplers/general", "/couplers/new?from=photo-relay"
SHEETS = (
    "/bench", "/bench?in=contact-high&line=100R&rb=2k&nd=2&vz=5V1&vs=24V&lamp=red&out=relay&meter=loading",
    "/bench?in=ac&dropper=capacitor&cs=10u&out=controller", "/bench?out=ac-triac&coupler=triac-random&if=15mA&csn=10n",
)  # fmt: skip
PAGES = (
    *(f"/stage?{query}" for query in STAGES), "/stage?vs=much&r1=4,7k", *COUPLERS, "/", "/findings",
    "/specimen", "/api", "/nowhere", *SHEETS,
)  # fmt: skip

COLOURED = """() => {
  const pencil = document.createElement("canvas").getContext("2d", { willReadFrequently: true });
  const rgba = (colour) => {
    pencil.clearRect(0, 0, 1, 1);
    pencil.fillStyle = colour;
    pencil.fillRect(0, 0, 1, 1);
    return [...pencil.getImageData(0, 0, 1, 1).data];
  };
  const known = new Map();
  const seen = (colour) => known.get(colour) ?? known.set(colour, rgba(colour)).get(colour);
  const isGrey = ([r, g, b, a]) => a === 0 || Math.max(r, g, b) - Math.min(r, g, b) <= 3;
  const faults = new Set();
  for (const element of document.querySelectorAll("body, body *")) {
    if (!element.checkVisibility({ visibilityProperty: true }) || element.closest(".unseen, option")) continue;
    const style = getComputedStyle(element);
    const name = `${element.tagName.toLowerCase()}.${element.getAttribute("class")}`;
    const inks = element.closest("svg") ? [style.fill, style.stroke] : [style.color];
    for (const edge of ["Top", "Right", "Bottom", "Left"]) {
      if (parseFloat(style[`border${edge}Width`]) > 0) inks.push(style[`border${edge}Color`]);
    }
    for (const ink of inks) {
      if (ink.startsWith("rgb") && !isGrey(seen(ink))) faults.add(`${name} is printed in ${ink}`);
    }
    const text = element.matches("svg *") ? style.fill : style.color;
    const says = [...element.childNodes].some((node) => node.nodeType === Node.TEXT_NODE && node.textContent.trim());
    if (says && seen(text)[0] > 0x55) faults.add(`${name} is faint: ${text}`);
    const [r, g, b, a] = seen(style.backgroundColor);
    if (a > 0 && Math.min(r, g, b) < 255) faults.add(`${name} stands on ${style.backgroundColor}`);
    if (style.opacity < 1 && !element.closest("svg")) faults.add(`${name} is faint by ${style.opacity}`);
  }
  const paper = getComputedStyle(document.documentElement).backgroundColor;
  const [r, g, b, a] = seen(paper);
  if (a > 0 && Math.min(r, g, b) < 255) faults.add(`the page stands on ${paper}`);
  return [...faults];
}"""

FOR_SCREENS = """() => {
  const name = (element) => element.id || element.className || element.tagName;
  const shown = (element) => element.checkVisibility({ visibilityProperty: true });
  const symbols = "button, .named > :not(.unseen) + .term, .said";
  const acting = `${symbols}, .slider, .ends, .help, .skip, .actions, .connection, .target`;
  const faults = [...document.querySelectorAll(acting)].filter(shown).map((element) => `${name(element)} is printed`);
  for (const control of document.querySelectorAll("input:not([type=hidden]), select")) {
    if (!shown(control)) continue;
    const style = getComputedStyle(control);
    const plain = style.appearance === "none" && parseFloat(style.borderTopWidth) === 0;
    if (!plain) faults.push(`${name(control)} looks like a control`);
  }
  for (const element of document.querySelectorAll("body *")) {
    const everywhere = getComputedStyle(element).position === "fixed" && shown(element);
    if (everywhere) faults.push(`${name(element)} is on every page`);
  }
  return faults;
}"""

DIVIDED = """({ whole, height }) => {
  const faults = [];
  const named = (element) => element.id || element.className || element.tagName;
  for (const element of document.querySelectorAll(whole)) {
    let kept = false;
    for (let at = element; at && !kept; at = at.parentElement) kept = getComputedStyle(at).breakInside === "avoid";
    const tall = element.getBoundingClientRect().height;
    if (!kept) faults.push(`${named(element)} may be divided`);
    if (tall > height) faults.push(`${named(element)} is taller than a page by ${tall - height}`);
  }
  return faults;
}"""

WHOLE = "#schematic, #verdict .ruler, #explorer table, .findings > li, .group, tr, .cautions"
"""What stands on one page."""


def pixels(millimetres: float) -> int:
    return int(millimetres / 25.4 * 96)


def lay_out(page: Page, paper: str, scheme: str = "light") -> int:
    """Show a page as it is printed; return the height of the paper within its margins in CSS pixels."""
    width, height = (pixels(side - 2 * MARGIN) for side in PAPERS[paper])
    page.set_viewport_size({"width": width, "height": height})
    page.emulate_media(media="print", color_scheme=scheme)
    return height


def what_is_not_whole(page: Page, height: int) -> list[str]:
    return page.evaluate("() => cut(false)") + page.evaluate(DIVIDED, {"whole": WHOLE, "height": height})


def what_is_not_for_paper(page: Page) -> list[str]:
    return page.evaluate(COLOURED) + page.evaluate(FOR_SCREENS)


@pytest.mark.parametrize("path", PAGES)
def test_page_is_whole_and_black_on_white(looking: Page, path):
    looking.goto(path)
    if path in SHEETS:
        assert pages_of(looking.pdf(format="A4", prefer_css_page_size=True)) == 1
    looking.evaluate(TOOLS)
    faults = {}
    for paper in PAPERS:
        faults[paper] = what_is_not_whole(looking, lay_out(looking, paper))
        if path.startswith("/stage"):
            faults[paper] += looking.evaluate("() => collisions()")
    for scheme in ("light", "dark"):
        lay_out(looking, "A4", scheme)
        faults[scheme] = what_is_not_for_paper(looking)
    found = told(faults)
    assert not found, found


def test_values_are_printed(page: Page):
    Explorer(page, "vs=36V&r1=22k")
    lay_out(page, "A4")
    for key, value in {"vs": "36 V", "r1": "22 kΩ", "rl": "4.7 kΩ", "ta": "25 °C"}.items():
        field = page.locator(f"[id='{key}']")
        assert field.is_visible()
        assert field.input_value() == value
    assert page.locator("#more-input").is_hidden()
    page.evaluate("() => { document.querySelector('#more-input').open = true; }")
    assert page.locator("#vstol").is_visible()


def pages_of(document: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", document))


@pytest.mark.parametrize("paper", PAPERS)
def test_stage_takes_few_sheets_the_same_from_a_dark_screen(looking: Page, paper):
    Explorer(looking, RICH)
    looking.wait_for_selector("#panel .panel-body")
    printed = {}
    for scheme in ("light", "dark"):
        looking.emulate_media(color_scheme=scheme)
        document = looking.pdf(format=paper, prefer_css_page_size=True)
        printed[scheme] = re.sub(rb"/(CreationDate|ModDate) \([^)]*\)", b"", document)
    assert 1 <= pages_of(printed["light"]) <= 4, "three for the stage, one for its open panel"
    assert printed["light"] == printed["dark"]


SPOILT = (
    ("th { color: #a00 }", "th.null is printed in rgb"),
    ("td { color: #999 }", "td.null is faint"),
    ("#tables td { opacity: 0.5 }", "is faint by 0.5"),
    (".side.input { background: #222 }", "div.side input wide-460 stands on"),
    ("html { background: #222 !important }", "the page stands on"),
    (".slider { display: block !important }", "slider is printed"),
    ("select { appearance: auto !important }", "looks like a control"),
    (".top { position: fixed }", "top is on every page"),
    ("section, table, tr { break-inside: auto !important }", "schematic may be divided"),
    (".side > svg { max-width: none; height: 15cm }", "schematic is taller than a page"),
    (".branches { width: 20cm }", "leaves the page|the page is too wide|sticks out of"),
    (".scroll { overflow-x: auto !important } .nodes { width: 20cm }", "div.scroll has to be scrolled"),
)
"""What is done to the style, and what must be said of it."""


def test_faults_are_seen(page: Page):
    Explorer(page)
    page.evaluate(TOOLS)
    height = lay_out(page, "A4")
    unseen = []
    for css, fault in SPOILT:
        page.evaluate(restyled(css))
        faults = what_is_not_whole(page, height) + what_is_not_for_paper(page)
        if not any(re.search(fault, text) for text in faults):
            unseen.append(f"{fault}: {faults}")
    assert unseen == []


def test_a_dark_print_would_differ(page: Page):
    Explorer(page)
    light = page.pdf(print_background=True)
    page.evaluate(restyled("text { fill: #777 !important }"))
    assert re.sub(rb"\([^)]*\)", b"", light) != re.sub(rb"\([^)]*\)", b"", page.pdf(print_background=True))
