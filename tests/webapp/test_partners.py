"""A coupler and an output side that do not go together, and what only some output sides show."""

import re
from html import unescape
from urllib.parse import urlencode

import pytest

from engine import OUTPUTS, operating_point, pairs_from, query_from, scenario_from_query
from engine.coupler import card_names
from engine.pairing import cards_for
from webapp.present.input_plot import input_plot
from webapp.present.load_figures import NAMES, load_figures


def sent(query, **changes):
    """Return what the form of a solved stage carries after a change."""
    scenario = scenario_from_query(query)
    return urlencode(dict(pairs_from(scenario, readable=True)) | changes | {"was": query_from(scenario)})


def shown(answer):
    """Return the scenario that an answer shows, and its notice."""
    query = unescape(re.search(r'data-query="([^"]*)"', answer.text)[1])
    notice = re.search(r'class="notice">([^<]*)', answer.text)
    return scenario_from_query(query), unescape(notice[1]) if notice else ""


@pytest.mark.parametrize("path", ["/stage/explorer", "/stage"])
@pytest.mark.parametrize("kind", OUTPUTS)
@pytest.mark.parametrize("before", ["", "out=gate", "out=ac-triac", "out=relay&coupler=cascade"])
def test_another_output_side_keeps_its_coupler_or_gets_its_usual_one(client, path, kind, before):
    last = scenario_from_query(before)
    answer = client.get(f"{path}?{sent(before, out=kind)}")
    assert answer.status_code == 200
    scenario, notice = shown(answer)
    kept = last.coupling.card in cards_for(kind)
    assert scenario.output.kind == kind
    assert scenario.coupling.card == (last.coupling.card if kept else OUTPUTS[kind].usual_coupler)
    assert bool(notice) != kept
    if notice:
        assert notice.endswith(f"So the coupler is now: {scenario.coupling.data.title}.")


@pytest.mark.parametrize("card", card_names())
@pytest.mark.parametrize("before", ["", "out=gate", "out=dc-load", "out=ac-load"])
def test_another_coupler_keeps_its_output_side_or_gets_its_usual_one(client, card, before):
    last = scenario_from_query(before)
    scenario, notice = shown(client.get(f"/stage/explorer?{sent(before, coupler=card)}"))
    assert scenario.coupling.card == card
    assert (scenario.output.kind == last.output.kind) == (not notice)
    assert card in cards_for(scenario.output.kind)


def test_values_of_ones_own_are_kept_where_they_mean_the_same(client):
    scenario, _ = shown(client.get(f"/stage/explorer?{sent('', out='indicator', vcc='5 V', ta='40 C')}"))
    assert (scenario.output.VCC, scenario.conditions.TA) == (5.0, 40.0)
    scenario, _ = shown(client.get(f"/stage/explorer?{sent('', out='ac-load', vcc='5 V', ta='40 C')}"))
    assert (scenario.output.VCC, scenario.conditions.TA) == (230.0, 40.0)


def test_a_link_that_does_not_go_together_is_refused_with_its_reason(client):
    answer = client.get("/stage?out=gate&coupler=general")
    assert answer.status_code == 422
    assert "a gate needs a gate-driver coupler" in answer.text


@pytest.mark.parametrize("kind", OUTPUTS)
def test_every_figure_has_a_name(kind):
    assert set(OUTPUTS[kind]().units) <= NAMES.keys()
    point = operating_point(scenario_from_query(f"out={kind}&rl=1k&if=20mA&r1w=5W"))
    found = {name for state in point.states.values() for name in state.quantities} & NAMES.keys()
    assert {row.symbol for row in load_figures(point)} == {name.replace("_", " ") for name in found}


@pytest.mark.parametrize("query", ["", "&itype=1", "&itype=2&flow=sourcing", "&uon=13V&uoff=4V", "&vcc=60V"])
def test_the_plot_of_an_input_shows_both_states_within_its_frame(query):
    point = operating_point(scenario_from_query(f"out=controller{query}"))
    plot = input_plot(point)
    assert [region.name for region in plot.regions] == ["off", "on"]
    for state, seen in zip(("closed", "open"), plot.points, strict=True):
        found = point.states[state].quantities
        assert (seen.volts.text, seen.amperes.text) != ("", "")
        assert 0 <= seen.x <= plot.width
        assert 0 <= seen.y <= plot.height
        left, top, width, height = seen.box
        assert left <= seen.x <= left + width + 0.1
        assert top <= seen.y <= top + height + 0.1
        assert seen.volts.text in plot.summary
        assert found["VIN"].value >= 0
    assert 2 <= len(plot.amperes) <= 5
    assert input_plot(operating_point(scenario_from_query(""))) is None


def test_a_lit_point_lies_within_the_region_in_which_the_input_is_on():
    plot = input_plot(operating_point(scenario_from_query("out=controller")))
    corners = [tuple(map(float, pair.split(","))) for pair in plot.regions[1].points.split()]
    lit, dark = plot.points
    assert min(x for x, _ in corners) <= lit.x <= max(x for x, _ in corners)
    assert min(y for _, y in corners) <= lit.y <= max(y for _, y in corners)
    assert dark.x < min(x for x, _ in corners)
