"""The page of findings and its JSON: both made from the rules, every example reached by a link."""

import pytest

from engine import EXAMPLES, INPUTS, OUTPUTS, RULES, query_from, scenario_from_query
from tests.asking import Asking
from tests.markup import tree_of
from webapp.app import create_app
from webapp.present.drawings import DRAWINGS
from webapp.present.drawings.bridged import bridge, room_for
from webapp.present.drawings.coupler import fitted
from webapp.settings import Settings


@pytest.fixture(scope="module")
def client():
    return Asking(create_app(Settings()), base_url="http://testserver")


@pytest.fixture(scope="module")
def soup(client):
    answer = client.get("/findings")
    assert answer.status_code == 200
    return tree_of(answer.text)


@pytest.mark.parametrize("code", RULES)
def test_the_page_tells_all_of_a_finding(soup, code):
    rule, section = RULES[code], soup.find("section", id=code)
    assert section.h2.get_text(" ", strip=True) == f"{rule.title} {code}"
    text = section.get_text(" ", strip=True)
    for told in (rule.asks, rule.why, rule.limit_from, rule.worst_where, rule.mends):
        assert told in text
    assert [word.get_text() for word in section.select(".may .word")] == list(rule.severities)
    links = [a["href"] for a in section.select(".ways a")]
    assert links == [f"/stage?{EXAMPLES[code].raises}", f"/stage?{EXAMPLES[code].inside}"]


def test_the_index_leads_to_every_finding(soup):
    assert [a["href"] for a in soup.select("nav a")] == [f"#{code}" for code in RULES]


def test_the_json_is_the_same_as_the_data(client):
    answer = client.get("/api/findings").json()["findings"]
    assert [one["code"] for one in answer] == list(RULES)
    for one in answer:
        rule, example = RULES[one["code"]], EXAMPLES[one["code"]]
        assert (one["asks"], one["why"], one["severities"]) == (rule.asks, rule.why, list(rule.severities))
        assert one["example"]["raises"] == example.raises
        assert one["example"]["unmended"] == example.unmended


@pytest.mark.parametrize("code", ["barrier-bridged", "card-fit", "level-lit"])
def test_the_json_of_an_example_tells_of_its_finding(client, code):
    example = client.get("/api/findings").json()["findings"][list(RULES).index(code)]["example"]
    found = client.get(f"/api/stage?{example['raises']}").json()["findings"]
    assert (code, example["severity"]) in {(f["code"], f["severity"]) for f in found}


@pytest.mark.parametrize("path", ["/", "/stage"])
def test_start_page_and_explorer_lead_there(client, path):
    soup = tree_of(client.get(path).text)
    assert soup.find("a", href="/findings") is not None


@pytest.mark.parametrize("path", ["/findings?code=%3Cscript%3E", "/api/findings?x=1e999"])
def test_what_is_asked_beside_is_passed_over(client, path):
    answer = client.get(path)
    assert answer.status_code == 200
    assert "<script>" not in answer.text


# ---------------------------------------------------------------- the conductor between the returns


def schematic(client, query):
    return tree_of(client.get(f"/stage?{query}").text).find(id="schematic")


STAGES = [
    *(f"bridge=returns&in={name}" for name in INPUTS),
    *(f"bridge=returns&out={name}" for name in OUTPUTS),
    "bridge=returns&coupler=with-base&rbe=100k",
]


@pytest.mark.parametrize("query", STAGES)
def test_a_bridge_runs_from_either_reference_across_the_barrier_at_one_level(client, query):
    drawn = schematic(client, query)
    ends, heights = [], []
    for side in drawn.select(".side"):
        _, _, width, height = map(int, side.svg["viewBox"].split())
        x, y = (int(text) for text in side.select_one("polyline.bridging")["points"].split()[-1].split(","))
        ends.append((x - width if "input" in side["class"] else x, y))
        heights.append(height)
    (at_edge, level), (across, other) = ends
    assert at_edge == 0
    assert across < 0
    assert level == other < heights[0] == heights[1]


@pytest.mark.parametrize("query", STAGES)
def test_a_bridge_begins_at_the_reference(query):
    scenario = scenario_from_query(query)
    for side, part in (("input", scenario.input), ("output", scenario.output)):
        layout = fitted(DRAWINGS[part.kind](part), side, scenario.coupling)
        (reference,) = (symbol for symbol in layout.symbols if symbol.kind == "reference")
        points = bridge(room_for((layout,))[0], side).points.split()
        assert points[0] == f"{reference.x},{reference.y}"
        assert 8 <= int(points[1].split(",")[0]) <= layout.width - 8


def test_the_bridge_is_told_to_those_who_do_not_see_it(client):
    drawn = schematic(client, "bridge=returns")
    assert "joins the returns" in drawn.get_text()
    assert "a conductor crosses" in drawn.select_one(".barrier.bridged").get_text()
    assert all("A conductor joins the two returns." in side.desc.get_text() for side in drawn.select(".side svg"))


@pytest.mark.parametrize("query", ["", "bridge=none"])
def test_without_a_bridge_nothing_crosses(client, query):
    drawn = schematic(client, query)
    assert drawn.select(".bridging") == []
    assert drawn.select_one(".barrier").get_text() == "barrier · no conductor crosses"


@pytest.mark.parametrize(("key", "text"), [("bridge", "both"), ("bridge", "<b>"), ("oc", "5"), ("oc", "1e999")])
def test_another_word_is_refused_by_its_field(client, key, text):
    answer = client.get("/api/stage", params={key: text})
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["field"] == key


def test_the_address_keeps_category_and_bridge():
    assert query_from(scenario_from_query("vb=230V&oc=3&bridge=returns")) == "vb=230V&oc=3&bridge=returns"


# ---------------------------------------------------------------- speed, which takes a while


def listed(client, address, query):
    soup = tree_of(client.get(f"{address}?{query}").text)
    return soup.find(id="finding-list")


@pytest.mark.parametrize("address", ["/stage/live", "/stage/explorer"])
def test_the_live_picture_leaves_speed_to_another_answer(client, address):
    (row,) = listed(client, address, "rate=20kHz").select(".speed")
    assert row["id"] == "edge-rate"
    assert row.has_attr("data-apart")  # so that the last answer keeps its place until the next one comes
    assert "is being checked" in row.get_text()
    assert listed(client, address, "").select(".speed") == []


def test_once_the_hand_rests_all_findings_come_with_that_on_speed(client):
    (row,) = listed(client, "/stage/finding-list", "rate=20kHz").select(".speed")
    assert not row.has_attr("data-apart")
    assert row["id"] == "edge-rate"
    assert "stop" in row["class"]
    assert row.find("a", class_="mend").has_attr("data-mend")
    assert listed(client, "/stage/finding-list", "").select(".speed") == []


def test_a_page_has_the_same_list_at_once(client):
    page, part = (listed(client, address, "rl=1k&rate=18kHz") for address in ("/stage", "/stage/finding-list"))
    assert str(page) == str(part)


def test_a_rate_that_holds_is_told_in_its_place_too(client):
    (row,) = listed(client, "/stage/finding-list", "rate=100Hz").select(".speed")
    assert "pass" in row["class"]
    assert "keeps up with the 100 Hz wanted" in row.get_text()


def test_a_stage_that_is_refused_has_no_list(client):
    assert client.get("/stage/finding-list?rate=fast").status_code == 422
