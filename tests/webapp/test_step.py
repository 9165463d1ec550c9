"""The panel on steps between the grounds: what it prints, what it refuses, that it is bounded and escaped."""

import pytest

from engine import INPUTS, OUTPUTS, common_mode_of, largest_slope, scenario_from_query
from tests.api.test_step import step_answered
from tests.markup import tree_of
from webapp.present.figures import plain
from webapp.present.panels.step import slope_told, step_panel

ALIKE = ("contact-high", "sinking", "sourcing", "two-wire", "limited")
"""Inputs that the panel treats as it does the usual one; the engine's tests follow each of them."""
KINDS = [*(f"in={side}" for side in INPUTS if side not in ALIKE), *(f"out={load}" for load in OUTPUTS)]


def printed(client, query):
    answer = client.get(f"/stage/panel?panel=step&{query}")
    assert answer.status_code == 200
    return tree_of(answer.text)


def view(query, **values):
    return step_panel(scenario_from_query(query), values)


@pytest.mark.parametrize("query", [*KINDS, "rl=470R", "coupler=cascade&rl=10k", "vs=0V&r1=1k&vcc=0V"])
def test_every_stage_has_both_states_or_a_reason(client, query):
    soup, found = printed(client, query), common_mode_of(scenario_from_query(query), 500.0, 1e9)
    assert len(soup.select("svg.timing-wave[role=img]")) == (0 if found.reason else 2)
    assert bool(soup.select(".timing-reason")) == bool(found.reason)
    assert "local rules" in soup.select_one(".step-caution").get_text()
    assert "nan" not in soup.get_text().lower().replace("nano", "").replace("dominan", "")
    assert "inf " not in soup.get_text()
    ids = [tag["id"] for tag in soup.select("[id]")]
    assert len(ids) == len(set(ids))
    step_answered(client, query)


def test_figures_are_the_engines(client):
    scenario = scenario_from_query("rl=10k")
    found, text = common_mode_of(scenario, 500.0, 1e9), printed(client, "rl=10k").get_text()
    assert plain(found.current, "A") in text
    assert plain(found.charge, "C") in text
    worst = found.disturbances[0]
    assert plain(worst.unsure.high, "s") in text
    assert plain(worst.peak.high, "V") in text
    assert slope_told(largest_slope(scenario, 500.0).slope) in text


def test_the_verdict_follows_step_and_slope():
    assert "does not stand" in view("").verdict
    assert not view("").holds
    gentle = view("", slope="5 V/us")
    assert gentle.holds
    assert "at worst too" in gentle.verdict
    assert "5 V/µs" in gentle.verdict
    assert "nominal stage stands" in view("", slope="50 V/us").verdict
    assert "even before the step" in view("rl=470R").verdict
    assert "even read" in view("out=pull-down&rl=22k").verdict


def test_a_card_that_states_its_immunity_is_what_tells():
    assert view("out=gate").holds
    assert view("out=gate").steepest == "25 kV/µs"
    assert not view("out=gate", slope="30 kV/us").holds
    untold = view("out=dc-load")
    assert (untold.verdict, untold.steepest) == ("", "")
    assert "no CMTI" in untold.reason


def test_a_slope_is_told_rounded_down():
    assert [slope_told(slope) for slope in (2.69e7, 1e9, 0.0, float("inf"))] == ["26 V/µs", "1.0 kV/µs", "none", "any"]


def test_curves_and_marks_stay_within_the_drawing():
    stages = ("", "out=pull-down&rl=22k", "out=indicator", "out=controller", "rl=470R", "cl=10n")
    for query, slope in zip(stages, 2 * ("1 kV/us", "1 V/us", "100 kV/us"), strict=True):
        for plot in view(query, slope=slope).plots:
            for pair in f"{plot.nominal} {plot.band} {plot.light}".split():
                x, y = map(float, pair.split(","))
                assert plot.left - 0.1 <= x <= plot.right + 0.1
                assert plot.light_top - 0.1 <= y <= plot.bottom + 0.1
            assert plot.top <= plot.limit_y <= plot.bottom
            assert plot.left <= plot.delay.x <= plot.delay.end <= plot.right + 0.1
            assert plot.valid_x is None or plot.left <= plot.valid_x <= plot.right


def test_the_led_current_of_a_short_ramp_is_drawn_as_high_as_it_is():
    (dark,) = [plot for plot in view("coupler=with-base&rl=22k").plots if plot.key.startswith("dark")]
    found = common_mode_of(scenario_from_query("coupler=with-base&rl=22k"), 500.0, 1e9)
    (one,) = [d for d in found.disturbances if not d.lit and d.rising]
    assert one.wave.IF.max() == pytest.approx(one.IF_most.value, rel=0.1)
    assert dark.light_text == plain(float(one.wave.IF.max()), "A")


def test_what_helps_is_told_of_this_stage_and_can_be_tried(client):
    rows = view("coupler=with-base&rl=22k&r1=4k7").changes
    assert rows[0].name == "as it is"
    assert rows[0].times == ""
    assert any("base to emitter" in row.name for row in rows)
    assert not any("base to emitter" in row.name for row in view("").changes)
    for row in rows[2:]:
        assert client.get(f"/stage?{row.query}").status_code == 200


@pytest.mark.parametrize("key", ["dv", "slope"])
@pytest.mark.parametrize("text", ["0", "-1", "ten", "1e400", "<script>alert(1)</script>", "5 ohm", "9" * 190, "nan"])
def test_steps_that_cannot_be_are_told_within_the_panel(client, key, text):
    answer = client.get("/stage/panel", params={"panel": "step", f"p.{key}": text, "out": "gate"})
    soup = tree_of(answer.text)
    assert answer.status_code == 200
    assert "accepted: " in soup.find(id="step-error").get_text()
    assert soup.find(id=f"step-{key}")["value"] == text
    assert soup.script is None


def test_it_works_as_a_page_without_script(client):
    soup = tree_of(client.get("/stage?rl=10k&panel=step&p.slope=5V/us").text)
    assert soup.find(id="panel-step") is not None
    assert soup.find(id="step-slope")["value"] == "5V/us"


def test_a_change_is_tried_with_this_panel_and_its_values():
    tried = [row.query for row in view("rl=10k", slope="5 V/us").changes if row.query]
    assert tried
    assert all(query.endswith("&panel=step&p.slope=5+V%2Fus") for query in tried)
