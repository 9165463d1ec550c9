"""The panel on what fits: bars, form, answer; bounded and escaped."""

import math
from itertools import pairwise

import pytest

from engine import INPUTS, OUTPUTS, scenario_from_query, size_for, windows_of
from engine.preferred import preferred
from tests.api.test_size import size_answered
from tests.markup import tree_of
from webapp.present.panels import PANELS
from webapp.present.panels.window import window_panel
from webapp.present.panels.window_bar import WIDTH, resistance, window_bar

KINDS = [*(f"in={side}" for side in INPUTS), *(f"out={load}" for load in OUTPUTS)]
EMPTY = "vcc=5V&logic=ttl&ineed=1mA"


def printed(client, query):
    answer = client.get(f"/stage/panel?panel=window&{query}")
    assert answer.status_code == 200
    return tree_of(answer.text)


def text_of(tag):
    return " ".join(tag.get_text(" ", strip=True).split())


def test_it_is_listed():
    assert PANELS["window"].title == "What fits"


@pytest.mark.parametrize("query", [*KINDS, "vs=0V&r1=1k", "leak=10k", "r1=100M&rl=1R", "tamax=85C&years=20"])
def test_every_stage_has_two_bars_and_an_answer(client, query):
    soup = printed(client, query)
    bars = soup.select("svg.window-bar[role=img]")
    assert len(bars) == 2
    assert all(bar["aria-label"] for bar in bars)
    assert soup.select_one(".sizing .use")["href"].startswith("/stage")
    assert "nan" not in soup.get_text().lower()
    ids = [tag["id"] for tag in soup.select("[id]")]
    assert len(ids) == len(set(ids))
    if query != "in=ac":  # which has no window of R1
        size_answered(client, query)


def test_ends_carry_cause_and_value(client):
    soup = printed(client, "")
    R1, RL = (text_of(bar) for bar in soup.select("svg.window-bar"))
    for bar, causes in ((R1, ("R1 power", "Saturation")), (RL, ("Saturation", "Level, LED dark"))):
        assert "at least" in bar
        assert "at most" in bar
        assert all(cause in bar for cause in causes)
    assert "now 16 kΩ" in R1
    assert "LED current" in R1
    assert "Level, LED lit" in RL


def test_the_table_lists_every_limit_with_its_corner(client):
    soup = printed(client, "tamin=-20C&tamax=70C")
    windows = windows_of(scenario_from_query("tamin=-20C&tamax=70C"))
    tables = soup.select("details.values tbody")
    for table, window in zip(tables, windows.values(), strict=True):
        assert len(table.select("tr")) == len(window.bounds)
        assert len(table.select("tr.sets")) == 2
    assert "70 °C" in text_of(tables[0])


def test_a_wanted_rate_limits_rl_and_is_kept_by_what_is_sized(client):
    soup = printed(client, "rate=12kHz&p.edge=20us")
    limits = [text_of(row) for row in soup.select("details.values tbody tr")]
    assert any("Signal rate" in row and "at most" in row and "the tightest" in row for row in limits)
    assert "(signal rate)" in text_of(soup.select(".window-answer")[1])
    assert "highest rate" in text_of(soup.select_one(".sizing"))
    assert "slower edge" in text_of(soup.select_one(".sizing"))


def test_a_rate_that_is_left_aside_is_said(client):
    soup = printed(client, "in=ac&cs=10u&rate=50Hz")
    assert any("signal rate is left aside" in text_of(p) for p in soup.select(".window-told"))
    assert "left aside" in text_of(soup.select_one(".sizing"))


def test_what_sets_no_limit_is_said_and_when_speed_sets_one(client):
    told = [text_of(p) for p in printed(client, "").select(".window-told")]
    assert any(sentence.startswith("No limit from") and "RL power" in sentence for sentence in told)
    assert any("the slower the edges" in sentence for sentence in told)


def test_where_nothing_fits_the_gap_is_drawn(client):
    soup = printed(client, EMPTY)
    R1, RL = soup.select("svg.window-bar")
    assert RL.select_one(".gap")
    assert not RL.select_one(".allowed")
    assert R1.select_one(".allowed")
    answers = [text_of(p) for p in soup.select(".window-answer")]
    assert "No value fits" in answers[1]
    assert "■" in answers[1]
    assert any("Fails whatever R1 is" in text_of(p) for p in soup.select(".window-told"))


def test_the_answer_is_the_engines(client):
    sizing = size_for(scenario_from_query(""))
    soup = printed(client, "").select_one(".sizing")
    assert "holds" in soup["class"]
    rows = [[text_of(cell) for cell in row.select("th, td")] for row in soup.select("tbody tr")]
    assert [row[:2] for row in rows] == [[part, resistance(one.R)] for part, one in sizing.chosen.items()]
    assert rows[0][3] == "fails: overdrive asked for"
    assert "What binds: Overdrive asked for" in text_of(soup)


def test_its_link_leads_to_a_stage_that_holds(client):
    href = printed(client, "r1=100R").select_one(".use")["href"]
    page = tree_of(client.get(href).text)
    assert not page.select("#verdict .findings .stop, #verdict .findings .caution")


def test_wishes_of_the_form_are_heeded_and_stay(client):
    soup = printed(client, "p.overdrive=3&p.ifmin=1mA&p.keep=rl")
    assert soup.select_one("#window-overdrive")["value"] == "3"
    assert soup.select_one("#window-ifmin")["value"] == "1mA"
    assert soup.select_one("#window-keep option[selected]")["value"] == "rl"
    assert "stays as it is" in text_of(soup.select_one(".sizing"))


def test_a_conflict_is_told_in_words(client):
    soup = printed(client, "leak=10k").select_one(".sizing")
    assert "fails" in soup["class"]
    assert "No pair makes everything hold" in text_of(soup)
    assert any("never hold all at once" in text_of(p) for p in soup.select(".window-conflict"))
    assert any(text_of(p).startswith("Exclude each other") for p in soup.select(".window-conflict"))


def test_what_no_resistor_mends_is_told_apart(client):
    soup = printed(client, "in=ac").select_one(".sizing")
    assert "everything holds that these two decide" in text_of(soup)
    assert "No R1 and RL mend this" in text_of(soup)


@pytest.mark.parametrize("typed", ["0", "<b>x</b>", "nan", "9" * 150])
def test_a_wish_that_cannot_be_gets_a_message_and_is_escaped(client, typed):
    answer = client.get("/stage/panel", params={"panel": "window", "p.overdrive": typed})
    assert answer.status_code == 200
    assert "<b>x</b>" not in answer.text
    soup = tree_of(answer.text)
    assert "1 to 100" in text_of(soup.select_one("#window-errors"))
    assert soup.select_one("#window-overdrive")["value"] == typed
    assert not soup.select(".sizing")
    assert len(soup.select("svg.window-bar")) == 2


def test_without_script_the_page_has_it_and_the_form_keeps_the_stage(client):
    soup = tree_of(client.get("/stage?vs=24V&panel=window&p.overdrive=2").text)
    form = soup.select_one("#panel form")
    assert form["method"] == "get"
    hidden = {tag["name"]: tag["value"] for tag in form.select("noscript input")}
    assert hidden["vs"] == "24V"
    assert hidden["panel"] == "window"
    assert soup.select_one("#window-overdrive")["value"] == "2"


@pytest.mark.parametrize("query", [*KINDS, EMPTY, "leak=10k", "r1=100M", "rl=1R", "r1=1R", "vs=0V&r1=1k"])
def test_bars_stay_within_their_drawing(query):
    for window in windows_of(scenario_from_query(query)).values():
        bar = window_bar(window)
        assert 0.0 <= bar.start <= bar.start + bar.length <= WIDTH
        assert 0.0 <= bar.now <= WIDTH
        for end in bar.ends:
            assert 0.0 <= end.x <= WIDTH
            reach = len(f"{end.words} {end.value}") * 9.5
            assert (end.label_x + reach if end.anchor == "start" else WIDTH - end.label_x + reach) <= WIDTH + 1.0
        rows = {}
        for mark in bar.marks:
            assert mark.y < bar.height
            length = len(mark.text) * 8.2
            rows.setdefault(mark.y, []).append((mark.x if mark.anchor == "start" else mark.x - length, length))
        for labels in rows.values():
            labels.sort()
            assert all(a + length <= b for (a, length), (b, _) in pairwise(labels))


def test_a_scale_of_the_bar_is_that_of_the_logarithm():
    window = windows_of(scenario_from_query(""))["R1"]
    bar = window_bar(window)
    at = {tick.text: tick.at for tick in bar.ticks if tick.text}
    decade = at["100 kΩ"] - at["10 kΩ"]
    assert at["20 kΩ"] - at["10 kΩ"] == pytest.approx(decade * math.log10(2.0), abs=0.2)
    assert bar.ends[1].x - bar.ends[0].x == pytest.approx(decade * math.log10(window.high.R / window.low.R), abs=0.3)
    low, high = (end.x for end in bar.ends)
    assert (bar.start, bar.start + bar.length) == pytest.approx((low, high), abs=0.2)


def test_resistances_are_short():
    assert resistance(4700.0) == "4.7 kΩ"
    assert resistance(preferred(12345.6, "E192")) == "12.3 kΩ"
    assert resistance(9090.909) == "9.09 kΩ"


def test_the_record_is_frozen():
    panel = window_panel(scenario_from_query(""), {})
    with pytest.raises(AttributeError):
        panel.errors = ()
