"""The JSON contract of /api/sweep."""

import json
import math
from urllib.parse import quote

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from engine import INPUTS, OUTPUTS, scenario_from_query, sweep_of
from tests.api.test_fuzz import SPECIMENS, check, pairs
from tests.api.test_stage import numbers_in
from webapp.answers import ProblemDocument
from webapp.routes.api_sweep import SweepAnswer

SPAN = "over=rl&from=1k&to=100k"
KINDS = [*(f"in={side}" for side in INPUTS), *(f"out={load}" for load in OUTPUTS)]
OWN = ("over", "from", "to", "points", "scale")


@pytest.mark.parametrize("query", [*KINDS, "vs=0V&r1=1k&vcc=0V", "tamin=0C&tamax=60C&years=10"])
def test_answer_has_the_shape_of_the_contract(client, query):
    answer = client.get(f"/api/sweep?{query}&{SPAN}&points=5")
    body = answer.json()
    assert answer.status_code == 200
    SweepAnswer.model_validate(body, strict=True)
    assert body["over"] == "rl"
    assert body["unit"] == "ohm"
    assert (body["x"][0], body["x"][-1], len(body["x"])) == (1e3, 1e5, 5)
    assert set(body["states"]) == {"closed", "open"}
    for state, results in body["states"].items():
        assert set(results) == set(body["ranges"][state])
        assert set(results) <= set(body["units"])
        assert all(len(values) == 5 for values in results.values())
    assert all(math.isfinite(number) for number in numbers_in(body))


def test_answer_is_the_engines(client):
    body = client.get("/api/sweep?r1=6k8&over=vs&from=10V&to=60V&points=11").json()
    sweep = sweep_of(scenario_from_query("r1=6k8"), "vs", 10.0, 60.0, 11)
    assert body["scenario"] == "r1=6k8"
    series = sweep.series("closed", "VOUT")
    assert body["states"]["closed"]["VOUT"] == list(series.value)
    assert body["ranges"]["closed"]["VOUT"] == {"low": list(series.low), "high": list(series.high)}
    assert body["margins"]["level-lit"] == list(sweep.margin("level-lit"))
    assert body["levels"]["closed"][-1] == "low"
    assert body["gaps"] == []


def test_every_point_is_the_answer_on_that_stage(client):
    body = client.get("/api/sweep?over=rl&from=1k&to=100k&points=3&scale=log").json()
    for k, RL in enumerate(body["x"]):
        stage = client.get(f"/api/stage?rl={RL:g}R").json()
        for name, found in stage["states"]["closed"]["quantities"].items():
            assert body["states"]["closed"][name][k] == pytest.approx(found["value"], rel=1e-6, abs=1e-12)
        for node, found in stage["states"]["open"]["nodes"].items():
            assert body["states"]["open"][f"V({node})"][k] == pytest.approx(found["value"], rel=1e-6, abs=1e-9)
        for finding in stage["findings"]:
            assert body["margins"][finding["code"]][k] == pytest.approx(finding["margin"], rel=1e-6, abs=1e-6)


def test_values_that_make_no_stage_are_gaps(client):
    body = client.get("/api/sweep?over=nd&from=0&to=2&points=5").json()
    assert [gap["x"] for gap in body["gaps"]] == [0.5, 1.5]
    assert "no parts of diodes" in body["gaps"][0]["reason"]
    assert body["states"]["closed"]["VOUT"][1] is None


@pytest.mark.parametrize(
    ("query", "fields"),
    [
        ("", ["over"]),
        ("over=sw&from=1&to=2", ["over"]),
        ("over=rl", ["from", "to"]),
        ("over=rl&from=1V&to=2k&points=x&scale=y", ["from", "points", "scale"]),
        ("over=rl&from=2k&to=1k", ["to"]),
        (f"{SPAN}&over=vs", ["over"]),
        (f"{SPAN}&points=1", ["points"]),
        (f"{SPAN}&points=401", ["points"]),
        (f"{SPAN}&vs=abc&r1=5V", ["vs", "r1"]),
        (f"{SPAN}&nonsense=1", ["nonsense"]),
    ],
)
def test_problems_name_their_fields(client, query, fields):
    answer = client.get(f"/api/sweep?{query}")
    assert answer.status_code == 422
    assert answer.headers["Content-Type"] == "application/problem+json"
    document = ProblemDocument.model_validate(answer.json())
    assert [error.field for error in document.errors] == fields
    assert all(error.accepted and error.reason for error in document.errors)


def test_it_is_described(client):
    described = client.get("/openapi.json").json()["paths"]["/api/sweep"]["get"]
    assert set(OWN) < {parameter["name"] for parameter in described["parameters"]}


@pytest.mark.parametrize("text", SPECIMENS, ids=lambda text: repr(text)[:20])
def test_every_specimen_in_every_field_of_its_own(client, text):
    for key in OWN:
        check(client.get("/api/sweep", params={"over": "rl", "from": "1k", "to": "2k", "points": "2"} | {key: text}))


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(pairs=pairs, own=st.lists(st.tuples(st.sampled_from(OWN), st.text(max_size=20)), max_size=4))
@pytest.mark.parametrize("address", ["/api/sweep", "/stage/curve.csv", "/stage/curve.svg", "/stage/panel"])
def test_any_fields(client, address, pairs, own):
    usual = [("over", "rl"), ("from", "1k"), ("to", "2k"), ("points", "2")]
    if address != "/api/sweep":
        usual = [("panel", "curves"), *((f"p.{key}", text) for key, text in usual)]
        own = [(f"p.{key}", text) for key, text in own]
    check(client.get(address, params=[*usual, *own, *pairs]))


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(query=st.binary(max_size=200))
def test_any_bytes(client, query):
    for address in ("/api/sweep", "/stage/curve.csv", "/stage/curve.svg"):
        check(client.get(f"{address}?{SPAN}&points=2&{quote(query, safe='&=+%')}"))


def test_a_sweep_of_the_most_points_is_whole(client):
    body = client.get(f"/api/sweep?{SPAN}&points=400").json()
    assert len(body["x"]) == 400
    assert json.dumps(body, allow_nan=False)
