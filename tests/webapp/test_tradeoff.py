"""The panel on speed against a resistor: what it prints, what it refuses, that it is bounded and escaped."""

import pytest

from engine import INPUTS, OUTPUTS, pull_up_for, scenario_from_query, tradeoff_of
from tests.api.test_tradeoff import tradeoff_answered
from tests.markup import tree_of
from webapp.present.figures import plain
from webapp.present.panels.tradeoff import tradeoff_panel

ALIKE = ("contact-high", "sinking", "sourcing", "two-wire", "limited")
"""Inputs that the panel treats as it does the usual one; the engine's tests follow each of them."""
KINDS = [*(f"in={side}" for side in INPUTS if side not in ALIKE), *(f"out={load}" for load in OUTPUTS)]
BASE = "coupler=with-base&rl=10k"
BAD = ("0", "-1", "ten", "1e400", "<script>alert(1)</script>", "5 V", "9" * 190, "nan", "{{7*7}}", "\x00")


def printed(client, query, **own):
    pairs = [pair.partition("=")[::2] for pair in query.split("&") if pair]
    extra = [(f"p.{key}", text) for key, text in own.items()]
    answer = client.get("/stage/panel", params=[("panel", "tradeoff"), *pairs, *extra])
    assert answer.status_code == 200
    return tree_of(answer.text)


@pytest.mark.parametrize("query", [*KINDS, "vs=0V&r1=1k&vcc=0V", "rl=1R", "rl=100M", "cl=1mF", "cl=0"])
def test_every_stage_has_its_charts_or_a_reason(client, query):
    soup = printed(client, query)
    followed = tradeoff_of(scenario_from_query(query)) is not None
    assert len(soup.select("svg.graph[role=img]")) == (3 if followed else 0)
    assert len(soup.select("[data-readings]")) == (3 if followed else 0)
    assert bool(soup.select(".tradeoff-told"))
    assert "nan" not in soup.get_text().lower()
    ids = [tag["id"] for tag in soup.select("[id]")]
    assert len(ids) == len(set(ids))
    tradeoff_answered(client, query)


@pytest.mark.parametrize(("vary", "last"), [("rl", "power while lit"), ("rbe", "CTR"), ("r1", "current while lit")])
def test_what_is_varied_is_chosen(client, vary, last):
    soup = printed(client, BASE, vary=vary)
    assert soup.select_one("#tradeoff-vary option[selected]")["value"] == vary
    titles = [caption.get_text() for caption in soup.select("figcaption")]
    assert all(f"over {vary.upper()}" in title for title in titles)
    assert last in titles[2]
    assert len(soup.select("#tradeoff-edge")) == (vary == "rl")


@pytest.mark.parametrize("vary", ["rbe", "r1"])
def test_what_is_wanted_is_kept_and_drawn_whatever_is_varied(client, vary):
    soup = printed(client, BASE, vary=vary, rate="9 kHz")
    assert soup.find(id="tradeoff-rate")["value"] == "9 kHz"
    assert "wanted 9.00 kHz" in soup.select_one("svg.graph .names").get_text()
    assert soup.select_one(".tradeoff-answer") is None
    assert printed(client, BASE, vary=vary, edge="5 us").select_one("[name='p.edge']")["value"] == "5 us"


def test_what_cannot_be_varied_is_told(client):
    assert [o["value"] for o in printed(client, "rl=10k").select("#tradeoff-vary option")] == ["rl", "r1"]
    assert "cannot be used here" in printed(client, "rl=10k", vary="rbe").get_text()
    assert "sets its current by itself" in printed(client, "in=limited", vary="r1").get_text()
    soup = printed(client, "rl=10k", vary="<script>x</script>")
    assert "accepted: rl, rbe, r1" in soup.get_text()
    assert soup.script is None


def test_figures_are_the_engines(client):
    found, soup = tradeoff_of(scenario_from_query("rl=10k")), printed(client, "rl=10k")
    rows = soup.select("[data-readings]")[0].select("tbody tr")
    assert len(rows) == len(found.R)
    for k, row in enumerate(rows):
        cells = [cell.get_text() for cell in row.select("th, td")]
        worst = found.speed.worst[k]
        assert cells[:3] == [
            plain(found.R[k], "ohm"),
            plain(found.speed.rate[k], "Hz"),
            plain(worst, "Hz") if worst else "–",
        ]
    assert found.low_end in soup.get_text()
    assert found.high_end in soup.get_text()


def test_stretches_are_shaded_and_named(client):
    panel = tradeoff_panel(scenario_from_query("rl=10k"), {})
    rate, margin, _ = panel.graphs
    assert {zone.text for zone in rate.zones} == {"fails: Saturation", "fails: Level, LED lit"}
    assert [zone.x for zone in rate.zones] == [rate.left, rate.left]
    assert all(rate.left < zone.end < rate.right for zone in rate.zones)
    assert not any(zone.text for zone in margin.zones)
    assert len(printed(client, "rl=10k").select("path.zone")) == 6


def test_what_fails_with_every_value_is_told_and_not_shaded():
    panel = tradeoff_panel(scenario_from_query("rl=10k&vcc=5V"), {})
    assert "Receiver's supply" in panel.always
    assert not any("Receiver" in zone.text for zone in panel.graphs[0].zones)


def test_all_that_is_drawn_stays_within_the_field():
    for query, vary in (("rl=10k", "rl"), (BASE, "rbe"), (BASE, "r1"), ("out=pull-down&rl=47k", "rl")):
        for drawn in tradeoff_panel(scenario_from_query(query), {"vary": vary}).graphs:
            for points in (
                *(s for line in drawn.lines for s in line.strokes),
                *(a for b in drawn.bands for a in b.areas),
            ):
                for pair in points.split():
                    x, y = map(float, pair.split(","))
                    assert drawn.left - 0.1 <= x <= drawn.right + 0.1
                    assert drawn.top - 0.1 <= y <= drawn.bottom + 0.1


# ---------------------------------------------------------------- what is wanted


def test_a_wanted_rate_is_answered_with_a_link(client):
    found = pull_up_for(scenario_from_query("rl=10k"), rate=15e3)
    answer = printed(client, "rl=10k", rate="15 kHz").select_one(".tradeoff-answer")
    assert plain(found.RL, "ohm") in answer.get_text()
    assert plain(found.figure, "Hz") in answer.get_text()
    assert found.reason in answer.get_text()
    linked = scenario_from_query(answer.a["href"].partition("?")[2])
    assert linked == found.scenario


def test_a_wanted_edge_is_answered(client):
    answer = printed(client, "rl=10k", edge="20us").select_one(".tradeoff-answer.holds")
    assert "edges of at most 20.0 µs" in answer.get_text()
    none = printed(client, BASE, edge="20us").select_one(".tradeoff-answer.fails")
    assert "Saturation" in none.get_text()
    assert none.a is None


def test_the_rate_that_the_stage_asks_for_is_the_usual_one(client):
    soup = printed(client, "rl=10k&rate=9kHz")
    assert soup.find(id="tradeoff-rate")["value"] == soup.find(id="tradeoff-rate")["data-usual"] == "9 kHz"
    assert "9.00 kHz" in soup.select_one(".tradeoff-answer").get_text()
    assert (
        "edges of at most" in printed(client, "rl=10k&rate=9kHz", edge="20us").select_one(".tradeoff-answer").get_text()
    )
    assert printed(client, "rl=10k&rate=9kHz", rate="").select_one(".tradeoff-answer") is None


@pytest.mark.parametrize("key", ["rate", "edge"])
@pytest.mark.parametrize("text", BAD)
def test_what_cannot_be_wanted_is_told_within_the_panel(client, key, text):
    soup = printed(client, "rl=10k", **{key: text})
    assert "accepted: " in soup.find(id="tradeoff-errors").get_text()
    assert soup.script is None
    assert len(soup.select("svg.graph")) == 3


def test_both_at_once_are_refused(client):
    assert "not both" in printed(client, "rl=10k", rate="1k", edge="1ms").find(id="tradeoff-errors").get_text()


def test_it_works_as_a_page_without_script(client):
    soup = tree_of(client.get("/stage?rl=10k&panel=tradeoff&p.rate=15kHz").text)
    assert soup.find(id="panel-tradeoff") is not None
    assert soup.find(id="tradeoff-rate")["value"] == "15kHz"
    assert soup.select_one("#panel .tradeoff-answer a") is not None
