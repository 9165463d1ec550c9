"""A class in browsers of their own: it follows, one tries something and comes back, the server is killed, it ends."""

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, BrowserContext, expect

from engine import query_from, scenario_from_query
from tests.browser.explorer import LOOKS, Explorer
from tests.killing import Mortal, mortal

pytestmark = pytest.mark.allow_hosts(["127.0.0.1"])

SOON = 15_000  # ms; how soon it is as a rule, the benchmark tells


@pytest.fixture(scope="module")
def machine(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Mortal]:
    """A server that can be killed."""
    with mortal(tmp_path_factory.mktemp("class") / "kept.sqlite3") as server:
        yield server


@pytest.fixture
def contexts(browser: Browser, machine: Mortal) -> Iterator[list[BrowserContext]]:
    """Browsers of four people."""
    base = f"http://127.0.0.1:{machine.port}"
    made = [browser.new_context(base_url=base) for _ in range(4)]
    yield made
    for context in made:
        context.close()


class Person(Explorer):
    """Somebody before a page with an explorer."""

    def __init__(self, context: BrowserContext) -> None:
        self.page = context.new_page()
        self.faults: list[str] = []
        self.page.on("pageerror", lambda error: self.faults.append(str(error)))

    def goes(self, address: str) -> "Person":
        self.page.goto(address)
        self.page.wait_for_selector("html.script", state="attached")
        return self

    @property
    def query(self) -> str:
        return self.page.locator("#followers").get_attribute("data-query")

    def settled(self) -> str:
        """Wait until what is shown is what the controls hold, and return its query string."""
        for _ in range(LOOKS):
            meant = self.meant().partition("?")[2]
            if meant == self.query:
                return meant
            self.page.wait_for_timeout(50)
        raise AssertionError(f"{self.query} is shown, not {meant}")

    def sees(self, query: str) -> None:
        expect(self.page.locator("#followers")).to_have_attribute("data-query", query, timeout=SOON)

    def is_told(self, *whens: str) -> None:
        """Expect these sentences in the banner, and no others."""
        seen = self.page.locator("#class [data-when]:not([hidden])")
        expect(seen).to_have_count(len(whens), timeout=SOON)
        for number, when in enumerate(whens):
            expect(seen.nth(number)).to_have_attribute("data-when", when, timeout=SOON)


def lead(person: Person, query: str) -> Person:
    """Make a class from the explorer."""
    person.goes(f"/stage?{query}")
    person.page.get_by_role("link", name="Lead a class").click()
    person.page.get_by_role("button", name="Lead a class from this stage").click()
    person.page.wait_for_url(re.compile("/lead/"))  # loaded, so that it leads
    return person


def test_a_class_follows_over_a_restart_of_the_server(machine: Mortal, contexts):
    leader, ann, bea, cem = (Person(context) for context in contexts)
    lead(leader, "vs=24V&r1=3k3")
    link = leader.page.locator("#class-link").get_attribute("href")
    ann.goes(link)
    bea.goes(link)
    cem.page.goto("/follow")
    cem.page.get_by_label("Code of the class").fill(leader.page.locator(".class-code b").text_content().lower())
    cem.page.get_by_role("button", name="Follow").click()
    cem.page.wait_for_selector("html.script", state="attached")
    class_of_three = (ann, bea, cem)
    for one in class_of_three:
        one.is_told("following")
        one.sees("vs=24V&r1=3k3")
    expect(leader.page.locator("#class-followers")).to_have_text("3 follow you", timeout=SOON)

    # A drag is followed while it goes on, and its end is seen by all: picture, field and slider.
    leader.hold("vs", 0.9)
    ann.page.wait_for_function("() => !document.querySelector('#followers').dataset.query.startsWith('vs=24V')")
    leader.release()
    moved = leader.settled()
    for one in class_of_three:
        one.sees(moved)
        assert one.field("vs").input_value() == leader.field("vs").input_value()
        assert one.slider("vs").input_value() == leader.slider("vs").input_value()
        assert one.page.url == link

    # One leaves off: what the class is shown leaves their stage alone, also after a reload, until they come back.
    ann.type("rl", "2k2")
    ann.is_told("own")
    own = ann.settled()
    assert own == f"{moved}&rl=2k2"
    leader.field("in").select_option("logic")
    bea.page.wait_for_selector("[id='iport']", state="attached", timeout=SOON)
    kind = leader.settled()
    bea.sees(kind)
    ann.sees(own)
    expect(ann.page.locator("#class [data-led]")).to_have_attribute("href", f"/stage?{kind}", timeout=SOON)
    expect(ann.page).to_have_url(f"{link}?{own}", timeout=SOON)
    ann.page.reload()
    ann.is_told("own")
    ann.sees(own)
    ann.page.get_by_role("link", name="Back to the class").click()
    ann.is_told("following")
    ann.sees(kind)
    assert ann.page.url == link

    # The server is killed; the leader goes on, and whoever follows is told that there is no connection.
    machine.fail()
    for one in class_of_three:
        one.is_told("following", "lost")
    machine.begin()
    leader.type("vs", "12V")
    moved = leader.settled()
    for one in class_of_three:
        one.sees(moved)
        expect(one.field("vs")).to_have_value("12 V")
    for one in class_of_three:
        one.is_told("following")
    leader.is_told("shown")
    expect(leader.page.locator("#class-followers")).to_have_text("3 follow you", timeout=SOON)

    # What is shown while the server is down is shown once it is up again.
    machine.fail()
    leader.page.evaluate("""() => {
      document.getElementById("followers").dataset.query = "in=logic&vs=36V";
    }""")
    leader.is_told("behind")
    machine.begin()
    bea.sees(query_from(scenario_from_query("in=logic&vs=36V")))
    leader.is_told("shown")

    leader.page.get_by_role("button", name="End the class").click()
    expect(leader.page.locator("#class")).to_contain_text("The class has ended.", timeout=SOON)
    for one in class_of_three:
        one.is_told("ended")
        assert not one.faults
    assert not leader.faults


def projects(person: Person) -> None:
    """Expect somebody to be before the projector, which has found out whether it leads."""
    expect(person.page).to_have_url(re.compile(r"/follow/[\w-]+/project(\?|$)"))
    expect(person.page.locator("#class-followers")).not_to_be_empty(timeout=SOON)


def test_a_class_is_led_from_the_projector_and_on_from_the_leading_page(contexts):
    leader, ann = (Person(context) for context in contexts[:2])
    lead(leader, "vs=24V&r1=3k3")
    own = leader.page.url
    key = own.partition("/lead/")[2].partition("?")[0]
    assert len(key) == 24
    ann.goes(leader.page.locator("#class-link").get_attribute("href"))
    ann.sees("vs=24V&r1=3k3")

    # What was typed last goes along, answered yet or not.
    leader.type("rl", "2k2")
    leader.slider("vs").press("p")
    projects(leader)
    ann.sees("vs=24V&r1=3k3&rl=2k2")
    expect(leader.page.locator(".class-code b")).to_have_text(re.compile(r"^[0-9A-Z]{4}(-[0-9A-Z]{4}){2}$"))
    expect(leader.page.locator("#class-followers")).to_have_text(re.compile("^1 follows"), timeout=SOON)

    # The link as a code, large over the stage; Escape puts it away and stays there.
    leader.page.keyboard.press("q")
    assert leader.page.locator("#code-sheet .code").bounding_box()["width"] > 400
    leader.page.keyboard.press("Escape")
    expect(leader.page.locator("#code-sheet")).to_be_hidden()
    projects(leader)

    # A slider that the keyboard moves, and an address that is loaded again; nothing that is projected has the key.
    for _ in range(2):
        leader.page.keyboard.press("1")
        leader.page.keyboard.press("ArrowRight")
        moved = leader.settled()
        ann.sees(moved)
        expect(leader.page).to_have_url(re.compile(re.escape(moved) + "$"))
        assert key not in leader.page.url
        assert key not in leader.page.content()
        leader.page.reload()
        projects(leader)
    assert moved.startswith("vs=25V")

    # Another kind of side leaves the code on the wall, and is what the leading page goes on with.
    leader.page.keyboard.press("Space")
    ann.sees(f"{moved}&sw=open")
    with leader.page.expect_response(re.compile(r"/follow/[\w-]+/project\?")):
        leader.page.evaluate("() => document.querySelector('#content').dispatchEvent(new Event('reshape'))")
    leader.page.wait_for_timeout(200)
    expect(leader.page.locator("#class-followers")).to_have_text(re.compile("^1 follows"), timeout=SOON)
    leader.page.locator("body").press("Escape")
    expect(leader.page).to_have_url(re.compile(f"/lead/{re.escape(key)}\\?{re.escape(moved)}&sw=open$"))
    leader.page.wait_for_selector("html.script", state="attached")
    assert leader.query == f"{moved}&sw=open"
    leader.type("vs", "12V")
    ann.sees("vs=12V&r1=3k3&rl=2k2&sw=open")
    leader.page.go_back()  # to the projector, which has not led since
    projects(leader)
    ann.sees(leader.settled())
    assert not leader.faults + ann.faults


def test_only_a_projector_in_the_browser_of_the_leading_page_leads(contexts):
    leader = lead(Person(contexts[0]), "vs=24V")
    address = leader.page.locator("#class-link").get_attribute("href") + "/project"
    beside, ann = Person(contexts[0]).goes(address), Person(contexts[1]).goes(address)
    projects(beside)
    ann.is_told("alone")
    ann.page.keyboard.press("1")
    ann.page.keyboard.press("ArrowRight")
    assert ann.settled() == "vs=24.5V"
    beside.page.keyboard.press("1")
    beside.page.keyboard.press("ArrowLeft")
    beside.settled()
    bea = Person(contexts[2]).goes(address.removesuffix("/project"))
    bea.sees("vs=23.5V")
    leader.page.get_by_role("button", name="End the class").click()
    beside.is_told("ended")


def test_a_projector_in_a_window_of_its_own_keeps_in_step_with_the_leading_page(contexts):
    leader = lead(Person(contexts[0]), "vs=24V&r1=3k3")
    link = leader.page.locator("#class-link").get_attribute("href")
    wall, ann = Person(contexts[0]).goes(f"{link}/project"), Person(contexts[1]).goes(link)
    projects(wall)
    leader.page.bring_to_front()
    leader.hold("vs", 0.9)
    leader.release()
    moved = leader.settled()
    for one in (wall, ann):
        one.sees(moved)
    assert wall.field("vs").input_value() == leader.field("vs").input_value()
    expect(wall.page).to_have_url(re.compile(re.escape(moved) + "$"), timeout=SOON)

    # Now the other way, also with another kind of side on the leading page; nobody goes back to what was before.
    wall.page.bring_to_front()
    wall.page.keyboard.press("1")
    wall.page.keyboard.press("Shift+ArrowLeft")
    wall.page.keyboard.press("Space")
    moved = wall.settled()
    for one in (leader, ann):
        one.sees(moved)
    leader.page.bring_to_front()
    leader.field("in").select_option("logic")
    kind = leader.settled()
    assert kind.startswith("in=logic")
    for one in (wall, ann):
        one.sees(kind)
    leader.page.wait_for_timeout(1000)
    assert {one.query for one in (leader, wall, ann)} == {kind}
    assert not leader.faults + wall.faults + ann.faults


def test_without_script_a_class_is_looked_at_by_a_link(browser: Browser, machine: Mortal, contexts):
    leader = lead(Person(contexts[0]), "vs=24V")
    context = browser.new_context(base_url=f"http://127.0.0.1:{machine.port}", java_script_enabled=False)
    page = context.new_page()
    page.goto(leader.page.locator("#class-link").get_attribute("href"))
    expect(page.locator("#class [data-when]:visible")).to_contain_text("You follow class")
    leader.type("vs", "12V")
    leader.sees("vs=12V")
    leader.page.wait_for_timeout(300)
    page.get_by_role("link", name="Show what the class is at now").click()
    expect(page.locator("#followers")).to_have_attribute("data-query", "vs=12V")
    page.locator("[id='rl']").fill("2k2")
    page.get_by_role("button", name="Work it out").click()
    expect(page.locator("#class [data-when]:visible")).to_contain_text("You are on your own.")
    page.get_by_role("link", name="Back to the class").click()
    expect(page.locator("#class [data-when]:visible")).to_contain_text("You follow class")
    context.close()
