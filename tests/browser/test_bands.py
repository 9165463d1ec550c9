"""The bands under the sliders: they come once the hand rests, lie on the slider's own stops, and agree with JSON."""

import pytest
from playwright.sync_api import Page, expect

from tests.browser.explorer import Explorer
from tests.browser.faults import TOOLS, told
from tests.browser.test_layout import NARROW, WINDOWS

SHOWN = """() => Object.fromEntries([...document.querySelectorAll(".slider")].map((slider) => {
  const key = slider.dataset.for;
  const [strip, words] = [`band-${key}`, `band-words-${key}`].map((id) => document.getElementById(id));
  const solid = strip.querySelector(".holds");
  const box = solid?.getBoundingClientRect();
  const track = slider.getBoundingClientRect();
  const thumb = 1.1 * parseFloat(getComputedStyle(document.documentElement).fontSize);
  const share = (x) => (x - track.x - thumb / 2) / (track.width - thumb);
  return [key, {
    ends: box ? [share(box.left), share(box.right)] : null,
    words: words.textContent.replace(/\\s+/g, " ").trim(),
    drawn: strip.classList.contains("drawn"),
    below: strip.getBoundingClientRect().top - track.top,
    height: track.height,
  }];
}))"""

WANTED = """async () => {
  const bands = await (await fetch(`/api/band${location.search}`)).json();
  const stops = {};
  for (const { dataset } of document.querySelectorAll(".slider")) stops[dataset.for] = dataset.stops.split("|");
  return { bands, stops };
}"""

SLOW = """(most) => {
  const plain = window.fetch;
  window.fetch = async (url, options) => {
    const answer = await plain(url, options);
    if (String(url).includes("/stage/bands")) await new Promise((done) => setTimeout(done, most));
    if (options?.signal?.aborted) throw new DOMException("aborted", "AbortError");
    return answer;
  };
}"""

NEXT_FRAME = "() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))"

SCALES = {"k": 1e3, "M": 1e6, "m": 1e-3, "µ": 1e-6, "%": 1e-2}


def number(text: str) -> float:
    """Return the SI value of a slider's stop."""
    digits, _, unit = text.partition(" ")
    return float(digits) * SCALES.get(unit[:1], 1.0)


def place(stops: list[float], value: float) -> float:
    """Return where a value stands on a track, 0 to 1."""
    k = max(i for i in range(len(stops) - 1) if i == 0 or stops[i] <= value * (1 + 1e-9))
    return (k + min(max((value - stops[k]) / (stops[k + 1] - stops[k]), 0.0), 1.0)) / (len(stops) - 1)


def at_rest(explorer: Explorer) -> dict:
    """Wait until the bands are those of what is shown, and return them."""
    explorer.at_rest()
    page = explorer.page
    page.wait_for_function("() => !document.getElementById('content').classList.contains('moving')")
    page.wait_for_function("() => document.querySelectorAll('.band.drawn').length > 0")
    page.wait_for_function("() => !document.getElementById('bands').classList.contains('htmx-request')")
    page.evaluate(NEXT_FRAME)  # in which an answer is shown
    return page.evaluate(SHOWN)


def agree(explorer: Explorer) -> dict:
    """Hold the bands that are shown against those of the address; return the latter."""
    shown, wanted = at_rest(explorer), explorer.page.evaluate(WANTED)
    assert shown.keys() == wanted["stops"].keys()
    for key, band in wanted["bands"].items():
        seen, stops = shown[key], [number(text) for text in wanted["stops"][key]]
        assert seen["drawn"], key
        assert 0 < seen["below"] < seen["height"]
        if "empty" in band:
            assert seen["ends"] is None, key
            assert seen["words"].startswith("no value holds"), key
        else:
            assert seen["ends"] == pytest.approx([place(stops, band[end]) for end in ("low", "high")], abs=0.006), key
            assert seen["words"].count("below:") == bool(band["low_set_by"])
            assert seen["words"].count("above:") == bool(band["high_set_by"])
    return wanted["bands"]


@pytest.mark.parametrize(
    "query", ["", "rl=1k", "in=sinking&out=indicator", "vs=200V&r1=100k", "in=logic&coupler=fast-gate"]
)
def test_bands_come_with_the_page(looking: Page, query):
    agree(Explorer(looking, query))


def test_bands_follow_once_the_hand_lets_go(page: Page):
    explorer = Explorer(page)
    before = agree(explorer)
    explorer.drag("vcc", 0.8)
    after = agree(explorer)
    assert after.keys() == before.keys()
    assert all(after[key] != before[key] for key in ("rl", "vcc"))


def test_bands_are_dimmed_while_the_hand_moves(page: Page):
    explorer = Explorer(page)
    at_rest(explorer)
    opacity = "() => Number(getComputedStyle(document.getElementById('band-rl')).opacity)"
    assert page.evaluate(opacity) == 1
    explorer.hold("vs", 0.3)
    page.wait_for_function(f"({opacity})() < 0.5")
    explorer.release()
    at_rest(explorer)
    assert page.evaluate(opacity) == 1


def test_new_sliders_get_their_bands_and_old_ones_keep_theirs_until_then(page: Page):
    explorer = Explorer(page, "in=measured")
    agree(explorer)
    page.evaluate(SLOW, 400)
    explorer.field("in").select_option("contact-low")
    expect(explorer.slider("vs")).to_be_visible()
    expect(page.locator("#band-rl .holds")).to_have_count(1)
    assert "vs" in agree(explorer)


def test_a_band_goes_with_a_slider_that_outgrew_its_span(page: Page):
    explorer = Explorer(page)
    explorer.type("vs", "200 V")
    page.wait_for_function("() => document.getElementById('slider-vs').dataset.stops.endsWith('400 V')")
    agree(explorer)


def test_an_answer_that_comes_late_does_not_win_over_a_newer_one(page: Page):
    explorer = Explorer(page)
    page.evaluate(SLOW, 500)
    explorer.drag("vcc", 0.9)
    explorer.at_rest()
    explorer.drag("vcc", 0.5)
    agree(explorer)


def test_bands_stay_while_a_value_is_refused(page: Page):
    explorer = Explorer(page)
    before = at_rest(explorer)
    explorer.type("rl", "4,7k")
    expect(explorer.error("rl")).to_be_visible()
    page.wait_for_timeout(900)
    assert page.evaluate(SHOWN) == before


def test_a_thumb_is_not_hidden_by_its_band(page: Page):
    explorer = Explorer(page)
    at_rest(explorer)
    box = explorer.slider("vs").bounding_box()
    hit = "([x, y]) => document.elementFromPoint(x, y).id"
    for height in (0.2, 0.5, 0.9):
        assert page.evaluate(hit, [box["x"] + box["width"] / 3, box["y"] + height * box["height"]]) == "slider-vs"


@pytest.mark.parametrize("query", ["", "rl=1k", "in=ac", "in=two-wire&out=relay", "vb=900V&ins=reinforced&rl=470"])
def test_bands_can_be_read(looking: Page, query):
    at_rest(Explorer(looking, query))
    looking.evaluate(TOOLS)
    faults = {}
    for width, height in WINDOWS:
        looking.set_viewport_size({"width": width, "height": height})
        faults[f"{width} wide"] = looking.evaluate("(may) => [...collisions(), ...cut(may)]", width < NARROW)
    found = told(faults)
    assert not found, found
