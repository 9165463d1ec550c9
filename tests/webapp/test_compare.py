"""Two stages compared: what differs, by how much, which way; and what is refused."""

from urllib.parse import urlencode

import pytest

from engine import OHM, VOLT, operating_point, scenario_from_query
from tests.markup import tree_of
from webapp.present.comparing.change import change_of_number, change_of_text
from webapp.present.comparing.comparison import comparison
from webapp.present.panels.before import before_panel

FAILING = "rl=470R"
"""A stage that does not saturate, where the usual one does."""


@pytest.fixture(scope="module")
def failing():
    return comparison(scenario_from_query(""), scenario_from_query(FAILING))


def parsed(answer):
    return tree_of(answer.text)


def compared(client, a, b):
    return client.get(f"/compare?{urlencode({'a': a, 'b': b})}")


@pytest.mark.parametrize(
    ("before", "after", "kind", "told"),
    [
        (48.0, 24.0, "down", "down 50 %"),
        (24.0, 48.0, "up", "up 100 %"),
        (10.0, 10.17, "up", "up 1.7 %"),
        (-2.0, -1.0, "down", "down 50 %"),
        (1.0, 0.0001, "down", "down 99.9 %"),
        (0.1, 5.0, "up", "50 times as large"),
        (0.0, 3.0, "up", "up by 3.00 V"),
        (1.0, -1.0, "down", "down by 2.00 V"),
    ],
)
def test_a_change_is_told_in_per_cent_and_by_its_direction(before, after, kind, told):
    change = change_of_number(before, after, VOLT, (f"{before} V", f"{after} V"))
    assert (change.kind, change.told, change.differs) == (kind, told, True)


def test_what_reads_the_same_is_the_same_and_a_range_of_its_own_is_told():
    assert change_of_number(4700.0, 4700.4, OHM, ("4.7 kΩ", "4.7 kΩ")).told == "same"
    change = change_of_number(1.0, 1.0, VOLT, ("1.00 V", "1.00 V"), ("0.9 – 1.1", "0.8 – 1.2"))
    assert (change.sign, change.told, change.differs) == ("≠", "only its range", True)


@pytest.mark.parametrize(
    ("before", "after", "told"),
    [("a", "a", "same"), ("", "a", "only after"), ("a", "", "only before"), ("a", "b", "other")],
)
def test_words_differ_or_not(before, after, told):
    assert change_of_text(before, after).told == told


def test_parameters_figures_and_findings_that_differ_are_those_of_the_two_stages(failing):
    assert [(p.key, p.change.before, p.change.after) for p in failing.parameters] == [("rl", "4.7 kΩ", "470 Ω")]
    points = [operating_point(scenario_from_query(query)) for query in ("", FAILING)]
    closed = next(state for state in failing.states if state.state == "closed")
    rows = {row.symbol: row.change for group in closed.groups for row in group.rows}
    times = [[point.states["closed"].quantities[name].value for point in points] for name in ("VOUT", "IC")]
    assert rows["VOUT"].told == f"{times[0][1] / times[0][0]:.3g} times as large"
    assert rows["IC"].told == f"up {(times[1][1] / times[1][0] - 1) * 100:.3g} %"
    assert not rows["VS"].differs
    assert closed.verdict.after == "UNDEFINED, not surely"
    assert {(f.code, f.word) for f in failing.findings} == {("saturation", "appears"), ("level-lit", "appears")}


def test_the_other_way_round_findings_vanish_and_directions_turn():
    back = comparison(scenario_from_query(FAILING), scenario_from_query(""))
    assert {f.word for f in back.findings} == {"vanishes"}
    assert back.parameters[0].change.kind == "up"
    assert "2 findings vanish" in back.told


def test_a_sized_resistor_is_compared_by_its_value():
    found = comparison(scenario_from_query(""), scenario_from_query("r1=4k7"))
    change = next(p.change for p in found.parameters if p.key == "r1")
    assert (change.before, change.after, change.kind) == ("auto: 16 kΩ", "4.7 kΩ", "down")


@pytest.mark.parametrize("kinds", ["in=ac&out=relay", "in=logic&out=gate&if=10mA", "in=transistor&out=ac-triac"])
def test_stages_of_other_kinds_are_compared_by_what_each_has(kinds):
    found = comparison(scenario_from_query(""), scenario_from_query(kinds))
    told = {p.change.told for p in found.parameters}
    assert {"only before", "only after"} <= told
    assert all(row.change.told for state in found.states for group in state.groups for row in group.rows)


def test_equal_stages_differ_in_nothing():
    found = comparison(scenario_from_query("vs=24V"), scenario_from_query("vs=24V"))
    assert found.told == "Both stages are the same."
    assert [row for state in found.states for row in state.differing] == []


def test_page_shows_both_drawings_and_every_change_in_words(client):
    page = parsed(compared(client, "", FAILING))
    ids = [element["id"] for element in page.select("[id]")]
    assert len(ids) == len(set(ids))
    assert [len(page.select(f"#{mark}-schematic svg")) for mark in "ab"] == [2, 2]
    marked = [f.select_one(".node").text for f in page.select("#b-schematic .flag.differs")]
    assert "OUT" in marked
    assert "VS" not in marked
    changes = page.select(".changes td.change")
    assert len(changes) > 40
    assert all(change.select_one(".sign") and change.get_text(strip=True)[1:].strip() for change in changes)
    links = {link["href"] for link in page.select(".compared-stage .onward a")}
    assert {"/stage", f"/stage?{FAILING}", f"/project?{FAILING}"} <= links


@pytest.mark.parametrize(
    "link",
    ["vs=24V&rl=1k", "/stage?vs=24V&rl=1k&panel=timing&p.rate=1k", "http://host/project?vs=24V&rl=1k&sliders=vs"],
)
def test_a_stage_is_given_by_any_link_to_it(client, link):
    assert parsed(compared(client, link, "")).select_one("#a")["value"] == "vs=24V&rl=1k"


@pytest.mark.parametrize(
    "wrong",
    [
        "vs=much",
        "nonsense",
        "/couplers",
        "vs=1V&vs=2V",
        "x" * 13_000,
        "%ff",
        "vs=\x00",
        "http://[",
        "&" * 999,
        "a=1&" * 999,
    ],
)
def test_a_stage_that_is_refused_is_told_beside_it_and_the_other_one_shown(client, wrong):
    answer = compared(client, wrong, FAILING)
    page = parsed(answer)
    assert answer.status_code == 422
    assert page.select_one("#a-stage #a-problems").get_text(strip=True)
    assert page.select_one("#a")["aria-invalid"] == "true"
    assert page.select_one("#b-problems") is None
    assert page.select_one("#b-schematic")
    assert not page.select_one("#a-schematic")
    assert page.select_one("#compared") is None


def test_without_stages_the_page_asks_for_them(client):
    answer = client.get("/compare")
    assert answer.status_code == 200
    assert [field["name"] for field in parsed(answer).select("input")] == ["a", "b"]


def test_panel_tells_what_has_become_other_than_what_is_held(client):
    page = parsed(client.get(f"/stage?{FAILING}&panel=before&before="))
    assert "1 value differs" in page.select_one(".before-told").text
    assert page.select_one("#held")["name"] == "before"
    assert page.select_one(".before-more a")["href"] == f"/compare?{urlencode({'a': '', 'b': FAILING})}"


def test_panel_turns_round_while_the_one_before_is_shown():
    panel = before_panel(scenario_from_query(""), {"after": FAILING})
    assert (panel.shown, panel.comparison.parameters[0].change.after) == ("before", "470 Ω")


@pytest.mark.parametrize("held", ["vs=much", "nonsense", "x" * 20_000])
def test_panel_refuses_what_is_no_stage(client, held):
    answer = client.get("/stage", params={"panel": "before", "before": held})
    assert answer.status_code == 200
    assert "cannot be shown" in parsed(answer).select_one("#panel .error").text
