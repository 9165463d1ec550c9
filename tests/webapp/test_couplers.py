"""Pages of couplers: what they print, what the form and files do, and what is refused."""

import base64
import re
import tomllib
import zlib
from dataclasses import fields, replace
from itertools import pairwise

import pytest

from engine import (
    CARD_FAMILIES,
    card_from_toml,
    card_names,
    card_to_toml,
    curves_of,
    lines_of,
    load_card,
    pack_card,
    scenario_from_query,
    speed_lines_of,
    typed_lines,
    unpack_card,
)
from tests.webapp.cards import filled, packed, parsed, sent
from webapp.present.card_form import CardForm
from webapp.present.card_words import FAMILY_WORDS, LINE_WORDS
from webapp.present.cards import CardView, file_name
from webapp.routes.bodies import LONGEST_BODY

PROVIDED = {"request", "url_for"}
FAMILY_CARDS = [card_names(family)[0] for family in CARD_FAMILIES]


def names_in(answer):
    return set(answer.context) - PROVIDED


def shown_errors(soup):
    return {error["id"].removeprefix("error-"): error.get_text() for error in soup.select(".error:not([hidden])")}


def every_line(name):
    return *lines_of(load_card(name)), *speed_lines_of(load_card(name))


class TestList:
    def test_every_card_stands_under_its_family_with_links_to_its_page_and_to_a_stage(self, client):
        answer = client.get("/couplers")
        soup = parsed(answer)
        assert answer.status_code == 200
        assert answer.template.name == "pages/couplers.html"
        assert names_in(answer) == {"families"}
        listed = {family.name: tuple(card.name for card in family.cards) for family in answer.context["families"]}
        assert listed == {family: card_names(family) for family in CARD_FAMILIES}
        assert {link["href"] for link in soup.select(".entries h3 a")} == {f"/couplers/{name}" for name in card_names()}

    @pytest.mark.parametrize("name", card_names())
    def test_the_stage_of_a_card_uses_it(self, client, name):
        entries = [card for family in client.get("/couplers").context["families"] for card in family.cards]
        entry = next(card for card in entries if card.name == name)
        assert scenario_from_query(entry.stage).coupling.data.title == load_card(name).title
        assert client.get(f"/stage?{entry.stage}").status_code == 200

    def test_the_figures_are_those_of_the_card(self, client):
        entries = [card for family in client.get("/couplers").context["families"] for card in family.cards]
        figures = {card.name: dict(card.figures) for card in entries}
        assert figures["general"]["CTR"] == "80 – 160 %, typically 110 %, at IF = 5 mA, VCE = 5 V"
        assert figures["photo-relay"]["R(on)"] == "18 Ω, at most 25 Ω"
        assert figures["triac-zero"]["On from IF"] == "10 mA, typically 5 mA"
        assert "not a working voltage" in figures["general"]["VISO"]


def page_of(client, name):
    """Return the answer with the page of a card, asked for once for all tests in turn that look at it."""
    if name not in _PAGES:
        _PAGES.clear()
        _PAGES[name] = client.get(f"/couplers/{name}")
    return _PAGES[name]


_PAGES = {}


@pytest.mark.parametrize("name", card_names(), scope="module")
class TestPage:
    def test_it_prints_the_documented_record(self, client, name):
        answer = page_of(client, name)
        assert answer.status_code == 200
        assert answer.template.name == "pages/coupler.html"
        assert names_in(answer) == {"card"}
        assert isinstance(answer.context["card"], CardView)

    def test_every_line_of_the_report_stands_once_in_its_section(self, client, name):
        soup, found = parsed(page_of(client, name)), every_line(name)
        held, limits = (len(soup.select(f"#card-{part} tbody tr")) for part in ("lines", "limits"))
        barrier = [row.th.get_text() for row in soup.select("#card-barrier tbody tr")]
        assert held == sum(line.modelled is not None for line in found)
        assert held + limits + len(barrier) - ("Material group" in barrier) == len(found)
        assert {"VISO", "VIORM", "Creepage", "Clearance"} <= set(barrier)

    def test_a_line_is_marked_as_the_report_says(self, client, name):
        view = page_of(client, name).context["card"]
        report = [line for line in every_line(name) if line.modelled is not None]
        assert [line.met for line in view.lines] == [line.met for line in report]

    def test_insulation_brings_the_cautions(self, client, name):
        text = parsed(page_of(client, name)).select_one("#card-barrier .cautions").get_text()
        for caution in ("not a working voltage", "Local codes", "qualified person", "Nothing here is certification"):
            assert caution in text

    def test_curves_have_text_equivalents_and_tables(self, client, name):
        soup, graphs = parsed(page_of(client, name)), curves_of(load_card(name))
        drawings = soup.select("svg.plot")
        assert len(drawings) == len(graphs)
        for drawing, graph in zip(drawings, graphs, strict=True):
            assert all(soup.find(id=part).get_text(strip=True) for part in drawing["aria-labelledby"].split())
            assert len(drawing.select("polyline")) == len(graph.traces)
            assert len(drawing.select("circle")) == len(graph.points)
            assert len(drawing.within("figure").select("tbody tr")) == len(graph.rows)

    def test_everything_drawn_lies_within_its_drawing(self, client, name):
        for plot in page_of(client, name).context["card"].plots:
            places = [tuple(map(float, pair.split(","))) for trace in plot.traces for pair in trace.points.split()]
            places += [*plot.dots, *((tick.at, plot.top) for tick in plot.x_ticks)]
            places += [(plot.left, tick.at) for tick in plot.y_ticks]
            assert all(plot.left - 0.1 <= x <= plot.right + 0.1 for x, _ in places)
            assert all(plot.top - 0.1 <= y <= plot.bottom + 0.1 for _, y in places)
            labels = sorted(trace.label_y for trace in plot.traces)
            assert all(below - above >= 16.9 for above, below in pairwise(labels))

    def test_its_tests_stand_beside_their_lines_and_open_as_stages(self, client, name):
        answer = page_of(client, name)
        soup, tests = parsed(answer), answer.context["card"].tests
        lines = [(line.name, line.stated, line.modelled) for test in tests for line in test.lines]
        cells = [[cell.get_text() for cell in row.find_all("td")] for row in soup.select("#card-tests tbody tr")]
        assert [tuple(row) for row in cells] == lines
        assert all(modelled for _, _, modelled in lines)
        opened = [link["href"] for link in soup.select("#card-tests a.opens")]
        assert opened == [f"/stage?{test.query}" for test in tests if test.query]
        assert sum(test.name.startswith("Speed") and test.query.endswith("&panel=timing") for test in tests) == (
            {"phototransistor": 2, "photodarlington": 2, "opto-triac": 0}.get(load_card(name).family, 1)
        )
        panel = "" if name == "general" else "&panel=timing"  # which has tests of its own, and takes long
        for address in opened:
            assert client.get(address.removesuffix(panel)).status_code == 200
        text = soup.select_one("#card-tests").get_text()
        assert all(bool(test.why) != bool(test.query) and test.why in text for test in tests)

    def test_the_file_is_the_card(self, client, name):
        answer = client.get(f"/couplers/{name}/toml")
        assert answer.headers["Content-Type"] == "text/plain; charset=utf-8"
        assert re.fullmatch(r'attachment; filename="[a-z0-9-]+\.toml"', answer.headers["Content-Disposition"])
        assert card_from_toml(name, answer.text) == load_card(name)

    def test_the_form_that_begins_with_it_gives_the_same_card(self, client, name):
        answer = sent(client, f"from={name}")
        assert answer.status_code == 303
        assert card_to_toml(unpack_card("own", packed(answer))) == card_to_toml(load_card(name))


@pytest.mark.parametrize("path", ["/couplers/nope", "/couplers/nope/toml", "/couplers/new?from=nope"])
def test_an_unknown_card_is_a_small_page(client, path):
    answer = client.get(path)
    assert answer.status_code == 404
    assert answer.template.name == "problems/not_found.html"
    assert answer.context["sentence"] == "There is no coupler of this name."


@pytest.mark.parametrize("title", ["", "../../etc/passwd", 'a"; b\r\nc', "µ" * 80, "x" * 300, "Zwölf V"])
def test_file_names_are_safe(title):
    assert re.fullmatch(r"[a-z0-9][a-z0-9-]{0,40}\.toml", file_name(title))


class TestForm:
    @pytest.mark.parametrize("family", CARD_FAMILIES)
    def test_it_has_a_labelled_field_for_each_line_of_the_family(self, client, family):
        answer = client.get(f"/couplers/new?family={family}")
        soup = parsed(answer)
        asked = {line.path for line in typed_lines(family)}
        assert names_in(answer) == {"form"}
        assert isinstance(answer.context["form"], CardForm)
        assert {control["name"] for control in soup.select("#card-form [name]")} == asked | {"family"}
        for control in soup.select("#card-form :is(select, textarea, input:not([type=hidden]))"):
            assert soup.find("label", attrs={"for": control["id"]}).get_text(strip=True)
            assert all(soup.find(id=part) for part in control["aria-describedby"].split())
        ids = [tag["id"] for tag in soup.select("[id]")]
        assert len(ids) == len(set(ids))

    def test_every_line_and_family_has_words(self):
        assert set(FAMILY_WORDS) == set(CARD_FAMILIES)
        assert set(LINE_WORDS) == {line.path for family in CARD_FAMILIES for line in typed_lines(family)}

    def test_a_changed_line_is_in_the_card_and_in_its_report(self, client):
        answer = sent(client, title="Mine", CTR__min="70 %")
        page = client.get(answer.headers["Location"])
        assert unpack_card("own", packed(answer)).CTR_min == 0.7
        assert page.status_code == 200
        assert page.context["card"].title == "Mine"
        assert next(line for line in page.context["card"].lines if line.name == "CTR min").stated == "70 %"

    def test_the_page_of_an_own_card_leads_to_a_stage_to_its_file_and_back_to_the_form(self, client):
        answer = sent(client, title="Mine")
        ways = {
            link.get_text(): link["href"] for link in parsed(client.get(answer.headers["Location"])).select(".ways a")
        }
        assert ways["Use it in a stage"] == f"/stage?coupler=own&card={packed(answer)}"
        assert client.get(ways["Use it in a stage"]).status_code == 200
        assert card_from_toml("own", client.get(ways["Download as TOML"]).text).title == "Mine"
        assert filled(parsed(client.get(ways["Change it"])))["title"] == "Mine"

    def test_errors_stand_beside_their_fields_and_nothing_typed_is_lost(self, client):
        answer = sent(client, CTR__min="<b>80</b>", LED__VF="1 mA", title="Kept", summary="Kept & whole")
        soup = parsed(answer)
        assert answer.status_code == 422
        assert answer.template.name == "pages/coupler_new.html"
        assert set(shown_errors(soup)) == {"line-CTR-min", "line-LED-VF"}
        assert soup.find(id="line-CTR-min")["aria-invalid"] == "true"
        assert {link["href"] for link in soup.select(".refused a")} == {"#line-CTR-min", "#line-LED-VF"}
        kept = filled(soup)
        assert (kept["CTR.min"], kept["LED.VF"]) == ("<b>80</b>", "1 mA")
        assert (kept["title"], kept["summary"]) == ("Kept", "Kept & whole")
        assert kept["detector.knee"] == "10 mA, 1 V, 7 mA"

    def test_lines_that_contradict_one_another_are_told_beside_one_of_them(self, client):
        errors = shown_errors(parsed(sent(client, CTR__min="200 %")))
        assert list(errors) == ["line-CTR-min"]
        assert "do not rise" in errors["line-CTR-min"]

    def test_an_empty_form_asks_for_every_line_that_is_needed(self, client):
        errors = shown_errors(parsed(client.post("/couplers/new", data={"family": "mosfet-relay"})))
        needed = {line.path for line in typed_lines("mosfet-relay") if not line.optional}
        assert set(errors) == {"line-" + path.replace(".", "-") for path in needed}

    def test_a_line_that_the_model_cannot_meet_is_marked_and_said(self, client):
        answer = sent(client, detector__knee="10 mA, 1 V, 2 mA")
        page = client.get(answer.headers["Location"])
        view = page.context["card"]
        missed = [line for line in view.lines if not line.met]
        assert missed
        assert parsed(page).find(id="card-missed")
        assert not parsed(client.get("/couplers/general")).find(id="card-missed")
        assert all(line.remark for line in missed)
        assert f"misses {len(missed)} of" in view.met

    @pytest.mark.parametrize("family", ["", "nope", "../x", "a" * 5000])
    def test_an_unknown_family_is_a_small_page(self, client, family):
        assert client.post("/couplers/new", data={"family": family}).status_code == 404


class TestFile:
    TEXT = card_to_toml(load_card("cascade"))

    def take(self, client, text="", **more):
        return client.post("/couplers/import", data={"text": text}, follow_redirects=False, **more)

    def test_pasted_and_uploaded_give_the_same_card(self, client):
        pasted = self.take(client, self.TEXT.replace("\n", "\r\n"))
        uploaded = self.take(client, "", files={"file": ("card.toml", "\ufeff" + self.TEXT)})
        assert pasted.status_code == uploaded.status_code == 303
        assert packed(pasted) == packed(uploaded) == pack_card(load_card("cascade"))

    def test_a_file_goes_before_the_text_and_an_empty_one_does_not(self, client):
        other = {"file": ("card.toml", card_to_toml(load_card("general")))}
        assert packed(self.take(client, self.TEXT, files=other)) == pack_card(load_card("general"))
        assert packed(self.take(client, self.TEXT, files={"file": ("", "")})) == pack_card(load_card("cascade"))

    @pytest.mark.parametrize(
        ("old", "new", "error"),
        [
            ('min = "600 %"', 'min = "much"', "CTR.min: 'much' is not a number"),
            ('min = "600 %"', "", "CTR.min: the line is missing"),
            ('min = "600 %"', 'min = "600 %"\nnope = 1', "CTR.nope: there is no such line"),
            ("[CTR]", "[CTR", "at line"),
            ('typ = "1000 %"', 'typ = "100 %"', "CTR: the values do not rise"),
        ],
    )
    def test_an_error_names_the_line_and_the_text_is_kept(self, client, old, new, error):
        text = self.TEXT.replace(old, new, 1)
        answer = self.take(client, text)
        soup = parsed(answer)
        assert answer.status_code == 422
        assert error in shown_errors(soup)["import"]
        assert filled(soup, "#card-import")["text"].splitlines() == text.splitlines()

    def test_a_long_file_is_refused(self, client):
        answer = self.take(client, self.TEXT + "# long\n" * 2000)
        assert answer.status_code == 422
        assert "longer than 8192 bytes" in shown_errors(parsed(answer))["import"]


class TestBodies:
    @pytest.mark.parametrize("path", ["/couplers/new", "/couplers/import"])
    def test_a_huge_body_is_refused(self, client, path):
        answer = client.post(path, data={"text": "x" * LONGEST_BODY})
        assert answer.status_code == 413
        assert answer.template.name == "problems/not_found.html"

    @pytest.mark.parametrize("path", ["/couplers/new", "/couplers/import"])
    @pytest.mark.parametrize(
        ("kind", "body", "status"),
        [
            ("application/json", b"{}", 415),
            ("", b"family=phototransistor", 415),
            ("application/x-www-form-urlencoded", b"&".join(b"a%d=1" % k for k in range(500)), 400),
            ("multipart/form-data", b"--x\r\n", 400),
            ("multipart/form-data; boundary=x", b"--x\r\n" * 500, 400),
            ("multipart/form-data; boundary=" + "x" * 100, b"--x\r\n", (400, 404, 422)),
        ],
    )
    def test_what_is_no_form_is_refused(self, client, path, kind, body, status):
        answer = client.post(path, content=body, headers={"Content-Type": kind})
        assert answer.status_code in (status if isinstance(status, tuple) else (status,))

    def test_a_form_is_not_answered_by_get(self, client):
        assert client.get("/couplers/import").status_code in (404, 405)


def deflated(text):
    return base64.urlsafe_b64encode(zlib.compress(text, 9)).decode().rstrip("=")


BROKEN = {
    "empty": "A",
    "not base64": "%24%24%24",
    "not packed": base64.urlsafe_b64encode(b"hello").decode(),
    "cut short": pack_card(load_card("general"))[:-40],
    "bomb": deflated(b"\0" * 4_000_000),
    "bomb of lines": deflated(b"a = 1\n" * 500_000),
    "huge": "A" * 20_000,
    "not TOML": deflated(b"family = ["),
    "not text": deflated(b"\xff\xfe\x00"),
    "nested": deflated(b"a=" + b"[" * 8000),
    "no lines": deflated(b""),
    "other letters": "\u00e9\u4e2d",
    "no true card": deflated(card_to_toml(load_card("general")).replace('min = "80 %"', 'min = "500 %"').encode()),
}


@pytest.mark.parametrize("text", BROKEN.values(), ids=BROKEN)
class TestBrokenAddress:
    def test_pages_say_what_is_wrong(self, client, text):
        for path in ("/couplers/own", "/couplers/own/toml", "/couplers/new"):
            answer = client.get(f"{path}?card={text}")
            assert answer.status_code == 422
            assert answer.template.name == "problems/card.html"
            assert answer.context["sentence"].startswith("This card cannot be used. ")

    def test_the_explorer_says_so_beside_the_card(self, client, text):
        answer = client.get(f"/stage?coupler=own&card={text}")
        assert answer.status_code == 422
        assert parsed(answer).select_one("#problems li[data-for=card]")


def test_an_own_card_that_is_not_given_leads_to_its_form(client):
    answer = client.get("/couplers/own", follow_redirects=False)
    assert (answer.status_code, answer.headers["Location"]) == (303, "/couplers/new")


@pytest.mark.parametrize("name", FAMILY_CARDS)
def test_an_own_card_of_any_family_is_shown_like_a_shipped_one(client, name):
    shipped, own = (
        client.get(path).context["card"]
        for path in (f"/couplers/{name}", f"/couplers/own?card={pack_card(load_card(name))}")
    )
    alike = {f.name for f in fields(CardView)} - {"name", "query", "source", "stage", "tests"}
    assert all(getattr(shipped, part) == getattr(own, part) for part in alike)
    assert [replace(test, query="") for test in shipped.tests] == [replace(test, query="") for test in own.tests]
    assert "coupler=own" in own.stage


def test_the_explorer_leads_to_the_card_of_its_coupler(client):
    soup = parsed(client.get("/stage?coupler=low-drive"))
    assert soup.find(id="card-page")["href"] == "/couplers/low-drive"
    assert soup.find(id="card-change")["href"] == "/couplers/new?from=low-drive"
    assert soup.select_one("#coupler option[value=own]").get_text() == "Own card"


def test_the_explorer_shows_the_title_of_an_own_card_and_leads_to_its_change(client):
    text = packed(sent(client, title="Mine"))
    soup = parsed(client.get(f"/stage?coupler=own&card={text}"))
    assert soup.select_one("#coupler option[selected]").get_text() == "Mine"
    assert soup.find(id="card-page")["href"] == f"/couplers/own?card={text}"
    assert soup.find(id="card-change")["href"] == f"/couplers/new?card={text}"


def test_a_long_title_is_shortened_where_there_is_little_room(client):
    text = packed(sent(client, title="A coupler with a title of eighty characters"))
    chosen = parsed(client.get(f"/stage?coupler=own&card={text}")).select_one("#coupler option[selected]")
    assert chosen.get_text() == "A coupler with a titl…"


@pytest.mark.parametrize("path", ["/couplers", "/couplers/general", "/couplers/new", "/couplers/own?card=x"])
def test_pages_run_no_script_or_style_of_their_own(client, path):
    soup = parsed(client.get(path))
    assert not soup.select("script:not([src]), style, [style]")


def test_downloads_are_toml(client):
    assert tomllib.loads(client.get("/couplers/general/toml").text)["family"] == "phototransistor"
