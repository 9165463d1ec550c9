"""A fault hunt played through: one person hides a fault, another finds it, the first sees how, without a reload."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect


@pytest.fixture
def leader(person) -> Iterator[Page]:
    """Who leads the hunt, before the board."""
    page = person.new_page()
    page.goto("/hunt/new?vs=36V")
    page.get_by_label("What is wrong").select_option("r1-tenfold")
    page.get_by_role("button", name="Hide it").click()
    expect(page.locator("#hunt-board caption")).to_have_text("0 take part")
    yield page
    page.close()


@pytest.fixture(params=[(1280, 720), (390, 844)], ids=["wide", "narrow"])
def student(browser: Browser, leader: Page, request) -> Iterator[Page]:
    """Who has followed the link for the class, in a browser of their own."""
    width, height = request.param
    context = browser.new_context(viewport={"width": width, "height": height})
    page = context.new_page()
    faults = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.goto(leader.locator("#link-students").get_attribute("href"))
    page.get_by_label("A name that the others see").fill("Ann")
    page.get_by_role("button", name="Join").click()
    expect(page.locator("#leads")).to_be_visible()
    yield page
    context.close()
    assert not faults


def take(page: Page, red: str, black: str):
    page.get_by_label("Red lead").select_option(red)
    page.get_by_label("Black lead").select_option(black)
    page.get_by_role("button", name="Read", exact=True).click()
    expect(page.locator(".hunt-display")).to_contain_text(f"{red} to {black}")


def name_it(page: Page, fault: str):
    page.get_by_label("The fault").select_option(fault)
    page.get_by_role("button", name="Name it").click()


def test_a_hunt_is_played_through(leader: Page, student: Page):
    # The meter is read in place, and the board follows by itself.
    student.evaluate("() => { window.stayed = true; }")
    take(student, "A", "K")
    shown = student.locator("output").text_content()
    take(student, "VCC", "K")
    expect(student.locator(".hunt-display")).to_contain_text("opposite sides of the barrier")
    take(student, "A", "K")
    expect(student.locator("output")).to_have_text(shown)
    expect(student.locator("#hunt-meter caption")).to_have_text("2 readings taken")
    assert student.evaluate("window.stayed")
    expect(leader.locator("#hunt-board tbody tr")).to_have_text(["Ann2has not answered"])

    # The switch is flipped on the drawing, and the leads stay.
    student.locator("#toggle").click()
    expect(student.locator(".hunt-states [aria-current]")).to_have_text("contact open")
    expect(student.get_by_label("Red lead")).to_have_value("A")
    take(student, "K", "return")

    # The wrong answer is told, and counts.
    leader.locator("summary").click()
    name_it(student, "rl-open")
    expect(student.locator(".told")).to_contain_text("That is not what is wrong.")
    expect(leader.locator("#hunt-board .wrong")).to_contain_text("first answer wrong, after 3 readings")
    expect(leader.locator(".hunt-fault")).to_be_visible()
    expect(student.locator("#hunt-reasoning")).to_have_count(0)
    name_it(student, "r1-tenfold")
    expect(student.locator(".hunt-fault")).to_have_text("R1 ten times its value.")
    expect(leader.locator("#hunt-board .later")).to_contain_text("found it later in 3 readings")

    leader.get_by_role("button", name="End the hunt").click()
    expect(leader.locator("#hunt-board caption")).to_contain_text("the hunt has ended")
    expect(leader.locator("#hunt-board .later")).to_contain_text("RL open.")


def test_a_press_on_the_drawing_puts_the_leads_there(student: Page):
    student.locator("#flag-A").click()
    student.locator("#flag-K").click()
    expect(student.get_by_label("Red lead")).to_have_value("A")
    expect(student.get_by_label("Black lead")).to_have_value("K")
    expect(student.locator(".flag.on-red")).to_have_attribute("id", "flag-A")
    student.locator("#leads").get_by_role("button", name="Read").click()
    expect(student.locator(".hunt-display")).to_contain_text("A to K")
    expect(student.locator(".flag.on-black")).to_have_attribute("id", "flag-K")


def test_what_is_refused_is_told_in_place(student: Page):
    student.evaluate("() => { document.querySelector('#leads [name=sw]').value = 'ajar'; }")
    student.locator("#leads").get_by_role("button", name="Read").click()
    expect(student.locator("#hunt-refused")).to_have_text(
        "The stage has no such point or switch position. Go back and choose from the lists."
    )
    expect(student.locator("#leads")).to_be_visible()


def test_no_page_of_a_hunt_is_wider_than_the_window(leader: Page, student: Page):
    take(student, "A", "K")
    name_it(student, "r1-tenfold")
    expect(student.locator("#hunt-reasoning")).to_be_visible()
    widths = "() => [document.documentElement.scrollWidth, window.innerWidth]"
    for page in (student, leader):
        wide, window = page.evaluate(widths)
        assert wide <= window
    leader.set_viewport_size({"width": 390, "height": 844})
    leader.locator("summary").click()
    wide, window = leader.evaluate(widths)
    assert wide <= window


def test_a_hunt_is_played_without_script(browser: Browser, server: str):
    context = browser.new_context(base_url=server, java_script_enabled=False)
    page = context.new_page()
    page.goto("/hunt/new")
    page.locator("#fault").select_option("rl-open")
    page.get_by_role("button", name="Hide it").click()
    own = page.url
    page.locator("#link-students").click()
    page.locator("#nickname").fill("Bea")
    page.get_by_role("button", name="Join").click()
    page.locator("#toggle").click()
    take(page, "VCC", "OUT")
    name_it(page, "rl-open")
    expect(page.locator(".told.good")).to_contain_text("Found with your first answer, after 1 reading.")
    page.goto(own)
    expect(page.locator("#hunt-board .found")).to_contain_text("found it in 1 reading")
    context.close()
