"""`/api/logbooks`: readings beside their windows, measured ratios, how they go; never the key."""

import csv
import io
import json
from urllib.parse import quote

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from engine import Problem, ScenarioError
from tests.api.test_fuzz import SPECIMENS, refuse_constants
from tests.api.test_kept import problem
from tests.asking import Asking
from webapp.app import create_app
from webapp.hunting.rates import Allowance, Rates
from webapp.settings import Settings

STAGE = "vs=24V&r1=10k&rl=1k"
WIDE = Allowance(1e9, 1e9)
ENTRIES = (
    {"date": "2021-05-01", "r.r1.closed": "20V", "r.rl.closed": "2V", "nickname": "Ann"},
    {"date": "2023-05-01", "r.r1.closed": "22.8V", "r.rl.closed": "1.5V", "r.vs.closed": "30V", "note": "dusty"},
    {"date": "2022-05-01", "r.vs.closed": "24V"},
)


@pytest.fixture(scope="module")
def client(module_database):
    app = create_app(Settings(database=module_database))
    app.state.hunt_rates = Rates(logging=WIDE, entering=WIDE)
    yield Asking(app, base_url="http://testserver", follow_redirects=False)
    app.state.store.close()


@pytest.fixture
def own(client):
    """The path that lets one write into a logbook of three entries."""
    path = client.post(f"/log/new?{STAGE}", data={"title": "Pump 3"}).headers["Location"]
    for entry in ENTRIES:
        assert client.post(path, data=entry).status_code == 303
    return path


@pytest.fixture
def path(own):
    """Its path in the API."""
    return own.partition("?")[0].replace("/log/", "/api/logbooks/")


def test_readings_stand_beside_their_windows_the_oldest_entry_first(client, path):
    told = client.get(path).json()
    assert (told["title"], told["scenario"]) == ("Pump 3", STAGE)
    assert client.get(told["page"]).status_code == 200
    assert [entry["date"] for entry in told["entries"]] == ["2021-05-01", "2022-05-01", "2023-05-01"]
    assert [(entry["nickname"], entry["note"]) for entry in told["entries"]] == [("Ann", ""), ("", ""), ("", "dusty")]
    bench = {point["id"]: point for point in client.get(f"/api/bench?{STAGE}").json()["points"]}
    for entry in told["entries"]:
        for read in entry["readings"]:
            window = bench[read["point"]]["states"][read["state"]]
            assert (read["low"], read["high"]) == (window["low"], window["high"])
            assert read["good"] == (window["low"] <= read["value"] <= window["high"])
    goods = {read["point"]: read["good"] for read in told["entries"][2]["readings"]}
    assert goods["vs"] is False
    assert goods["r1"] is True


def test_measured_ratios_are_those_of_the_file(client, own, path):
    told = client.get(path).json()
    rows = list(csv.DictReader(io.StringIO(client.get(f"{own.partition('?')[0]}.csv").text)))
    head = next(name for name in rows[0] if name.startswith("CTR"))
    for entry, row in zip(told["entries"], rows, strict=True):
        if entry["ratio"] is None:
            assert row[head] == ""
            assert entry["reason"].startswith("It takes the voltages")
        else:
            assert entry["ratio"]["CTR"] == pytest.approx(float(row[head]), rel=1e-8)
            assert entry["reason"] is None
    assert told["entries"][0]["ratio"]["CTR"] == pytest.approx(1.0)  # 2 V over 1 kohm, 20 V over 10 kohm


def test_the_trend_holds_every_day_with_a_ratio(client, path):
    told = client.get(path).json()
    trend = told["trend"]
    assert (trend["dates"], trend["days"]) == (["2021-05-01", "2023-05-01"], [0.0, 730.0])
    assert trend["CTR"] == [entry["ratio"]["CTR"] for entry in told["entries"] if entry["ratio"]]
    assert all(low < CTR < high for low, CTR, high in zip(trend["least"], trend["CTR"], trend["most"], strict=True))
    assert {len(values) for values in trend.values()} == {2}


def test_a_logbook_without_entries_has_no_trend(client):
    own = client.post(f"/log/new?{STAGE}", data={"title": "New"}).headers["Location"]
    told = client.get(own.partition("?")[0].replace("/log/", "/api/logbooks/")).json()
    assert (told["entries"], told["trend"]) == ([], None)


def test_the_key_is_told_to_nobody(client, own, path):
    key = own.partition("key=")[2]
    for address in (path, f"{path}?key={key}"):
        answer = client.get(address)
        assert answer.status_code == 200
        assert key not in answer.text


def test_what_was_deleted_or_never_was_is_one_answer(client, own, path):
    assert client.post(own.replace("?", "/delete?")).status_code == 200
    gone, never = (problem(client.get(one), 404) for one in (path, "/api/logbooks/nothing"))
    assert gone == never


def test_a_stage_that_cannot_be_read_any_more_is_told(client, path, monkeypatch):
    monkeypatch.setattr("webapp.routes.logbooks.scenario_from_query", unreadable)
    problem(client.get(path), 410)


def unreadable(query):
    raise ScenarioError([Problem("vs", "", "", "gone")])


def test_the_description_has_every_answer(client):
    operation = client.get("/openapi.json").json()["paths"]["/api/logbooks/{log}"]["get"]
    assert set(operation["responses"]) == {"200", "404", "410"}


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(log=st.one_of(st.sampled_from(SPECIMENS), st.text(max_size=40)))
def test_any_address_gets_a_clear_answer(client, log):
    answer = client.get(f"/api/logbooks/{quote(log[:200], safe='')}")
    assert answer.status_code in (307, 404)
    assert "Traceback" not in answer.text
    if answer.status_code == 404:
        json.loads(answer.text, parse_constant=refuse_constants)
