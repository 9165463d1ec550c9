"""The JSON contract of /api/life."""

import json
import math
from urllib.parse import quote

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from engine import life_of, scenario_from_query
from tests.api.test_fuzz import SPECIMENS, check, pairs
from tests.api.test_stage import numbers_in
from webapp.answers import ProblemDocument
from webapp.routes.api_life import LifeAnswer

BENCH = "vs=20V&r1=6k2&vcc=5V&rl=3k6&logic=hct"


def life_answered(client, query):
    """Hold an answer against its contract; beside their panel stages of every kind are, as one solve serves both."""
    answer = client.get(f"/api/life?{query}")
    body = answer.json()
    assert answer.status_code == 200
    LifeAnswer.model_validate(body, strict=True)
    assert {"years", "margin", "ends_in_year", "because"} <= set(body)
    assert {"slow", "fast"} <= set(body["laws"])
    assert len(body["years"]) == len(body["margin"])
    assert all(math.isfinite(number) for number in numbers_in(body))


@pytest.mark.parametrize("query", ["ageing=stress&duty=0%25&years=50", f"{BENCH}&ahead=40"])
def test_answer_has_the_shape_of_the_contract(client, query):
    life_answered(client, query)


def test_answer_is_the_engines(client):
    body, life = client.get(f"/api/life?{BENCH}&ahead=8").json(), life_of(scenario_from_query(BENCH), 8.0)
    assert body["scenario"] == BENCH
    assert body["years"][-1] == 8.0
    assert body["margin"] == life.chosen.margin.tolist()
    assert body["laws"]["fast"]["ends_in_year"] == life.laws["fast"].ends_in_year
    assert body["because"] == life.chosen.because


def test_the_end_is_where_the_answered_stage_stops_saturating(client):
    """Held against the other answer: the lowest overdrive a hundredth of a year before and after."""
    end = client.get(f"/api/life?{BENCH}&ahead=40").json()["ends_in_year"]
    lows = [
        client.get(f"/api/stage?{BENCH}&years={year}").json()["states"]["closed"]["quantities"]["overdrive"]["low"]
        for year in (end - 0.01, end + 0.01)
    ]
    assert lows[0] > 1.0 > lows[1]


def test_what_lasts_longer_than_is_looked_ahead_has_no_end(client):
    end = client.get(f"/api/life?{BENCH}&ahead=40").json()["ends_in_year"]
    assert client.get(f"/api/life?{BENCH}&ahead={end - 0.5:.2f}").json()["ends_in_year"] is None


def test_every_problem_is_told_at_once(client):
    answer = client.get("/api/life?vs=x&ahead=41&ahead=2&nope=1")
    body = answer.json()
    assert answer.status_code == 422
    assert answer.headers["Content-Type"] == "application/problem+json"
    ProblemDocument.model_validate(body, strict=True)
    assert [e["field"] for e in body["errors"]] == ["nope", "vs", "ahead", "ahead"]


@pytest.mark.parametrize(
    "text", ["0", "0.5", "40.01", "-3", "1e9", "nan", "inf", "ten", "10 V", "10,5", "9" * 500, "\x00"]
)
def test_years_that_cannot_be_are_refused(client, text):
    answer = client.get("/api/life", params={"ahead": text})
    assert answer.status_code == 422
    (problem,) = answer.json()["errors"]
    assert problem["field"] == "ahead"
    assert problem["accepted"] == "1 to 40"
    assert len(problem["given"]) <= 40


def test_a_resistor_that_cannot_be_sized_is_a_problem(client):
    answer = client.get("/api/life?vs=1V&r1=auto")
    assert answer.status_code == 422
    assert "no resistor gives" in answer.json()["detail"]


def test_description_lists_every_field(client):
    operation = client.get("/openapi.json").json()["paths"]["/api/life"]["get"]
    assert operation["parameters"][0]["name"] == "ahead"
    assert client.get("/api/life", params={"ahead": operation["parameters"][0]["schema"]["default"]}).status_code == 200


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(pairs=pairs, ahead=st.one_of(st.sampled_from(SPECIMENS), st.text(max_size=30), st.floats().map(str)))
def test_any_fields(client, pairs, ahead):
    check(client.get("/api/life", params=[*pairs, ("ahead", ahead)], follow_redirects=False))


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(query=st.binary(max_size=200))
def test_any_bytes(client, query):
    check(client.get(f"/api/life?{quote(query, safe='&=+%')}", follow_redirects=False))


@pytest.mark.parametrize("key", ["years", "ageing", "tamin", "loss", "lossyears", "sthours", "stif", "duty", "ahead"])
def test_specimens_in_the_fields_of_service(client, key):
    for text in SPECIMENS:
        answer = client.get("/api/life", params={"ageing": "stress", "years": "5", key: text})
        check(answer)
        json.loads(answer.text)
