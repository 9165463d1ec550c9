"""The panel on speed where the line sets the pace: what it prints, that it is bounded and escaped."""

import pytest

from engine import line_timing_of, scenario_from_query
from tests.markup import tree_of
from webapp.present.figures import plain
from webapp.present.panels.line_timing import line_panel

STAGES = (
    "in=ac",
    "in=ac&form=diode",
    "in=ac&form=bare",
    "in=ac&dropper=capacitor",
    "in=ac&cs=10u",
    "in=ac&cs=1m",
    "in=ac&co=1u",
    "in=ac&co=100u&out=pull-down",
    "in=ac&out=indicator",
    "in=ac&ileak=2mA",
    "in=ac&if=10u",
    "in=ac&coupler=photo-relay",
    "out=ac-load",
    "out=ac-load&coupler=triac-zero&if=25mA",
    "out=ac-triac&coupler=triac-random&if=25mA",
    "in=ac&out=ac-triac&if=25mA&r1w=100W&cs=100u",
)


def printed(client, query):
    answer = client.get(f"/stage/panel?panel=timing&{query}")
    assert answer.status_code == 200
    return tree_of(answer.text)


@pytest.mark.parametrize("query", STAGES)
def test_both_switches_are_drawn_with_a_table_each(client, query):
    soup = printed(client, query)
    assert len(soup.select("svg.timing-wave[role=img][aria-label]")) == 2
    assert len(soup.select("figure details table")) == 2
    assert not soup.select(".timing-reason")
    text = soup.get_text().lower().replace("nano", "")
    assert "nan" not in text.replace("resonan", "")
    assert "none hz" not in text
    ids = [tag["id"] for tag in soup.select("[id]")]
    assert len(ids) == len(set(ids))


@pytest.mark.parametrize("query", STAGES)
def test_curves_and_marks_stay_within_the_drawing(query):
    for plot in line_panel(scenario_from_query(query)).plots:
        for pair in f"{plot.nominal} {plot.band}".split():
            x, y = (float(number) for number in pair.split(","))
            assert plot.left - 0.5 <= x <= plot.right + 0.5
            assert plot.top - 0.5 <= y <= plot.bottom + 0.5
        for pair in plot.light.split():
            assert plot.light_top - 0.5 <= float(pair.split(",")[1]) <= plot.light_bottom + 0.5
        assert plot.valid_x is None or plot.left <= plot.valid_x <= plot.right


def test_figures_are_the_engines(client):
    found, text = line_timing_of(scenario_from_query("in=ac&cs=10u")), printed(client, "in=ac&cs=10u").get_text()
    for value, unit in ((found.max_rate.low, "Hz"), (found.steady.high, "s"), (found.dark.value, "s")):
        assert plain(value, unit) in text
    assert found.limited_by in text


def test_a_program_is_told_how_long_to_wait(client):
    found = line_timing_of(scenario_from_query("in=ac"))
    text = " ".join(printed(client, "in=ac").get_text().split())
    assert f"unlit for up to {plain(found.debounce, 's')}" in text
    assert "twice a cycle" in text
    assert "once a cycle" in printed(client, "in=ac&form=diode").get_text()
    assert "need not wait for gaps" in printed(client, "in=ac&cs=10u").get_text()


@pytest.mark.parametrize(
    ("rate", "said"), [("1Hz", "1 Hz holds, at worst too."), ("30Hz", "not at worst"), ("1kHz", "does not hold")]
)
def test_a_wanted_rate_is_answered(client, rate, said):
    assert said in printed(client, f"in=ac&cs=10u&rate={rate}").select_one(".timing-wish").get_text()


def test_where_the_led_pulses_into_a_triac_the_sentence_stays(client):
    soup = printed(client, "in=ac&out=ac-triac&if=25mA&r1w=100W")
    assert soup.select_one(".timing-reason").get_text()
    assert not soup.select("svg.timing-wave")


def test_nothing_of_the_address_is_printed_raw(client):
    answer = client.get("/stage/panel?panel=timing&in=ac&p.x=<script>alert(1)</script>")
    assert "<script>alert" not in answer.text
