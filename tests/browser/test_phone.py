"""Phone and tablet, by touch: the picture stays in view while a slider moves, and a finger hits what it aims at."""

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

SMALLEST = 10.95  # CSS pixels of anything that is written on the picture
TARGET = 44  # CSS pixels that a finger needs
STEPS = 8

SEEN = """() => {
  const view = { right: innerWidth, bottom: innerHeight };
  const picture = document.getElementById("schematic").getBoundingClientRect();
  const written = [...document.querySelectorAll("#schematic text")].filter((text) => text.textContent.trim());
  const size = (e) => parseFloat(getComputedStyle(e).fontSize) * e.ownerSVGElement.getScreenCTM().a;
  const shown = (e) => {
    const b = e.getBoundingClientRect();
    if (b.left < -1 || b.right > view.right + 1 || b.top < -1 || b.bottom > view.bottom + 1) return false;
    const top = document.elementFromPoint((b.left + b.right) / 2, (b.top + b.bottom) / 2);
    return Boolean(top?.closest("#schematic"));
  };
  return {
    whole: picture.top >= -1 && picture.bottom <= view.bottom + 1,
    shown: [...document.querySelectorAll("#schematic .flag .reading")].filter(shown).map((e) => e.textContent.trim()),
    smallest: Math.min(...written.map(size)),
    sideways: document.documentElement.scrollWidth - document.documentElement.clientWidth,
    targets: Math.min(...[...document.querySelectorAll(".slider")].filter((e) => e.checkVisibility())
      .map((e) => e.getBoundingClientRect().height)),
  };
}"""


@pytest.fixture(scope="module")
def hand(browser: Browser, server: str) -> Iterator[Page]:
    """A page of a phone, driven by touch."""
    context = browser.new_context(
        base_url=server, viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True, reduced_motion="reduce"
    )
    yield context.new_page()
    context.close()


def opened(page: Page, path: str, size: tuple[int, int]) -> Page:
    page.set_viewport_size({"width": size[0], "height": size[1]})
    page.goto(path)
    page.wait_for_selector("html.pictured", state="attached")
    return page


def looked_at(page: Page, key: str):
    """Return what is seen, after what must hold whatever is done."""
    seen = page.evaluate(SEEN)
    assert seen["whole"], key
    assert seen["smallest"] >= SMALLEST, key
    assert seen["sideways"] <= 0, key
    assert seen["targets"] >= TARGET, key
    return seen


def dragged(page: Page, key: str, share: float) -> list[dict]:
    """Drag a slider by touch to a share of its track; return what is seen before, meanwhile and after."""
    slider = page.locator(f"#slider-{key}")
    slider.evaluate("(slider) => slider.scrollIntoView({ block: 'center', behavior: 'instant' })")
    page.evaluate("() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
    box, thumb = slider.bounding_box(), 28
    at = [box["x"] + thumb / 2 + s * (box["width"] - thumb) for s in (_share(slider), share)]
    y, seen = box["y"] + box["height"] / 2, [looked_at(page, f"before {key}")]
    assert slider.evaluate("(s, y) => document.elementFromPoint(innerWidth / 2, y) === s", y), f"{key} is covered"
    touch = page.context.new_cdp_session(page)
    touch.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": at[0], "y": y}]})
    for step in range(1, STEPS + 1):
        x = at[0] + (at[1] - at[0]) * step / STEPS
        touch.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": [{"x": x, "y": y}]})
        page.wait_for_timeout(16)
    assert abs(_share(slider) - share) < 0.05
    seen.append(looked_at(page, f"while {key} moves"))
    expect(page.locator("#verdict .verdicts")).to_be_in_viewport(ratio=0.9)
    touch.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    touch.detach()
    seen.append(looked_at(page, f"after {key}"))
    return seen


def _share(slider) -> float:
    return int(slider.input_value()) / int(slider.get_attribute("max"))


@pytest.mark.parametrize("size", [(390, 844), (820, 1180)], ids=lambda size: f"{size[0]}")
def test_the_whole_picture_stays_in_view_while_any_slider_moves(hand: Page, size):
    page = opened(hand, "/stage", size)
    nodes = page.locator("#schematic .flag").count()
    for key, share in (("vs", 0.2), ("rl", 0.8), ("ta", 0.9)):
        for seen in dragged(page, key, share):
            assert len(seen["shown"]) == nodes, key
        expect(page).to_have_url(re.compile(rf"[?&]{key}="))
    assert page.locator("#flag-VS .reading").text_content().startswith("VS 14.")


def test_a_small_phone_shows_the_side_that_a_slider_acts_on(hand: Page):
    page = opened(hand, "/stage?out=relay", (390, 664))
    for key, node in (("vs", "VS"), ("rl", "E")):
        for seen in dragged(page, key, 0.6)[1:]:
            assert any(text.startswith(f"{node} ") for text in seen["shown"]), (key, seen["shown"])


@pytest.mark.parametrize(
    "path", ["/project", "/project?panel=nothing", "/compare?a=&b=rl%3D1k", "/stage?panel=before&before=rl%3D1k"]
)
def test_other_views_of_a_stage_can_be_read_on_a_phone(hand: Page, path):
    hand.set_viewport_size({"width": 390, "height": 844})
    hand.goto(path)
    assert hand.evaluate("document.documentElement.scrollWidth") == 390
    sizes = hand.evaluate(
        """() => [...document.querySelectorAll("#content svg text")]
          .filter((e) => e.textContent.trim() && e.checkVisibility())
          .map((e) => parseFloat(getComputedStyle(e).fontSize) * e.ownerSVGElement.getScreenCTM().a)"""
    )
    assert min(sizes) >= SMALLEST
