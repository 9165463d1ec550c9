"""Scenarios that are kept, over pages: keeping, looking, changing, conflicts, copies, files, deleting."""

import json
import re

import pytest

from engine import KEYS, scenario_from_query
from tests.asking import Asking
from tests.markup import tree_of
from webapp.app import create_app
from webapp.hunting.rates import Allowance, Rates
from webapp.keeping import documents
from webapp.present.kept import differences
from webapp.settings import Settings
from webapp.store import Document, DocumentRevision

STAGE = "vs=36V&r1=6k8"
WIDE = Allowance(1e9, 1e9)


@pytest.fixture(scope="module")
def app(module_database):
    app = create_app(Settings(database=module_database))
    app.state.hunt_rates = Rates(keeping=WIDE, keeping_all=WIDE, saving=WIDE)
    yield app
    app.state.store.close()


@pytest.fixture(scope="module")
def browser(app):
    return Asking(app, base_url="http://testserver", follow_redirects=False)


@pytest.fixture
def own(browser):
    """The path that lets one change a scenario that was kept just now."""
    return kept(browser)


def kept(browser, title="A panel of 36 V", notes="R1 runs **warm**.", scenario=STAGE):
    answer = browser.post("/keep", data={"title": title, "notes": notes, "scenario": scenario})
    assert answer.status_code == 303
    return answer.headers["Location"]


def view_of(own):
    return own.partition("/edit/")[0]


def page_of(browser, path, status=200):
    answer = browser.get(path)
    assert answer.status_code == status
    return tree_of(answer.text)


def save(browser, own, base, **texts):
    texts = {"title": "Title", "notes": "", "scenario": STAGE, "base": base, **texts}
    return browser.post(own, data=texts)


def file_of(browser, own):
    return browser.get(f"{view_of(own)}.json").json()


def form_of(soup):
    """Return what the form to save sends as it stands."""
    form = soup.select_one("form.keep-form")
    sent = {field["name"]: field.get("value", "") for field in form.select("input[name]")}
    return sent | {form.textarea["name"]: form.textarea.text.removeprefix("\n")}


def test_the_explorer_leads_to_the_form_with_its_scenario(browser):
    link = page_of(browser, f"/stage?{STAGE}").select_one("#verdict #keep")["href"]
    form = form_of(page_of(browser, link))
    assert form == {"title": "", "notes": "", "scenario": STAGE}


def test_what_is_kept_shows_title_notes_and_the_very_explorer(browser, own):
    page, stage = (page_of(browser, path) for path in (view_of(own), f"/stage?{STAGE}"))
    assert page.h1.text == "A panel of 36 V"
    assert page.select_one(".kept-notes strong").text == "warm"
    for part in ("#schematic", "#worked", "#tables"):
        assert page.select_one(part).text == stage.select_one(part).text
    names = [[field["name"] for field in soup.select("#controls [name]")] for soup in (page, stage)]
    assert names[0] == names[1]
    assert page.select_one("#controls")["action"].partition("?")[0] == view_of(own)


def test_what_is_tried_out_there_is_kept_nowhere_and_told(browser, own):
    path = view_of(own)
    soup = page_of(browser, f"{path}?vs=24V&r1=4k7&sw=open")
    told = {item["data-for"]: (item.b.text, item.small.text) for item in soup.select("#differs li")}
    assert told == {"vs": ("24 V", "kept 36 V"), "r1": ("4.7 kΩ", "kept 6.8 kΩ")}
    assert soup.select_one("#as-kept")["href"] == "?"
    assert (
        soup.select_one("#schematic").text
        == page_of(browser, "/stage?vs=24V&r1=4k7&sw=open").select_one("#schematic").text
    )
    assert not page_of(browser, path).select("#differs li")
    assert file_of(browser, own)["scenario"] == STAGE
    part = tree_of(browser.get(f"{path}/revisions/1/differs?vs=24V&r1=6k8").text)
    assert [item["data-for"] for item in part.select("#differs li")] == ["vs"]


def test_the_usual_stage_is_tried_out_as_any_other(browser, own):
    soup = page_of(browser, f"{view_of(own)}?in=contact-low")
    assert {item["data-for"] for item in soup.select("#differs li")} == {"vs", "r1"}
    tabs = [link["href"] for link in soup.select(".panel-tabs a")]
    assert tabs
    assert [href for href in tabs if not href.startswith(f"{view_of(own)}?in=contact-low&panel=")] == []


def test_links_to_other_states_stay_on_the_page(browser, own):
    soup = page_of(browser, view_of(own))
    links = [link["href"] for link in soup.select("#bands a, #schematic a, .verdicts a, .panel-tabs a")]
    assert len(links) > 5
    assert [href for href in links if not href.startswith(f"{view_of(own)}?")] == []


def test_a_form_without_script_leads_to_a_short_address_on_the_page(browser, own):
    answer = browser.get(f"{view_of(own)}?in=contact-low&vs=30+V&r1=6k8&was=vs%3D36V")
    assert (answer.status_code, answer.headers["Location"]) == (303, f"{view_of(own)}?vs=30V&r1=6k8")
    answer = browser.get(f"{view_of(own)}?in=contact-low&vs=36+V&r1=6.8k&was=vs%3D30V")
    assert answer.headers["Location"] == view_of(own)


def test_what_cannot_be_tried_out_leaves_the_kept_picture(browser, own):
    soup = page_of(browser, f"{view_of(own)}?vs=much&r1=6k8", 422)
    assert "much" in soup.select_one("#error-vs").text
    assert soup.select_one("#schematic").text == page_of(browser, view_of(own)).select_one("#schematic").text


def test_the_view_link_never_tells_the_key(browser, own):
    key = own.rpartition("/")[2]
    path = view_of(own)
    save(browser, own, 1)
    for address in (path, f"{path}?vs=24V", f"{path}.json", f"{path}/revisions/1", f"{path}/revisions/1/differs"):
        answer = browser.get(address)
        assert answer.status_code == 200
        assert key not in answer.text + str(answer.headers)
    assert key in browser.get(own).text


def test_saving_makes_a_revision_and_earlier_ones_can_be_looked_at(browser, own):
    assert save(browser, own, 1, title="Now 24 V", scenario="vs=24V").headers["Location"] == own
    soup = page_of(browser, view_of(own))
    assert soup.h1.text == "Now 24 V"
    rows = soup.select(".kept-revisions li")
    assert [row["value"] for row in rows] == ["2", "1"]
    assert all(re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", row.time["datetime"]) for row in rows)
    earlier = page_of(browser, rows[1].a["href"])
    assert (earlier.h1.text, "earlier" in earlier.select_one(".kept-old").text) == ("A panel of 36 V", True)
    assert earlier.find(id="flag-VS").text.split()[1:3] == ["36.0", "V"]


def test_an_earlier_revision_is_brought_back_as_a_new_one(browser, own):
    save(browser, own, 1, title="Now 24 V", scenario="vs=24V")
    form = page_of(browser, own).select_one(".kept-revisions form")
    answer = browser.post(form["action"], data={field["name"]: field["value"] for field in form.select("input")})
    assert answer.status_code == 303
    found = file_of(browser, own)
    assert (found["revision"], found["title"], found["scenario"]) == (3, "A panel of 36 V", STAGE)
    assert browser.post(form["action"], data={"number": "7", "base": "3"}).status_code == 404
    assert browser.post(form["action"], data={"number": "1", "base": "2"}).status_code == 409
    assert file_of(browser, own)["revision"] == 3


def test_who_saves_late_sees_both_and_loses_nothing(browser, own):
    save(browser, own, 1, title="Of the other", notes="theirs", scenario="vs=24V")
    answer = save(browser, own, 1, title="Of mine", notes="long\n\ntyped", scenario="vs=48V&r1=12k")
    assert answer.status_code == 409
    soup = tree_of(answer.text)
    assert (soup.select_one(".kept-both h3").text, soup.select_one(".kept-source").text) == ("Of the other", "theirs")
    assert [[cell.text for cell in row.select("th, td")] for row in soup.select("tbody tr")] == [
        ["Supply voltage", "24 V", "48 V"],
        ["Series resistor", "auto", "12 kΩ"],
    ]
    assert file_of(browser, own)["title"] == "Of the other"
    sent = form_of(soup)
    assert sent == {"title": "Of mine", "notes": "long\n\ntyped", "scenario": "vs=48V&r1=12k", "base": "2"}
    copied = browser.post(own, data=sent | {"how": "copy"}).headers["Location"]
    assert view_of(copied) != view_of(own)
    assert (file_of(browser, copied)["title"], file_of(browser, own)["title"]) == ("Of mine", "Of the other")
    assert browser.post(own, data=sent).status_code == 303
    assert (file_of(browser, own)["title"], file_of(browser, own)["revision"]) == ("Of mine", 3)
    assert browser.post(own, data=sent).status_code == 409


def test_a_copy_begins_with_the_texts_of_its_source_and_the_values_that_are_shown(browser, own):
    link = page_of(browser, f"{view_of(own)}?vs=24V&r1=6k8").select_one("#keep-copy")["href"]
    form = form_of(page_of(browser, link))
    assert form == {"title": "A panel of 36 V", "notes": "R1 runs **warm**.", "scenario": "vs=24V&r1=6k8"}
    copy = browser.post("/keep", data=form).headers["Location"]
    assert {view_of(copy), copy.rpartition("/")[2]}.isdisjoint({view_of(own), own.rpartition("/")[2]})
    assert file_of(browser, own)["revision"] == 1


def test_deleting_asks_first_and_is_for_good(browser, own, app):
    question = page_of(browser, f"{own}/delete")
    assert file_of(browser, own)["revision"] == 1
    answer = browser.post(question.form["action"])
    assert answer.status_code == 200
    assert tree_of(answer.text).main["data-forget"] == view_of(own)
    for path in (own, view_of(own), f"{view_of(own)}.json", f"{view_of(own)}/revisions/1", f"{own}/delete"):
        assert browser.get(path).status_code == 404
    with app.state.store.reading() as session:
        assert session.get(Document, view_of(own).rpartition("/")[2]) is None


def test_unknown_deleted_and_wrong_key_are_answered_alike(browser, own):
    gone = kept(browser)
    browser.post(f"{gone}/delete")
    wrong = f"{view_of(own)}/edit/wrong"
    told = {}
    for path in (gone, wrong, f"/s/nothing/edit/{own.rpartition('/')[2]}", f"/s/{'x' * 300}/edit/%F0%9F"):
        answers = [browser.get(path), browser.get(f"{path}/delete"), browser.post(f"{path}/delete")]
        answers += [save(browser, path, 1), save(browser, path, 1, title=""), save(browser, path, 1, how="copy")]
        answers += [browser.post(f"{path}/back", data={"number": "1", "base": "1"})]
        for act, answer in enumerate(answers):
            told.setdefault(act, set()).add((answer.status_code, answer.text))
    assert [[status for status, _ in same] for same in told.values()] == [[404]] * 7
    assert file_of(browser, own)["revision"] == 1


def test_what_was_typed_for_something_deleted_meanwhile_can_be_kept_anew(browser, own):
    browser.post(f"{own}/delete")
    answer = save(browser, own, 1, title="Mine", notes="long\n\ntyped", scenario="vs=30V")
    assert answer.status_code == 404
    form = form_of(tree_of(answer.text))
    assert form == {"title": "Mine", "notes": "long\n\ntyped", "scenario": "vs=30V"}
    assert browser.post("/keep", data=form).status_code == 303


@pytest.mark.parametrize(
    ("field", "text", "shown"),
    [
        ("title", "", "wanted"),
        ("title", "t" * 121, "longer"),
        ("notes", "n" * 5001, "longer"),
        ("notes", "a\x00b", "cannot be shown"),
        ("scenario", "vs=much", "vs: "),
        ("scenario", "nothing=1", "no such field"),
        ("scenario", "r1=1k&" * 3000, "longer"),
    ],
)
def test_what_is_wrong_is_told_and_what_was_typed_stays(browser, own, field, text, shown):
    sent = {"title": "Mine", "notes": "typed", "scenario": "vs=30V", "base": "1"} | {field: text}
    for path in ("/keep", own):
        answer = browser.post(path, data=sent)
        assert answer.status_code == 422
        soup = tree_of(answer.text)
        assert shown in soup.find(id=f"error-{field}").text
        typed = form_of(soup)
        assert [typed[name] for name in ("title", "notes") if name != field] == [
            sent[name] for name in ("title", "notes") if name != field
        ]
        if field != "scenario":
            assert typed["scenario"] == "vs=30V"
    assert file_of(browser, own)["revision"] == 1


def test_a_scenario_that_is_refused_is_not_offered_for_keeping(browser):
    soup = page_of(browser, "/keep?vs=much", 422)
    assert "cannot be kept" in soup.main.text


def test_notes_and_titles_carry_no_script(browser):
    sly = "</textarea><script>alert(1)</script>"
    own = kept(browser, title=sly, notes=f"{sly}\n\n[x](javascript:alert(1))")
    for path in (own, view_of(own), f"{own}/delete"):
        soup = page_of(browser, path)
        assert sly in soup.main.h1.text
        assert not [script for script in soup.select("script") if not script.get("src")]
        assert not [link for link in soup.select("a[href]") if link["href"].startswith("javascript")]
    assert sly in tree_of(save(browser, own, 9, title=sly).text).select_one(".kept-both h3").text


def test_a_file_comes_back_as_it_went(browser, own):
    found = file_of(browser, own)
    assert (found["format"], found["version"]) == ("lightgap-scenario", 1)
    copy = browser.post("/keep/import", data={"text": json.dumps(found)}).headers["Location"]
    again = file_of(browser, copy)
    assert [again[name] for name in ("title", "notes", "scenario")] == ["A panel of 36 V", "R1 runs **warm**.", STAGE]
    assert again["id"] != found["id"]
    sent = browser.post("/keep/import", files={"file": ("x.json", json.dumps(found), "application/json")})
    assert sent.status_code == 303


FILE = {"format": "lightgap-scenario", "version": 1, "title": "t", "scenario": "vs=36V"}


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"format": "another"}, "format"),
        ({"version": 2}, "version"),
        ({"version": True}, "version"),
        ({"title": 3}, "title"),
        ({"title": ""}, "title"),
        ({"notes": None}, "notes"),
        ({"scenario": "vs=much"}, "scenario"),
        ({"scenario": ["vs"]}, "scenario"),
        ({"colour": "red"}, "colour"),
    ],
)
def test_a_file_is_refused_with_the_member_named(browser, change, field):
    answer = browser.post("/keep/import", data={"text": json.dumps(FILE | change)})
    assert answer.status_code == 422
    soup = tree_of(answer.text)
    assert [one.code.text for one in soup.select("#refused li")] == [field]
    assert json.loads(soup.textarea.text) == FILE | change


@pytest.mark.parametrize("name", FILE)
def test_a_file_that_lacks_a_member_is_refused_with_it_named(browser, name):
    answer = browser.post("/keep/import", data={"text": json.dumps({k: v for k, v in FILE.items() if k != name})})
    assert [one.code.text for one in tree_of(answer.text).select("#refused li")] == [name]


@pytest.mark.parametrize("text", ["", "{", "[]", "3", "[" * 10_000, '{"title": NaN}'])
def test_what_is_no_file_is_told(browser, text):
    answer = browser.post("/keep/import", data={"text": text})
    assert answer.status_code == 422
    assert tree_of(answer.text).select("#refused li")


@pytest.fixture
def narrow(app, own):
    """Rates that let one do each thing once."""
    wide, app.state.hunt_rates = app.state.hunt_rates, Rates(keeping=Allowance(1, 1e-6), saving=Allowance(1, 1e-6))
    yield
    app.state.hunt_rates = wide


@pytest.mark.usefixtures("narrow")
def test_who_keeps_or_saves_too_often_waits(browser, own):
    sent = {"title": "t", "scenario": "vs=36V"}
    answers = [browser.post("/keep", data=sent), save(browser, own, 1), browser.post("/keep", data=sent)]
    answers += [save(browser, own, 2), browser.post("/keep/import", data={"text": json.dumps(FILE)})]
    assert [answer.status_code for answer in answers] == [303, 303, 429, 429, 429]
    assert int(answers[2].headers["Retry-After"]) > 0


def test_no_room_is_told(browser, own, monkeypatch):
    monkeypatch.setattr(documents, "MOST_DOCUMENTS", 0)
    assert browser.post("/keep", data={"title": "t", "scenario": ""}).status_code == 503
    monkeypatch.setattr(documents, "MOST_BYTES", 0)
    assert save(browser, own, 1).status_code == 503


def test_a_stage_of_another_version_is_told_and_its_file_still_given(browser, own, app):
    with app.state.store.writing() as session:
        row = session.get(DocumentRevision, (view_of(own).rpartition("/")[2], 1))
        row.content = json.dumps({"notes": "", "scenario": "nothing=1"})
    for path in (own, view_of(own)):
        assert browser.get(path).status_code == 410
    assert file_of(browser, own)["scenario"] == "nothing=1"


def test_pages_with_a_key_are_kept_by_no_cache(browser, own):
    for answer in (browser.get(own), browser.get(f"{own}/delete"), save(browser, own, 5)):
        assert answer.headers["Cache-Control"] == "no-store"


def test_another_kind_of_side_is_told_with_what_both_have():
    told = differences(*(scenario_from_query(q) for q in ("vs=36V", "in=logic&r1=4k7&out=relay&sw=open&meter=pointer")))
    by_key = {one.key: (one.label, one.kept, one.here) for one in told}
    assert by_key["in"] == ("Input side", "Contact to return", "Logic output")
    assert by_key["rl"][0] == "Base resistor"
    assert {"sw", "meter"}.isdisjoint(by_key)
    assert set(by_key) < KEYS


def test_the_start_page_tells_how_to_find_what_was_kept(browser):
    soup = page_of(browser, "/")
    assert soup.select_one("#remembered ul")
    assert "/keep/import" in [link["href"] for link in soup.select(".kept-here a")]
