"""The bench sheet as a page: drawing, table, blanks, cautions."""

import pytest

from engine import INPUTS, METERS, OUTPUTS, leads_of, probes_of, scenario_from_query
from tests.markup import tree_of

KINDS = [
    *(f"in={kind}" + ("&form=pair&coupler=two-way" if kind == "ac" else "") for kind in INPUTS),
    *(f"out={kind}&coupler={OUTPUTS[kind].usual_coupler}" for kind in OUTPUTS),
]


def parsed(answer):
    return tree_of(answer.text)


def sheet(client, query, status=200):
    answer = client.get(f"/bench?{query}")
    assert answer.status_code == status
    return parsed(answer)


@pytest.mark.parametrize("query", [*KINDS, "meter=pointer", "coupler=with-base&rbe=1M", "bridge=returns"])
def test_every_lead_of_the_table_has_its_number_on_the_drawing(client, query):
    soup, scenario = sheet(client, query), scenario_from_query(query)
    leads = {node for nodes in leads_of(scenario).values() for node in nodes}
    marks = {mark["id"].removeprefix("mark-"): mark.get_text(strip=True) for mark in soup.select(".drawing .mark")}
    assert set(marks) == leads
    assert len(set(marks.values())) == len(marks)
    rows = soup.select(".points tbody tr")
    for row, probe in zip(rows, probes_of(scenario), strict=True):
        numbers = [lead.get_text(strip=True) for lead in row.select("b.lead")]
        assert numbers == [marks[probe.red], marks[probe.black]]
        assert probe.side in row["class"]


def test_blanks_are_named_by_point_and_state_and_keep_what_was_typed(client):
    soup = sheet(client, "vs=24V&r.led.closed=1.12V&r.out.open=%3Cb%3E" + "x" * 100, 422)
    names = {blank["name"]: blank["value"] for blank in soup.select(".blank input")}
    probes = probes_of(scenario_from_query("vs=24V"))
    assert set(names) == {f"r.{probe.id}.{state}" for probe in probes for state in ("closed", "open")}
    assert names["r.led.closed"] == "1.12V"
    assert names["r.out.open"] == "<b>" + "x" * 21
    hidden = {field["name"]: field["value"] for field in soup.select("#readings input[type=hidden]")}
    assert hidden == {"vs": "24V"}
    assert all(blank["aria-label"] for blank in soup.select(".blank input"))


def test_table_tells_expected_reading_and_window(client):
    soup = sheet(client, "vs=20V&vstol=10%25")
    row = soup.select_one(".points tbody tr")
    assert row.select_one(".number").text == "20.0 V"
    assert row.select_one(".figures .range").text == "17.9 – 22.1 V"


def test_sheet_says_what_the_meter_itself_moves(client):
    soup = sheet(client, "meter=loading")
    (row,) = [row for row in soup.select(".points tbody tr") if "contact" in row.th.text]
    assert "48.0 V without it, contact open" in row.small.text


def test_page_leads_to_the_explorer_and_back_and_to_every_other_meter(client):
    soup = sheet(client, "vs=24V")
    assert "/stage?vs=24V" in {link["href"] for link in soup.select(".actions a")}
    others = {link["href"] for link in soup.select(".meters a")}
    assert others == {f"/bench?vs=24V&meter={kind}" for kind in METERS if kind != "digital"}
    back = parsed(client.get("/stage?vs=24V")).select_one("#verdict a[href^='/bench']")
    assert back["href"] == "/bench?vs=24V"


def test_dangerous_voltages_are_called_out(client):
    assert "Mind the voltage" in sheet(client, "in=ac").select_one(".apart").text
    assert "Mind the voltage" not in sheet(client, "").select_one(".apart").text
    assert "nothing defined" in sheet(client, "").select_one(".apart").text


def test_a_stage_that_is_refused_shows_the_last_valid_values(client):
    soup = sheet(client, "vs=nonsense&vcc=5V", 422)
    assert soup.select_one("#problems li")["data-for"] == "vs"
    assert soup.select(".points tbody tr")
    assert {field["name"] for field in soup.select("#readings input[type=hidden]")} == {"vcc"}


@pytest.mark.parametrize("query", ["meter=none", "r.led.closed=&x=1", "vs=0V", "vs=0V&vcc=0V&r1=1k", "in=ac&out=relay"])
def test_odd_requests_are_answered_or_refused(client, query):
    assert client.get(f"/bench?{query}").status_code in (200, 422)
    assert client.get(f"/api/bench?{query}").status_code in (200, 422)
