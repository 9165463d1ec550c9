"""The JSON contracts of /api/bounce and /api/square."""

import math
from urllib.parse import quote

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from engine import filter_for, scenario_from_query, timing_of, utmost_rate
from tests.api.test_fuzz import SPECIMENS, check, pairs
from tests.api.test_stage import numbers_in
from webapp.answers import ProblemDocument
from webapp.routes.api_bounce import BounceAnswer
from webapp.routes.api_square import SquareAnswer

ODD = ["vs=0V&r1=1k&vcc=0V", "rl=470R", "cl=1mF", "cf=1", "rl=100M"]


def bounce_answered(client, query):
    """Hold an answer against its contract; beside their panel stages of every kind are, as one solve serves both."""
    answer = client.get(f"/api/bounce?{query}")
    body = answer.json()
    assert answer.status_code == 200
    BounceAnswer.model_validate_json(answer.text, strict=True)
    assert bool(body["reason"]) != bool(body["cases"])
    for case in body["cases"]:
        assert set(case["edges"]) == set(case["worst"]) == set(case["waves"]) == {"closing", "opening"}
        for edge in ("closing", "opening"):
            assert case["edges"][edge]["surely"][0] <= case["edges"][edge]["possibly"][0]
            assert 2 <= len(case["waves"][edge]["t"]) <= 400
    assert all(math.isfinite(number) for number in numbers_in(body))


@pytest.mark.parametrize("query", ODD)
def test_bounce_has_the_shape_of_the_contract(client, query):
    bounce_answered(client, query)


def square_answered(client, query):
    """Hold an answer against its contract; beside their panel stages of every kind are, as one solve serves both."""
    answer = client.get(f"/api/square?{query}")
    body = answer.json()
    assert answer.status_code == 200
    SquareAnswer.model_validate_json(answer.text, strict=True)
    assert bool(body["reason"]) != bool(body["square"])
    assert bool(body["reason"]) != bool(body["utmost"])
    assert all(math.isfinite(number) for number in numbers_in(body))


@pytest.mark.parametrize("query", ODD)
def test_square_has_the_shape_of_the_contract(client, query):
    square_answered(client, query)


def test_answers_are_the_engines(client):
    scenario = scenario_from_query("rl=10k")
    found, body = filter_for(scenario, 2e-3, 3), client.get("/api/bounce?rl=10k&tb=2ms&bounces=3").json()
    assert body["scenario"] == "rl=10k"
    assert body["C"] == found.C
    assert body["cases"][0]["edges"]["closing"]["surely"] == [7, 7]
    assert body["cases"][-1]["max_rate"]["low"] == found.cases[-1].rate.low
    square, utmost = client.get("/api/square?rl=10k&square=2kHz").json(), utmost_rate(scenario)
    assert square["square"]["rate"] == 2e3
    assert square["square"]["sees_worst"]
    assert square["utmost"]["value"] == pytest.approx(utmost.value, rel=0.01)
    usual = client.get("/api/square?rl=10k").json()
    assert usual["square"]["rate"] == timing_of(scenario).max_rate.low


@pytest.mark.parametrize(
    ("address", "fields"),
    [
        ("/api/bounce?vs=x&tb=1s&bounces=0", {"vs", "tb", "bounces"}),
        ("/api/bounce?tb=5ms&tb=6ms", {"tb"}),
        ("/api/square?square=0&vs=x", {"square", "vs"}),
        ("/api/square?square=1kHz&square=2kHz", {"square"}),
    ],
)
def test_every_problem_is_told_at_once(client, address, fields):
    answer = client.get(address)
    assert answer.status_code == 422
    assert answer.headers["Content-Type"] == "application/problem+json"
    ProblemDocument.model_validate(answer.json(), strict=True)
    assert {e["field"] for e in answer.json()["errors"]} == fields


@pytest.mark.parametrize("route", ["bounce", "square"])
def test_a_resistor_that_cannot_be_sized_is_a_problem(client, route):
    answer = client.get(f"/api/{route}?vs=1V&r1=auto")
    assert answer.status_code == 422
    assert "no resistor gives" in answer.json()["detail"]


@pytest.mark.parametrize("route", ["bounce", "square"])
@settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(pairs=pairs)
def test_any_fields(client, route, pairs):
    check(client.get(f"/api/{route}", params=pairs, follow_redirects=False))


@pytest.mark.parametrize("route", ["bounce", "square"])
@settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(query=st.binary(max_size=200))
def test_any_bytes(client, route, query):
    check(client.get(f"/api/{route}?{quote(query, safe='&=+%')}", follow_redirects=False))


@pytest.mark.parametrize(("route", "key"), [("bounce", "tb"), ("bounce", "bounces"), ("square", "square")])
def test_specimens_in_own_fields(client, route, key):
    for text in SPECIMENS:
        check(client.get(f"/api/{route}", params={key: text}))
