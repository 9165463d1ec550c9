"""The JSON contract of /api/size."""

import json

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from engine import KEYS, WISHES, Wishes, scenario_from_query, size_for
from tests.api.test_fuzz import SPECIMENS, check, typed
from webapp.routes.api_size import SizeAnswer


def answered(client, query):
    answer = client.get(f"/api/size?{query}")
    assert answer.status_code == 200
    body = json.loads(answer.text, parse_constant=lambda name: pytest.fail(f"{name} is not JSON"))
    SizeAnswer.model_validate(body, strict=True)
    return body


def size_answered(client, query):
    """Hold an answer against its contract; beside their panel stages of every kind are, as one solve serves both."""
    body = answered(client, query)
    assert ("conflict" in body) != ("R1" in body)
    assert body["IF"]["low"] <= body["IF"]["value"] <= body["IF"]["high"]
    place = body.get("nearest", body)
    scenario_from_query(place["scenario"])
    assert place["R1"]["chosen"] > 0.0
    if "conflict" in body:
        assert body["conflict"]
        assert set(body["alone"]) <= set(place["failing"])


@pytest.mark.parametrize("query", ["in=ac&cs=10u", "tamin=-20C&tamax=70C&years=9", "vs=0V"])
def test_answer_has_the_shape_of_the_contract(client, query):
    size_answered(client, query)


def test_answer_is_the_engines(client):
    body = answered(client, "vs=24V&overdrive=2&ifmin=1mA&ifmax=20mA&keep=rl&prefer=current")
    sizing = size_for(scenario_from_query("vs=24V"), Wishes(2.0, 1e-3, 20e-3, ("RL",), "current"))
    assert body["R1"] == {
        "chosen": sizing.chosen["R1"].R,
        "series": "E24",
        "kept": False,
        "below": list(sizing.chosen["R1"].below),
        "above": list(sizing.chosen["R1"].above),
        "rating": sizing.chosen["R1"].rating,
    }
    assert body["RL"]["kept"]
    assert body["binding"] == sizing.binding
    assert body["overdrive"] == sizing.overdrive >= 2.0


def test_the_answer_leads_to_a_stage_that_holds(client):
    body = answered(client, "tamin=-20C&tamax=70C&years=10&r1=100R")
    stage = client.get(f"/api/stage?{body['scenario']}").json()
    assert {finding["severity"] for finding in stage["findings"]} <= {"pass", "note"}
    assert stage["states"]["closed"]["quantities"]["overdrive"]["low"] == pytest.approx(body["overdrive"])


def test_a_conflict_names_what_excludes_what(client):
    body = answered(client, "leak=10k")
    assert "residual-light" in body["conflict"]
    assert ["saturation", "residual-light"] in body["pairs"]
    assert body["nearest"]["failing"]


def test_a_signal_rate_is_kept_or_named(client):
    body = answered(client, "rate=12kHz&edge=20us")
    assert body["speed"]["max_rate"] >= 12e3
    assert body["speed"]["transition"] <= 20e-6
    assert "rate=12kHz" in body["scenario"]
    body = answered(client, "rate=1MHz")
    assert body["alone"] == ["edge-rate"]
    assert "speed" not in answered(client, "")
    assert answered(client, "in=ac&cs=10u&rate=50Hz")["untimed"]


def test_every_problem_is_named_at_once(client):
    answer = client.get("/api/size?vs=x&overdrive=0&ifmin=2V&edge=1V&keep=all&prefer=me&keep=rl")
    assert answer.status_code == 422
    assert answer.headers["Content-Type"] == "application/problem+json"
    fields = sorted(error["field"] for error in answer.json()["errors"])
    assert fields == ["edge", "ifmin", "keep", "keep", "overdrive", "prefer", "vs"]
    assert all(error["reason"] and error["accepted"] for error in answer.json()["errors"])


def test_wishes_have_names_that_no_field_has(client):
    assert not set(WISHES) & set(KEYS)
    described = client.get("/openapi.json").json()["paths"]["/api/size"]["get"]["parameters"]
    assert [one["name"] for one in described][: len(WISHES)] == list(WISHES)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(pairs=st.lists(st.tuples(st.sampled_from((*WISHES, "ifmin", "x", "")), typed), max_size=8))
def test_any_wishes(client, pairs):
    check(client.get("/api/size", params=pairs))


@pytest.mark.parametrize("text", SPECIMENS, ids=lambda text: repr(text)[:20])
def test_every_specimen_in_every_wish(client, text):
    for key in WISHES:
        check(client.get("/api/size", params={key: text}))
        check(client.get("/stage/panel", params={"panel": "window", f"p.{key}": text}))
