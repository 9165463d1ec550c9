"""Fault hunts over pages: making, joining, reading, answering, watching; what stays hidden; bounds, rates, restarts."""

import re
import threading

import pytest
from markupsafe import escape
from sqlalchemy import select

from engine import all_readings, scenario_from_query
from tests.asking import Asking
from tests.markup import tree_of
from webapp.app import create_app
from webapp.hunting import game
from webapp.hunting.rates import Allowance, Rates
from webapp.hunting.readings import Bench, Place, bench_of
from webapp.present.qr import qr_of
from webapp.settings import Settings
from webapp.store import Hunt, Hunter

HIDDEN = "r1-tenfold"
WRONG = "rl-open"
BASE = "http://testserver"


@pytest.fixture
def app(opened):
    return opened()


def person(app):
    """A browser of its own."""
    return Asking(app, base_url=BASE, follow_redirects=False)


def made(app, fault=HIDDEN, query=""):
    """Return the paths of both links of a new hunt."""
    answer = person(app).post(f"/hunt/new?{query}", data={"fault": fault})
    assert answer.status_code == 303
    own = answer.headers["Location"]
    return own.partition("/watch/")[0], own


def joined(app, path, nickname="Ann"):
    """Return somebody who takes part."""
    one = person(app)
    assert one.post(f"{path}/join", data={"nickname": nickname}).headers["Location"] == path
    return one


def read(one, path, red, black, sw="closed"):
    """Take a reading, and return what the meter shows and the fragment."""
    answer = one.post(f"{path}/meter", data={"sw": sw, "red": red, "black": black})
    assert answer.status_code == 200
    soup = tree_of(answer.text)
    return soup.output.text, soup


def answered(one, path, fault):
    """Name a fault, and return the page that follows."""
    assert one.post(f"{path}/answer", data={"fault": fault}).status_code == 303
    return tree_of(one.get(path).text)


# ---------------------------------------------------------------- for who leads


def test_the_form_offers_what_the_meter_can_show_and_a_draw(app):
    soup = tree_of(person(app).get("/hunt/new?out=indicator").text)
    offered = [option["value"] for option in soup.select("#fault option")]

    assert offered == ["", *(fault.id for fault in Bench(scenario_from_query("out=indicator")).hideable)]
    assert "good" not in offered
    assert "barrier-bridged" not in offered


@pytest.mark.parametrize("page", ["/stage?vs=36V", "/bench?vs=36V"])
def test_explorer_and_bench_sheet_lead_to_it(app, page):
    soup = tree_of(person(app).get(page).text)
    assert soup.find("a", string="Hide a fault for a class")["href"] == "/hunt/new?vs=36V"


def test_a_fault_drawn_at_random_is_one_of_the_list(app):
    made(app, fault="")
    with app.state.store.reading() as session:
        hidden = session.scalar(select(Hunt)).fault
    assert hidden in {fault.id for fault in Bench(scenario_from_query("")).hideable}


def test_an_alternating_reading_says_so(app):
    path = made(app, "r1-open", "in=ac&form=pair&coupler=two-way&vac=24V")[0]
    ann = joined(app, path)
    assert read(ann, path, "VS", "return")[0].endswith(" V ac")
    assert read(ann, path, "return", "VS")[0] == read(ann, path, "VS", "return")[0]
    assert read(ann, path, "VCC", "common")[0].endswith(" V")


@pytest.mark.parametrize("query", ["r1=4,7k", "nothing=1", "vs=0V&r1=1k&vcc=0V&rl=1k"])
def test_a_stage_that_cannot_be_hunted_on_is_refused_in_words(app, query):
    for answer in (person(app).get(f"/hunt/new?{query}"), person(app).post(f"/hunt/new?{query}", data={"fault": ""})):
        assert answer.status_code == 422
        assert "No fault can be hidden in this stage" in answer.text


@pytest.mark.parametrize("fault", ["good", "nothing", "barrier-bridged", "x" * 10_000])
def test_a_fault_that_is_none_is_refused_beside_the_form(app, fault):
    answer = person(app).post("/hunt/new", data={"fault": fault})
    assert answer.status_code == 422
    assert "This stage has no such fault." in answer.text


def test_both_links_are_long_and_never_the_same(app):
    links = [made(app) for _ in range(5)]
    ids, keys = zip(*((path.split("/")[2], own.split("/")[4]) for path, own in links), strict=True)

    assert len({*ids, *keys}) == 10
    assert all(re.fullmatch(r"[\w-]{16}", name) for name in ids)
    assert all(re.fullmatch(r"[\w-]{24}", name) for name in keys)


def test_who_leads_sees_links_fault_and_board(app):
    path, own = made(app)
    one = joined(app, path)
    read(one, path, "VS", "A")
    answered(one, path, HIDDEN)
    soup = tree_of(person(app).get(own).text)

    assert soup.select_one("#link-students")["href"] == BASE + path
    assert soup.select_one("#link-own")["href"] == BASE + own
    assert soup.select_one(".code-modules")["d"] == qr_of(BASE + path).path
    assert "R1 ten times its value." in soup.select_one(".hunt-fault").text
    assert [cell.text for cell in soup.select("#hunt-board tbody :is(th, td)")] == [
        "Ann",
        "1",
        "✓ found it in 1 reading",
    ]


@pytest.mark.parametrize("broken", ["/watch/{}x", "/watch/x", "/watch/{}x/board", "/watch/%F0%9F%98%80"])
def test_without_the_key_nobody_watches(app, broken):
    path, own = made(app)
    answer = person(app).get(path + broken.format(own.rpartition("/")[2]))

    assert answer.status_code == 404
    assert "R1" not in answer.text


def test_the_board_puts_who_found_it_with_fewest_readings_first_and_asks_for_itself_until_the_end(app):
    path, own = made(app)
    slow, quick, late, none = (joined(app, path, name) for name in ("Slow", "Quick", "Late", "None"))
    for one, count in ((slow, 3), (quick, 1), (late, 0), (none, 0)):
        for red in ("VS", "A", "K")[:count]:
            read(one, path, red, "return")
    answered(late, path, WRONG)
    for one in (late, slow, quick):
        answered(one, path, HIDDEN)
    board = person(app).get(f"{own}/board")
    soup = tree_of(board.text)

    assert [row.th.text for row in soup.select("tbody tr")] == ["Quick", "Slow", "Late", "None"]
    assert [row["class"] for row in soup.select("tbody tr")] == [["found"], ["found"], ["later"], ["looking"]]
    assert soup.section["hx-trigger"] == "every 2s"
    assert "RL open" not in board.text
    assert person(app).post(f"{own}/end").headers["Location"] == own
    ended = tree_of(person(app).get(f"{own}/board").text)
    assert not ended.section.has_attr("hx-trigger")
    assert "RL open." in ended.text


# ---------------------------------------------------------------- for who takes part


def test_a_name_is_asked_for_first_and_known_again_by_a_cookie(app):
    path, _ = made(app)
    one = person(app)
    assert tree_of(one.get(path).text).select_one("#nickname")
    cookie = one.post(f"{path}/join", data={"nickname": "Ann"}).headers["Set-Cookie"]

    assert "HttpOnly" in cookie
    assert "SameSite=lax" in cookie
    assert f"Path={path};" in cookie
    assert "You are <b>Ann</b>" in one.get(path).text


def test_the_cookie_is_not_what_is_kept(app):
    path, _ = made(app)
    one = joined(app, path)
    with app.state.store.reading() as session:
        assert session.scalar(select(Hunter)).token not in one.cookies.values()


def test_a_name_cannot_bring_markup(app):
    path, own = made(app)
    joined(app, path, "<b>x</b>")
    for page in (person(app).get(own).text, person(app).get(f"{own}/board").text):
        assert "<b>x</b>" not in page
        assert "&lt;b&gt;x&lt;/b&gt;" in page


@pytest.mark.parametrize("nickname", ["", "   ", "n" * 25, "a\u202eb", "\x00", "...", "é" * 30_000])
def test_a_name_that_is_none_is_refused_beside_its_field(app, nickname):
    path, _ = made(app)
    answer = person(app).post(f"{path}/join", data={"nickname": nickname})

    assert answer.status_code in (413, 422)
    assert answer.status_code == 413 or tree_of(answer.text).select_one("p.refused").text.strip()


@pytest.mark.parametrize("again", ["Ann Lee", "ANN  lee", " annlee ", "\uff21nn Lee"])
def test_a_name_is_taken_once_however_it_is_written(app, again):
    path, _ = made(app)
    joined(app, path, "Ann Lee")
    answer = person(app).post(f"{path}/join", data={"nickname": again})

    assert answer.status_code == 422
    assert "taken this name already" in answer.text
    other, _ = made(app)
    joined(app, other, again)


def test_one_name_that_many_want_at_once_goes_to_one(app):
    path, _ = made(app)
    codes = []

    def want():
        codes.append(person(app).post(f"{path}/join", data={"nickname": "Ann"}).status_code)

    threads = [threading.Thread(target=want) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(codes) == [303, 422, 422, 422, 422, 422]


def test_a_reading_is_that_of_the_faulty_stage_within_the_error_of_the_meter(app):
    path, _ = made(app)
    one = joined(app, path)
    table = all_readings(scenario_from_query(""))
    row = [fault.id for fault in table.faults].index(HIDDEN)
    for sw in ("closed", "open"):
        for red, black in table.pairs:
            shown, _ = read(one, path, red, black, sw)
            number, unit = shown.replace("−", "-").split()
            volts, true = float(number) * {"V": 1.0, "mV": 1e-3}[unit], table.of(sw, red, black)[row]
            assert abs(volts - true) <= (1.0 + 1e-9) * table.meter.error(true)


def test_a_reading_repeats_its_figure_turns_its_sign_and_counts_once(app):
    path, _ = made(app)
    one = joined(app, path)
    first, _ = read(one, path, "VS", "A")
    again, _ = read(one, path, "VS", "A")
    turned, soup = read(one, path, "A", "VS")

    assert first == again
    assert turned == f"−{first}"
    assert soup.caption.text == "1 reading taken"


def test_two_hunts_err_differently(app):
    shown = set()
    for _ in range(6):
        path, _ = made(app)
        shown.add(read(joined(app, path), path, "VS", "return")[0])
    assert len(shown) > 1


def test_across_the_barrier_nothing_is_read_and_the_reason_is_told(app):
    path, _ = made(app)
    shown, soup = read(joined(app, path), path, "VCC", "A")

    assert shown == "–"
    assert "opposite sides of the barrier" in soup.select_one(".hunt-display").text


def test_without_script_a_reading_leads_to_a_page_that_shows_it(app):
    path, _ = made(app)
    one = joined(app, path)
    shown, _ = read(one, path, "A", "K")
    answer = one.post(f"{path}/read", data={"sw": "closed", "red": "A", "black": "K"})
    assert answer.status_code == 303
    page = tree_of(one.get(answer.headers["Location"]).text)

    assert page.output.text == shown
    assert page.select_one("#lead-red option[selected]")["value"] == "A"


def test_a_link_alone_takes_no_reading(app):
    path, _ = made(app)
    one = joined(app, path)
    page = tree_of(one.get(f"{path}?sw=open&red=A&black=K").text)

    assert page.output.text == "· · ·"
    assert "0 readings taken" in page.select_one("#hunt-meter").text
    assert page.select_one(".hunt-states [aria-current]").text == "contact open"


@pytest.mark.parametrize(
    "query", ["sw=ajar", "red=nowhere", "red=%00", "sw=open&red=" + "x" * 3000, "red=VS&black=<b>"]
)
def test_an_address_that_names_no_point_shows_the_page_as_at_first(app, query):
    path, _ = made(app)
    answer = joined(app, path).get(f"{path}?{query}")

    assert answer.status_code == 200
    assert "<b>&" not in answer.text


@pytest.mark.parametrize(
    "texts",
    [
        {},
        {"sw": "ajar", "red": "A", "black": "K"},
        {"sw": "open", "red": "A"},
        {"sw": "open", "red": "U1", "black": "A"},
    ],
)
def test_a_reading_that_is_none_is_refused(app, texts):
    path, _ = made(app)
    one = joined(app, path)
    for way in ("read", "meter"):
        assert one.post(f"{path}/{way}", data=texts).status_code == (422 if texts else 415)


def test_the_first_answer_counts_a_wrong_one_is_told_and_one_may_go_on(app):
    path, own = made(app)
    one = joined(app, path)
    page = answered(one, path, WRONG)
    assert "That is not what is wrong." in page.select_one(".told.bad").text
    read(one, path, "A", "K")
    page = answered(one, path, HIDDEN)
    assert "Your first answer, which counts, was wrong." in page.select_one(".told.good").text
    assert "first answer wrong, found it later in 1 reading" in person(app).get(f"{own}/board").text
    assert one.post(f"{path}/answer", data={"fault": HIDDEN}).status_code == 409


def test_who_has_found_it_is_shown_which_readings_part_it(app):
    path, _ = made(app)
    one = joined(app, path)
    read(one, path, "VS", "return")
    read(one, path, "OUT", "common")
    page = answered(one, path, HIDDEN)
    tables = page.select("#hunt-reasoning table")
    own = [row.select("td")[-1].text for row in tables[0].select("tbody tr")]

    assert "R1 ten times its value." in page.select_one(".hunt-fault").text
    assert re.fullmatch(r"Leaves \d+ others\.", own[0])
    assert own[1] == "No other fault fits."
    assert len(tables[1].select("tbody tr")) == 6


def test_a_fault_that_no_reading_tells_from_the_hidden_one_counts_as_found():
    bench = bench_of("coupler=with-base", b"secret")
    for fault in bench.hideable:
        alike = bench.alike(fault.id)
        assert fault.id in alike
        assert "good" not in alike


def test_only_so_many_answers_are_taken(app):
    app.state.hunt_rates = Rates(answering=Allowance(1000, 1.0))
    path, _ = made(app)
    one = joined(app, path)
    codes = [one.post(f"{path}/answer", data={"fault": WRONG}).status_code for _ in range(game.MOST_TRIES + 1)]

    assert codes == [303] * game.MOST_TRIES + [409]
    assert "No more answers are taken." in one.get(path).text


@pytest.mark.parametrize("fault", ["", "good", "nothing", "x" * 5000])
def test_an_answer_that_is_none_is_refused_and_not_counted(app, fault):
    path, _ = made(app)
    one = joined(app, path)
    assert one.post(f"{path}/answer", data={"fault": fault}).status_code == 422
    assert "Your first answer is the one that counts." in one.get(path).text


def test_once_it_has_ended_everybody_sees_the_fault_and_nobody_plays_on(app):
    path, own = made(app)
    one = joined(app, path)
    person(app).post(f"{own}/end")
    for somebody in (one, person(app)):
        assert "R1 ten times its value." in somebody.get(path).text
    assert one.post(f"{path}/meter", data={"sw": "open", "red": "A", "black": "K"}).status_code == 409
    assert one.post(f"{path}/answer", data={"fault": HIDDEN}).status_code == 409
    assert person(app).post(f"{path}/join", data={"nickname": "Late"}).status_code == 422


def test_nobody_plays_without_a_name_or_with_the_cookie_of_another_hunt(app):
    path, _ = made(app)
    other, _ = made(app)
    one = joined(app, other)
    token = one.cookies["hunter"]
    for somebody in (person(app), Asking(app, base_url=BASE, cookies={"hunter": token}, follow_redirects=False)):
        assert somebody.post(f"{path}/meter", data={"sw": "open", "red": "A", "black": "K"}).status_code == 403
        assert somebody.post(f"{path}/answer", data={"fault": HIDDEN}).status_code == 403


@pytest.mark.parametrize("way", ["", "/join", "/read", "/meter", "/answer"])
@pytest.mark.parametrize("hunt", ["nowhere", "x" * 200, "%00", "new"])
def test_a_hunt_that_is_not_there_is_told(app, way, hunt):
    if hunt == "new" and not way:
        return
    one = person(app)
    answer = one.post(f"/hunt/{hunt}{way}", data={"fault": "x"}) if way else one.get(f"/hunt/{hunt}")

    assert answer.status_code == 404
    assert "There is no hunt at this address." in answer.text


# ---------------------------------------------------------------- what stays hidden


def played(app, hidden, number):
    """Return all that somebody is sent who plays a hunt with a known id and secret, figures of the meter left out."""
    with app.state.store.writing() as session:
        hunt = game.make(session, "", hidden)
        hunt.id, hunt.key, hunt.secret = "thehunt", f"key{number}", b"secret"
    path = "/hunt/thehunt"
    one = person(app)
    answers = [one.get(path), one.post(f"{path}/join", data={"nickname": "Ann"}), one.get(path)]
    places = [("closed", "A", "K"), ("open", "VS", "return"), ("open", "VCC", "A"), ("ajar", "A", "K")]
    for sw, red, black in places:
        for way in ("meter", "read"):
            answers.append(one.post(f"{path}/{way}", data={"sw": sw, "red": red, "black": black}))
    answers.append(one.get(f"{path}?sw=open&red=VS&black=return"))
    answers += [one.post(f"{path}/answer", data={"fault": fault}) for fault in ("good", WRONG)]
    answers += [one.get(path), one.get(f"{path}/watch/none"), one.get(f"{path}/nothing"), one.put(path)]
    token = one.cookies["hunter"]
    return [
        (answer.status_code, masked(str(sorted(answer.headers.items())), token), masked(answer.text, token))
        for answer in answers
    ]


def masked(text, token):
    """Leave out the token, the figures of the meter and lengths that follow from them."""
    text = text.replace(token, "token")
    text = re.sub(r"\('content-length', '\d+'\)", "", text)
    text = re.sub(r"<output>[^<]*</output>", "", text)
    return re.sub(r'<td class="figure">[^<]*</td>(?=<td class="figure">)', "", text)


def test_nothing_but_readings_differs_between_hunts_with_different_faults(tmp_path):
    hideable = [fault.id for fault in Bench(scenario_from_query("")).hideable]
    some = {HIDDEN, *hideable[::4]}
    sent = {
        hidden: played(create_app(Settings(database=str(tmp_path / f"{number}.sqlite3"))), hidden, number)
        for number, hidden in enumerate(sorted(some))
        if WRONG not in bench_of("", b"secret").alike(hidden)
    }

    assert len(sent) >= 7
    first = sent[HIDDEN]
    assert [status for status, _, _ in first] == [
        200,
        303,
        200,
        *[200, 303] * 3,
        422,
        422,
        200,
        422,
        303,
        200,
        404,
        404,
        405,
    ]
    for hidden, answers in sent.items():
        assert answers == first, hidden


def test_every_fault_is_in_a_students_page_as_one_choice_and_nowhere_else(app):
    path, own = made(app)
    key = own.rpartition("/")[2]
    one = joined(app, path)
    answers = [one.get(path), one.post(f"{path}/meter", data={"sw": "open", "red": "A", "black": "K"})]
    choices = {option["value"]: option.text for option in tree_of(answers[0].text).select("#answer option")}
    for answer, times in zip(answers, (1, 0), strict=True):
        everything = str(answer.headers) + answer.text
        assert key not in everything
        for fault, text in choices.items():
            if fault:
                assert len(re.findall(rf'"{re.escape(fault)}"', everything)) == times
                assert everything.count(f">{escape(text)}<") == times


def test_a_reading_solves_nothing_whatever_is_hidden(app):
    path, _ = made(app)
    one = joined(app, path)
    one.get(path)
    before = all_readings.cache_info().misses
    for black in ("K", "VS", "return"):
        read(one, path, "A", black)
    assert all_readings.cache_info().misses == before


# ---------------------------------------------------------------- bounds, rates, restarts


def test_an_allowance_runs_out_and_fills_up_again():
    now = [0.0]
    allowance = Allowance(2, 0.5, clock=lambda: now[0])

    assert [allowance.wait_for("a") for _ in range(3)] == [0.0, 0.0, pytest.approx(2.0)]
    assert allowance.wait_for("b") == 0.0
    now[0] = 2.0
    assert [allowance.wait_for("a"), allowance.wait_for("a")] == [0.0, pytest.approx(2.0)]


def test_an_allowance_remembers_only_so_many():
    allowance = Allowance(1, 0.001)
    for number in range(10_001):
        allowance.wait_for(str(number))
    assert allowance.wait_for("10000") > 0.0
    assert allowance.wait_for("0") == 0.0


def test_who_asks_too_often_is_told_to_wait(opened):
    app = opened()
    app.state.hunt_rates = Rates(*(Allowance(1, 0.01) for _ in range(4)))
    path, _ = made(app)
    one = joined(app, path)
    reads = {"sw": "open", "red": "A", "black": "K"}
    asks = [(f"{path}/meter", reads), (f"{path}/answer", {"fault": WRONG})]
    for address, texts in asks:
        assert one.post(address, data=texts).status_code in (200, 303)
    for address, texts in [*asks, (f"{path}/join", {"nickname": "Bea"}), ("/hunt/new", {"fault": HIDDEN})]:
        answer = (
            person(app).post(address, data=texts)
            if "join" in address or "new" in address
            else one.post(address, data=texts)
        )
        assert answer.status_code == 429
        assert int(answer.headers["Retry-After"]) > 1


def test_no_more_hunts_readings_or_people_than_there_is_room_for(app, monkeypatch):
    path, _ = made(app)
    one = joined(app, path)
    read(one, path, "A", "K")
    monkeypatch.setattr(game, "MOST_HUNTS", 1)
    monkeypatch.setattr(game, "MOST_HUNTERS", 1)
    monkeypatch.setattr(game, "MOST_TAKEN", 1)

    assert person(app).post("/hunt/new", data={"fault": HIDDEN}).status_code == 503
    assert "no more fit in" in person(app).post(f"{path}/join", data={"nickname": "Bea"}).text
    assert one.post(f"{path}/meter", data={"sw": "open", "red": "A", "black": "K"}).status_code == 409
    assert read(one, path, "A", "K")[0]


def test_a_hunt_is_let_go_when_it_is_old(app):
    path, own = made(app)
    joined(app, path)
    with app.state.store.writing() as session:
        session.scalar(select(Hunt)).made -= game.KEPT_FOR + 1.0
    assert person(app).get(path).status_code == 404
    assert person(app).get(own).status_code == 404
    made(app)
    with app.state.store.reading() as session:
        assert len(session.scalars(select(Hunt)).all()) == 1
        assert session.scalar(select(Hunter)) is None


def test_a_hunt_whose_stage_or_fault_is_of_another_version_is_told(app):
    for name, text in (("scenario", "nothing=1"), ("fault", "gone")):
        path, own = made(app)
        with app.state.store.writing() as session:
            setattr(session.get(Hunt, path.split("/")[2]), name, text)
        for address in (path, own):
            answer = person(app).get(address)
            assert answer.status_code == 410
            assert "cannot be read by this version" in answer.text


def test_a_hunt_survives_a_restart(app, opened):
    path, own = made(app, query="vs=36V")
    one = joined(app, path)
    shown, _ = read(one, path, "VS", "A")
    app.state.store.close()
    again = opened()
    same = Asking(again, base_url=BASE, cookies=one.cookies, follow_redirects=False)
    page = tree_of(same.get(f"{path}?sw=closed&red=VS&black=A").text)

    assert page.output.text == shown
    assert "1 reading taken" in page.select_one("#hunt-meter").text
    assert "Ann" in person(again).get(own).text


def test_a_class_that_reads_all_at_once_loses_no_reading(app):
    path, own = made(app)
    places = [(sw, *pair) for sw in ("closed", "open") for pair in all_readings(scenario_from_query("")).pairs]
    people = [joined(app, path, f"N{number}") for number in range(6)]
    failures = []

    def play(one):
        for sw, red, black in places:
            answer = one.post(f"{path}/meter", data={"sw": sw, "red": red, "black": black})
            if answer.status_code != 200:
                failures.append(answer.text)

    threads = [threading.Thread(target=play, args=(one,)) for one in people]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    soup = tree_of(person(app).get(f"{own}/board").text)
    assert failures == []
    assert [row.td.text for row in soup.select("tbody tr")] == [str(len(places))] * 6


def test_the_meter_errs_evenly_within_its_error():
    table = all_readings(scenario_from_query(""))
    at = Place("closed", "VS", "return")
    value = float(table.of(at.state, at.red, at.black)[0])
    benches = [Bench(scenario_from_query(""), bytes([number])) for number in range(200)]
    off = [(bench.shown("rl-open", at) - value) / float(table.meter.error(value)) for bench in benches]

    assert max(map(abs, off)) <= 1.0 + 1e-9
    assert min(off) < -0.9
    assert max(off) > 0.9
    assert abs(sum(off) / len(off)) < 0.15
