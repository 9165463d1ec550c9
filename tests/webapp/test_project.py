"""A stage for a room: what is shown, which sliders, what is refused; the drawing that is lettered large."""

import pytest

from engine import INPUTS, OUTPUTS, scenario_from_query
from tests.markup import tree_of
from webapp.present.clearance import Item, cleared
from webapp.present.explorer import explore
from webapp.present.lettering import READABLE, WINDOW, lettered


def parsed(answer):
    return tree_of(answer.text)


def chosen(page):
    return [f["data-field"] for f in page.select("#controls .field") if not f.has_attr("hidden")]


@pytest.mark.parametrize(
    ("query", "keys"),
    [
        ("", ["vs", "rl", "ctr"]),
        ("sliders=ta,if", ["ta", "if", "vs"]),
        ("sliders=r1,r1,nonsense,rl,vcc,ta", ["r1", "rl", "vcc"]),
        ("in=ac&sliders=vs,vac", ["vac", "rl", "ctr"]),
        ("sliders=" + "x" * 5000, ["vs", "rl", "ctr"]),
    ],
)
def test_three_sliders_are_those_of_the_address_that_the_stage_has(client, query, keys):
    assert chosen(parsed(client.get(f"/project?{query}"))) == keys


def test_every_value_of_the_stage_goes_with_the_form(client):
    explorer = parsed(client.get("/stage?vs=24V&rb=4k7"))
    projected = parsed(client.get("/project?vs=24V&rb=4k7"))
    wanted = {f["name"] for f in explorer.select("#controls [name]")}
    assert {f["name"] for f in projected.select("#controls [name]")} >= wanted
    assert projected.select_one("#rb")["value"] == "4.7 kΩ"


@pytest.mark.parametrize("shown", ["verdict", "findings", "nothing", "off", "nonsense"])
def test_what_is_shown_is_named_by_the_address(client, shown):
    page = parsed(client.get(f"/project?panel={shown}"))
    known = shown if shown != "nonsense" else "verdict"
    assert page.select_one("#shown-choice option[selected]")["value"] == known
    assert bool(page.select_one(f"#panel-{shown}")) == (shown == "off")
    assert ("beside" in page.select_one("#content")["class"]) == (shown == "nothing")


def test_live_answer_is_the_picture_of_the_page(client):
    page, live = parsed(client.get("/project?vs=24V")), parsed(client.get("/project/live?vs=24V"))
    for part in ("#schematic", "#state", "#shown"):
        assert str(page.select_one(part)) == str(live.select_one(part))


def test_a_refused_value_is_told_and_the_last_good_stage_shown(client):
    answer = client.get("/project?vs=much&was=vs%3D24V")
    page = parsed(answer)
    assert answer.status_code == 422
    assert page.select_one("#flag-VS .reading").text == "24.0 V"
    assert page.select_one("#error-vs").text
    live = client.get("/project/live?vs=much")
    assert (live.status_code, bool(parsed(live).select("#problems li"))) == (422, True)
    assert client.get("/project/panel?vs=much&panel=timing").status_code == 422


def test_a_form_without_script_is_answered_with_the_short_link(client):
    answer = client.get("/project?vs=24+V&was=&panel=life&p.ahead=9&sliders=rl,vs,ta", follow_redirects=False)
    assert answer.status_code == 303
    assert answer.headers["location"] == "/project?vs=24V&panel=life&p.ahead=9&sliders=rl%2Cvs%2Cta"


@pytest.mark.parametrize(("query", "name"), [("before=vs%3D24V", "before"), ("after=", "after"), ("before=much", "")])
def test_what_is_held_stays_in_the_form(client, query, name):
    assert parsed(client.get(f"/project?{query}")).select_one("#held")["name"] == name


@pytest.mark.parametrize("way", ["stacked", "beside"])
@pytest.mark.parametrize("query", [f"in={kind}" for kind in INPUTS] + [f"out={kind}" for kind in OUTPUTS])
def test_numbers_are_large_enough_in_the_smallest_room_and_flags_stay_within(query, way):
    drawing = lettered(explore(scenario_from_query(query)).stage.sides, way)
    across, down = {"stacked": (0.62, 0.95), "beside": (1.0, 0.66)}[way]
    scale = min(across * WINDOW[0] / drawing.width, down * WINDOW[1] / drawing.height)
    assert drawing.letters * scale >= READABLE - 0.5
    for placed in drawing.sides:
        for flag in placed.flags:
            assert 0 <= flag.x <= placed.side.width - flag.width
            assert 0 <= flag.y <= placed.side.height - flag.height
            assert flag.y < flag.name_y < flag.value_y < flag.y + flag.height


def test_writing_moves_off_what_it_would_lie_on_and_nothing_else_moves():
    moves = ((0, 0), (10, 0), (30, 0), (-10, 0))
    part, text = Item(("part", "a"), (0, 0, 20, 20)), Item(("label", "b"), (15, 0, 35, 20), moves)
    free = Item(("label", "c"), (60, 60, 80, 80), moves)
    assert cleared((part, text, free), (100, 100)) == {("label", "b"): (10, 0)}
    assert cleared((part, free), (100, 100)) == {}
    own = Item(("label", "a"), (5, 5, 15, 15), moves)
    assert cleared((part, own), (100, 100)) == {}
