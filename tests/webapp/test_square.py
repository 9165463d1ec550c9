"""The section on square waves: what it prints, what it refuses."""

import pytest

from engine import scenario_from_query, timing_of, why_unfollowed
from tests.markup import tree_of
from webapp.present.figures import plain
from webapp.present.panels.square import square_view, usual_rate


def printed(client, query):
    answer = client.get(f"/stage/panel?panel=timing&{query}")
    assert answer.status_code == 200
    return tree_of(answer.text).find(id="square")


def viewed(query, **values):
    scenario = scenario_from_query(query)
    return square_view(scenario, timing_of(scenario), values)


def test_it_shows_the_sure_rate_by_itself(client):
    section, timing = printed(client, "rl=10k"), timing_of(scenario_from_query("rl=10k"))
    assert plain(timing.max_rate.low, "Hz") in section.get_text()
    assert section.find(id="square-rate")["value"] == section.find(id="square-rate")["data-usual"]
    assert len(section.select("svg.timing-wave")) == 1
    assert len(section.select("details.values table")) == 1


def test_a_rate_of_ones_choice_is_answered():
    slow, fast = viewed("rl=10k", square="100 Hz"), viewed("rl=10k", square="1 MHz")
    assert slow.holds
    assert "surely sees both levels, at worst too" in slow.answer
    assert "longer" in slow.widths
    assert not fast.holds
    assert "not surely read" in fast.answer or "does not come to repeat itself" in fast.answer
    assert slow.plots[0].lost != fast.plots[0].lost


def test_two_periods_are_drawn_within_the_frame():
    for query in ("", "out=pull-down&rl=22k", "out=indicator"):
        (plot,) = viewed(query).plots
        assert len(plot.switch_points.split()) == 8
        for pair in f"{plot.nominal} {plot.band} {plot.light} {plot.switch_points}".split():
            x, y = map(float, pair.split(","))
            assert plot.left - 0.1 <= x <= plot.right + 0.1
            assert 0.0 <= y <= plot.bottom + 0.1


def test_a_stage_without_a_rate_is_shown_at_a_slow_one():
    scenario = scenario_from_query("rl=470R")
    assert usual_rate(timing_of(scenario)) == 1e3
    view = viewed("rl=470R")
    assert view.utmost == "none"
    assert "lit is not surely read" in view.answer


@pytest.mark.parametrize("query", ["out=relay", "out=gate"])
def test_what_is_not_followed_is_told(client, query):
    assert why_unfollowed(scenario_from_query(query)) in printed(client, query).get_text()


@pytest.mark.parametrize("text", ["0", "-1", "ten", "1e400", "<script>alert(1)</script>", "5 V", "9" * 190, "nan"])
def test_rates_that_cannot_be_are_told_within_the_panel(client, text):
    answer = client.get("/stage/panel", params={"panel": "timing", "p.square": text})
    soup = tree_of(answer.text)
    assert answer.status_code == 200
    assert "accepted: " in soup.find(id="square-error").get_text()
    assert soup.find(id="square-rate")["value"] == text
    assert soup.script is None
