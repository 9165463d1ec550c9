"""The panel on speed: what it prints, what it refuses, that it is bounded and escaped."""

import pytest

from engine import INPUTS, OUTPUTS, line_timing_of, scenario_from_query, timing_of
from tests.api.test_bounce import square_answered
from tests.api.test_timing import timing_answered
from tests.markup import tree_of
from webapp.present.figures import plain
from webapp.present.panels.timing import timing_panel

ALIKE = ("contact-high", "sinking", "sourcing", "two-wire", "limited")
"""Inputs that the panel treats as it does the usual one; the engine's tests follow each of them."""
KINDS = [*(f"in={side}" for side in INPUTS if side not in ALIKE), *(f"out={load}" for load in OUTPUTS)]


def printed(client, query):
    answer = client.get(f"/stage/panel?panel=timing&{query}")
    assert answer.status_code == 200
    return tree_of(answer.text)


@pytest.mark.parametrize("query", [*KINDS, "vs=0V&r1=1k&vcc=0V", "rl=470R", "coupler=with-base&rl=10k"])
def test_every_stage_has_both_edges_or_a_reason(client, query):
    soup, scenario = printed(client, query), scenario_from_query(query)
    followed = timing_of(scenario) is not None or line_timing_of(scenario) is not None
    drawn = soup.select("svg.timing-wave[role=img]")
    assert len(drawn) - len(soup.select("#square svg.timing-wave[role=img]")) == (2 if followed else 0)
    assert bool(soup.select(":not(#square) > .timing-reason")) != followed
    assert "nan" not in soup.get_text().lower().replace("nano", "").replace("resonan", "")
    ids = [tag["id"] for tag in soup.select("[id]")]
    assert len(ids) == len(set(ids))
    timing_answered(client, query)
    square_answered(client, query)


def test_figures_are_the_engines(client):
    found, text = timing_of(scenario_from_query("rl=10k")), printed(client, "rl=10k").get_text()
    assert plain(found.max_rate.low, "Hz") in text
    assert plain(found.narrowest_pulse.high, "s") in text
    assert plain(found.edges["off"].valid.value, "s") in text
    assert found.limited_by in text


def test_curves_and_marks_stay_within_the_drawing():
    for query in ("", "out=pull-down&rl=22k", "out=indicator", "rl=470R", "cl=10n"):
        for plot in timing_panel(scenario_from_query(query), {}).plots:
            for pair in f"{plot.nominal} {plot.band}".split():
                x, y = map(float, pair.split(","))
                assert plot.left - 0.1 <= x <= plot.right + 0.1
                assert plot.top - 0.1 <= y <= plot.bottom + 0.1
            assert plot.top <= plot.limit_y <= plot.bottom
            assert plot.delay is None or plot.left <= plot.delay.x <= plot.delay.end


def test_what_buys_speed_is_told_of_this_stage():
    names = [case.name for case in timing_panel(scenario_from_query("coupler=with-base&rl=10k"), {}).cases]
    assert names[0] == "as it is"
    assert any(name.startswith("RL halved") for name in names)
    assert any("base to emitter" in name for name in names)
    plain_names = [case.name for case in timing_panel(scenario_from_query(""), {}).cases]
    assert not any("base to emitter" in name for name in plain_names)


def test_a_wanted_rate_is_answered():
    def answer(rate):
        return timing_panel(scenario_from_query(f"rl=22k&rate={rate}"), {}).answer

    assert "holds, at worst too" in answer("100Hz")
    assert "with RL" in answer("8kHz")
    assert "no smaller RL" in answer("100MHz")
    assert answer("none") == ""


def test_the_field_is_that_of_the_stage(client):
    soup = printed(client, "rl=10k&rate=5kHz")
    field = soup.find(id="timing-rate")
    assert (field["name"], field["data-sets"], field["value"]) == ("rate", "rate", "5 kHz")
    assert field.within(".panel-form") is None  # else it would be sent twice
    assert printed(client, "in=ac").find(id="timing-rate")["value"] == "none"


def test_it_works_as_a_page_without_script(client):
    soup = tree_of(client.get("/stage?rl=10k&rate=5kHz&panel=timing").text)
    assert soup.find(id="panel-timing") is not None
    assert soup.find(id="timing-rate")["value"] == "5 kHz"
    assert soup.find(id="rate")["value"] == "5 kHz"
    names = [field["name"] for field in soup.select(".panel-sets input")]
    assert names.count("rate") == names.count("panel") == 1


@pytest.mark.parametrize("text", ["ten", "<script>alert(1)</script>", "9" * 190])
def test_a_value_of_an_older_link_changes_nothing(client, text):
    soup = tree_of(client.get("/stage/panel", params={"panel": "timing", "p.rate": text}).text)
    assert soup.find(id="timing-rate")["value"] == "none"
    assert soup.script is None
