"""The explorer's page as a hand and an eye use it."""

import re
from itertools import pairwise

from playwright.sync_api import Locator, Page, expect

SEEN = """() => {
  const text = (selector) => document.querySelector(selector).textContent.replace(/\\s+/g, " ").trim();
  const drawn = [...document.querySelectorAll("#live svg *")].map((shape) =>
    [shape.tagName, ...[...shape.attributes].map(({ name, value }) => `${name}=${value}`).sort()].join(" "));
  const all = (selector) => [...document.querySelectorAll(selector)];
  const controls = all("#controls :is(input:not([type=hidden]), select)").map((control) => {
    const states = ["aria-valuetext", "aria-invalid"].map((name) => control.getAttribute(name));
    return [control.id, control.value, control.max, ...states].join(" ");
  });
  const hints = all(".hint, .error:not([hidden])").map((hint) => `${hint.id} ${hint.textContent}`);
  const links = all("#schematic a, #verdict a").map((link) => link.getAttribute("href"));
  return {
    title: document.title, subject: text("#subject"),
    schematic: text("#schematic"), verdict: text("#verdict"), worked: text("#worked"), tables: text("#tables"),
    links, drawn, controls, hints,
  };
}"""

MEANT = """async () => {
  const pairs = new URLSearchParams(new FormData(document.getElementById("controls")));
  const { scenario } = await (await fetch(`/api/stage?${pairs}`)).json();
  return scenario ? `/stage?${scenario}` : "/stage";
}"""

RESTS = """async ({ looks, pause }) => {
  let asked, address;
  for (let look = 0; look < looks; look += 1) {
    const pairs = String(new URLSearchParams(new FormData(document.getElementById("controls"))));
    if (pairs !== asked) {
      const { scenario } = await (await fetch(`/api/stage?${pairs}`)).json();
      [asked, address] = [pairs, scenario ? `/stage?${scenario}` : "/stage"];
    }
    const shown = document.getElementById("followers").dataset.query;
    const moves = document.getElementById("content").classList.contains("moving"); // what is out of view comes last
    if (!moves && location.href.endsWith(address) && address === (shown ? `/stage?${shown}` : "/stage")) break;
    await new Promise((done) => setTimeout(done, pause));
  }
  return address;
}"""
"""Waits until address and picture are those of what the controls hold, which is asked for whenever they change."""

WATCH = """(slider) => {
  const seen = (window.seen = { thumb: [], field: [], focused: true });
  const field = document.getElementById(slider.dataset.for);
  const look = () => {
    if (window.seen !== seen) return;
    seen.thumb.push(Number(slider.value));
    seen.field.push(field.value);
    seen.focused &&= document.activeElement === slider;
    requestAnimationFrame(look);
  };
  requestAnimationFrame(look);
}"""


ALONE = """(() => {
  const plain = window.fetch;
  window.fetch = (url, options) => /[/]stage[/](panel|bands|finding-list)[?]/.test(String(url))
    ? Promise.resolve(new Response(null, { status: 204 })) : plain(url, options);
})()"""
"""Answers with nothing what a page with an explorer asks for beside the stage. Not by a route, which makes a browser
ask for every file anew."""

NEXT_FRAME = "() => new Promise(requestAnimationFrame)"

LOOKS = 200
"""How often the page is looked at until it must have come to rest."""


class Explorer:
    """One page with the explorer on it.

    Parameters
    ----------
    page : Page
        The page.
    query : str
        The stage to open.
    """

    def __init__(self, page: Page, query: str = "") -> None:
        self.page = page
        page.goto(f"/stage?{query}" if query else "/stage")
        page.wait_for_selector("html.script", state="attached")

    def field(self, key: str) -> Locator:
        """Return where a value is typed or chosen."""
        return self.page.locator(f"[id='{key}']")

    def slider(self, key: str) -> Locator:
        """Return the slider of a value."""
        return self.page.locator(f"#slider-{key}")

    def error(self, key: str) -> Locator:
        """Return where the message beside a value stands."""
        return self.page.locator(f"#error-{key}")

    def type(self, key: str, text: str) -> None:
        """Type a value and press Enter."""
        self.field(key).fill(text)
        self.field(key).press("Enter")

    def seen(self) -> dict:
        """Return all that the page shows: drawing, texts, controls."""
        return self.page.evaluate(SEEN)

    def drag(self, key: str, share: float, steps: int = 12) -> dict:
        """Drag a slider from where it stands to a share of its track; return what was seen meanwhile."""
        self.hold(key, share, steps)
        return self.release()

    def hold(self, key: str, share: float, steps: int = 12) -> None:
        """Drag a slider and keep the button down."""
        slider = self.slider(key)
        slider.scroll_into_view_if_needed()
        box, start, last = slider.bounding_box(), int(slider.input_value()), int(slider.get_attribute("max"))
        thumb = 18
        x0 = box["x"] + thumb / 2 + start / last * (box["width"] - thumb)
        x1 = box["x"] + thumb / 2 + share * (box["width"] - thumb)
        y = box["y"] + box["height"] / 2
        self.page.mouse.move(x0, y)
        self.page.mouse.down()
        slider.evaluate(WATCH)
        for step in range(1, steps + 1):
            self.page.mouse.move(x0 + (x1 - x0) * step / steps, y)
            self.page.evaluate(NEXT_FRAME)  # so that every step is seen, however busy the machine is

    def release(self) -> dict:
        """Let go of the slider; return what was seen while it was held."""
        seen = self.page.evaluate("() => { const seen = window.seen; window.seen = null; return seen; }")
        self.page.mouse.up()
        return seen

    def meant(self) -> str:
        """Return the address of the scenario that the controls hold now."""
        return self.page.evaluate(MEANT)

    def at_rest(self) -> dict:
        """Wait until the address is that of what the controls hold, and return what is seen then.

        What they hold is asked for anew, as another kind of side brings other controls.
        """
        address = self.page.evaluate(RESTS, {"looks": LOOKS, "pause": 50})
        followers, query = self.page.locator("#followers"), address.partition("?")[2]
        expect(self.page).to_have_url(re.compile(re.escape(address) + "$"))
        expect(followers).to_have_attribute("data-query", query)
        return self.seen()


def leave_alone(page: Page) -> None:
    """Spare a page, from the next address on, the panels, bands and findings that it asks for beside the stage."""
    page.add_init_script(ALONE)


def turns(values: list) -> int:
    """Return how often a run of numbers changes its direction."""
    moves = [b - a for a, b in pairwise(values) if a != b]
    return sum((a > 0) != (b > 0) for a, b in pairwise(moves))
