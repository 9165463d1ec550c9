"""Over the cycle on the page and in JSON: there for alternating voltage only, drawn within its frame, never mixed."""

import json
import math

import pytest

from engine import over_cycle, scenario_from_query
from tests.asking import Asking
from tests.markup import tree_of
from webapp.app import create_app
from webapp.present.cycle import HEIGHT, LEFT, RIGHT, cycle_view
from webapp.settings import Settings

STAGES = (
    "in=ac",
    "in=ac&dropper=capacitor&cs=10u",
    "in=ac&form=diode&out=indicator",
    "in=ac&form=pair&coupler=two-way",
    "in=ac&co=10u&out=pull-down",
    "in=ac&vac=1V&if=1uA&r1=1k",
)


@pytest.fixture(scope="module")
def client():
    return Asking(create_app(Settings()))


def section(client, query, path="/stage/live"):
    page = tree_of(client.get(f"{path}?{query}").text)
    return page.select_one("#cycle")


def pairs(points):
    return [tuple(map(float, point.split(","))) for point in points.split()]


@pytest.mark.parametrize("path", ["/stage", "/stage/live", "/stage/explorer"])
def test_only_alternating_voltage_has_the_section(client, path):
    assert section(client, "in=ac", path) is not None
    assert section(client, "in=contact-low", path) is None


@pytest.mark.parametrize("query", STAGES)
def test_every_figure_is_a_number(client, query):
    text = section(client, query).get_text(" ")
    assert "nan" not in text.lower().split()
    assert "inf" not in text.lower().split()


@pytest.mark.parametrize("query", STAGES)
def test_each_quantity_has_rms_peak_and_average_side_by_side(client, query):
    table = section(client, query).select_one("table.triples")
    assert [cell.get_text() for cell in table.select("thead th")[1:]] == ["rms", "Peak", "Average of the magnitude"]
    rows = table.select("tbody tr")
    assert all(len(row.select("td")) == 3 for row in rows)
    names = [next(row.th.stripped_strings) for row in rows]
    assert names[0] == "V line"
    assert names[-1] == "IF"


def test_the_line_of_230_volts_reads_so_three_times(client):
    row = section(client, "in=ac&vstol=0%25").select_one("table.triples tbody tr")
    assert [cell.get_text(strip=True) for cell in row.select("td")] == ["230 V", "325 V", "207 V"]


@pytest.mark.parametrize("query", STAGES)
def test_traces_stay_within_their_frames(query):
    view = cycle_view(scenario_from_query(query))
    for trace in view.traces:
        for x, y in pairs(trace.points) + pairs(trace.band):
            assert LEFT <= x <= RIGHT
            assert trace.top - 0.1 <= y <= trace.bottom + 0.1
        assert pairs(trace.points)[0][1] == pairs(trace.points)[-1][1]  # the period closes
        assert all(trace.top <= limit.y <= trace.bottom for limit in trace.limits)
    assert all(later.top >= earlier.bottom for earlier, later in zip(view.traces, view.traces[1:], strict=False))
    assert view.height >= view.traces[0].top + len(view.traces) * HEIGHT


@pytest.mark.parametrize("query", STAGES)
def test_tinted_stretches_are_the_unlit_share(query):
    scenario = scenario_from_query(query)
    view, cycle = cycle_view(scenario), over_cycle(scenario)
    tinted = sum(width for _, width in view.unlit) / (RIGHT - LEFT)
    assert tinted == pytest.approx(sum(stretch.width for stretch in cycle.unlit), abs=2e-3)
    assert all(LEFT <= x and x + width <= RIGHT + 0.1 for x, width in view.unlit)


def test_both_limits_of_the_receiver_are_drawn(client):
    names = [text.get_text() for text in section(client, "in=ac").select("text.limit-name")]
    assert names == ["low up to 800 mV", "high from 2.00 V"]


def test_pulse_widths_are_listed_over_both_resistors(client):
    captions = [table.caption.get_text() for table in section(client, "in=ac").select("table.pulses")]
    assert [caption.rsplit(" ", 1)[1] for caption in captions] == ["R1", "RL"]
    assert section(client, "in=ac&co=1u").select("table.pulses") == []


def test_the_drawing_is_told_to_those_who_do_not_see_it(client):
    drawing = section(client, "in=ac").select_one("svg[role=img]")
    assert "not surely read as lit" in drawing["aria-label"]
    assert "all through the cycle" in section(client, "in=ac&cs=10u").select_one("svg[role=img]")["aria-label"]


@pytest.mark.parametrize(("query", "warned"), [("in=ac", True), ("in=ac&vac=60V", True), ("in=ac&vac=24V", False)])
def test_cautions_appear_above_fifty_volts(client, query, warned):
    page = tree_of(client.get(f"/stage/live?{query}").text)
    assert bool(page.select(".cautions")) == warned


@pytest.mark.parametrize("query", STAGES)
def test_json_has_the_cycle(client, query):
    answer = client.get(f"/api/stage?{query}")
    cycle = json.loads(answer.text, parse_constant=pytest.fail)["cycle"]
    assert len(cycle["line"]) == len(cycle["IF"][0]) == len(cycle["out"][0]) == 256
    line = cycle["electrical"]["V line"]
    assert line["peak"]["value"] == pytest.approx(math.sqrt(2) * line["rms"]["value"])
    assert line["rms"]["unit"] == "V"
    for found in [*cycle["figures"].values(), *cycle["powers"].values()]:
        assert found["low"] <= found["value"] <= found["high"]


def test_json_of_a_direct_current_stage_has_none(client):
    assert "cycle" not in client.get("/api/stage").json()


def test_a_pair_without_its_coupler_is_refused_at_the_coupler(client):
    answer = client.get("/api/stage?in=ac&form=pair")
    assert answer.status_code == 422
    assert [error["field"] for error in answer.json()["errors"]] == ["coupler"]


def test_branches_say_what_their_powers_are(client):
    page = tree_of(client.get("/stage/live?in=ac").text)
    assert "averages over the cycle" in page.select_one("table.branches caption").get_text()
