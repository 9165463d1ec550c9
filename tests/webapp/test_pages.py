"""Whole pages and fragments: which template, which record, which parts, for good and for bad requests."""

from dataclasses import fields
from functools import lru_cache

import pytest

from engine import INPUTS, OUTPUTS, query_from, scenario_from_query
from tests.markup import tree_of
from webapp.forms import FieldView
from webapp.present.results import PART_NAMES
from webapp.present.stage import StageView
from webapp.present.starts import STARTS

KINDS = [f"in={side}&out={load}" for side in INPUTS for load in OUTPUTS]
PROVIDED = {"request", "url_for"}  # what the framework adds to every context


_ANSWERS = {}


def explored(client, query):
    """Return the explorer's answer on a stage, asked for once: several tests look at the same page."""
    if query not in _ANSWERS:
        _ANSWERS[query] = client.get(f"/stage?{query}")
    return _ANSWERS[query]


def parsed(answer):
    return tree(answer.text)


@lru_cache(maxsize=2)
def tree(text):
    """Return a page as a tree, made once for all tests in turn that look at the page."""
    return tree_of(text)


def names_in(answer):
    return set(answer.context) - PROVIDED


def test_start_page_links_to_every_start(client):
    answer = client.get("/")
    links = {link["href"] for link in parsed(answer).select(".starts a")}
    assert answer.template.name == "pages/home.html"
    assert names_in(answer) == {"starts", "lessons", "preview"}
    assert links == {f"/stage?{start.query}" if start.query else "/stage" for start in STARTS}


@pytest.mark.parametrize("start", STARTS, ids=lambda start: start.title)
def test_every_start_is_a_canonical_scenario_that_is_solved(client, start):
    assert query_from(scenario_from_query(start.query)) == start.query
    assert client.get(f"/stage?{start.query}").status_code == 200


@pytest.mark.parametrize("query", KINDS, scope="module")
def test_explorer_prints_exactly_the_documented_records(client, query):
    answer = explored(client, query)
    assert answer.status_code == 200
    assert answer.template.name == "pages/stage.html"
    panels = {"panels", "chosen", "panel", "pairs", "panel_query"}
    assert names_in(answer) == {"stage", "followers", "groups", "problems", "card_links", "notice"} | panels
    assert isinstance(answer.context["stage"], StageView)


def test_live_fragment_prints_exactly_the_documented_records(client):
    answer = client.get("/stage/live")
    assert answer.template.name == "fragments/_live.html"
    assert names_in(answer) == {"stage", "followers", "problems", "notice"}
    assert answer.headers["Cache-Control"] == "no-store"


@pytest.mark.parametrize("query", [*KINDS, "sw=open", "ctr=20%25&rl=470", "vs=400V&r1=1M"], scope="module")
def test_live_fragment_is_what_stands_in_the_page(client, query):
    page = parsed(explored(client, query)).find(id="live")
    alone = tree_of(f"<div id='live'>{client.get(f'/stage/live?{query}').text}</div>").find(id="live")
    assert page.get_text(" ", strip=True) == alone.get_text(" ", strip=True)
    assert [tag.get("id") for tag in page.select("[id]")] == [tag.get("id") for tag in alone.select("[id]")]


@pytest.mark.parametrize("unseen", ["tables", "worked", "tables worked"])
def test_live_fragment_leaves_out_what_nobody_sees(client, unseen):
    whole = parsed(client.get("/stage/live?vs=40V"))
    spared = parsed(client.get("/stage/live?vs=40V", headers={"Lightgap-Unseen": unseen}))
    left = {part["id"] for part in whole.body.children} - set(unseen.split())
    assert {part["id"] for part in spared.body.children} == left
    assert all(spared.find(id=part) == whole.find(id=part) for part in left)


@pytest.mark.parametrize(
    "unseen", ["", "schematic", "verdict followers", "x" * 10_000, "tables;worked", "\u00e9\u00ff"]
)
def test_live_fragment_leaves_out_nothing_else(client, unseen):
    header = {"Lightgap-Unseen": unseen.encode("latin-1")}
    assert client.get("/stage/live", headers=header).text == client.get("/stage/live").text


def test_explorer_fragment_is_what_stands_in_the_page(client):
    page = parsed(client.get("/stage?in=logic")).find(id="explorer")
    alone = tree_of(client.get("/stage/explorer?in=logic").text).body
    assert page.get_text(" ", strip=True) == alone.get_text(" ", strip=True)


@pytest.mark.parametrize("query", KINDS, scope="module")
def test_ids_are_unique_and_labels_lead_to_controls(client, query):
    soup = parsed(explored(client, query))
    tags = soup.select("[id]")
    named = {tag["id"]: tag for tag in tags}
    assert len(tags) == len(named)
    labelled = {label["for"] for label in soup.select("label")}
    assert {named[key].name for key in labelled} <= {"input", "select"}
    for control in soup.select("#controls input:not([type=hidden]), #controls select"):
        assert control.get("aria-label") or control["id"] in labelled
        assert set(control.get("aria-describedby", "").split()) <= named.keys()


@pytest.mark.parametrize("query", KINDS, scope="module")
def test_schematic_has_a_text_equivalent(client, query):
    soup = parsed(explored(client, query))
    drawings = soup.select("#schematic svg:is([role=img], :has(> [role=img]))")
    assert len(drawings) == len(soup.select("#schematic svg")) == 2
    for drawing in soup.select("#schematic [role=img]"):
        assert all(soup.find(id=name).get_text(strip=True) for name in drawing["aria-labelledby"].split())
        assert not drawing.select("a, button")
    shown = {flag["id"].removeprefix("flag-") for flag in soup.select(".flag")}
    listed = {row.th.contents[0].strip() for row in soup.select(".nodes tbody tr")}
    assert shown == listed


def test_form_sends_every_field_and_the_last_good_scenario(client):
    soup = parsed(client.get("/stage?vs=36V"))
    sent = {control["name"] for control in soup.select("#controls [name]")}
    assert {"in", "out", "vs", "r1", "ctr", "ta", "sw", "was"} <= sent
    assert soup.select_one("[name=was]")["value"] == "vs=36V"


def test_a_form_sent_without_script_becomes_the_short_link(client):
    soup = parsed(client.get("/stage?vs=36V&sw=open"))
    data = {control["name"]: control.get("value", "") for control in soup.select("#controls input[name]")}
    for select in soup.select("#controls select"):
        data[select["name"]] = select.select_one("option[selected]")["value"]
    answer = client.get("/stage", params=data | {"rl": "10 kΩ"}, follow_redirects=False)
    assert answer.status_code == 303
    assert answer.headers["Location"] == "/stage?vs=36V&rl=10k&sw=open"


@pytest.mark.parametrize(
    ("query", "field", "message"),
    [
        ("vs=", "vs", "it is empty"),
        ("r1=abc", "r1", "'abc' is not a number"),
        ("vs=5mA", "vs", "'mA' is not a unit of this field"),
        ("rl=-5", "rl", "'-5' is out of range for RL"),
        ("rl=1e300", "rl", "'1e300' is out of range for RL"),
        ("ta=nan", "ta", "'nan' is not a finite number"),
        ("r1=4,7k", "r1", "'4,7k' has a comma"),
        ("vs=1V&vs=2V", "vs", "vs is given more than once"),
        ("in=abacus", "in", "'abacus' is not a kind of side"),
        ("series=E7", "series", "'E7' is not a choice for Series"),
        ("vs=0V", "if", "no resistor gives 3 mA from VS = 0 V"),
        ("ctrmin=200%25&ctrmax=100%25", "ctrmin", "CTR min is above CTR max"),
        ("vcc=" + "9" * 10000, "vcc", "is too long to be a quantity"),
    ],
)
class TestRefused:
    def test_page_keeps_the_text_and_says_why_beside_the_field(self, client, query, field, message):
        answer = client.get(f"/stage?{query}")
        soup = parsed(answer)
        assert answer.status_code == 422
        assert message in soup.find(id=f"error-{field}").get_text()
        assert soup.find(id=field)["aria-invalid"] == "true"
        assert soup.select_one(f"#problems li[data-for={field}]")
        assert soup.select_one("#schematic svg .flag")

    def test_fragment_is_the_list_of_problems(self, client, query, field, message):
        for path in ("/stage/live", "/stage/explorer"):
            answer = client.get(f"{path}?{query}")
            assert answer.status_code == 422
            assert answer.template.name == "fragments/_problems.html"
            assert names_in(answer) == {"problems", "notice"}
            assert message in parsed(answer).select_one(f"li[data-for={field}]").get_text()

    def test_api_answers_with_problem_details(self, client, query, field, message):
        answer = client.get(f"/api/stage?{query}")
        body = answer.json()
        assert answer.status_code == 422
        assert answer.headers["Content-Type"] == "application/problem+json"
        assert set(body) == {"type", "title", "status", "detail", "errors"}
        assert [e for e in body["errors"] if e["field"] == field and message in e["reason"]]
        assert all(set(e) == {"field", "given", "accepted", "reason"} for e in body["errors"])
        assert all(len(e["given"]) <= 40 for e in body["errors"])


def test_what_was_refused_stays_in_the_form(client):
    soup = parsed(client.get("/stage?r1=4,7k&vs=36V"))
    assert soup.find(id="r1")["value"] == "4,7k"
    assert soup.find(id="vs")["value"] == "36 V"


def test_last_good_picture_is_kept_without_script(client):
    answer = client.get("/stage", params={"vs": "36 V", "r1": "rubbish", "was": "vs=60V&sw=open"})
    assert answer.status_code == 422
    assert answer.context["stage"].query == "vs=60V&sw=open"


@pytest.mark.parametrize("was", ["vs=rubbish", "=&=", "was=was", "vs=0V"])
def test_a_last_good_picture_that_is_none_is_no_obstacle(client, was):
    answer = client.get("/stage", params={"vs": "36 V", "r1": "rubbish", "was": was})
    assert answer.status_code == 422
    assert answer.context["stage"].query == "vs=36V"


def test_a_slider_stands_at_the_value_in_force(client):
    soup = parsed(client.get("/stage?vs=36V&r1=22k"))
    for key, text in (("vs", "36 V"), ("r1", "22 kΩ")):
        slider = soup.find(id=f"slider-{key}")
        assert slider["data-stops"].split("|")[int(slider["value"])] == slider["aria-valuetext"] == text


def test_followers_name_every_slider(client):
    soup = parsed(client.get("/stage?in=logic&out=indicator"))
    followers = {item["data-for"] for item in soup.select("#followers li")}
    assert followers == {slider["data-for"] for slider in soup.select(".slider")}


def test_dangerous_voltage_brings_the_cautions(client):
    assert parsed(client.get("/stage?vs=150V")).select_one(".cautions")
    assert not parsed(client.get("/stage?vs=48V")).select_one(".cautions")


def test_mend_is_a_link_to_the_mended_stage(client):
    soup = parsed(client.get("/stage?r1w=100mW"))
    link = soup.select_one(".findings a")
    assert "W part for R1" in link.get_text()
    assert "power-r1" in [f.code for f in client.get(link["href"]).context["stage"].findings.passed]


def test_specimen_shows_every_kind(client):
    answer = client.get("/specimen")
    drawn = {tag["id"].removeprefix("part-") for tag in parsed(answer).select("[id^=part-]")}
    assert answer.status_code == 200
    inputs = {"VS", "R1", "LED", "S1", "B1", "RW", "P1"}
    outputs = {"VCC", "RL", "U1", "D1", "RX", "RIN", "RPU", "A1", "R3", "Q2", "K1", "D6", "RGE", "Q3", "VEE"}
    assert inputs | outputs | {"RLOAD", "RGK", "RSN", "CSN"} <= drawn <= PART_NAMES.keys()


def test_description_page_lists_every_field_of_the_answer(client):
    soup = parsed(client.get("/api"))
    assert {"vs", "r1", "ctr", "logic"} <= {code.get_text() for code in soup.select("th code")}


def test_pages_run_no_script_or_style_of_their_own(client):
    for path in ("/", "/stage", "/specimen", "/api", "/nowhere"):
        answer = client.get(path)
        soup = parsed(answer)
        assert "unsafe" not in answer.headers["Content-Security-Policy"]
        assert all(script.get("src") for script in soup.select("script"))
        assert not soup.select("style, [style]")


def test_every_field_view_is_printed(client):
    names = {f.name for f in fields(FieldView)}
    assert names == {
        "key", "symbol", "label", "help", "accepted", "longest", "text", "words", "options", "slider", "resets", "hint",
        "error",
    }  # fmt: skip
