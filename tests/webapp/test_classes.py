"""Classes over pages: making, showing, following, ending; what stays with who leads; bounds, rates, restarts."""

import math
import re

import pytest
from sqlalchemy import select
from starlette.testclient import TestClient

from engine import query_from, scenario_from_query
from tests.markup import tree_of
from webapp.classes import hub, room
from webapp.classes.codes import ALPHABET, LENGTH, in_address, new_code, read_code, read_out
from webapp.hunting.rates import Allowance, Rates
from webapp.present.qr import qr_of
from webapp.store import Attendance, ClassRow
from webapp.store import database as store_database

STAGE = "vs=36V"
USUAL = "in=contact-low"


@pytest.fixture
def app(opened):
    return opened()


@pytest.fixture
def person(portal):
    """A function that gives somebody's browser."""

    def one(app, host="10.0.0.1"):
        client = TestClient(app, base_url="http://testserver", client=(host, 1), follow_redirects=False)
        client.portal = portal
        return client

    return one


@pytest.fixture
def browser(app, person):
    return person(app)


def led(browser, query=STAGE):
    """Return the paths of a new class: for who follows, and for who leads."""
    answer = browser.post(f"/follow/new?{query}")
    assert answer.status_code == 303
    own = answer.headers["Location"]
    return own.partition("/lead/")[0], own


def show(browser, own, query, status=200):
    answer = browser.post(f"{own}/scenario", data={"scenario": query})
    assert answer.status_code == status
    return answer


def page_of(browser, path, status=200):
    answer = browser.get(path)
    assert answer.status_code == status
    return tree_of(answer.text)


def events(browser, path, after="", headers=None):
    """Return the events of a class that has ended: name and data of each, with its id."""
    answer = browser.get(f"{path}/events{after}", headers=headers)
    assert answer.headers["Content-Type"].startswith("text/event-stream")
    blocks = [dict(line.split(": ", 1) for line in block.splitlines()) for block in answer.text.split("\n\n") if block]
    return [(block["event"], block["id"], block["data"]) for block in blocks if "event" in block]


def kept(app, path):
    """Return what is kept of a class: number and scenario, and whether it has ended."""
    with app.state.store.reading() as session:
        shown = room.found(session, read_code(path.rpartition("/")[2]))
    return shown.number, shown.scenario, shown.ended


def told(soup):
    """Return the sentences of the banner that can be seen."""
    return [part["data-when"] for part in soup.select("#class [data-when]") if not part.has_attr("hidden")]


# ---------------------------------------------------------------- codes


def test_a_code_cannot_be_guessed_and_no_character_looks_like_another():
    assert LENGTH * math.log2(len(ALPHABET)) > 48
    assert not set(ALPHABET) & set("01ilouszbgq")
    codes = {new_code() for _ in range(200)}
    assert len(codes) == 200
    assert {c for code in codes for c in code} == set(ALPHABET)


def test_a_code_is_read_however_it_is_written():
    code = "52cd86hjkmpr"
    assert in_address(code) == "52cd-86hj-kmpr"
    for text in ("52cd-86hj-kmpr", "52CD 86HJ KMPR", " 52cd86hjkmpr ", "SZCD-BGHJ-KNPR", read_out(code)):
        assert read_code(text) == code


@pytest.mark.parametrize("text", ["", "52cd-86hj-kmp", "52cd-86hj-kmprr", "52cd-86hj-kmp0", "x" * 1000, "\0" * 12])
def test_what_is_no_code_is_not_taken_for_one(text):
    assert read_code(text) is None


# ---------------------------------------------------------------- leading


def test_the_explorer_leads_to_it_and_the_start_page_to_following(browser):
    link = page_of(browser, f"/stage?{STAGE}").find("a", string="Lead a class")
    assert link["href"] == f"/follow/new?{STAGE}"
    form = page_of(browser, link["href"]).select_one("main form")
    assert (form["method"], form["action"]) == ("post", link["href"])
    assert page_of(browser, "/").select_one("a[href='/follow']")


def test_who_leads_sees_code_link_and_explorer(browser):
    path, own = led(browser)
    soup = page_of(browser, own)
    code = path.rpartition("/")[2]
    assert soup.select_one(".class-code b").text == code.upper()
    assert soup.select_one("#class-link")["href"] == f"http://testserver{path}"
    assert soup.select_one(".code-modules")["d"] == qr_of(f"http://testserver{path}").path
    assert soup.select_one("#followers")["data-query"] == STAGE
    assert soup.select_one("#class-followers").text.split() == ["0", "follow", "you"]


def test_of_the_key_nothing_is_kept_and_nothing_is_sent_to_who_follows(app, browser):
    path, own = led(browser)
    key = own.rpartition("/")[2]
    assert len(key) == 24
    with app.state.store.reading() as session:
        row = session.scalar(select(ClassRow))
    assert key.encode() not in row.key
    assert len(row.key) == 32
    for address in (path, f"{path}?vs=12V", f"/follow?code={row.code}", f"{path}/project", f"{path}/project?vs=12V"):
        assert key not in browser.get(address).text


@pytest.mark.parametrize("key", ["x", "%00", "%F0%9F%98%80", "k" * 500, "{}x"])
def test_without_the_key_nobody_leads(app, browser, key):
    path, own = led(browser)
    address = f"{path}/lead/{key.format(own.rpartition('/')[2])}"
    answers = [browser.get(f"{address}{way}") for way in ("", "/followers")]
    answers += [browser.post(f"{address}{way}", data={"scenario": "vs=5V"}) for way in ("/scenario", "/end")]
    assert [answer.status_code for answer in answers] == [404] * 4
    assert kept(app, path) == (1, STAGE, False)


def test_the_projector_shows_the_stage_of_the_class_and_its_code(browser):
    path, own = led(browser)
    soup = page_of(browser, f"{path}/project?panel=off")
    assert soup.select_one(".class-code b").text == path.rpartition("/")[2].upper()
    assert soup.select_one(".class-code small").text == "testserver/follow"
    assert soup.select_one(".code-modules")["d"] == qr_of(f"http://testserver{path}").path
    assert soup.select_one("#followers")["data-query"] == STAGE
    assert soup.select_one("#panel-off")
    assert page_of(browser, own).select_one("#content")["data-projector"] == f"{path}/project"
    # What it asks for stays on it, as do the switch and its form.
    for name, attribute in (("mending", "hx-get"), ("reshape", "hx-get"), ("controls", "action")):
        assert soup.select_one(f"#{name}")[attribute] == f"{path}/project"
    assert soup.select_one("#toggle")["href"] == f"{path}/project?{STAGE}&sw=open"


def test_the_projector_of_a_class_has_a_stage_of_its_own_in_its_address(browser):
    path, _ = led(browser)
    soup = page_of(browser, f"{path}/project?vs=12V")
    assert soup.select_one("#followers")["data-query"] == "vs=12V"
    sent = browser.get(f"{path}/project?vs=48+V&was=&sliders=rl,vs,ta")
    assert sent.headers["Location"] == f"{path}/project?{USUAL}&sliders=rl%2Cvs%2Cta"
    refused = page_of(browser, f"{path}/project?vs=much", 422)
    assert refused.select_one("#followers")["data-query"] == STAGE
    assert refused.select_one("#error-vs").text
    loud = browser.get(f"{path.upper().replace('/FOLLOW', '/follow')}/project?vs=12V")
    assert loud.headers["Location"] == f"{path}/project?vs=12V"
    assert browser.get("/follow/2222-2222-2222/project").status_code == 404


def test_the_projector_of_a_class_that_has_ended_says_so(browser):
    path, own = led(browser)
    assert "js/led." in browser.get(f"{path}/project").text
    browser.post(f"{own}/end")
    soup = page_of(browser, f"{path}/project")
    assert told(soup) == ["ended"]
    assert "js/led." not in str(soup)
    assert not page_of(browser, own).select_one("#content").has_attr("data-projector")


def test_a_class_is_shown_what_changes_and_nothing_twice(app, browser):
    path, own = led(browser)
    numbers = [show(browser, own, q).json()["number"] for q in ("vs=24V", "vs=12V", "vs=12V", "vs=12000mV")]
    assert numbers == [2, 3, 3, 3]
    assert kept(app, path) == (3, "vs=12V", False)


@pytest.mark.parametrize("query", ["vs=x", "nothing=1", "vs=12V&vs=13V&in=none", "card=" + "x" * 9000])
def test_what_is_no_scenario_is_not_shown(app, browser, query):
    path, own = led(browser)
    show(browser, own, query, 422)
    assert kept(app, path) == (1, STAGE, False)


def test_a_scenario_that_is_too_long_or_no_form_is_refused(browser):
    _, own = led(browser)
    show(browser, own, "x" * 70_000, 413)
    assert browser.post(f"{own}/scenario", json={"scenario": STAGE}).status_code == 415


def test_a_stage_that_is_refused_gets_no_class(browser):
    for answer in (browser.get("/follow/new?vs=x"), browser.post("/follow/new?vs=x")):
        assert answer.status_code == 422
        assert "No class can be shown this stage" in answer.text


def test_who_leads_without_script_moves_the_stage_and_then_shows_it(browser):
    path, own = led(browser)
    moved = browser.get(f"{own}?was={STAGE.replace('=', '%3D')}&vs=24V&r1=3k3")
    assert moved.status_code == 303
    assert moved.headers["Location"] == f"{own}?{query_from(scenario_from_query('vs=24V&r1=3k3'))}"
    assert page_of(browser, path).select_one("#followers")["data-query"] == STAGE
    form = page_of(browser, moved.headers["Location"]).select_one("#class noscript")
    sent = {field["name"]: field["value"] for field in form.select("input")}
    assert browser.post(f"{own}/scenario", data=sent).headers["Location"] == moved.headers["Location"]
    assert page_of(browser, path).select_one("#followers")["data-query"] == sent["scenario"]


def test_the_usual_stage_is_written_out_on_the_pages_of_a_class(browser):
    path, own = led(browser)
    answer = browser.post(f"{own}/scenario", data={"scenario": "", "back": "yes"})
    assert answer.headers["Location"] == f"{own}?{USUAL}"
    assert events(ended(browser, own), path)[0] == ("scenario", "2", "?")


# ---------------------------------------------------------------- following


def ended(browser, own):
    assert browser.post(f"{own}/end").status_code == 303
    return browser


def test_who_follows_sees_the_stage_and_that_it_is_the_class(browser):
    path, own = led(browser)
    soup = page_of(browser, path)
    assert told(soup) == ["following"]
    assert soup.select_one("#content").has_attr("data-own-address")
    reload = soup.select_one("#class noscript a")
    show(browser, own, "vs=12V")
    again = page_of(browser, reload["href"])
    assert again.select_one("#followers")["data-query"] == "vs=12V"
    assert again.select_one("#class")["data-number"] == "2"


def test_who_tries_something_is_told_so_and_led_back(browser):
    path, _ = led(browser)
    moved = browser.get(f"{path}?was={STAGE.replace('=', '%3D')}&vs=24V&r1=3k3")
    assert moved.headers["Location"].startswith(f"{path}?")
    soup = page_of(browser, moved.headers["Location"])
    assert told(soup) == ["own"]
    assert soup.select_one("#followers")["data-query"] != STAGE
    assert soup.select_one("#class")["data-query"] == STAGE
    assert not soup.select_one("#content").has_attr("data-own-address")
    back = soup.select_one(".class-back:not([hidden]) a")
    assert told(page_of(browser, back["href"])) == ["following"]


def test_what_cannot_be_tried_is_told_and_the_stage_of_the_class_stays(browser):
    path, _ = led(browser)
    soup = page_of(browser, f"{path}?vs=x", 422)
    assert soup.select_one("#problems li")["data-for"] == "vs"
    assert told(soup) == ["own"]


def test_a_code_that_was_typed_leads_to_its_class(browser):
    path, _ = led(browser)
    code = path.rpartition("/")[2]
    for typed in (code, code.upper(), code.replace("-", " ")):
        assert browser.get("/follow", params={"code": typed}).headers["Location"] == path
    assert browser.get(f"/follow/{code.upper().replace('-', '')}?vs=5V").headers["Location"] == f"{path}?vs=5V"


@pytest.mark.parametrize("code", ["nowhere", "52cd-86hj-kmpr", "%00", "x" * 300, "%F0%9F%98%80", "52cd-86hj-kmp%00"])
def test_a_code_without_a_class_is_told(browser, code):
    for path in (f"/follow/{code}", f"/follow/{code}/events"):
        assert "There is no class with this code." in page_of(browser, path, 404).text
    soup = page_of(browser, f"/follow?code={code}", 422)
    assert "There is no class with this code." in soup.select_one("#code-error").text
    assert soup.select_one("#code")["aria-describedby"] == "code-error"


def test_the_events_of_a_class_are_its_last_scenario_and_its_end(browser):
    path, own = led(browser)
    for query in ("vs=24V", "vs=12V&r1=1k"):
        show(browser, own, query)
    ended(browser, own)
    every = [("scenario", "3", "?vs=12V&r1=1k"), ("ended", "3", "3")]
    assert events(browser, path) == every
    assert events(browser, path, "?after=2") == every
    assert events(browser, path, "?after=3") == every[1:]
    assert events(browser, path, headers={"Last-Event-ID": "3"}) == every[1:]
    for odd in ("?after=x", "?after=-1", f"?after={'9' * 500}", "?after=%D9%A3"):
        assert events(browser, path, odd) == every


def test_a_class_that_has_ended_says_so_and_is_shown_nothing_more(browser):
    path, own = led(browser)
    ended(browser, own)
    show(browser, own, "vs=5V", 409)
    for address in (path, f"{path}?vs=24V"):
        assert told(page_of(browser, address)) == ["ended"]
    soup = page_of(browser, own)
    assert "The class has ended." in soup.select_one("#class").text
    assert not soup.select("#class form")
    ended(browser, own)


# ---------------------------------------------------------------- bounds, rates, restarts


def test_classes_are_bounded_and_old_ones_let_go(app, browser, monkeypatch):
    path, _ = led(browser)
    monkeypatch.setattr(room, "MOST_CLASSES", 1)
    assert browser.post("/follow/new").status_code == 503
    with app.state.store.writing() as session:
        session.scalar(select(ClassRow)).moved -= room.KEPT_FOR + 60
    assert browser.get(path).status_code == 404
    led(browser)
    with app.state.store.reading() as session:
        assert len(session.scalars(select(ClassRow)).all()) == 1


def test_who_makes_classes_too_often_waits_and_others_do_not(app, person):
    app.state.hunt_rates = Rates(leading=Allowance(1, 1e-6))
    one, other = person(app), person(app, "10.0.0.2")
    assert [one.post("/follow/new").status_code for _ in range(2)] == [303, 429]
    assert other.post("/follow/new").status_code == 303


def test_who_shows_too_often_waits_and_nobody_without_the_key_uses_that_up(app, browser):
    app.state.hunt_rates = Rates(moving=Allowance(1, 1e-6))
    path, own = led(browser)
    show(browser, f"{path}/lead/wrong", "vs=5V", 404)
    show(browser, own, "vs=5V")
    assert int(show(browser, own, "vs=6V", 429).headers["Retry-After"]) > 0


def test_who_guesses_waits_and_a_right_code_costs_nothing(app, browser, person):
    app.state.hunt_rates = Rates(guessing=Allowance(2, 1e-6))
    path, own = led(browser)
    assert [browser.get(path).status_code for _ in range(4)] == [200] * 4
    assert [browser.get("/follow/52cd-86hj-kmpr").status_code for _ in range(3)] == [404, 404, 429]
    for address in (path, own, f"{path}/events", f"/follow?code={path.rpartition('/')[2]}"):
        assert browser.get(address).status_code == 429
    assert person(app, "10.0.0.2").get(path).status_code == 200


def test_a_full_class_takes_nobody_else(browser, monkeypatch):
    monkeypatch.setattr(hub, "MOST_IN_ALL", 0)
    path, _ = led(browser)
    answer = browser.get(f"{path}/events")
    assert answer.status_code == 503
    assert int(answer.headers["Retry-After"]) > 0
    assert told(page_of(browser, path)) == ["following"]


def test_a_class_survives_a_restart(opened, browser, person):
    path, own = led(browser)
    show(browser, own, "vs=12V")
    again = person(opened())
    assert page_of(again, path).select_one("#followers")["data-query"] == "vs=12V"
    assert show(again, own, "vs=5V").json() == {"number": 3}


def test_followers_of_all_processes_are_counted_and_one_that_is_silent_is_not(app, browser):
    path, own = led(browser)
    code = read_code(path.rpartition("/")[2])
    for process, count in (("a", 3), ("b", 4), ("b", 5), ("gone", 7)):
        with app.state.store.writing() as session:
            room.attend(session, process, {code: count, "nowhere": 1})
    with app.state.store.writing() as session:
        session.scalar(select(Attendance).where(Attendance.process == "gone")).at -= room.HEARD_FOR + 1
    assert page_of(browser, f"{own}/followers").select_one("#class-followers b").text == "8"
    with app.state.store.writing() as session:
        room.attend(session, "b", {code: 0})
    assert page_of(browser, f"{own}/followers").select_one("#class-followers b").text == "3"


def test_a_stage_of_another_version_is_told(app, browser):
    path, own = led(browser)
    with app.state.store.writing() as session:
        session.scalar(select(ClassRow)).scenario = "nothing=1"
    for address in (path, own):
        assert browser.get(address).status_code == 410


def test_pages_of_a_class_are_kept_by_no_cache(browser):
    path, own = led(browser)
    for address in (path, own, f"{own}/followers"):
        assert browser.get(address).headers["Cache-Control"] == "no-store"
    assert re.fullmatch(r"/follow/[\w-]{14}", path)


def test_a_database_that_does_not_answer_is_told(app, browser, monkeypatch):
    monkeypatch.setattr(store_database, "WAIT", 0.02)
    app.state.store.close()
    own = led(browser)[1]
    with app.state.store.writing() as session:
        session.execute(select(ClassRow))
        answer = show(browser, own, "vs=5V", 503)
    assert "cannot be reached at present" in answer.text
    assert int(answer.headers["Retry-After"]) > 0
    show(browser, own, "vs=5V")
