"""What cannot be taken: said beside the field, the last good picture kept, nothing lost; so too without a server."""

import pytest
from playwright.sync_api import Page, expect

from tests.browser.explorer import Explorer

pytestmark = pytest.mark.usefixtures("alone")

BAD = [
    ("vs", "", "it is empty"),
    ("r1", "abc", "'abc' is not a number"),
    ("vs", "5 mA", "'mA' is not a unit of this field"),
    ("rl", "-5", "'-5' is out of range for RL"),
    ("rl", "1e300", "'1e300' is out of range for RL"),
    ("ta", "nan", "'nan' is not a finite number"),
    ("r1", "4,7k", "'4,7k' has a comma"),
    ("if", "<b>1</b>", "'<b>1</b>' is not a number"),
    ("vcc", "9" * 60, "is too long to be a quantity"),
]
PICTURE = ("schematic", "verdict", "worked", "tables", "drawn", "links", "title")
STALE = """() => [...document.querySelectorAll("#schematic, #verdict, #worked, #tables")]
  .every((part) => getComputedStyle(part).filter !== "none")"""


def picture(explorer: Explorer) -> dict:
    seen = explorer.seen()
    return {part: seen[part] for part in PICTURE}


def test_bad_values_are_named_beside_their_fields_until_mended(page: Page):
    explorer = Explorer(page)
    good = picture(explorer)
    for key, text, message in BAD:
        usual = explorer.field(key).input_value()
        explorer.type(key, text)
        expect(explorer.error(key)).to_contain_text(message)
        expect(explorer.field(key)).to_have_attribute("aria-invalid", "true")
        assert f"error-{key}" in explorer.field(key).get_attribute("aria-describedby").split()
        expect(explorer.field(key)).to_have_value(text)
        expect(explorer.field(key)).to_be_focused()
        assert picture(explorer) == good
        assert page.evaluate(STALE)
        expect(page.locator("#problems")).to_contain_text("last valid values")

        explorer.type(key, usual)
        expect(explorer.error(key)).to_be_hidden()
        assert explorer.field(key).get_attribute("aria-invalid") is None
        expect(page.locator("#problems li")).to_have_count(0)
        assert not page.evaluate(STALE)
        assert picture(explorer) == good
    assert page.url.endswith("/stage")


def test_every_bad_field_has_its_own_message(page: Page):
    explorer = Explorer(page)
    for key, text in (("vs", "much"), ("rl", ""), ("ta", "1e9")):
        explorer.field(key).fill(text)
    explorer.field("ta").press("Enter")
    for key in ("vs", "rl", "ta"):
        expect(explorer.error(key)).to_be_visible()
    explorer.type("rl", "4k7")
    expect(explorer.error("rl")).to_be_hidden()
    expect(explorer.error("vs")).to_be_visible()


def test_message_leads_to_its_field_and_nothing_typed_is_lost(page: Page):
    explorer = Explorer(page)
    explorer.type("rl", "4,7k")
    page.locator("#problems a").click()
    expect(explorer.error("rl")).to_be_visible()
    expect(explorer.field("rl")).to_have_value("4,7k")
    page.keyboard.press("Tab")
    expect(explorer.slider("rl")).to_be_focused()


def test_moving_the_slider_mends_its_field(page: Page):
    explorer = Explorer(page)
    explorer.type("vs", "much")
    expect(explorer.error("vs")).to_be_visible()
    explorer.slider("vs").press("ArrowLeft")
    expect(explorer.error("vs")).to_be_hidden()
    explorer.at_rest()


def test_other_kind_is_not_taken_over_with_a_bad_value(page: Page):
    explorer = Explorer(page)
    good = picture(explorer)
    explorer.type("vs", "much")
    expect(explorer.error("vs")).to_be_visible()
    explorer.field("out").select_option("indicator")
    page.wait_for_timeout(200)
    assert picture(explorer) == good
    explorer.type("vs", "48")
    expect(page.locator("#part-D1")).to_be_visible()
    expect(explorer.field("colour")).to_be_visible()


def test_a_text_of_ten_thousand_letters_does_no_harm(page: Page):
    explorer = Explorer(page)
    page.evaluate("""() => {
      const field = document.getElementById("vcc");
      field.removeAttribute("maxlength");
      field.value = "9".repeat(10000);
      field.dispatchEvent(new Event("change", { bubbles: true }));
    }""")
    expect(explorer.error("vcc")).to_contain_text("too long")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


@pytest.mark.parametrize(
    ("query", "key"), [("vs=36V&r1=4,7k", "r1"), ("vs=36V&vcc=" + "9" * 10000, "vcc"), ("vs=0V", "if")]
)
def test_address_with_a_bad_value_opens_with_the_message(page: Page, query, key):
    explorer = Explorer(page, query)
    expect(explorer.error(key)).to_be_visible()
    expect(explorer.field(key)).to_have_attribute("aria-invalid", "true")
    expect(page.locator("#flag-VS")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    explorer.type("r1", "22k")
    explorer.type(key, "3 mA" if key == "if" else "22k" if key == "r1" else "5 V")
    expect(page.locator("#problems li")).to_have_count(0)


def test_without_a_server_nothing_is_lost(page: Page):
    explorer = Explorer(page, "in=contact-high")
    notice = page.locator("#connection")
    good = picture(explorer)
    expect(notice).to_be_hidden()

    page.route("**/stage/*", lambda route: route.abort("connectionrefused"))
    explorer.drag("vs", 0.3)
    expect(notice).to_be_visible()
    expect(notice).to_have_attribute("role", "alert")
    assert explorer.field("vs").input_value() not in ("48 V", "")
    assert picture(explorer) == good


def test_it_goes_on_where_it_was_when_the_server_is_back(page: Page, anew):
    explorer = Explorer(page)
    page.context.set_offline(True)
    explorer.drag("vs", 0.3)
    expect(page.locator("#connection")).to_be_visible()
    page.context.set_offline(False)
    explorer.slider("vcc").press("ArrowRight")
    expect(page.locator("#connection")).to_be_hidden()
    assert explorer.at_rest() == anew(page.url)
    assert "vs=" in page.url
    assert "vcc=" in page.url


def test_a_fault_of_the_server_is_told_too(page: Page):
    explorer = Explorer(page)
    good = picture(explorer)
    page.route("**/stage/live?*", lambda route: route.fulfill(status=500, body="{}"))
    explorer.slider("vs").press("ArrowRight")
    expect(page.locator("#connection")).to_be_visible()
    assert picture(explorer) == good
    page.unroute("**/stage/live?*")
    explorer.slider("vs").press("ArrowRight")
    expect(page.locator("#connection")).to_be_hidden()
