"""Every page without script: values are sent with the button, the address is the same as with script."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from webapp.present.starts import STARTS


@pytest.fixture(scope="module")
def scriptless(browser: Browser, server: str) -> Iterator[Page]:
    context = browser.new_context(base_url=server, java_script_enabled=False)
    yield context.new_page()
    context.close()


def send(page: Page):
    page.get_by_role("button", name="Work it out").click()


def test_sliders_are_not_shown_and_the_button_is(scriptless: Page):
    scriptless.goto("/stage")
    for slider in scriptless.locator(".slider").all():
        expect(slider).to_be_hidden()
    expect(scriptless.get_by_role("button", name="Work it out")).to_be_visible()
    expect(scriptless.locator("#connection")).to_be_hidden()


def test_sent_form_becomes_the_short_link(scriptless: Page, server):
    scriptless.goto("/stage?in=contact-high")
    scriptless.locator("#vs").fill("36 V")
    scriptless.locator("[id='out']").select_option("indicator")
    send(scriptless)
    expect(scriptless.locator("#flag-VS .reading")).to_have_text("VS 36.0 V")
    expect(scriptless.locator("#part-D1")).to_be_visible()
    assert scriptless.url.startswith(f"{server}/stage?in=contact-high&vs=36V&out=indicator")
    assert "was=" not in scriptless.url
    assert "r1=" not in scriptless.url


def test_refused_value_keeps_the_last_good_picture(scriptless: Page):
    scriptless.goto("/stage?vs=60V&sw=open")
    drawn = scriptless.locator("#schematic").text_content()
    scriptless.locator("#r1").fill("4,7k")
    scriptless.locator("#rl").fill("")
    send(scriptless)
    expect(scriptless.locator("#error-r1")).to_contain_text("'4,7k' has a comma")
    expect(scriptless.locator("#error-rl")).to_contain_text("it is empty")
    expect(scriptless.locator("#r1")).to_have_value("4,7k")
    expect(scriptless.locator("#problems")).to_be_visible()
    assert scriptless.locator("#schematic").text_content() == drawn
    scriptless.locator("#r1").fill("4k7")
    scriptless.locator("#rl").fill("10k")
    send(scriptless)
    expect(scriptless.locator("#error-r1")).to_be_hidden()
    assert scriptless.url.endswith("/stage?vs=60V&r1=4k7&rl=10k&sw=open")


def test_refused_value_among_the_further_fields_is_seen(scriptless: Page):
    scriptless.goto("/stage")
    scriptless.locator("#more-input summary").click()
    scriptless.locator("#vstol").fill("5 V")
    send(scriptless)
    expect(scriptless.locator("#error-vstol")).to_be_visible()


def test_message_does_not_cover_what_it_speaks_of(scriptless: Page):
    scriptless.goto("/stage?vs=much&r1=much&rl=much&ta=much")
    notice, drawing = (scriptless.locator(part).bounding_box() for part in ("#problems", "#schematic"))
    assert notice["y"] + notice["height"] <= drawing["y"]


def test_switch_and_verdicts_are_links(scriptless: Page):
    scriptless.goto("/stage?vs=36V")
    scriptless.locator("#toggle").click()
    expect(scriptless.locator("#toggle .label")).to_have_text("S1 open")
    assert scriptless.url.endswith("/stage?vs=36V&sw=open")
    scriptless.get_by_role("link", name="contact closed", exact=True).click()
    expect(scriptless.locator("#toggle .label")).to_have_text("S1 closed")
    assert scriptless.url.endswith("/stage?vs=36V")


def test_further_fields_and_checks_open(scriptless: Page):
    scriptless.goto("/stage")
    for box, inside in (("#more-output", "#vil"), (".findings details", ".findings details li >> nth=0")):
        expect(scriptless.locator(inside)).to_be_hidden()
        scriptless.locator(f"{box} summary").click()
        expect(scriptless.locator(inside)).to_be_visible()


@pytest.mark.parametrize("start", STARTS, ids=lambda start: start.title)
def test_every_start_opens_from_the_start_page(scriptless: Page, start):
    scriptless.goto("/")
    scriptless.get_by_role("link", name=start.title, exact=True).click()
    expect(scriptless.locator("#schematic svg")).to_have_count(2)
    expect(scriptless.locator("#problems li")).to_have_count(0)
    assert scriptless.url.partition("/stage")[2] == (f"?{start.query}" if start.query else "")
