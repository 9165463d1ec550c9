"""Nothing on any page keeps anybody out: axe-core finds no violation, in light and in dark.

The pages are the application's routes, so that a new one is either looked at or said to be no page.
"""

from collections.abc import Iterator

import pytest
from playwright.sync_api import BrowserContext, Page

from tests.browser.axe import CONTRAST, violations
from tests.browser.explorer import leave_alone
from webapp.present.panels import PANELS

READINGS = "vs=24V&r1=10k&rl=1k&r.r1.closed=20V&r.rl.closed=2V"

PAGES = {
    "/": "/",
    "/stage": "/stage?in=ac&out=ac-triac",
    "/specimen": "/specimen",
    "/couplers": "/couplers",
    "/couplers/new": "/couplers/new?from=general",
    "/couplers/{card}": "/couplers/general",
    "/bench": f"/bench?{READINGS}",
    "/compare": "/compare?a=&b=rl%3D1k",
    "/project": "/project",
    "/share": "/share",
    "/embed": "/embed",
    "/handout": "/handout",
    "/hunt/new": "/hunt/new",
    "/hunt/{hunt}": "{hunt}",
    "/hunt/{hunt}/watch/{key}": "{watch}",
    "/log/new": f"/log/new?{READINGS}",
    "/log/{log}": "{log}",
    "/log/{log}/delete": "{unlog}",
    "/follow": "/follow",
    "/follow/new": "/follow/new",
    "/follow/{code}": "{follow}",
    "/follow/{code}/project": "{follow}/project",
    "/follow/{code}/lead/{key}": "{lead}",
    "/keep": "/keep",
    "/keep/import": "/keep/import",
    "/s/{document}": "{kept}",
    "/s/{document}/edit/{key}": "{edit}",
    "/s/{document}/edit/{key}/delete": "{edit}/delete",
    "/lesson/new": "/lesson/new",
    "/lesson/{lesson}": "/lesson/from-switch-to-logic",
    "/lesson/{lesson}/{step}": "/lesson/from-switch-to-logic/1?show=1",
    "/lesson/{lesson}/edit/{key}": "{lesson}",
    "/lesson/{lesson}/edit/{key}/{step}": "{lesson}/1",
    "/findings": "/findings",
    "/api": "/api",
    "/terms": "/terms",
    "/tour": "/tour",
    "/tour/{number}": "/tour/12",
}
"""Route to the page of it that is looked at; what is in braces is made first."""

NO_PAGES = (
    "/openapi.json", "/healthz", "/static/{path:path}", "/couplers/{card}/toml", "/stage/live", "/stage/explorer",
    "/stage/finding-list", "/stage/panel", "/stage/bands", "/project/live", "/project/panel", "/share.txt",
    "/stage/schematic.svg", "/hunt/{hunt}/watch/{key}/board", "/log/{log}.csv", "/follow/{code}/events",
    "/follow/{code}/lead/{key}/followers", "/lesson/{lesson}/edit/{key}/file", "/s/{document}.json",
    "/s/{document}/revisions/{number}/differs", "/stage/curve.csv", "/stage/curve.svg", "/stage/spread/run",
)  # fmt: skip
"""Routes that answer with a file, a fragment that stands in one of the pages, a stream or JSON, as `/api/` does."""

SAME = {
    "/s/{document}/revisions/{number}": "/s/{document}",
    "/lesson/{lesson}/teach/{key}/{step}": "/lesson/{lesson}/{step}",
}
"""Route to the one whose page it shows with other contents."""

ALIKE = {
    "/api": "section:nth-of-type(n+4), tr:nth-of-type(n+6)",
    "/couplers": "main > section:nth-of-type(n+3)",
    "/findings": "main > section:nth-of-type(n+6)",
    "/couplers/{card}": "tr:nth-of-type(n+6)",
    "/specimen": "article:nth-of-type(n+3)",
    "panel": "#panel tr:nth-of-type(n+6)",
    "/terms": ".terms-list > div:nth-of-type(n+20)",
}
"""Route, or the panel, to what of it is like what stands before."""

DARK_ELSEWHERE = {
    "/", "/stage", "/specimen", "/couplers", "/couplers/new", "/couplers/{card}", "/bench", "/findings", "/api",
}  # fmt: skip
"""Routes whose contrast in the dark is looked at by test_legible."""

REMOVE = "(parts) => document.querySelectorAll(parts).forEach((part) => part.remove())"

ASIDE = """(part) => {
  window.aside = [];
  for (let at = document.querySelector(part); at !== document.body; at = at.parentElement) {
    for (const other of [...at.parentElement.children].filter((element) => element !== at)) {
      const place = document.createElement("div");
      if (other.querySelector("#schematic")) place.id = "schematic"; // which is measured whenever its size changes
      other.replaceWith(place);
      aside.push([place, other]);
    }
  }
}"""
"""Puts aside all of a page but one part and what that stands in, as axe goes through a whole page for any part."""

BACK = "() => aside.reverse().forEach(([place, other]) => place.replaceWith(other))"

TWICE = """() => {
  const ids = [...document.querySelectorAll("[id]")].map(({ id }) => id);
  return ids.filter((id, i) => ids.indexOf(id) !== i);
}"""
"""Tells which ids a page has more than once."""

STAGES = ("in=two-wire&out=controller&ta=90C", "in=transistor&vs=9V&rl=100&out=relay&sw=open")
REFUSED = "/stage?vs=much&r1=4,7k"


def routes(found) -> Iterator[str]:
    """Yield the paths that can be asked for."""
    for route in found:
        if not hasattr(route, "path"):
            yield from routes(route.original_router.routes)
        elif "GET" in (getattr(route, "methods", None) or ()):
            yield route.path


def made_by(page: Page, form: str, button: str, **fields: str) -> str:
    """Return the path of what a form makes."""
    page.goto(form)
    for name, text in fields.items():
        page.locator(f"main form [name='{name}']").first.fill(text)
    page.locator("main").get_by_role("button", name=button, exact=True).click()
    page.wait_for_load_state()
    return page.url.partition("//")[2].partition("/")[2].partition("?")[0].join(("/", ""))


@pytest.fixture(scope="module")
def looker(person: BrowserContext) -> Iterator[Page]:
    """One page for all visits, as each new one costs a process."""
    page = person.new_page()
    yield page
    page.close()


@pytest.fixture(scope="module")
def spared(looker: Page) -> Page:
    """The same, where panels and bands do not come, as they take a while; they are looked at by themselves."""
    leave_alone(looker)
    return looker


@pytest.fixture(scope="module")
def made(looker: Page) -> dict[str, str]:
    """What has to be there before it can be looked at: a hunt, a logbook, a kept stage, a lesson, a class."""
    page = looker
    watch = made_by(page, "/hunt/new", "Hide it")
    log = made_by(page, f"/log/new?{READINGS}", "Begin the logbook", title="Pump", date="2021-05-01")
    unlog = f"{log}/delete?{page.url.partition('?')[2]}"
    edit = made_by(page, "/keep", "Keep it", title="Pump", notes="A *note*.")
    lesson = made_by(page, "/lesson/new?add=1&vs=36V", "Begin the lesson", title="Of my own")
    lead = made_by(page, "/follow/new", "Lead a class from this stage")
    return {
        "watch": watch, "hunt": watch.partition("/watch")[0], "log": log, "unlog": unlog, "edit": edit,
        "kept": edit.partition("/edit")[0], "lesson": lesson,
        "lead": lead, "follow": lead.partition("/lead")[0],
    }  # fmt: skip


def settle(page: Page) -> None:
    """Open all that can be opened, and wait for what is still asked for."""
    page.evaluate("() => document.querySelectorAll('details').forEach((box) => { box.open = true; })")
    page.wait_for_function("() => !document.querySelector('.htmx-request, .moving')")


def both_schemes(page: Page, within: str = "") -> list[str]:
    """Return what axe objects to in light, and in dark where colours are all that differs."""
    page.emulate_media(color_scheme="light")
    found = violations(page, within)
    page.emulate_media(color_scheme="dark")
    return [*found, *(f"dark: {text}" for text in violations(page, within, CONTRAST))]


def test_every_route_is_looked_at_or_is_no_page(app):
    paths = {path for path in routes(app.routes) if not path.startswith("/api/")}
    assert paths == {*PAGES, *SAME, *NO_PAGES}
    assert {*SAME.values()} <= {*PAGES}


@pytest.mark.parametrize("path", PAGES)
def test_page_keeps_nobody_out(spared: Page, made, path):
    page = spared
    answer = page.goto(PAGES[path].format_map(made))
    assert answer.status == 200
    settle(page)
    page.evaluate(REMOVE, ALIKE.get(path, "br"))
    if path != "/stage":
        page.evaluate(REMOVE, ".bench")  # the same explorer, which axe would go through although it is left out
    page.emulate_media(color_scheme="light")
    assert (violations(page) if path in DARK_ELSEWHERE else both_schemes(page)) == []


def test_page_of_a_refused_value_and_of_none_keep_nobody_out(spared: Page):
    found = []
    for path in (REFUSED, "/nowhere"):
        spared.goto(path)
        found += both_schemes(spared)
    assert found == []


@pytest.mark.parametrize("query", STAGES)
def test_stage_of_another_kind_keeps_nobody_out(spared: Page, query):
    spared.goto(f"/stage?{query}")
    settle(spared)
    assert violations(spared, "#explorer") == []


def test_every_panel_keeps_nobody_out(page: Page):
    page.goto("/stage")
    found = {}
    for name in PANELS:
        page.locator(f"#tab-{name}").click()
        page.wait_for_selector(f"#panel-{name}")
        settle(page)
        twice = page.evaluate(TWICE)
        page.evaluate(REMOVE, ALIKE["panel"])
        page.evaluate(ASIDE, "#panel")
        found[name] = both_schemes(page, "#panel") + twice
        page.evaluate(BACK)
    assert {name: faults for name, faults in found.items() if faults} == {}


def test_explorer_on_a_phone_with_a_term_open_keeps_nobody_out(page: Page):
    page.set_viewport_size({"width": 390, "height": 844})
    page.goto("/stage")
    settle(page)
    page.locator("#verdict .term").first.click()
    page.wait_for_selector(".said:popover-open")
    assert both_schemes(page) == []


def test_what_keeps_somebody_out_is_found(page: Page):
    page.goto("/nowhere")
    page.evaluate("""() => document.querySelector("main").insertAdjacentHTML("beforeend",
      '<img src="/favicon.svg"><input><p class="faint">faint</p>')""")
    page.evaluate("() => { document.querySelector('.faint').style.color = 'rgb(200 200 200)'; }")
    found = {text.partition(":")[0] for text in violations(page)}
    assert {"image-alt", "label", "color-contrast"} <= found
