"""Everything by keyboard: sliders, switch, typed values, and the focus that stays where it is."""

import re

import pytest
from playwright.sync_api import Page, expect

from engine import VOLT, parse, reading
from tests.browser.explorer import Explorer

PRESSED = {"ArrowRight": 1, "ArrowLeft": -1, "ArrowUp": 1, "ArrowDown": -1}


@pytest.mark.usefixtures("alone")
@pytest.mark.parametrize("key", ["vs", "ctr", "rl"])
def test_keys_move_a_slider_and_the_picture_with_it(page: Page, key):
    explorer = Explorer(page)
    slider = explorer.slider(key)
    stops = slider.get_attribute("data-stops").split("|")
    at = int(slider.input_value())
    for pressed, by in PRESSED.items():
        slider.press(pressed)
        at += by
        expect(slider).to_have_value(str(at))
        expect(explorer.field(key)).to_have_value(stops[at])
    for pressed in ("PageUp", "PageUp", "PageDown"):
        slider.press(pressed)
    assert int(slider.input_value()) > at
    slider.press("Home")
    expect(explorer.field(key)).to_have_value(stops[0])
    slider.press("End")
    expect(explorer.field(key)).to_have_value(stops[-1])
    explorer.at_rest()
    expect(slider).to_be_focused()
    expect(slider).to_have_attribute("aria-valuetext", stops[-1])
    assert f"{key}=" in page.url


@pytest.mark.usefixtures("alone")
def test_a_held_key_keeps_the_focus_and_counts_every_step(page: Page):
    explorer = Explorer(page)
    slider = explorer.slider("vs")
    start = int(slider.input_value())
    for _ in range(20):
        slider.press("ArrowRight")
    explorer.at_rest()
    expect(slider).to_have_value(str(start + 20))
    expect(slider).to_be_focused()
    volts = parse(explorer.field("vs").input_value(), VOLT)
    expect(page.locator("#flag-VS .reading")).to_have_text(f"VS {' '.join(reading(volts, VOLT))}")


def test_space_switches_where_no_control_wants_it(page: Page):
    explorer = Explorer(page)
    page.locator("body").press("Space")
    expect(page.locator("#toggle .label")).to_have_text("S1 open")
    page.locator("body").press("Space")
    expect(page.locator("#toggle .label")).to_have_text("S1 closed")
    for control in (explorer.field("vs"), explorer.slider("vs"), page.locator("#more-input summary")):
        control.press("Space")
    page.wait_for_timeout(100)
    expect(page.locator("#toggle .label")).to_have_text("S1 closed")
    expect(page.locator("#more-input")).to_have_attribute("open", "")


@pytest.mark.usefixtures("alone")
@pytest.mark.parametrize("key", ["Enter", "Space"])
def test_focused_switch_answers_and_keeps_the_focus(page: Page, key):
    explorer = Explorer(page, "in=contact-high&line=33R")
    toggle = page.locator("#toggle")
    for state in ("open", "closed"):
        toggle.press(key)
        expect(toggle.locator(".label")).to_have_text(f"S1 {state}")
        expect(toggle).to_be_focused()
        explorer.at_rest()
        expect(explorer.field("sw")).to_have_value(state)


def test_tab_reaches_every_control_in_reading_order(page: Page):
    Explorer(page)
    for more in page.locator("details.more").all():
        more.evaluate("(details) => { details.open = true; }")
    wanted = page.evaluate("""() =>
      [...document.querySelectorAll("a[href], input, select, button, summary")]
        .filter((control) => control.type !== "hidden" && control.checkVisibility())
        .map((control) => control.id || control.textContent.replace(/\\s+/g, " ").trim())""")
    reached = []
    for _ in range(len(wanted) + 6):  # boxes that scroll can be reached too
        page.keyboard.press("Tab")
        reached.append(
            page.evaluate("""() => {
          const control = document.activeElement;
          return control.id || control.textContent.replace(/\\s+/g, " ").trim();
        }""")
        )
    assert {"toggle", "in", "vs", "slider-vs", "slider-rl", "sw", "line", "vil"} <= set(wanted)
    assert [control for control in reached if control in wanted] == wanted


def test_what_has_the_focus_is_marked(page: Page):
    explorer = Explorer(page)
    for control in (
        explorer.field("vs"),
        explorer.slider("vs"),
        explorer.field("in"),
        page.locator("#verdict a").first,
    ):
        control.focus()
        page.keyboard.press("Shift+Tab")
        page.keyboard.press("Tab")
        expect(control).to_be_focused()
        assert float(control.evaluate("(c) => parseFloat(getComputedStyle(c).outlineWidth)")) >= 2
        assert control.evaluate("(c) => getComputedStyle(c).outlineStyle") != "none"
    page.locator("#toggle").focus()
    page.keyboard.press("Shift+Tab")
    page.keyboard.press("Tab")
    assert float(page.locator("#toggle .target").evaluate("(c) => parseFloat(getComputedStyle(c).strokeWidth)")) >= 2


@pytest.mark.usefixtures("alone")
def test_typed_values_count_on_enter_and_keep_the_focus(page: Page, anew):
    explorer = Explorer(page)
    typed = {"vs": "36", "r1": "4k7", "ctr": "min", "ta": "70 °C"}
    for key, text in typed.items():
        explorer.type(key, text)
        expect(explorer.field(key)).to_be_focused()
    at_rest = explorer.at_rest()
    assert page.url.endswith("/stage?vs=36V&r1=4k7&ctr=min&ta=70C")
    assert {key: explorer.field(key).input_value() for key in typed} == typed
    passed_on = anew(page.url)
    assert at_rest["schematic"] == passed_on["schematic"]
    assert at_rest["hints"] == passed_on["hints"]


def test_typed_value_counts_after_a_pause_without_enter(page: Page):
    explorer = Explorer(page)
    explorer.field("vs").click()
    explorer.field("vs").press("ControlOrMeta+a")
    page.keyboard.type("24 V", delay=20)
    expect(page.locator("#flag-VS .reading")).to_have_text("VS 24.0 V")
    expect(explorer.field("vs")).to_be_focused()
    expect(explorer.field("vs")).to_have_value("24 V")


@pytest.mark.parametrize(
    ("key", "presses", "kind"), [("in", 2, "sinking"), ("out", 1, "pull-down"), ("coupler", 1, "low-drive")]
)
def test_select_changed_by_keys_keeps_the_focus(page: Page, key, presses, kind):
    explorer = Explorer(page)
    select = explorer.field(key)
    select.focus()
    for _ in range(presses):
        page.keyboard.press("ArrowDown")
    expect(page).to_have_url(re.compile(f"{key}={kind}"))
    explorer.at_rest()
    expect(select).to_be_focused()
    expect(select).to_have_value(kind)


def test_what_was_opened_stays_open(page: Page):
    explorer = Explorer(page, "in=logic")
    boxes = [page.locator("#more-input"), page.locator("#more-output"), page.locator("#verdict details")]
    for box in boxes:
        box.locator("summary").press("Enter")
    explorer.slider("vs").press("ArrowLeft")
    explorer.field("active").focus()
    page.keyboard.press("ArrowDown")
    expect(page).to_have_url(re.compile("active=low"))
    expect(explorer.field("active")).to_be_focused()
    for box in boxes:
        expect(box).to_have_attribute("open", "")


def test_skip_link_leads_past_the_head(page: Page):
    Explorer(page)
    page.keyboard.press("Tab")
    expect(page.locator(".skip")).to_be_focused()
    assert page.locator(".skip").bounding_box()["x"] >= 0
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    assert page.evaluate("document.getElementById('content').contains(document.activeElement)")
