"""The JSON contract of /api/step."""

import json
import math
from urllib.parse import quote

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from engine import common_mode_of, scenario_from_query
from tests.api.test_fuzz import SPECIMENS, check, pairs
from tests.api.test_stage import numbers_in
from webapp.answers import ProblemDocument
from webapp.routes.api_step import CommonModeAnswer

ENDS = ["dv=1V&slope=0.001V/us", "dv=20kV&slope=1MV/us", "dv=20kV&slope=0.001V/us", "dv=1V&slope=1MV/us"]


def step_answered(client, query):
    """Hold an answer against its contract; beside their panel stages of every kind are, as one solve serves both."""
    answer = client.get(f"/api/step?{query}")
    body = answer.json()
    assert answer.status_code == 200
    CommonModeAnswer.model_validate(body, strict=True)
    assert bool(body["reason"]) != bool(body["disturbances"])
    assert len(body["disturbances"]) in (0, 4)
    for one in body["disturbances"]:
        assert len({len(one["wave"][name]) for name in ("t", "nominal", "low", "high", "IF")}) == 1
        assert 2 <= len(one["wave"]["t"]) <= 200
        assert one["wave"]["t"] == sorted(one["wave"]["t"])
    assert all(math.isfinite(number) for number in numbers_in(body))


@pytest.mark.parametrize("query", [*ENDS, "rl=100M", "cl=1mF", "cf=1"])
def test_answer_has_the_shape_of_the_contract(client, query):
    step_answered(client, query)


def test_answer_is_the_engines(client):
    body = client.get("/api/step?rl=10k&dv=800V&slope=20V/us").json()
    found = common_mode_of(scenario_from_query("rl=10k"), 800.0, 2e7)
    assert body["scenario"] == "rl=10k"
    assert (body["dV"], body["slope"]) == (800.0, 2e7)
    assert (body["current"], body["lasting"], body["charge"]) == (found.current, found.lasting, found.charge)
    assert body["holds"] == found.holds
    first = found.disturbances[0]
    assert body["disturbances"][0]["unsure"]["high"] == first.unsure.high
    assert body["disturbances"][0]["wave"]["nominal"] == first.wave.nominal.tolist()


def test_a_slope_that_is_stood_is_told(client):
    steepest = client.get("/api/step").json()["steepest"]
    assert steepest["lost_first"] == "dark"
    assert client.get(f"/api/step?slope={steepest['slope']}V/s").json()["holds"]
    assert not client.get(f"/api/step?slope={1.2 * steepest['slope']}V/s").json()["holds"]
    assert client.get("/api/step?dv=1V").json()["steepest"] == {"slope": None, "any": True, "lost_first": None}
    assert client.get("/api/step?out=gate").json()["steepest"]["slope"] == 25e9
    assert client.get("/api/step?out=dc-load").json()["steepest"] is None


def test_every_problem_is_told_at_once(client):
    answer = client.get("/api/step?vs=x&dv=0&slope=fast&nope=1&dv=5V")
    assert answer.status_code == 422
    assert answer.headers["Content-Type"] == "application/problem+json"
    ProblemDocument.model_validate(answer.json(), strict=True)
    assert {e["field"] for e in answer.json()["errors"]} == {"nope", "vs", "dv", "slope"}


def test_a_resistor_that_cannot_be_sized_is_a_problem(client):
    answer = client.get("/api/step?vs=1V&r1=auto")
    assert answer.status_code == 422
    assert "no resistor gives" in answer.json()["detail"]


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(pairs=pairs)
def test_any_fields(client, pairs):
    check(client.get("/api/step", params=pairs, follow_redirects=False))


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(query=st.binary(max_size=200))
def test_any_bytes(client, query):
    check(client.get(f"/api/step?{quote(query, safe='&=+%')}", follow_redirects=False))


@pytest.mark.parametrize("key", ["dv", "slope"])
def test_specimens_in_its_own_fields(client, key):
    for text in SPECIMENS:
        answer = client.get("/api/step", params={key: text, "out": "gate"})
        check(answer)
        json.loads(answer.text)


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.floats(0.0, 4.3), st.floats(3.0, 12.0), st.sampled_from(["", "out=pull-down", "in=contact-high", "cf=1n"]))
def test_any_step_at_any_slope(client, step, slope, query):
    check(client.get(f"/api/step?dv={10.0**step:.4g}V&slope={10.0**slope:.4g}V/s&{query}"))
