"""The tour: every experiment shows what it says, on the stages that it opens, as the engine solves them now."""

import re

import pytest

from engine import (
    DARK_VF,
    EXAMPLES,
    RATIO,
    SECOND,
    STATES,
    bench_sheet,
    diagnose,
    findings_of,
    off_state_of,
    operating_point,
    over_cycle,
    parse,
    scenario_from_query,
)
from tests.markup import tree_of
from webapp.present.tour import EXPERIMENTS, experiment_view

LIT, DARK = STATES
BY_TITLE = {one.title: one for one in EXPERIMENTS}
FILLED = re.compile(r"\{(\w+)\}")


def stage(title: str, query: str = ""):
    """Return the solved stage of an experiment, with what differs from it."""
    return operating_point(BY_TITLE[title].changed(query))


def read(title: str, query: str = "", state: str = LIT, of: str = "VOUT"):
    return stage(title, query).states[state].quantities[of]


def level(title: str, query: str = "", state: str = LIT):
    verdict = stage(title, query).states[state].verdict
    return verdict.level, verdict.sure


def test_there_are_twelve_and_each_opens_a_stage_of_its_own():
    assert len(EXPERIMENTS) == 12
    assert len({one.title for one in EXPERIMENTS}) == len({one.stage for one in EXPERIMENTS}) == 12


@pytest.mark.parametrize("one", EXPERIMENTS, ids=lambda one: one.title)
def test_every_figure_is_worked_out_and_used(one):
    view = experiment_view(one.number)
    named = set(FILLED.findall(one.about + one.now))
    assert named == set(one.read)
    assert not any("{" in text or "nan" in text for text in (view.about, view.predict, view.drag, view.now))
    assert view.predict.endswith("?")
    assert all(len(text) < 600 for text in (view.about, view.now))


@pytest.mark.parametrize("one", EXPERIMENTS, ids=lambda one: one.title)
def test_what_else_it_opens_differs_from_its_stage(one):
    view = experiment_view(one.number)
    queries = [view.query, *(query for _, query in view.tries)]
    assert len(set(queries)) == len(queries)
    assert all(scenario_from_query(query.partition("&panel=")[0]) for query in queries)


def test_a_weaker_pull_up_gives_the_lower_zero():
    title = "The zero that floats"
    zeros = [read(title, f"rl={rl}").value for rl in ("1k", "1k8", "10k")]
    assert zeros[0] > zeros[1] > zeros[2]
    assert level(title)[0] != "low"
    assert level(title, "rl=10k") == ("low", True)
    drives = [read(title, f"rl={rl}", of="IF").value for rl in ("1k8", "10k")]
    assert drives[0] == pytest.approx(drives[1], rel=1e-9)


def test_three_couplers_of_one_bag_read_differently():
    title = "Three from one bag"
    assert level(title, "ctr=min")[0] == "undefined"
    assert level(title)[0] == level(title, "ctr=max")[0] == "low"
    whole, weak = read(title), read(title, "ctr=min")
    assert whole.low < weak.value < whole.high


def test_heat_closes_the_window_from_both_ends():
    title = "Warm it up"
    assert read(title, of="overdrive").low > 1 > read(title, "ta=85C", of="overdrive").low
    assert level(title, "rl=470k", DARK) == ("high", True)
    assert level(title, "ta=85C&rl=470k", DARK)[1] is False
    between = stage(title, "ta=85C&rl=22k").states
    assert all(state.verdict.sure for state in between.values())


def figures_of(title: str) -> dict[str, str]:
    """Return the figures of an experiment as it prints them, by name; they are worked out once for all tests."""
    one = BY_TITLE[title]
    view = experiment_view(one.number)
    pattern = re.sub(r"\\{(\w+)\\}", r"(?P<\1>.+?)", re.escape(f"{one.about} {one.now}"))
    return re.fullmatch(pattern, f"{view.about} {view.now}").groupdict()


def test_a_stronger_pull_up_is_faster_until_the_level_is_gone():
    title = "Faster is not lower"
    found = figures_of(title)
    falls = [parse(found[name], SECOND) for name in ("slow", "quick", "quickest")]
    assert falls[0] > 4 * falls[1] > 4 * falls[2]
    assert level(title) == level(title, "rl=3k3") == ("low", True)
    assert level(title, "rl=1k")[0] != "low"


def test_half_in_becomes_about_seventy_percent_out_and_less_drive_less():
    one = BY_TITLE["Quick on, lazy off"]
    found = figures_of(one.title)
    shares = [parse(found[name], RATIO) for name in ("in", "out", "closer")]
    assert shares[0] == 0.5
    assert 0.65 < shares[1] < 0.75
    assert 0.5 < shares[2] < shares[1] - 0.04
    assert parse(found["off"], SECOND) > parse(found["sooner"], SECOND) > 20 * parse(found["on"], SECOND)
    assert "p.square=3kHz" in one.shows


def test_the_bypass_helps_across_the_input_and_harms_across_the_sensor():
    title = "Off, but on"
    assert level(title, "", DARK)[0] == "low"
    assert level(title, "rb=2k2&rbat=input", DARK) == ("high", True)
    across_sensor = "rb=2k2&rbat=switch"
    assert level(title, across_sensor, DARK)[0] == "low"
    assert read(title, across_sensor, DARK, "IF").value > read(title, "", DARK, "IF").value
    assert stage(title).states[DARK].drops["R1"].value == pytest.approx(15.0, rel=0.01)
    assert BY_TITLE[title].scenario.conditions.switch == DARK


def test_supply_over_leakage_leaves_the_led_lit_and_the_cure_does_not():
    one = BY_TITLE["A rule of thumb that cannot work"]
    rule = off_state_of(one.scenario).rules[0]
    assert (rule.place, rule.R) == ("led", 24e3)
    assert read(one.title, "rb=24k", DARK, "VF").value > DARK_VF == 0.8
    assert level(one.title, "rb=24k", DARK)[0] == "low"
    cured = off_state_of(one.changed("rb=750R"))
    assert cured.VF.high <= DARK_VF
    assert level(one.title, "rb=750R", DARK) == ("high", True)


def test_one_diode_lets_a_low_port_switch_the_led_off():
    title = "A port that cannot switch off"
    assert level(title, "", DARK)[0] == "undefined"
    assert level(title, "nd=1", DARK) == ("high", True)
    assert level(title, "nd=1") == ("low", True)
    assert read(title, "", DARK, "VF").value < 5.0 - 3.3


def test_heat_goes_with_the_rms_value_and_doubles_at_half_the_resistance():
    title = "Peak, rms, watts"
    peak = 2**0.5 * 230.0
    heats = [stage(title, f"r1={R}").states[LIT].powers["R1"].value for R in ("300k", "150k")]
    assert heats[0] == pytest.approx(peak**2 / 300e3 / 2, rel=0.03)
    assert heats[1] == pytest.approx(2 * heats[0], rel=0.02)
    assert peak == pytest.approx(325.0, abs=0.5)


def test_a_bridge_narrows_the_gap_more_current_too_and_a_capacitor_closes_it():
    one = BY_TITLE["Flicker that nobody sees"]

    def gap(query):
        return over_cycle(one.changed(query)).figures["unlit"].value

    assert gap("") > 0.01 > 10 * gap("form=bridge") > 10 * gap("form=bridge&r1=22k") > 0
    assert gap("form=bridge&cs=4.7uF") == 0


def test_a_joined_return_changes_no_reading():
    one = BY_TITLE["One wire kills the barrier"]
    apart, joined = (bench_sheet(one.changed(query)) for query in ("", "bridge=returns"))
    shown = [
        [(row.probe.id, state, found.expected) for row in sheet.rows for state, found in row.states.items() if found]
        for sheet in (apart, joined)
    ]
    assert len(shown[0]) > 6
    assert [(a, s) for a, s, _ in shown[0]] == [(a, s) for a, s, _ in shown[1]]
    assert [v for *_, v in shown[0]] == pytest.approx([v for *_, v in shown[1]], abs=1e-9)
    codes = {f.code for f in findings_of(stage(one.title, "bridge=returns"), remedies=False) if f.severity == "stop"}
    assert codes == {"barrier-bridged"} <= set(EXAMPLES)


def test_two_readings_leave_several_faults_and_the_next_one_parts_them():
    one = BY_TITLE["Meter detective"]
    found = diagnose(one.scenario, one.readings)
    left = {ranked.fault.id for ranked in found.ranking if ranked.probability > 0.02}
    assert found.explained
    assert {"u1-open", "rl-short", "u1-exchanged"} <= left
    assert not any(fault.startswith(("led-", "r1-", "vs-")) for fault in left)
    assert (found.next.point, found.next.state) == ("rl", LIT)
    swapped = read(one.title, "swap=yes", of="VOUT").value
    assert 0.05 < one.scenario.output.VCC - swapped < 1.0


@pytest.mark.parametrize("number", [1, 12])
def test_an_experiment_is_a_page_with_the_explorer_at_its_own_address(client, number):
    answer = client.get(f"/tour/{number}")
    soup = tree_of(answer.text)
    view = experiment_view(number)
    assert answer.status_code == 200
    assert soup.select_one(".experiment h1").text == view.title
    assert soup.select_one("#content")["data-kept"] == soup.select_one("#followers")["data-query"] == view.query
    assert soup.select_one("details.experiment-now").get("open") is None
    assert [link["href"] for link in soup.select(".experiment-tries a")] == [
        f"/tour/{number}?{query}" for _, query in view.tries
    ]
    onward = {link["rel"][0]: link["href"].partition("?")[0] for link in soup.select(".experiment-onward a")}
    assert onward == {"next": "/tour/2"} if number == 1 else {"prev": "/tour/11"}


def test_a_form_without_script_stays_on_the_experiment(client):
    soup = tree_of(client.get("/tour/1").text)
    data = {control["name"]: control.get("value", "") for control in soup.select("#controls input[name]")}
    for select in soup.select("#controls select"):
        data[select["name"]] = select.select_one("option[selected]")["value"]
    assert soup.select_one("#controls")["action"].partition("?")[0] == "/tour/1"
    answer = client.get("/tour/1", params=data | {"rl": "10k"}, follow_redirects=False)
    assert answer.status_code == 303
    assert answer.headers["Location"] == "/tour/1?vs=24V&r1=15k&vcc=5V&rl=10k&logic=hct"


def test_a_refused_value_is_told_on_the_experiment(client):
    answer = client.get("/tour/1?rl=much")
    assert answer.status_code == 422
    assert "not a number" in tree_of(answer.text).select_one("#problems").text


@pytest.mark.parametrize("number", ["0", "13", "-1", "01", "x", "1e1", "٣"])
def test_there_is_no_other_experiment(client, number):
    assert client.get(f"/tour/{number}").status_code == 404


def test_the_tour_leads_to_every_experiment_and_the_start_page_to_the_tour(client):
    links = [link["href"] for link in tree_of(client.get("/tour").text).select(".tour-list a")]
    assert [link.partition("?")[0] for link in links] == [f"/tour/{one.number}" for one in EXPERIMENTS]
    for page in ("/", "/stage"):
        assert tree_of(client.get(page).text).select_one('a[href="/tour"]')
