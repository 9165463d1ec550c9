"""The panel on contact bounce: what it prints, what it refuses, that drawings stay within their frame."""

import pytest

from engine import INPUTS, OUTPUTS, filter_for, scenario_from_query, why_unbounced
from tests.api.test_bounce import bounce_answered
from tests.markup import tree_of
from webapp.present.figures import plain
from webapp.present.panels.bounce import bounce_panel

ALIKE = ("contact-high", "sinking", "sourcing", "two-wire", "limited")
"""Inputs that the panel treats as it does the usual one; the engine's tests follow each of them."""
KINDS = [*(f"in={side}" for side in INPUTS if side not in ALIKE), *(f"out={load}" for load in OUTPUTS)]


def printed(client, query):
    answer = client.get(f"/stage/panel?panel=bounce&{query}")
    assert answer.status_code == 200
    return tree_of(answer.text)


@pytest.mark.parametrize("query", [*KINDS, "vs=0V&r1=1k&vcc=0V", "rl=470R", "leak=10k&rl=22k"])
def test_every_stage_is_followed_or_has_a_reason(client, query):
    soup, reason = printed(client, query), why_unbounced(scenario_from_query(query))
    drawings = soup.select("svg.timing-wave[role=img]")
    assert bool(drawings) != bool(reason)
    assert bool(soup.select(".timing-reason")) == bool(reason)
    assert len(soup.select("details.values table")) == len(drawings)
    ids = [tag["id"] for tag in soup.select("[id]")]
    assert len(ids) == len(set(ids))
    bounce_answered(client, query)


def test_figures_are_the_engines_and_the_filter_can_be_opened(client):
    soup, found = printed(client, "rl=10k"), filter_for(scenario_from_query("rl=10k"))
    text = " ".join(soup.get_text().split())
    assert f"{plain(found.C, 'F')} across the LED is the smallest E6 value" in text
    (proposed,) = (case for case in found.cases if case.C == found.C)
    assert plain(proposed.rate.low, "Hz") in text
    assert plain(proposed.delay["closing"].high, "s") in text
    (link,) = soup.select(".window-answer a")
    scenario = scenario_from_query(link["href"].split("?")[1])
    assert scenario.input.C_filter == pytest.approx(found.C)
    assert len(soup.select(".bounce-cases tbody tr")) == 3


def test_the_filter_as_it_is_is_told(client):
    soup = printed(client, "rl=10k&cf=47u")
    assert "The filter as it is makes one edge of a closing" in soup.get_text()
    assert soup.select(".window-answer.holds")
    assert len(soup.select(".bounce-cases tbody tr")) == 4


def test_lines_and_marks_stay_within_the_drawing():
    for query in ("out=pull-down&rl=22k", "rl=470R", "cl=10n&cf=1u"):
        for plot in bounce_panel(scenario_from_query(query), {}).plots:
            for pair in f"{plot.nominal} {plot.band} {plot.light} {plot.switch_points}".split():
                x, y = map(float, pair.split(","))
                assert plot.left - 0.1 <= x <= plot.right + 0.1
                assert 0.0 <= y <= plot.bottom + 0.1
            assert all(plot.top <= limit.y <= plot.bottom for limit in plot.limits)
            assert len(plot.rows) >= 10


def test_time_and_bounces_are_asked_for(client):
    soup = printed(client, "p.tb=1ms&p.bounces=2")
    assert "A closing with 2 bounces is 5 edges" in soup.get_text()
    assert soup.find(id="bounce-tb")["value"] == "1ms"


@pytest.mark.parametrize(
    "own",
    [{"p.tb": "0"}, {"p.tb": "1 s"}, {"p.tb": "nan"}, {"p.bounces": "2.5"}, {"p.bounces": "1e9"}, {"p.tb": "<b>"}],
)
def test_what_cannot_be_is_told_within_the_panel(client, own):
    answer = client.get("/stage/panel", params={"panel": "bounce", **own})
    soup = tree_of(answer.text)
    assert answer.status_code == 200
    assert "accepted: " in soup.find(id="bounce-error").get_text()
    assert not soup.select("#panel-bounce b")


def test_it_works_as_a_page_without_script(client):
    soup = tree_of(client.get("/stage?rl=10k&panel=bounce&p.tb=2ms").text)
    assert soup.find(id="panel-bounce") is not None
    assert soup.find(id="bounce-tb")["value"] == "2ms"
