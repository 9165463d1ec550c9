"""The bands under the sliders: where they are drawn, what is said, and when none are given."""

from dataclasses import fields

import pytest

from engine import IMPOSSIBLE, INPUTS, OHM, OUTPUTS, RULES, UNSIZED, parse
from tests.markup import tree_of
from webapp.present.bands import WIDTH, BandView, name_of

KINDS = [f"in={side}" for side in INPUTS if side != "ac"] + [f"out={load}" for load in OUTPUTS]


def parsed(answer):
    return tree_of(answer.text)


def views(client, query):
    answer = client.get(f"/stage/bands?{query}")
    assert answer.status_code == 200
    assert answer.template.name == "fragments/_bands.html"
    assert answer.headers["Cache-Control"] == "no-store"
    return {view.key: view for view in answer.context["bands"]}, parsed(answer)


@pytest.mark.parametrize("query", KINDS)
def test_every_slider_has_its_band_and_nothing_else_has(client, query):
    found, soup = views(client, query)
    page = parsed(client.get(f"/stage?{query}"))
    sliders = {slider["data-for"] for slider in page.select(".slider")}
    roots = [root["id"] for root in soup.body.children]
    assert found.keys() == sliders
    assert sorted(roots) == sorted(f"{kind}-{key}" for key in sliders for kind in ("band", "band-words"))
    for root in roots:
        (place,) = page.select(f"[id='{root}']")
        assert place.name == soup.find(id=root).name
        assert place.has_attr("data-apart")
        assert place.get_text(strip=True) == ""
        assert place.within(".field")["data-field"] == root.split("-")[-1]


def test_a_band_lies_where_its_ends_are_on_the_slider(client):
    found, soup = views(client, "")
    page, answer = parsed(client.get("/stage")), client.get("/api/band").json()
    stops = [parse(text, OHM) for text in page.find(id="slider-rl")["data-stops"].split("|")]
    places = [stops.index(answer["rl"][end]) * WIDTH / (len(stops) - 1) for end in ("low", "high")]
    assert found["rl"].start == pytest.approx(places[0], abs=0.1)
    assert found["rl"].start + found["rl"].length == pytest.approx(places[1], abs=0.2)
    solid = soup.select_one("#band-rl .holds")
    assert float(solid["x"]) == found["rl"].start
    assert float(solid["width"]) == found["rl"].length


def test_words_tell_the_stretch_and_what_breaks_beyond(client):
    found, soup = views(client, "")
    assert found["r1"].text == "holds 6.2 – 36 kΩ"
    assert (found["r1"].below, found["r1"].above) == ("R1 power", "saturation")
    assert found["ctr"].text == "holds from 31 %"
    assert found["il"].text == "holds up to 1.8 mA"
    assert soup.select_one("#band-r1 title").text == "holds 6.2 – 36 kΩ; below: R1 power; above: saturation."
    assert "elsewhere" not in soup.find(id="band-words-r1")["class"]


def test_words_tell_where_the_nearest_stretch_is(client):
    found, soup = views(client, "rl=1k")
    assert found["rl"].text.startswith("needs ")
    assert not found["rl"].here
    assert "elsewhere" in soup.find(id="band-words-rl")["class"]


def test_words_tell_what_stays_broken(client):
    found, soup = views(client, "vb=900V&ins=reinforced")
    assert found["rl"].text.startswith("no value holds: working voltage")
    assert found["rl"].length == 0
    assert soup.select("#band-rl rect") == []


def test_only_the_crest_of_an_alternating_line_is_looked_at_and_said_so(client):
    found, _ = views(client, "in=ac&rl=100k")
    assert any("at the crest" in view.text for view in found.values())
    slow, soup = views(client, "in=ac&cs=10u")
    assert {key for key, view in slow.items() if not view.drawn} == {"vac", "r1", "if", "ta"}
    assert soup.find(id="band-words-vac").get_text(strip=True) == ""
    assert "drawn" not in soup.find(id="band-vac")["class"]


@pytest.mark.parametrize("query", ["rl=4,7k", "vs=1V", "what=1"])
def test_a_refused_stage_leaves_the_bands_that_are_shown(client, query):
    answer = client.get(f"/stage/bands?{query}")
    assert answer.status_code == 422
    assert answer.text.strip() == ""


def test_every_code_has_a_name_that_goes_into_a_sentence():
    names = [name_of(code) for code in (*RULES, UNSIZED, IMPOSSIBLE)]
    assert len(set(names)) == len(names)
    assert all(name and len(name) <= 25 for name in names)
    assert name_of("power-r1") == "R1 power"
    assert name_of("led-current") == "LED current"
    assert name_of("saturation") == "saturation"


def test_the_record_is_plain():
    assert {f.type for f in fields(BandView)} <= {str, bool, float, "str", "bool", "float"}
