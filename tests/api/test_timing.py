"""The JSON contract of /api/timing."""

import json
import math
from urllib.parse import quote

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from engine import INPUTS, OUTPUTS, line_timing_of, scenario_from_query, timing_of
from tests.api.test_fuzz import SPECIMENS, check, pairs
from tests.api.test_stage import numbers_in
from webapp.answers import ProblemDocument
from webapp.routes.api_timing import TimingAnswer

KINDS = [*(f"in={side}" for side in INPUTS), *(f"out={load}" for load in OUTPUTS)]
SHAPE = {"edges", "tPHL", "tPLH", "distortion", "max_rate", "narrowest_pulse", "limited_by", "range"}


def timing_answered(client, query):
    """Hold an answer against its contract; beside their panel stages of every kind are, as one solve serves both."""
    answer = client.get(f"/api/timing?{query}")
    body = answer.json()
    assert answer.status_code == 200
    TimingAnswer.model_validate(body, strict=True)
    assert set(body) >= SHAPE
    assert bool(body["reason"]) != bool(body["edges"])
    for edge in body["edges"].values():
        assert {"delay", "storage", "transition", "total"} <= set(edge)
        assert 2 <= len(edge["wave"]["t"]) <= 200
    assert all(math.isfinite(number) for number in numbers_in(body))


@pytest.mark.parametrize("query", [f"in={side}" for side in INPUTS] + ["cl=0", "cl=1mF", "cf=1", "rl=100M"])
def test_answer_has_the_shape_of_the_contract(client, query):
    timing_answered(client, query)


def test_answer_is_the_engines(client):
    body, found = client.get("/api/timing?rl=10k").json(), timing_of(scenario_from_query("rl=10k"))
    assert body["scenario"] == "rl=10k"
    assert body["max_rate"] == found.max_rate.value
    assert body["range"]["max_rate"]["low"] == found.max_rate.low
    assert body["edges"]["off"]["storage"] == found.edges["off"].delay.value
    assert body["edges"]["on"]["wave"]["nominal"] == found.edges["on"].wave.nominal.tolist()
    assert body["limited_by"] == found.limited_by


LINES = ("in=ac", "in=ac&cs=10u", "in=ac&cs=1m&co=1u", "in=ac&ileak=2mA", "out=ac-load", "out=ac-triac&if=25mA")


@pytest.mark.parametrize("query", [*LINES, "", "in=ac&out=relay"])
def test_the_answer_of_a_line_is_the_engines(client, query):
    body, found = client.get(f"/api/timing?{query}").json(), line_timing_of(scenario_from_query(query))
    TimingAnswer.model_validate(body, strict=True)
    assert (body["line"] is not None) == (found is not None) == (query in LINES)
    if found is None:
        return
    line = body["line"]
    for name in ("lit", "steady", "dark", "max_rate"):
        span = getattr(found, name)
        assert line[name] == {"value": span.value, "low": span.low, "high": span.high}
    assert (line["pulses"], line["debounce"], line["f"]) == (found.pulses, found.debounce, found.f)
    assert line["limited_by"] == found.limited_by
    assert set(line["waves"]) == {"on", "off"}
    assert all(math.isfinite(number) for number in numbers_in(body))
    for wave in line["waves"].values():
        assert len({len(wave[key]) for key in ("t", "nominal", "low", "high", "IF")}) == 1
        assert len(wave["t"]) <= 400


def test_a_wave_passes_its_limit_where_the_answer_says_it_is_valid(client):
    for query in ("rl=10k", "out=pull-down&rl=22k&logic=hct&vcc=5V"):
        for edge in client.get(f"/api/timing?{query}").json()["edges"].values():
            wave, valid = edge["wave"], edge["valid"]
            (place,) = [k for k in range(len(wave["t"]) - 1) if wave["t"][k] <= valid < wave["t"][k + 1]]
            near = wave["nominal"][place : place + 2]
            room = 0.05 * abs(wave["nominal"][0] - wave["nominal"][-1])
            assert min(near) - room <= wave["limit"] <= max(near) + room


def test_every_problem_is_told_at_once(client):
    answer = client.get("/api/timing?vs=x&cl=-1p&nope=1")
    assert answer.status_code == 422
    assert answer.headers["Content-Type"] == "application/problem+json"
    ProblemDocument.model_validate(answer.json(), strict=True)
    assert {e["field"] for e in answer.json()["errors"]} == {"nope", "vs", "cl"}


def test_a_resistor_that_cannot_be_sized_is_a_problem(client):
    answer = client.get("/api/timing?vs=1V&r1=auto")
    assert answer.status_code == 422
    assert "no resistor gives" in answer.json()["detail"]


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(pairs=pairs)
def test_any_fields(client, pairs):
    check(client.get("/api/timing", params=pairs, follow_redirects=False))


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(query=st.binary(max_size=200))
def test_any_bytes(client, query):
    check(client.get(f"/api/timing?{quote(query, safe='&=+%')}", follow_redirects=False))


@pytest.mark.parametrize("key", ["cl", "cf", "rl", "logic", "vil"])
def test_specimens_in_the_fields_of_speed(client, key):
    for text in SPECIMENS:
        answer = client.get("/api/timing", params={key: text})
        check(answer)
        json.loads(answer.text)
