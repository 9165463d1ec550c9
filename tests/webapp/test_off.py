"""The panel on the off state: leaks, ruler, cure, the rule in print."""

import pytest

from engine import INPUTS, OUTPUTS, off_state_of, scenario_from_query
from tests.markup import tree_of
from webapp.present.panels import PANELS
from webapp.present.panels.off import SCALE, off_panel

KINDS = [*(f"in={side}" for side in INPUTS), *(f"out={load}" for load in OUTPUTS)]


def printed(client, query):
    answer = client.get(f"/stage/panel?panel=off&{query}")
    assert answer.status_code == 200
    return tree_of(answer.text)


def text_of(tag):
    return " ".join(tag.get_text(" ", strip=True).split())


def test_it_is_listed():
    assert PANELS["off"].title == "Off state"


@pytest.mark.parametrize("query", [*KINDS, "vs=0V&r1=1k", "leak=100R", "in=ac&ileak=1mA", "rb=100k&rbat=switch"])
def test_every_stage_has_leaks_a_ruler_and_a_reading(client, query):
    scenario = scenario_from_query(query)
    soup = printed(client, query)
    assert len(soup.select("table")[0].select("tbody tr")) == len(off_state_of(scenario).leaks)
    assert soup.select_one("svg.off-ruler[role=img]")["aria-label"]
    assert scenario.output.observed in soup.get_text()
    assert "nan" not in soup.get_text().lower()


def test_where_nothing_leaks_it_says_so(client):
    soup = printed(client, "")
    assert "Nothing leaks on the input side" in soup.get_text()
    assert "rule in print" not in soup.get_text()


def test_a_leak_is_told_with_its_cures_and_the_rule_in_print(client):
    soup = printed(client, "leak=10k")
    assert "What leaks lights the LED" in text_of(soup.select_one(".window-answer"))
    rows = [text_of(row) for row in soup.select("table")[1].select("tbody tr")]
    assert rows[0].startswith("across the LED 220 Ω")
    assert "now fails: R1 power" in rows[0]
    assert "take a 25 W part" in rows[1]
    assert "everything holds" in rows[1]
    rules = [text_of(item) for item in soup.select(".off-rules li")]
    assert all("lights it" in rule for rule in rules)
    assert "20.3 V are left across the input" in rules[1]


def test_the_link_of_a_cure_leads_to_a_dark_led(client):
    for link in printed(client, "leak=10k").select("table a"):
        assert "What leaks lights" not in text_of(printed(client, link["href"].partition("?")[2]))


def test_the_ruler_is_to_scale():
    ruler = off_panel(scenario_from_query("leak=10k"), {}).ruler
    state = off_state_of(scenario_from_query("leak=10k"))
    assert (ruler.low + ruler.span) / ruler.limit_at == pytest.approx(state.VF.high / 0.8)
    assert ruler.at / ruler.limit_at == pytest.approx(state.VF.value / 0.8)
    assert 0.0 <= ruler.low <= ruler.at <= ruler.low + ruler.span <= SCALE


def test_a_bypass_that_is_there_is_named(client):
    assert "RB 820 Ω lies across the LED" in printed(client, "in=two-wire").get_text()


def test_values_of_its_own_do_no_harm(client):
    answer = client.get("/stage/panel?panel=off&p.x=%3Cscript%3E")
    assert answer.status_code == 200
    assert "<script>" not in answer.text
