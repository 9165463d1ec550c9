"""Lessons over pages: what students are sent before and after a prediction, and how a lesson is made and changed."""

import json
import re
from html import unescape

import pytest

from engine import operating_point, scenario_from_query
from tests.asking import Asking
from tests.markup import tree_of
from webapp.app import create_app
from webapp.hunting.rates import Allowance, Rates
from webapp.lessons.shipped import shipped_lessons
from webapp.settings import Settings

SIX = "/lesson/from-switch-to-logic"
STAGE = "vs=24V&r1=4k7&vcc=5V&rl=1k&logic=hct"
AFTER = "vs=24V&r1=4k7&ctr=min&vcc=5V&rl=1k&logic=hct"
SECRETS = ("Remark on the answer", "Notes for the teacher")


@pytest.fixture(scope="module")
def app(module_database):
    """An application whose database is this module's alone, and that is never asked too often."""
    made = create_app(Settings(database=module_database))
    generous = {name: Allowance(10_000, 10_000.0) for name in ("keeping", "keeping_all", "saving")}
    made.state.hunt_rates = Rates(**generous)
    yield made
    made.state.store.close()


@pytest.fixture(scope="module")
def browser(app):
    return Asking(app, base_url="http://testserver", follow_redirects=False)


def soup_of(answer, status=200):
    """Return what a page says, without the explorer on it, which others test."""
    assert answer.status_code == status, answer.text[:400]
    return tree_of(answer.text.partition('<div id="bands"')[0])


def begun(browser, *steps, title="Dryer"):
    """Return the path by which a new lesson with these steps is changed."""
    data = {"format": "lightgap-lesson", "version": 1, "title": title, "intro": "Hello.", "steps": list(steps)}
    answer = browser.post("/lesson/import", files={"file": ("lesson.json", json.dumps(data))})
    assert answer.status_code == 303, answer.text[:800]
    return answer.headers["Location"]


def asking(what="VOUT", state="closed", after=AFTER, **more):
    """Return the data of a step that asks for something."""
    ask = {"what": what, "state": state, "question": "What then?", "answer": SECRETS[0]}
    step = {"title": "Weak", "text": "Some *words*.", "scenario": STAGE, "notes": SECRETS[1]}
    return step | more | {"ask": ask | ({"after": after} if after is not None else {})}


def shown_to_all(own):
    """Return the path of the same lesson for everybody."""
    return own.partition("/edit/")[0]


def moved(browser, own, action, base):
    return browser.post(own, data={"action": action, "base": str(base)})


def titles(browser, own):
    return [link.text for link in soup_of(browser.get(own)).select("#order li p:first-child a")]


def forms_of(value):
    """Return a pattern of every form that a number may be printed in, with any prefix and in three to nine figures."""
    written = set()
    for digits in range(3, 10):
        for power in (-6, -3, 0, 3, 6, 9):
            text = f"{value * 10.0**power:#.{digits}g}"
            plain = f"{float(text):f}".rstrip("0").rstrip(".")
            written |= {text.removesuffix("."), f"{value * 10.0**power:.{digits}g}", plain, f"{float(text):e}"}
    found = "|".join(re.escape(text) for text in written if len(re.sub(r"\D", "", text).lstrip("0")) >= 3)
    return re.compile(rf"(?<![\d.])(?:{found})(?!\d)")


def test_forms_of_a_number_are_recognised():
    pattern = forms_of(0.0042133)
    for text in ("4.21 mA", "4210 uA", "0.00421", "4.213e-03", ">4.2133<"):
        assert pattern.search(text)
    assert not pattern.search("4.31 mA, 14.21 mA, 4.217")


@pytest.mark.parametrize(
    ("what", "state", "after"),
    [("VOUT", "closed", AFTER), ("IC_available", "closed", AFTER), ("IF", "closed", None), ("VOUT", "closed", None)],
)
def test_nothing_that_is_sent_before_a_prediction_gives_the_answer_away(browser, what, state, after):
    path = shown_to_all(begun(browser, asking(what, state, after), {"title": "Next"}))
    found = operating_point(scenario_from_query(after or STAGE)).states[state].quantities[what]
    numbers = [forms_of(value) for value in (found.value, found.low, found.high)]
    addresses = ("", "/1", "/1?sw=closed", "/1?sw=open", "/1?guess=", "/1?guess=nonsense", "/1?guess=3+kg", "/2")
    for address in addresses:
        answer = browser.get(path + address)
        sent = answer.text + str(answer.headers)
        if address != "/2":
            assert "Some" in sent or address == ""
            assert [n.pattern[:60] for n in numbers if n.search(sent)] == []
            assert "ctr=min" not in sent
        assert not any(secret in sent for secret in SECRETS)
    page = soup_of(browser.get(f"{path}/1"))
    assert page.select("#controls, #answer, #link-explorer, #worked-out, script[src*=explorer]") == []
    assert [a["href"] for a in page.find_all("a") if "/stage?" in a.get("href", "")] == []
    # The same patterns find the answer once it is shown.
    assert numbers[0].search(browser.get(f"{path}/1?show=1").text)


def test_a_level_is_not_given_away(browser):
    path = shown_to_all(begun(browser, asking("level", after=None)))
    page = soup_of(browser.get(f"{path}/1"))
    assert [box["value"] for box in page.select("input[name=guess]")] == ["low", "undefined", "high"]
    texts = page.select_one("#lesson-stage").text
    assert re.findall("low|high|neither", texts, re.IGNORECASE) == []
    told = soup_of(browser.get(f"{path}/1?guess=low"))
    assert told.select_one("#worked-out b").text == "low"
    assert "That is the level." in told.select_one("#answer").text


def test_a_prediction_stands_beside_the_answer_and_in_the_address_alone(browser):
    own = begun(browser, asking())
    path = shown_to_all(own)
    answer = browser.get(f"{path}/1?guess=1V")
    page = soup_of(answer)
    assert '<input id="ctr" name="ctr" value="min"' in answer.text
    found = operating_point(scenario_from_query(AFTER)).states["closed"].quantities["VOUT"]
    assert page.select_one("#predicted").text == "1V"
    assert page.select_one("#worked-out b").text == f"{found.value:.2f} V"
    lines = [line.text for line in page.select(".verdict-lines li")]
    assert len(lines) == 3
    assert "18 % below" in lines[0]
    assert "within the worst-case range" in lines[1]
    assert "VOUT rises" in lines[2]
    assert SECRETS[0] in page.select_one("#said").text
    assert SECRETS[1] not in str(page)
    assert page.select_one("#link-explorer")["href"] == f"/stage?{AFTER}"
    assert "1V" not in browser.get(f"{path}/1").text.replace(path, "")
    assert "1V" not in browser.get(f"{own}/file").text.replace("24V", "")


def test_what_cannot_be_read_is_told_beside_the_field(browser):
    path = shown_to_all(begun(browser, asking()))
    page = soup_of(browser.get(f"{path}/1?guess=4,7+V"), 422)
    assert "comma" in page.select_one("#error-guess").text
    assert page.select_one("#guess")["value"] == "4,7 V"
    assert "error-guess" in page.select_one("#guess")["aria-describedby"]


def test_an_answer_in_words_is_the_teachers(browser):
    path = shown_to_all(begun(browser, asking("words", after=None)))
    before = browser.get(f"{path}/1")
    assert soup_of(before).select_one("textarea#guess") is not None
    assert SECRETS[0] not in before.text
    page = soup_of(browser.get(f"{path}/1", params={"guess": "It <b>leaks</b>"}))
    assert page.select_one("#predicted").text == "It <b>leaks</b>"
    assert page.select_one("#said").text.strip() == SECRETS[0]
    assert page.select_one("#worked-out") is None


def test_a_step_that_asks_nothing_has_its_explorer_at_once(browser):
    path = shown_to_all(begun(browser, {"title": "Look", "scenario": STAGE, "panel": "off"}))
    answer = browser.get(f"{path}/1")
    assert '<input id="rl" name="rl" value="1 kΩ"' in answer.text
    assert 'data-name="off"' in answer.text
    assert soup_of(answer).select_one("main")["data-own-address"] == ""


def test_notes_and_answers_come_with_the_key_alone(browser):
    own = begun(browser, asking())
    taught = soup_of(browser.get(own.replace("/edit/", "/teach/") + "/1"))
    assert SECRETS[1] in taught.select_one("#lesson-notes").text
    assert taught.select_one("#worked-out") is not None
    path, _, key = own.partition("/edit/")
    wrong = key[:-1] + ("A" if key[-1] != "A" else "B")
    for address in (
        f"/teach/{wrong}/1",
        f"/edit/{wrong}",
        f"/edit/{wrong}/1",
        f"/edit/{wrong}/file",
        f"/edit/{'x' * 500}",
    ):
        assert browser.get(path + address).status_code == 404
    for address in (f"/edit/{wrong}", f"/edit/{wrong}/1", f"/edit/{wrong}/copy", f"/edit/{wrong}/delete"):
        assert browser.post(path + address, data={"sure": "yes", "title": "Mine"}).status_code == 404
    assert "Weak" in browser.get(path).text
    assert key not in browser.get(path).text + browser.get(f"{path}/1").text


def test_steps_are_added_ordered_and_removed_without_script(browser):
    own = browser.post("/lesson/new", data={"title": "Mine", "intro": ""}).headers["Location"]
    for k, title in enumerate(("A", "B", "C"), 1):
        fields = {"base": str(k), "title": title, "stage": f"/stage?{STAGE}", "state": "closed"}
        assert browser.post(f"{own}/new", data=fields).status_code == 303
    assert titles(browser, own) == ["A", "B", "C"]
    assert moved(browser, own, "up-3", 4).status_code == 303
    assert moved(browser, own, "down-1", 5).status_code == 303
    assert titles(browser, own) == ["C", "A", "B"]
    assert moved(browser, own, "remove-2", 6).status_code == 303
    assert titles(browser, own) == ["C", "B"]
    for action in ("up-9", "remove-0", "fly", "restore-99", "up"):
        assert moved(browser, own, action, 7).status_code in (404, 422)
    assert titles(browser, own) == ["C", "B"]


def test_wrong_fields_of_a_step_are_told_beside_them_and_keep_what_was_typed(browser):
    own = begun(browser)
    fields = {"base": "1", "title": "A", "stage": "r1=4,7k", "what": "VK", "question": "", "after": "x=1"}
    page = soup_of(browser.post(f"{own}/new", data=fields), 422)
    assert {tag["id"] for tag in page.select(".error")} == {"error-stage", "error-question", "error-after"}
    assert page.select_one("#stage")["value"] == "r1=4,7k"
    assert page.select_one("#what option[selected]")["value"] == "VK"


def test_a_stage_of_the_explorer_goes_into_a_lesson(browser):
    (link,) = re.findall(r'href="([^"]+)">Put it into a lesson', browser.get(f"/stage?{STAGE}").text)
    page = soup_of(browser.get(unescape(link)))
    assert page.select_one("#own-lessons")["data-query"] == STAGE
    own = browser.post(page.select("form")[0]["action"], data={"title": "Mine"}).headers["Location"]
    assert soup_of(browser.get(f"{own}/1")).select_one("#stage")["value"] == f"/stage?{STAGE}"
    new = soup_of(browser.get(f"{own}/new?{STAGE}"))
    assert new.select_one("#stage")["value"] == f"/stage?{STAGE}"
    assert soup_of(browser.get(f"{own}/new?r1=4,7k"), 422).select_one("#error-stage") is not None
    assert "comma" in soup_of(browser.get("/lesson/new?add=1&r1=4,7k"), 422).select_one(".refused").text


def test_nobody_saves_over_what_they_have_not_seen(browser):
    own = begun(browser, asking())
    fields = {"base": "1", "title": "Theirs", "stage": f"/stage?{STAGE}", "state": "closed"}
    assert browser.post(f"{own}/1", data=fields).status_code == 303
    late = soup_of(browser.post(f"{own}/1", data=fields | {"title": "Mine"}), 409)
    assert "Revision 2 has been kept" in late.select_one(".refused").text
    assert late.select_one("#title")["value"] == "Mine"
    assert [entry.text for entry in late.select(".lesson-theirs dd")] == ["Theirs"]
    assert titles(browser, own) == ["Theirs"]
    base = late.select_one("input[name=base]")["value"]
    assert browser.post(f"{own}/1", data=fields | {"title": "Mine", "base": base}).status_code == 303
    assert titles(browser, own) == ["Mine"]
    front = soup_of(browser.post(own, data={"action": "save", "base": "1", "title": "Late", "intro": "x"}), 409)
    assert front.select_one("#title")["value"] == "Late"
    assert "Dryer" in front.select_one(".lesson-theirs").text
    assert moved(browser, own, "remove-1", 1).status_code == 409
    assert titles(browser, own) == ["Mine"]


def test_an_earlier_revision_is_looked_at_and_brought_back(browser):
    own = begun(browser, asking(), title="First")
    assert browser.post(own, data={"action": "save", "base": "1", "title": "Second", "intro": ""}).status_code == 303
    earlier = soup_of(browser.get(f"{own}?revision=1"))
    assert earlier.h1.text == "First"
    button = earlier.select_one("#earlier button")
    assert moved(browser, own, button["value"], 2).status_code == 303
    page = soup_of(browser.get(own))
    assert (page.h1.text, len(page.select("#revisions li"))) == ("First", 3)
    assert browser.get(f"{own}?revision=77").status_code == 404


def test_a_lesson_goes_through_its_file_and_is_copied_whole(browser):
    own = begun(browser, asking(), {"title": "Look", "scenario": STAGE})
    answer = browser.get(f"{own}/file")
    assert "attachment" in answer.headers["Content-Disposition"]
    again = browser.post("/lesson/import", data={"text": answer.text}).headers["Location"]
    assert browser.get(f"{again}/file").json() == answer.json()
    copy = browser.post(f"{own}/copy").headers["Location"]
    assert shown_to_all(copy) != shown_to_all(own)
    assert browser.get(f"{copy}/file").json() == answer.json() | {"title": "Copy of Dryer"}


def test_a_file_that_is_no_lesson_is_told_by_field(browser):
    for text, why in (
        ("{", "This is no JSON."),
        ("[" * 20_000, "This is no JSON."),
        ("{}", "format"),
        ("[]", "object"),
    ):
        page = soup_of(browser.post("/lesson/import", data={"text": text}), 422)
        assert why in page.select_one("#error-text").text
    data = {"format": "lightgap-lesson", "version": 1, "title": "x", "steps": [{"title": "y", "scenario": "r1=4,7k"}]}
    page = soup_of(browser.post("/lesson/import", data={"text": json.dumps(data)}), 422)
    assert "steps.1.scenario: r1:" in page.select_one("#error-text").text


def test_a_lesson_is_deleted_by_who_is_sure(browser):
    own = begun(browser, asking())
    assert browser.post(f"{own}/delete", data={"sure": ""}).status_code == 422
    assert browser.get(own).status_code == 200
    assert browser.post(f"{own}/delete", data={"sure": "yes"}).status_code == 303
    for path in (own, shown_to_all(own), f"{shown_to_all(own)}/1", f"{own}/file"):
        assert browser.get(path).status_code == 404


def test_a_lesson_that_comes_along_is_read_and_copied_but_not_changed(browser):
    page = soup_of(browser.get(SIX))
    assert len(page.select(".lesson-steps li")) == 6
    home = soup_of(browser.get("/"))
    assert home.find("a", href=SIX) is not None
    own = browser.post(f"{SIX}/copy").headers["Location"]
    assert len(titles(browser, own)) == 6
    assert browser.post(f"{shown_to_all(own)}/copy").status_code == 404
    assert browser.get(f"{SIX}/edit/x").status_code == 404


@pytest.mark.parametrize("step", range(1, 7))
def test_each_step_of_it_asks_and_answers(browser, step):
    lesson = shipped_lessons()["from-switch-to-logic"].steps[step - 1]
    asked = browser.get(f"{SIX}/{step}")
    assert lesson.notes.split(".")[0] not in asked.text
    assert lesson.ask.answer.split(".")[0] not in asked.text
    told = browser.get(f"{SIX}/{step}?show=1").text
    assert 'id="worked-out"' in told
    assert 'id="controls"' in told


@pytest.mark.parametrize("path", ["/0", "/7", "/-1", "/1e1", "/٣", "/new", "/" + "9" * 400])
def test_other_steps_are_not_there(browser, path):
    assert browser.get(SIX + path).status_code == 404


def test_written_texts_carry_no_script(browser):
    evil = "<script>alert(1)</script> <img src=x onerror=alert(1)> [x](javascript:alert(1)) **ok**"
    step = asking("words", after=None, text=evil, notes=evil, title='"><script>x</script>')
    step["ask"]["answer"] = evil
    own = begun(browser, step, title="<script>y</script>")
    path = shown_to_all(own)
    for address in (path, f"{path}/1", f"{path}/1?show=1", own, f"{own}/1", own.replace("/edit/", "/teach/") + "/1"):
        page = soup_of(browser.get(address))
        assert all(script.get("src", "").startswith("/static/") for script in page.find_all("script"))
        assert page.select("img, [onerror]") == []
        assert [a["href"] for a in page.select("a[href]") if a["href"].startswith("javascript")] == []


def test_pages_of_lessons_are_kept_by_no_cache(browser):
    own = begun(browser, asking())
    path = shown_to_all(own)
    for address in (path, f"{path}/1", own, f"{own}/1", f"{own}/file", own.replace("/edit/", "/teach/") + "/1"):
        assert browser.get(address).headers["Cache-Control"] == "no-store"


def test_too_much_and_too_often_is_refused(app, browser):
    own = begun(browser)
    fields = {"base": "1", "title": "A", "stage": "/stage"}
    for name in ("text", "notes"):
        page = soup_of(browser.post(f"{own}/new", data=fields | {name: "x" * 4001}), 422)
        assert "longer than 4000" in page.select_one(f"#error-{name}").text
    assert browser.post(f"{own}/new", data=fields | {"text": "x" * 70_000}).status_code == 413
    big = [{"title": f"S{k}", "text": "x" * 3000} for k in range(21)]
    data = {"format": "lightgap-lesson", "version": 1, "title": "big", "steps": big}
    answer = browser.post("/lesson/import", files={"file": ("x", json.dumps(data))})
    assert answer.status_code == 422
    assert "60000 bytes" in answer.text
    usual, app.state.hunt_rates = app.state.hunt_rates, Rates(saving=Allowance(1, 0.01))
    try:
        assert moved(browser, own, "fly", 1).status_code == 422
        refused = moved(browser, own, "fly", 1)
        assert (refused.status_code, int(refused.headers["Retry-After"]) > 1) == (429, True)
    finally:
        app.state.hunt_rates = usual
