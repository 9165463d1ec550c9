"""The browser asks nobody but the server that the page came from, and the page obeys its own policy."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from tests.browser.explorer import Explorer

ELSEWHERE = "http://elsewhere.invalid"
TELL = """addEventListener("securitypolicyviolation", ({ violatedDirective, blockedURI }) =>
  tellBreach(`${violatedDirective} ${blockedURI}`));"""
INLINE = """() => [...document.querySelectorAll("*")].flatMap((element) => {
  const name = element.tagName.toLowerCase();
  const acting = [...element.attributes].filter(({ name, value }) =>
    name === "style" || /^(hx-)?on/.test(name) || /^\\s*(javascript|data):/i.test(value)).map(({ name }) => name);
  const own = name === "style" || (name === "script" && !element.src) ? ["its own text"] : [];
  return [...acting, ...own].map((what) => `${name} has ${what}`);
})"""
LINKED = """() => [...document.querySelectorAll("[href], [src], [action], [hx-get], [hx-post]")].flatMap((element) =>
  ["href", "src", "action", "hx-get", "hx-post"].map((name) => element.getAttribute(name)).filter(Boolean)
    .map((address) => new URL(address, document.baseURI)).filter(({ origin }) => origin !== location.origin)
    .map(({ href }) => href))"""


@dataclass
class Watched:
    """A page, and all that it asked for, got and said."""

    page: Page
    asked: list[str] = field(default_factory=list)
    policies: list[str] = field(default_factory=list)
    breaches: list[str] = field(default_factory=list)
    said: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.page.expose_function("tellBreach", lambda breach: self.breaches.append(breach))
        self.page.add_init_script(TELL)
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.on("response", lambda answer: self.policies.append(answer.headers["content-security-policy"]))
        self.page.on("websocket", lambda socket: self.asked.append(socket.url))
        self.page.on("console", lambda message: self._note(message.type, message.text))
        self.page.on("pageerror", lambda error: self.said.append(str(error)))

    def _note(self, kind: str, text: str) -> None:
        """Note a complaint; that an address was answered with 404 or 422 is told too, and is meant so."""
        if kind in ("error", "warning") and "the server responded with a status of 4" not in text:
            self.said.append(text)

    def until(self, done: Callable[[], object]) -> None:
        """Wait until something has been told, for ten seconds at most."""
        for _ in range(200):
            if done():
                return
            self.page.wait_for_timeout(50)

    def foreign(self, server: str) -> list[str]:
        """Return the addresses asked for that are not the server's."""
        return [address for address in self.asked if not address.startswith(f"{server}/")]


@pytest.fixture
def newcomer(browser: Browser, server: str) -> Iterator[BrowserContext]:
    """Someone whose browser holds nothing yet, so that everything is asked for."""
    context = browser.new_context(base_url=server)
    yield context
    context.close()


def use_the_explorer(page: Page) -> None:
    explorer = Explorer(page)
    explorer.drag("vs", 0.3)
    explorer.drag("ctr", 0.7)
    page.locator("#toggle").click()
    explorer.at_rest()
    explorer.type("r1", "4,7k")
    expect(explorer.error("r1")).to_be_visible()
    explorer.type("r1", "4k7")
    expect(explorer.error("r1")).to_be_hidden()
    for key, kind in (("out", "indicator"), ("in", "logic")):
        explorer.field(key).select_option(kind)
        explorer.at_rest()
    page.keyboard.press("Space")
    page.go_back()
    expect(explorer.field("in")).to_have_value("contact-low")


def visit_what_is_kept(page: Page) -> None:
    sent = {"title": "Kept", "notes": "[x](/stage) ![x](/x.png) <b>", "scenario": "vs=36V"}
    made = page.request.post("/api/kept", data=sent).json()
    page.goto(made["edit"])


def visit(path: str):
    return lambda page: page.goto(path)


VISITS = {
    "start": visit("/"),
    "explorer": use_the_explorer,
    "refused": visit("/stage?vs=much&r1=%3Cimg%20src=x%20onerror=alert(1)%3E"),
    "specimen": visit("/specimen"),
    "description": visit("/api"),
    "couplers": visit("/couplers"),
    "coupler": visit("/couplers/general"),
    "card": visit("/couplers/new?from=general"),
    "keep": visit("/keep?vs=36V"),
    "kept": visit_what_is_kept,
    "nowhere": visit("/nowhere"),
}


@pytest.mark.parametrize("use", VISITS.values(), ids=VISITS)
def test_page_asks_its_own_server_only_and_keeps_its_policy(newcomer: BrowserContext, server, use):
    watched = Watched(newcomer.new_page())
    use(watched.page)
    watched.page.wait_for_load_state("networkidle")
    assert len(watched.asked) >= 4
    assert watched.foreign(server) == []
    assert watched.page.evaluate(LINKED) == []
    assert watched.page.evaluate(INLINE) == []
    assert len(watched.policies) >= 4
    assert [policy for policy in watched.policies if "unsafe" in policy or "default-src 'none'" not in policy] == []
    assert watched.breaches == []
    assert watched.said == []


FOREIGN = {
    "image": (f"() => document.body.append(Object.assign(new Image(), {{ src: '{ELSEWHERE}/dot.png' }}))", "img-src"),
    "request": (f"() => fetch('{ELSEWHERE}/count').catch(() => null)", "connect-src"),
    "script": (
        f"() => document.head.append(Object.assign(document.createElement('script'), {{ src: '{ELSEWHERE}/x.js' }}))",
        "script-src-elem",
    ),
    "style": ("() => document.body.setAttribute('style', 'color: red')", "style-src-attr"),
    "own script": (
        "() => document.head.append(Object.assign(document.createElement('script'), { textContent: '1' }))",
        "script-src-elem",
    ),
}
"""What a page must not do, and the directive that keeps it from doing so."""


@pytest.mark.parametrize(("act", "directive"), FOREIGN.values(), ids=FOREIGN)
def test_breach_is_told(newcomer: BrowserContext, act, directive):
    watched = Watched(newcomer.new_page())
    watched.page.goto("/nowhere")
    watched.page.evaluate(act)
    watched.until(lambda: watched.breaches and watched.said)
    assert [breach.split()[0] for breach in watched.breaches] == [directive]
    assert any("Content Security Policy" in text for text in watched.said)


def test_what_is_asked_elsewhere_is_noticed(browser: Browser, server: str):
    context = browser.new_context(base_url=server, bypass_csp=True)
    context.route(f"{ELSEWHERE}/**", lambda route: route.abort())
    watched = Watched(context.new_page())
    watched.page.goto("/nowhere")
    for act, _ in FOREIGN.values():
        watched.page.evaluate(act)
    watched.until(lambda: len(watched.foreign(server)) >= 3)
    assert watched.foreign(server) == [f"{ELSEWHERE}/{name}" for name in ("dot.png", "count", "x.js")]
    assert set(watched.page.evaluate(LINKED)) == {f"{ELSEWHERE}/dot.png", f"{ELSEWHERE}/x.js"}
    assert set(watched.page.evaluate(INLINE)) == {"body has style", "script has its own text"}
    context.close()
