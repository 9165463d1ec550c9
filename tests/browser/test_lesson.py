"""A lesson in a browser: gone through as a student with the keyboard, made as a teacher, on a phone too."""

import re

from playwright.sync_api import Page, expect

SIX = "/lesson/from-switch-to-logic"


def test_a_student_predicts_and_then_drags_the_stage_that_gives_the_answer(page: Page):
    page.goto(SIX)
    page.get_by_role("link", name="Begin with step 1").click()
    expect(page.locator("#controls")).to_have_count(0)
    page.locator("#guess").focus()
    page.keyboard.type("4,8 mA")
    page.keyboard.press("Enter")
    expect(page.locator("#error-guess")).to_contain_text("comma")
    page.fill("#guess", "5.1 mA")
    page.keyboard.press("Enter")
    expect(page.locator("#predicted")).to_have_text("5.1 mA")
    expect(page.locator(".verdict-lines li").first).to_contain_text("above what was worked out")
    address = page.url
    assert "guess=5.1" in address

    # The explorer on the page is alive, and leaves the page's address and title alone.
    before = page.locator("#flag-OUT").text_content()
    page.fill("#rl", "1k")
    page.keyboard.press("Tab")
    expect(page.locator("#flag-OUT")).not_to_have_text(before)
    expect(page.locator("#announcer")).not_to_be_empty()
    assert page.url == address
    expect(page).to_have_title(re.compile("The LED gets its current"))

    page.locator(".lesson-onward").get_by_role("link", name="On to step 2").click()
    page.get_by_role("button", name="Show me without predicting").click()
    expect(page.locator("#worked-out")).to_contain_text("at worst")
    expect(page.locator("#predicted")).to_have_count(0)
    page.set_viewport_size({"width": 390, "height": 844})
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_a_teacher_makes_a_lesson_of_stages_and_leads_it(page: Page):
    page.goto("/stage?r1=6k8")
    page.get_by_role("link", name="Put it into a lesson").click()
    page.fill("#title", "Valves and floats")
    page.get_by_role("button", name="Begin the lesson").click()
    expect(page.locator("#order li")).to_have_count(1)
    own = page.url
    page.wait_for_function("localStorage.getItem('lightgap.kept')")  # modules run once the page has been read

    # The browser offers the lesson for the next stage.
    page.goto("/lesson/new?add=1&vs=36V")
    page.locator("#own-lessons").get_by_role("link", name="Valves and floats").click()
    expect(page.locator("#stage")).to_have_value("/stage?vs=36V")
    page.fill("#title", "Second")
    page.select_option("#what", "IF")
    page.fill("#question", "How large is IF?")
    page.fill("#after", "/stage?vs=36V&r1=")
    page.get_by_role("button", name="Save the step").click()
    expect(page.locator("#error-after")).to_be_visible()
    page.fill("#after", "/stage?vs=36V&r1=10k")
    page.fill("#notes", "Ask why.")
    page.get_by_role("button", name="Save the step").click()
    expect(page.locator("#order li")).to_have_count(2)
    assert page.url == own

    page.get_by_role("button", name="Step 2 up").click()
    expect(page.locator("#order li").first).to_contain_text("Second")
    page.get_by_role("link", name="Lead it: step 1").click()
    expect(page.locator("#lesson-notes")).to_contain_text("Ask why.")
    expect(page.locator("#worked-out")).to_contain_text("mA")

    page.goto(own)
    page.goto(page.locator("#link-view").get_attribute("href") + "/1")
    expect(page.locator("#lesson-notes")).to_have_count(0)
    expect(page.locator(".lesson-changes")).to_contain_text("10 kΩ")
    expect(page.locator("#worked-out")).to_have_count(0)
