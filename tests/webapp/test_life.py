"""The panel on service: what it prints, what it refuses, that it is bounded and escaped."""

import pytest

from engine import INPUTS, OUTPUTS, ScenarioError, in_service, life_of, scenario_from_query, staircase_of
from tests.api.test_life import life_answered
from tests.markup import tree_of
from webapp.present.panels import PANELS
from webapp.present.panels.life import BAR, life_panel, years_ahead

BENCH = "vs=20V&r1=6k2&vcc=5V&rl=2k7&logic=hct"
FADES = "vs=20V&r1=6k2&vcc=5V&rl=3k6&logic=hct"
KINDS = [*(f"in={side}" for side in INPUTS), *(f"out={load}" for load in OUTPUTS)]


def panel_of(query, **values):
    return life_panel(scenario_from_query(query), values)


def printed(client, query):
    answer = client.get(f"/stage/panel?panel=life&{query}")
    assert answer.status_code == 200
    return tree_of(answer.text)


def test_it_is_the_panel_that_opens_by_itself():
    assert next(iter(PANELS)) == "life"
    assert PANELS["life"].title == "Will it still work?"


@pytest.mark.parametrize("query", [*KINDS, "vs=0V&r1=1k&vcc=0V", "ageing=own", "ageing=stress&years=3", "ctr=min"])
def test_every_stage_has_a_staircase_and_a_drawing(client, query):
    soup = printed(client, query)
    assert len(soup.select(".life-steps tbody tr")) == len(staircase_of(scenario_from_query(query)))
    assert soup.select_one(".life-plot svg[role=img]")["aria-label"]
    assert len(soup.select(".life-curves polyline")) == len(soup.select(".life-laws tbody tr"))
    assert "nan" not in soup.get_text().lower().replace("resonan", "")
    ids = [tag["id"] for tag in soup.select("[id]")]
    assert len(ids) == len(set(ids))
    life_answered(client, query)


def test_steps_carry_sign_word_and_figure(client):
    rows = printed(client, BENCH).select(".life-steps tbody tr")
    words = [row.select_one(".word").get_text() for row in rows]
    assert words == ["holds", "holds", "holds", "fails", "fails", "fails"]
    assert [row.select_one(".sign").get_text() for row in rows] == ["✓"] * 3 + ["■"] * 3
    assert "fails from here: saturation; level, LED lit" in rows[3].get_text()
    assert "at 60" in rows[3].select_one(".life-times").get_text()


def test_bars_are_to_scale_with_the_limit():
    panel = panel_of(BENCH)
    for step, solved in zip(panel.steps, staircase_of(scenario_from_query(BENCH)), strict=True):
        assert step.bar / panel.limit_at == pytest.approx(solved.overdrive, rel=1e-6)
    assert max(step.bar for step in panel.steps) <= BAR


def test_bars_of_a_generous_stage_are_cut_off_and_say_so():
    panel = panel_of("rl=68k&iin=0A")
    assert "cut off" in panel.cut
    assert max(step.bar for step in panel.steps) <= BAR
    assert panel.limit_at > 0.1 * BAR


def test_remedies_are_links_to_stages_that_hold(client):
    soup = printed(client, BENCH)
    links = soup.select(".life-mends a")
    assert links
    for link in links:
        query = link["href"].split("?")[1]
        assert "tamin=0C&tamax=60C&years=10" in query
        steps = staircase_of(scenario_from_query(query))
        assert all(step.holds for step in steps)


def test_where_nothing_mends_it_that_is_said(client):
    text = printed(client, f"{BENCH}&ageing=own&loss=95%25&lossyears=1&years=20").get_text()
    assert "No single value that could be fitted mends it" in text


@pytest.mark.parametrize(
    ("query", "answer"),
    [
        (BENCH, "It works on the bench, even with the weakest part of the bin, but not from 0"),
        (f"{FADES}&years=10", "It works when new, hot and cold. It does not after 10 years if 20 % of the light"),
        (f"{FADES}&years=1", "Yes: everything holds at every step."),
        (
            "vs=20V&r1=6k2&vcc=5V&rl=2k2&logic=hct",
            "It works on the bench with a typical part, but not with the weakest",
        ),
        ("vs=20V&r1=6k2&vcc=5V&rl=1k&logic=hct", "It does not work even with nominal parts"),
        ("", "It does after 10 years if 20 % of the light is lost in 10 years."),
    ],
)
def test_the_answer_in_a_sentence(query, answer):
    assert answer in panel_of(query).answer


def test_what_is_asked_for_and_what_is_usual():
    assert panel_of(BENCH).asked.endswith("neither is asked for.")
    assert panel_of(f"{BENCH}&years=4").asked.endswith("4 years of service; no temperatures are asked for.")
    assert panel_of(f"{BENCH}&tamax=40C").asked.endswith("10 years of service; no years are asked for.")
    asked = panel_of(f"{BENCH}&tamax=40C&years=4")
    assert asked.asked.endswith(", as asked for.")
    assert asked.ask == ("Look at it new, on the bench", BENCH)
    assert panel_of(BENCH).ask[1] == f"{BENCH}&tamin=0C&tamax=60C&years=10"


def test_the_year_stands_where_the_curve_meets_the_limit():
    life = life_of(in_service(scenario_from_query(FADES)))
    plot = panel_of(FADES).plot
    share = (plot.ends[0].x - plot.left) / (plot.right - plot.left)
    assert share * life.ahead == pytest.approx(life.chosen.ends_in_year, abs=0.02)
    assert plot.ends[0].text == f"stops saturating in year {life.chosen.ends_in_year:.1f}"
    assert [end.text == "" for end in plot.ends] == [False, True]
    points = [tuple(map(float, pair.split(","))) for pair in plot.traces[0].points.split()]
    above = [x for x, y in points if y < plot.limit_y]
    below = [x for x, y in points if y > plot.limit_y]
    assert above[-1] <= plot.ends[0].x <= below[0]


def test_labels_and_curves_stay_within_the_drawing():
    for query in (*KINDS, BENCH, "ageing=own&loss=30%25", "rl=68k&iin=0A"):
        plot = panel_of(query).plot
        for trace in plot.traces:
            assert plot.top <= trace.label_y <= plot.height
            for pair in trace.points.split():
                x, y = map(float, pair.split(","))
                assert plot.left - 0.1 <= x <= plot.right + 0.1
                assert plot.top - 0.1 <= y <= plot.bottom + 0.1


def test_years_ahead_are_those_that_were_typed(client):
    soup = printed(client, f"{FADES}&p.ahead=7")
    assert soup.find(id="life-ahead")["value"] == "7"
    assert soup.select(".life-curves .tick")[-1] is not None
    assert "not within 7 years" in soup.select_one(".life-laws").get_text()


@pytest.mark.parametrize("text", ["0", "41", "ten", "1e400", "<script>alert(1)</script>", "5 V", "9" * 190])
def test_years_that_cannot_be_are_told_within_the_panel(client, text):
    answer = client.get("/stage/panel", params={"panel": "life", "p.ahead": text})
    soup = tree_of(answer.text)
    assert answer.status_code == 200
    assert "accepted: 1 to 40" in soup.find(id="life-error").get_text()
    assert soup.find(id="life-ahead")["value"] == text
    assert soup.script is None


@pytest.mark.parametrize("text", ["", " ", "1", "40", "12.5"])
def test_years_that_can_be(text):
    assert years_ahead(text) == float(text.strip() or 20)


def test_years_are_bounded():
    for text in ("0.99", "40.1"):
        with pytest.raises(ScenarioError, match="out of range"):
            years_ahead(text)


def test_it_works_as_a_page_without_script(client):
    soup = tree_of(client.get(f"/stage?{FADES}&panel=life&p.ahead=9").text)
    assert soup.find(id="panel-life") is not None
    assert soup.find(id="life-ahead")["value"] == "9"
