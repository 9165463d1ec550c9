"""A hand on a slider: the thumb follows it, the picture follows the thumb, and what rests is right."""

import pytest
from playwright.sync_api import Page, expect

from engine import VOLT, parse, reading
from tests.browser.explorer import Explorer, turns

DRAGGED = {"vs": 0.3, "ctr": 0.15, "if": 0.75, "rl": 0.9}
"""Key to where on its track the slider is dragged."""

SLOW = """({ live, explorer }) => {
  const plain = window.fetch;
  let seed = 7;
  window.fetch = async (url, options) => {
    seed = (seed * 48271) % 2147483647;
    const [least, most] = String(url).includes("/stage/explorer") ? explorer : live;
    const answer = await plain(url, options);
    if (String(url).includes("/api/")) return answer;
    await new Promise((done) => setTimeout(done, least + (most - least) * (seed / 2147483647)));
    if (options?.signal?.aborted) throw new DOMException("aborted", "AbortError");
    return answer;
  };
}"""
"""Answers arrive late by a random number of milliseconds."""


STOP_IS_VALUE = """(key) => {
  const slider = document.getElementById(`slider-${key}`);
  return slider.dataset.stops.split("|")[slider.value] === document.getElementById(key).value;
}"""


def slow_down(page: Page, live=(40, 250), explorer=(0, 0)):
    page.evaluate(SLOW, {"live": live, "explorer": explorer})


def stays_with_the_hand(explorer: Explorer, key: str, share: float):
    """Drag a slider and tell whether thumb and focus stayed with the hand until it let go."""
    seen = explorer.drag(key, share)
    expect(explorer.slider(key)).to_be_focused()
    assert len(set(seen["thumb"])) > 5
    assert turns(seen["thumb"]) == 0
    assert seen["focused"]
    return seen["thumb"][-1], seen["field"][-1]


def stands_at(explorer: Explorer, key: str):
    return int(explorer.slider(key).input_value()), explorer.field(key).input_value()


@pytest.mark.parametrize("key", DRAGGED)
def test_thumb_and_focus_stay_with_the_hand(page: Page, anew, key):
    explorer = Explorer(page)
    let_go_at = stays_with_the_hand(explorer, key, DRAGGED[key])
    at_rest = explorer.at_rest()
    assert stands_at(explorer, key) == let_go_at
    assert at_rest == anew(page.url)


@pytest.mark.usefixtures("alone")
def test_late_answers_neither_pull_a_thumb_nor_win_over_newer_ones(page: Page, anew):
    explorer = Explorer(page)
    slow_down(page)
    let_go_at = {key: stays_with_the_hand(explorer, key, share) for key, share in DRAGGED.items()}
    at_rest = explorer.at_rest()
    assert {key: stands_at(explorer, key) for key in DRAGGED} == let_go_at
    assert at_rest == anew(page.url)


@pytest.mark.usefixtures("alone")
def test_back_and_forth_ends_where_the_hand_does(page: Page, anew):
    explorer = Explorer(page)
    slow_down(page, live=(0, 150))
    for share in (0.9, 0.1, 0.6):
        explorer.hold("vs", share, steps=6)
    explorer.release()
    assert explorer.at_rest() == anew(page.url)


@pytest.mark.usefixtures("alone")
def test_picture_follows_while_the_hand_moves(page: Page):
    explorer = Explorer(page)
    for share in (0.8, 0.6, 0.5, 0.4, 0.3, 0.2):
        explorer.hold("vs", share, steps=3)
        volts = parse(explorer.field("vs").input_value(), VOLT)
        expect(page.locator("#flag-VS .reading")).to_have_text(f"VS {' '.join(reading(volts, VOLT))}")
    explorer.release()


@pytest.mark.usefixtures("alone")
def test_moved_current_sizes_its_resistor_again(page: Page):
    explorer = Explorer(page, "r1=22k")
    explorer.drag("if", 0.8)
    explorer.at_rest()
    expect(explorer.field("r1")).to_have_value("auto")
    assert "r1=" not in page.url
    assert "if=" in page.url


@pytest.mark.usefixtures("alone")
def test_moved_resistor_is_taken_as_it_is(page: Page):
    explorer = Explorer(page)
    explorer.drag("r1", 0.7)
    explorer.at_rest()
    assert explorer.field("r1").input_value() == explorer.slider("r1").get_attribute("aria-valuetext")
    assert "r1=" in page.url


@pytest.mark.usefixtures("alone")
def test_a_late_answer_does_not_undo_another_kind(page: Page, anew):
    explorer = Explorer(page)
    slow_down(page, live=(500, 500))
    explorer.drag("vs", 0.4, steps=5)
    explorer.field("out").select_option("indicator")
    expect(page.locator("#part-D1")).to_be_visible()
    page.wait_for_timeout(700)
    assert explorer.at_rest() == anew(page.url)


@pytest.mark.usefixtures("alone")
def test_a_slider_covers_a_value_typed_beyond_it(page: Page, anew):
    explorer = Explorer(page)
    explorer.type("vs", "200 V")
    page.wait_for_function(STOP_IS_VALUE, arg="vs")
    assert explorer.at_rest() == anew(page.url)
    explorer.slider("vs").press("ArrowRight")
    explorer.at_rest()
    assert 200 < float(explorer.field("vs").input_value().removesuffix(" V")) < 210
    assert page.evaluate("history.length") == 2


@pytest.mark.usefixtures("alone")
def test_a_slider_covers_a_value_that_followed_beyond_it(page: Page, anew):
    explorer = Explorer(page, "vs=1kV")
    explorer.type("if", "500 µA")
    explorer.at_rest()
    expect(explorer.slider("r1")).to_have_attribute("aria-valuetext", "2 MΩ")
    page.wait_for_function("""() => document.getElementById("slider-r1").max > 100""")
    assert explorer.at_rest() == anew(page.url)


@pytest.mark.usefixtures("alone")
def test_parts_that_come_and_go_leave_nothing_behind(page: Page, anew):
    explorer = Explorer(page)
    for key, text in (("vcc", "0 V"), ("vs", "400 V"), ("vcc", "5 V"), ("rl", "100 R"), ("vs", "48 V")):
        explorer.type(key, text)
        page.wait_for_function(STOP_IS_VALUE, arg="vs")
        at_rest, passed_on = explorer.at_rest(), anew(page.url)
        assert at_rest["verdict"] == passed_on["verdict"]
        assert at_rest["drawn"] == passed_on["drawn"]
