"""Hand-outs printed: few pages, nothing wider than the paper, nothing cut off, and the foot on every page."""

import re

import pytest
from playwright.sync_api import Page

from tests.browser.faults import TOOLS, told
from tests.browser.test_print import COLOURED, DIVIDED, pages_of

PLAIN = "in=contact-high&vs=24V&r1=4k7"
LINE = "in=ac&dropper=capacitor&cs=10uF&out=controller&vb=300V&p.title=A+title+of+more+words+than+most"
FULL = "in=contact-high&rb=2k&nd=2&vz=5V1&vs=24V&lamp=red&line=33R&cf=100nF&out=relay"
SHEETS = (
    (f"{LINE}&sheet=worksheet", 3),
    (f"{PLAIN}&sheet=answers", 2),
    (f"{PLAIN}&sheet=report&rate=1kHz&vb=300V", 5),
    (f"{FULL}&sheet=report&p.part=schematic&p.part=parts&p.part=worked&p.part=bench", 4),
)
"""A hand-out, and the most pages that it may take."""

SIZES = {"a4": (793, 1123), "letter": (816, 1056)}
"""Width and height of the papers in CSS pixels, ISO 216 and ANSI/ASME Y14.1."""

FOOT = 40  # CSS pixels that the foot takes of every page
MARGINS = (106, 99)  # CSS pixels: 14 mm at the left and the right, 12 and 14 mm above and below
WHOLE = ".paper tr, .questions > li, .drawn, .given, .paper .cautions, .paper-head, .back"

BOXES = re.compile(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]")


@pytest.fixture
def page(looking: Page) -> Page:
    """One page for all tests."""
    return looking


def printed(page: Page) -> tuple[int, set]:
    """Return how many pages a hand-out takes, and their sizes in CSS pixels."""
    document = page.pdf(prefer_css_page_size=True)
    return pages_of(document), {tuple(round(float(side) / 0.75) for side in box) for box in BOXES.findall(document)}


def faults_on(page: Page, paper: str) -> list[str]:
    """Return what of a hand-out is cut off, or divided though it belongs together."""
    width, height = (side - margin for side, margin in zip(SIZES[paper], MARGINS, strict=True))
    page.set_viewport_size({"width": width, "height": height})
    page.emulate_media(media="print")
    return page.evaluate("() => cut(false)") + page.evaluate(DIVIDED, {"whole": WHOLE, "height": height - FOOT})


@pytest.mark.parametrize(("query", "most"), SHEETS)
def test_a_sheet_takes_few_pages_with_nothing_cut_off(page: Page, query, most):
    page.goto(f"/handout?{query}")
    page.evaluate(TOOLS)
    pages, sizes = printed(page)
    assert 1 <= pages <= most
    assert sizes == {SIZES["a4"]}
    faults = {paper: faults_on(page, paper) for paper in SIZES}
    page.emulate_media(media="print", color_scheme="dark")
    faults["ink"] = page.evaluate(COLOURED)
    found = told(faults)
    assert not found, found
    assert page.locator("#handout-choices").is_hidden()
    assert page.evaluate("() => [...document.images].every((image) => image.complete && image.naturalWidth > 600)")


def test_letter_is_printed_on_letter(page: Page):
    page.goto(f"/handout?{PLAIN}&p.paper=letter")
    pages, sizes = printed(page)
    assert pages == 2
    assert sizes == {SIZES["letter"]}


def test_a_foot_is_on_every_page(page: Page):
    """The link of the foot is the only one on the paper, so every page that has it has a link."""
    page.goto(f"/handout?{PLAIN}&sheet=answers")
    document = page.pdf(prefer_css_page_size=True, tagged=False)
    assert document.count(b"/Annots") == pages_of(document) == 2


@pytest.mark.parametrize("size", [(1280, 720), (390, 844)])
def test_a_sheet_is_whole_on_the_screen(page: Page, size):
    page.set_viewport_size({"width": size[0], "height": size[1]})
    faults = {}
    for address in (f"/handout?{PLAIN}&sheet=report", f"/handout?{PLAIN}", f"/share?{PLAIN}", f"/embed?{FULL}"):
        page.goto(address)
        page.evaluate(TOOLS)
        faults[address] = page.evaluate("() => cut(true)")
    found = told(faults)
    assert not found, found
