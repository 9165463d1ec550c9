"""Scenarios kept in a browser: keeping, opened by somebody else, copied, changed, in conflict, found again."""

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

STAGE = "vs=36V&r1=6k8"


def kept(page: Page, title: str = "A panel of 36 V") -> tuple[str, str]:
    """Keep the stage without a page; return the address that lets one change it, and the one that shows it."""
    sent = {"title": title, "notes": "R1 runs **warm**.", "scenario": STAGE}
    made = page.request.post("/api/kept", data=sent).json()
    return made["edit"], made["view"]


def keep(page: Page, title: str) -> tuple[str, str]:
    """Keep the stage from the explorer; return the address that lets one change it, and the one that shows it."""
    page.goto(f"/stage?{STAGE}")
    page.get_by_role("link", name="Keep this scenario").click()
    page.get_by_label("Title").fill(title)
    page.get_by_label("Notes").fill("R1 runs **warm**.")
    page.get_by_role("button", name="Keep it").click()
    return page.url, page.locator("#link-view").get_attribute("href")


def step(page: Page, key: str, times: int):
    """Move a slider by the keyboard, and wait until the hand has rested."""
    slider = page.locator(f"#slider-{key}")
    slider.focus()
    for _ in range(times):
        slider.press("ArrowRight")
    expect(page.locator(f"#differs li[data-for='{key}'] b")).to_have_text(page.locator(f"#{key}").input_value())


@pytest.fixture
def somebody(browser: Browser, server: str) -> Iterator[Page]:
    """Somebody else, on a phone."""
    context = browser.new_context(base_url=server, viewport={"width": 390, "height": 844})
    page = context.new_page()
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    yield page
    context.close()
    assert not faults


def test_somebody_else_opens_the_link_tries_things_out_and_keeps_a_copy(page: Page, somebody: Page):
    own, view = keep(page, "A panel of 36 V")
    somebody.goto(view)
    expect(somebody.get_by_role("heading", level=1)).to_have_text("A panel of 36 V")
    expect(somebody.locator(".kept-notes strong")).to_have_text("warm")
    assert somebody.locator("#keep-form").count() == 0
    assert own.rpartition("/")[2] not in somebody.content()
    assert somebody.evaluate("document.documentElement.scrollWidth") <= 390
    step(somebody, "vs", 3)
    expect(somebody.locator("#differs li")).to_contain_text("kept 36 V")
    expect(somebody).to_have_url(re.compile(re.escape(view) + r"\?vs="))
    expect(somebody.locator(".field.differs")).to_have_count(1)
    here = somebody.locator("#vs").input_value()
    somebody.get_by_role("link", name="Keep this as a copy").click()
    expect(somebody.get_by_label("Title")).to_have_value("A panel of 36 V")
    somebody.get_by_role("button", name="Keep it").click()
    expect(somebody.locator("#vs")).to_have_value(here)
    assert own.rpartition("/")[2] not in somebody.url
    assert page.request.get(f"{view}.json").json()["scenario"] == STAGE


def test_back_to_what_is_kept_after_other_values_and_another_stage_of_a_panel(page: Page):
    _, view = kept(page)
    page.goto(view)
    page.locator("[data-panel='window']").click()
    page.get_by_role("link", name=re.compile("^Use these")).first.click()
    expect(page).to_have_url(re.compile(re.escape(view) + r"\?"))
    page.locator("#in").select_option("logic")
    expect(page.locator("#differs li[data-for='in']")).to_be_visible()
    page.get_by_role("link", name="Back to what is kept").click()
    expect(page.locator("#differs")).to_contain_text("As it is kept")
    expect(page.locator("#vs")).to_have_value("36 V")


def test_two_with_the_key_save_see_each_other_and_bring_back(page: Page, somebody: Page):
    own, view = kept(page)
    page.goto(own)
    somebody.goto(own)
    step(page, "vs", 4)
    here = page.locator("#vs").input_value()
    page.get_by_label("Title").fill("The first")
    page.get_by_role("button", name="Save as a new revision").click()
    expect(page.locator(".kept-revisions summary")).to_contain_text("revision 2")
    expect(page.locator("#vs")).to_have_value(here)
    assert page.url == own

    somebody.get_by_label("Title").fill("The second")
    somebody.get_by_label("Notes").fill("typed for long")
    somebody.get_by_role("button", name="Save as a new revision").click()
    expect(somebody.get_by_role("heading", level=1)).to_have_text("Somebody has saved in the meantime")
    expect(somebody.get_by_role("heading", name="The first")).to_be_visible()
    expect(somebody.get_by_label("Notes")).to_have_value("typed for long")
    assert somebody.evaluate("document.documentElement.scrollWidth") <= 390
    somebody.get_by_role("button", name="Save mine over it").click()
    expect(somebody.locator(".kept-revisions summary")).to_contain_text("revision 3")
    expect(somebody.get_by_role("heading", level=1)).to_have_text("The second")

    somebody.locator(".kept-revisions summary").click()
    somebody.get_by_role("button", name="Bring revision 2 back").click()
    expect(somebody.locator(".kept-revisions summary")).to_contain_text("revision 4")
    expect(somebody.locator("#vs")).to_have_value(here)
    assert somebody.goto(f"{view}/edit/{'x' * 24}").status == 404


def test_the_browser_that_kept_it_finds_it_again_until_it_is_forgotten_or_deleted(page: Page, somebody: Page):
    page.goto(kept(page, "Forgotten <b>soon</b>")[0])
    own, view = kept(page, "Deleted soon")
    page.goto(own)
    page.goto("/")
    listed = page.locator("#remembered li")
    expect(listed.first).to_contain_text("Deleted soon")
    expect(listed.nth(1)).to_contain_text("Forgotten <b>soon</b>")
    page.get_by_role("button", name="Forget Forgotten <b>soon</b>").click()
    expect(listed.filter(has_text="Forgotten")).to_have_count(0)
    somebody.goto("/")
    expect(somebody.locator("#remembered li")).to_have_count(0)
    expect(page.get_by_role("link", name="change it").first).to_have_attribute("href", re.compile(r"/s/.*/edit/"))
    page.goto(f"{own}/delete")
    page.get_by_role("button", name="Delete it for ever").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("It has been deleted")
    assert somebody.goto(view).status == 404
    page.goto("/")
    expect(listed.filter(has_text="Deleted soon")).to_have_count(0)


STORED = """[
  {"title": "Mine", "view": "/s/a", "edit": "/s/a/edit/b"},
  {"title": "Elsewhere", "view": "//elsewhere.invalid/s/a", "edit": "/s/a/edit/b"},
  {"title": "Acting", "view": "/s/a", "edit": "javascript:alert(1)"}
]"""


def test_only_links_of_this_server_are_listed_and_all_can_be_forgotten(page: Page):
    store = "(text) => localStorage.setItem('lightgap.kept', text)"
    page.goto("/")
    for text in ("null", "[null]", "{", STORED):
        page.evaluate(store, text)
        page.reload()
        expect(page.locator("#remembered li")).to_have_count(1 if text == STORED else 0)
    page.get_by_role("button", name="Forget all of them").click()
    expect(page.locator("#remembered li")).to_have_count(0)
    assert page.evaluate("localStorage.getItem('lightgap.kept')") is None


def test_without_script_a_scenario_is_kept_and_saved(browser: Browser, server: str):
    context = browser.new_context(base_url=server, java_script_enabled=False)
    page = context.new_page()
    own, view = keep(page, "Without script")
    page.locator("#controls #vs").fill("30 V")
    page.get_by_role("button", name="Work it out").click()
    assert page.url == f"{own}?vs=30V&r1=6k8"
    expect(page.locator("#differs li")).to_contain_text("kept 36 V")
    page.get_by_label("Title").fill("Without it still")
    page.get_by_role("button", name="Save as a new revision").click()
    found = page.request.get(f"{view}.json").json()
    assert (found["title"], found["scenario"]) == ("Without it still", "vs=30V&r1=6k8")
    context.close()
