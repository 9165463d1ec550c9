"""The address holds the whole stage: it can be read, passed on, gone back from."""

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.explorer import Explorer

STARTED = "in=contact-high&vs=36V&r1=22k&line=40R&rl=1k8"


@pytest.mark.usefixtures("alone")
def test_address_follows_once_the_hand_lets_go(page: Page):
    explorer = Explorer(page)
    explorer.hold("vs", 0.3)
    page.wait_for_timeout(900)
    assert page.url.endswith("/stage")
    explorer.release()
    explorer.at_rest()
    volts = explorer.field("vs").input_value().replace(" ", "")
    assert page.url.endswith(f"/stage?vs={volts}")


@pytest.mark.usefixtures("alone")
def test_address_leaves_out_defaults_and_keeps_everything_else(page: Page):
    explorer = Explorer(page, STARTED)
    explorer.drag("ta", 0.8)
    explorer.type("vs", "48 V")
    explorer.at_rest()
    celsius = explorer.field("ta").input_value().replace(" °", "")
    assert page.url.endswith(f"/stage?in=contact-high&r1=22k&line=40R&rl=1k8&ta={celsius}")
    explorer.type("ta", "25 °C")
    explorer.at_rest()
    assert page.url.endswith("/stage?in=contact-high&r1=22k&line=40R&rl=1k8")


@pytest.mark.usefixtures("alone")
def test_many_small_moves_make_no_history(page: Page):
    explorer = Explorer(page)
    before = page.evaluate("history.length")
    for _ in range(12):
        explorer.slider("vcc").press("ArrowRight")
    explorer.drag("vs", 0.4)
    explorer.at_rest()
    assert page.evaluate("history.length") == before


def test_reload_and_passed_on_link_show_the_same(page: Page, anew):
    explorer = Explorer(page, STARTED)
    explorer.drag("ctr", 0.2)
    explorer.drag("if", 0.8)
    page.locator("#toggle").click()
    at_rest = explorer.at_rest()
    assert anew(page.url) == at_rest
    page.reload()
    assert explorer.seen() == at_rest


def test_back_and_forward_over_changes_of_kind(page: Page, anew):
    explorer = Explorer(page)
    explorer.drag("vs", 0.4)
    seen = [explorer.at_rest()]
    for key, kind in (("in", "logic"), ("out", "indicator"), ("in", "contact-high")):
        explorer.field(key).select_option(kind)
        expect(page).to_have_url(re.compile(f"{key}={kind}"))
        seen.append(explorer.at_rest())

    for shown in seen[-2::-1]:
        page.go_back()
        page.wait_for_function("title => document.title === title", arg=shown["title"])
        assert explorer.seen() == shown
    assert anew(page.url) == seen[0]
    for shown in seen[1:]:
        page.go_forward()
        page.wait_for_function("title => document.title === title", arg=shown["title"])
    assert explorer.seen() == seen[-1]


@pytest.mark.usefixtures("alone")
def test_controls_work_after_going_back(page: Page, anew):
    explorer = Explorer(page)
    explorer.field("out").select_option("pull-down")
    expect(page).to_have_url(re.compile("out=pull-down"))
    page.go_back()
    expect(explorer.field("out")).to_have_value("pull-up")
    explorer.drag("rl", 0.8)
    assert explorer.at_rest() == anew(page.url)
    assert "rl=" in page.url


@pytest.mark.usefixtures("alone")
def test_back_from_a_followed_remedy_undoes_it(page: Page):
    explorer = Explorer(page, "r1w=100mW")
    remedied = explorer.seen()
    page.locator(".findings a").first.click()
    expect(page).not_to_have_url(re.compile("r1w=100mW"))
    page.go_back()
    page.wait_for_function("title => document.title === title", arg=remedied["title"])
    assert explorer.seen() == remedied


@pytest.mark.usefixtures("alone")
@pytest.mark.parametrize("query", ["sw=open", "in=logic&active=low&sw=open"])
def test_switch_state_is_part_of_the_address(page: Page, query):
    explorer = Explorer(page)
    if "logic" in query:
        explorer.field("in").select_option("logic")
        expect(page.locator("#flag-P")).to_be_visible()
        page.locator("#more-input summary").click()
        explorer.field("active").select_option("low")
        expect(page).to_have_url(re.compile("active=low"))
    page.locator("#toggle").click()
    explorer.at_rest()
    assert set(query.split("&")) <= set(page.url.partition("?")[2].split("&"))
