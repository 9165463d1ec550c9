"""Traps on the page: a list under the findings, with what decides and a link; nothing where there is none."""

import pytest

from engine import Trap, scenario_from_query
from engine.findings import Mend
from tests.markup import tree_of
from webapp.present.stage import stage_view
from webapp.present.traps import trap_views

DROP = "in=contact-high&vs=5V&r1=5k&if=1mA"


def listed(client, address, **more):
    """Return heading and items of the list, as they are in the answer."""
    page = tree_of(client.get(address, **more).text)
    return [h for h in page.select("#verdict h2") if h.get_text() == "Mind this"], page.select("#verdict .traps > li")


@pytest.mark.parametrize("address", ["/stage", "/stage/live"])
def test_a_trap_is_listed_with_what_decides_and_a_link(client, address):
    headings, items = listed(client, f"{address}?{DROP}")
    assert len(headings) == len(items) == 1
    view = stage_view(scenario_from_query(DROP))[0].traps[0]
    assert items[0]["data-trap"] == view.code == "led-drop-ignored"
    text = items[0].get_text(" ", strip=True)
    assert view.text in text
    assert "784 µA against 1.00 mA" in text
    assert items[0].a.get_text() == "Mend it: make R1 3.9 kΩ"
    assert items[0].a["href"] == "/stage?in=contact-high&vs=5V&r1=3k9&if=1mA"


def test_its_link_leads_out_of_the_trap(client):
    href = listed(client, f"/stage?{DROP}")[1][0].a["href"]
    assert listed(client, href) == ([], [])


def test_a_trap_without_a_better_value_has_no_link(client):
    (item,) = listed(client, "/stage?if=5mA&il=5.5mA")[1]
    assert item.a is None
    assert "against" in item.small.get_text()


def test_it_stands_right_under_the_findings(client):
    page = tree_of(client.get(f"/stage?{DROP}").text)
    following = page.select_one("#verdict .findings").following
    assert [tag.name for tag in following[:2]] == ["h2", "ul"]
    assert following[1]["class"] == ["traps"]


def test_without_a_trap_there_is_no_list(client):
    assert listed(client, "/stage") == ([], [])


def test_over_the_cycle_they_are_looked_for_once_the_hand_rests(client):
    query = "in=ac&r1=33k&r1w=1.6"
    moving = {"Lightgap-Unseen": "tables"}
    assert listed(client, f"/stage/live?{query}", headers=moving) == ([], [])
    (item,) = listed(client, f"/stage/live?{query}")[1]
    assert item["data-trap"] == "peak-power"


def test_what_a_trap_says_is_escaped(client):
    """Whatever a text holds, it is text."""
    scenario = scenario_from_query("")
    trap = Trap("decade", "r1", "<b>R1</b> & co", (220e3, 215.0, "ohm"), Mend("<i>220</i>", scenario))
    template = client.get("/stage").template.environment.get_template("fragments/_traps.html")
    text = template.render(stage={"traps": trap_views((trap,))}, url_for=lambda name, query: f"/{name}?{query}")
    assert "&lt;b&gt;R1&lt;/b&gt; &amp; co" in text
    assert "<b>" not in text
    assert "<i>" not in text
    assert "220 kΩ against 215 Ω" in text
