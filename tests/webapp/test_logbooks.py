"""Logbooks over pages: beginning one, who may write, what is refused, the measured ratio, the file."""

import csv
import datetime
import io
import re

import pytest
from sqlalchemy import func, select

from tests.asking import Asking
from tests.markup import tree_of
from webapp.hunting.rates import Allowance, Rates
from webapp.logbooks import book
from webapp.present.cells import harmless
from webapp.store import Logbook, LogEntry

STAGE = "vs=24V&r1=10k&rl=1k"
TODAY = datetime.date(2024, 6, 1)


@pytest.fixture
def app(opened):
    return opened()


@pytest.fixture
def browser(app):
    return Asking(app, base_url="http://testserver", follow_redirects=False)


def begun(browser, query=STAGE, **fields):
    """Return the path that lets one write into a new logbook."""
    answer = browser.post(f"/log/new?{query}", data={"title": "Pump 3", **fields})
    assert answer.status_code == 303
    return answer.headers["Location"]


def entered(browser, own, status=303, **fields):
    """Write an entry, and return the page that answers where it is refused."""
    names = {name.replace("_", ".") if name.startswith("r_") else name: text for name, text in fields.items()}
    answer = browser.post(own, data=names)
    assert answer.status_code == status
    return tree_of(answer.text)


def page_of(browser, path):
    answer = browser.get(path)
    assert answer.status_code == 200
    return tree_of(answer.text)


def test_readings_typed_into_the_sheet_go_along_to_the_form(browser):
    sheet = page_of(browser, f"/bench?{STAGE}&r.r1.closed=20V")
    (button,) = sheet.select(".keep button")
    assert (button["form"], button["formaction"]) == (sheet.select_one("form.points")["id"], "/log/new")
    form = page_of(browser, f"/log/new?{STAGE}&r.r1.closed=20V")
    assert form.find("input", {"name": "r.r1.closed"})["value"] == "20V"
    assert form.find("input", {"name": "date"})["value"] == datetime.datetime.now(datetime.UTC).date().isoformat()


def test_a_logbook_shows_its_entries_the_newest_first_with_window_ratio_and_limits(browser):
    own = begun(browser, date="2021-05-01", **{"r.r1.closed": "20V", "r.rl.closed": "2V"})
    entered(
        browser, own, date="2024-05-01", r_r1_closed="20V", r_rl_closed="900mV", note="after the heat", nickname="Ann"
    )
    entered(browser, own, date="2022-05-01", r_led_closed="1.1V")
    soup = page_of(browser, own.partition("?")[0])
    rows = soup.select("#entries tbody tr")
    assert [re.match(r"[\d-]+", row.th.text).group() for row in rows] == ["2024-05-01", "2022-05-01", "2021-05-01"]
    cells = [row.select("td") for row in rows]
    assert [tds[1].b.text if tds[1].b else "–" for tds in cells] == ["45.0 %", "–", "100 %"]
    assert "by the meter" in cells[0][1].text
    assert "below the card's least" in cells[0][2].text
    assert "within the card's limits" in cells[2][2].text
    assert "takes the voltages across R1 and RL" in cells[1][2].text
    assert "outside" in cells[0][0].select("li")[1].text
    assert cells[0][3].text == "after the heat"


def test_the_trend_is_drawn_from_two_days_on_with_the_limits_and_its_table(browser):
    own = begun(browser, date="2021-05-01", **{"r.r1.closed": "20V", "r.rl.closed": "2V"})
    assert not page_of(browser, own).select("#trend")
    entered(browser, own, date="2021-05-01", r_r1_closed="20V", r_rl_closed="1.9V")
    assert not page_of(browser, own).select("#trend")
    entered(browser, own, date="2021-05-31", r_r1_closed="20V", r_rl_closed="1.8V")
    trend = page_of(browser, own).select_one("#trend")
    assert {line["class"][0] for line in trend.select("svg .names text")} >= {"main", "beside"}
    rows = [[cell.text for cell in row.select("th, td")] for row in trend.select("tbody tr")]
    assert [row[:2] for row in rows] == [["2021-05-01", "100 %"], ["2021-05-01", "95.0 %"], ["2021-05-31", "90.0 %"]]


def test_only_the_key_lets_one_write(app, browser):
    own = begun(browser)
    path = own.partition("?")[0]
    assert page_of(browser, own).select("form.log-form")
    for address in (path, f"{path}?key=", f"{path}?key=wrong", f"{path}?key=%C3%A9"):
        soup = page_of(browser, address)
        assert not soup.select("form.log-form")
        assert own.partition("key=")[2] not in str(soup)
        assert browser.post(address, data={"r.r1.closed": "20V"}).status_code == 403
    with app.state.store.reading() as session:
        assert session.scalar(select(func.count()).select_from(LogEntry)) == 0


def test_who_has_the_key_deletes_a_logbook_after_being_asked(app, browser):
    own = begun(browser, **{"r.r1.closed": "20V"})
    path = own.partition("?")[0]
    question = page_of(browser, page_of(browser, own).select_one("#delete")["href"])
    assert page_of(browser, own).select("#entries tbody tr")
    for address in (f"{path}/delete", f"{path}/delete?key=wrong"):
        assert browser.get(address).status_code == browser.post(address).status_code == 403
    assert browser.post(question.form["action"]).status_code == 200
    for answer in (browser.get(path), browser.get(own), browser.post(question.form["action"])):
        assert answer.status_code == 404
    with app.state.store.reading() as session:
        assert session.scalar(select(func.count()).select_from(LogEntry)) == 0


def test_notes_titles_and_names_are_text(browser):
    sly = "<script>alert(1)</script>"
    own = begun(browser, title=sly, note=sly, nickname="<b>x</b>", **{"r.r1.closed": "20V"})
    answer = browser.get(own)
    assert sly not in answer.text
    soup = tree_of(answer.text)
    assert (soup.h1.text, soup.select_one(".log-note").text) == (sly, sly)
    assert not [script for script in soup.select("script") if not script.get("src")]
    refused = browser.post(own, data={"note": sly, "date": f'">{sly}'})
    assert refused.status_code == 422
    assert sly not in refused.text


@pytest.mark.parametrize(
    ("field", "text"),
    [
        ("date", "1.5.2024"),
        ("date", "2024-02-30"),
        ("date", "9999-12-31"),
        ("date", "0001-01-01"),
        ("date", "2024-W01-1"),
        ("note", "n" * 501),
        ("note", "a\x00b"),
        ("nickname", "n" * 25),
        ("r.r1.closed", "twelve"),
        ("r.r1.closed", "nan"),
        ("r.r1.closed", "3000V"),
    ],
)
def test_what_is_wrong_is_told_beside_its_field_and_nothing_is_kept(app, browser, field, text):
    own = begun(browser)
    answer = browser.post(own, data={"r.led.closed": "1.1V", field: text})
    assert answer.status_code == 422
    soup = tree_of(answer.text)
    box = soup.find("input", {"name": field})
    assert soup.find(id=box["aria-describedby"]).text.strip()
    assert soup.find("input", {"name": "r.led.closed"})["value"] == "1.1V"
    with app.state.store.reading() as session:
        assert session.scalar(select(func.count()).select_from(LogEntry)) == 0


@pytest.mark.parametrize(
    ("data", "told"),
    [
        ({"note": "nothing read"}, "At least one reading"),
        ({"r.nothing.closed": "1V"}, "no such reading"),
        ({"r.r1.ajar": "1V"}, "no such reading"),
        ({"r.": "1V"}, "no such reading"),
    ],
)
def test_what_belongs_to_no_field_is_told_above_the_form(browser, data, told):
    answer = browser.post(begun(browser), data=data)
    assert answer.status_code == 422
    assert told in tree_of(answer.text).select_one("form [role=alert]").text


@pytest.mark.parametrize("title", ["", "  ", "t" * 81])
def test_a_logbook_needs_a_name_that_fits(browser, title):
    answer = browser.post(f"/log/new?{STAGE}", data={"title": title})
    assert answer.status_code == 422
    assert tree_of(answer.text).find(id="error-title").text


def test_a_stage_that_is_refused_gets_no_logbook(browser):
    for answer in (browser.get("/log/new?vs=x"), browser.post("/log/new?vs=x", data={"title": "t"})):
        assert answer.status_code == 422
        assert "No logbook can be kept" in answer.text


def test_an_address_without_a_logbook_is_told(browser):
    for path in ("/log/nothing", "/log/nothing.csv", f"/log/{'x' * 100}"):
        answer = browser.get(path)
        assert answer.status_code == 404
        assert "no logbook" in answer.text
    assert browser.post("/log/nothing?key=x", data={"a": "b"}).status_code == 404


def test_the_file_holds_the_entries_the_oldest_first_and_no_formula(browser):
    own = begun(browser, date="2024-05-01", note="=1+1", **{"r.r1.closed": "20V", "r.rl.closed": "1500mV"})
    entered(browser, own, date="2023-05-01", r_led_open="0V", note='two, "quoted"', nickname="@x")
    answer = browser.get(f"{own.partition('?')[0]}.csv")
    assert answer.headers["Content-Type"].startswith("text/csv")
    old, new = csv.DictReader(io.StringIO(answer.text))
    assert (old["date"], old["led.open [V]"], old["CTR [1]"]) == ("2023-05-01", "0", "")
    assert (old["note"], old["nickname"]) == ('two, "quoted"', "'@x")
    assert (new["note"], new["saturated"]) == ("'=1+1", "no")
    assert float(new["r1.closed [V]"]) == 20.0
    assert float(new["CTR [1]"]) == pytest.approx(0.75)
    assert float(new["IF [A]"]) == pytest.approx(2e-3)


@pytest.mark.parametrize("text", ["=1", "+1", "-1", "@x", "\t=1", "  =1", "\uff1d1"])
def test_a_cell_that_a_spreadsheet_would_work_out_is_made_text(text):
    assert harmless(text) == f"'{text}"
    assert harmless("1=2") == "1=2"


def test_entries_and_logbooks_are_bounded(browser, monkeypatch):
    monkeypatch.setattr(book, "MOST_ENTRIES", 1)
    monkeypatch.setattr(book, "MOST_LOGBOOKS", 1)
    own = begun(browser, **{"r.r1.closed": "20V"})
    soup = entered(browser, own, 422, r_r1_closed="20V")
    assert "no more fit in" in soup.select_one("form [role=alert]").text
    assert browser.post(f"/log/new?{STAGE}", data={"title": "t"}).status_code == 503


def test_who_writes_too_often_waits(app, browser):
    app.state.hunt_rates = Rates(logging=Allowance(1, 1e-6), entering=Allowance(1, 1e-6))
    own = begun(browser)
    entered(browser, own, r_r1_closed="20V")
    for path in (own, f"/log/new?{STAGE}"):
        answer = browser.post(path, data={"title": "t", "r.r1.closed": "20V"})
        assert answer.status_code == 429
        assert int(answer.headers["Retry-After"]) > 0


def test_a_logbook_outlives_a_restart(opened, browser):
    own = begun(browser, note="before", **{"r.r1.closed": "20V"})
    again = Asking(opened(), base_url="http://testserver")
    assert page_of(again, own).select_one(".log-note").text == "before"


def test_entries_go_with_their_logbook(app, browser):
    begun(browser, **{"r.r1.closed": "20V"})
    with app.state.store.writing() as session:
        session.delete(session.scalar(select(Logbook)))
    with app.state.store.reading() as session:
        assert session.scalar(select(func.count()).select_from(LogEntry)) == 0


@pytest.mark.parametrize("query", ["in=ac", "out=dc-load&if=10mA", "out=ac-load&if=20mA", "out=relay", "rb=1k"])
def test_any_stage_can_be_kept_with_or_without_a_ratio(browser, query):
    own = begun(browser, query, **{"r.r1.closed": "20V"})
    assert len(page_of(browser, own).select("#entries tbody tr")) == 1


def test_a_stage_of_another_version_is_told(app, browser):
    own = begun(browser)
    with app.state.store.writing() as session:
        session.scalar(select(Logbook)).scenario = "nothing=1"
    assert browser.get(own).status_code == 410
    assert browser.post(own, data={"r.r1.closed": "1V"}).status_code == 410


def test_a_day_is_taken_up_to_tomorrow_of_the_server():
    tomorrow = (TODAY + datetime.timedelta(days=1)).isoformat()
    assert book.written({"date": tomorrow}, {"r1.closed": 1.0}, TODAY).day == tomorrow
    with pytest.raises(book.LogError):
        book.written({"date": "2024-06-03"}, {"r1.closed": 1.0}, TODAY)
