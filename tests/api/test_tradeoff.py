"""The JSON contract of /api/tradeoff."""

import json
import math
from urllib.parse import quote

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from engine import pull_up_for, query_from, scenario_from_query, tradeoff_of
from tests.api.test_fuzz import SPECIMENS, check, pairs, typed
from tests.api.test_stage import numbers_in
from webapp.answers import ProblemDocument
from webapp.routes.api_tradeoff import TradeoffAnswer

BASE = "coupler=with-base&rl=10k"


def tradeoff_answered(client, query):
    """Hold an answer against its contract; beside their panel stages of every kind are, as one solve serves both."""
    answer = client.get(f"/api/tradeoff?{query}")
    body = answer.json()
    assert answer.status_code == 200
    TradeoffAnswer.model_validate(body, strict=True)
    assert bool(body["reason"]) != bool(body["x"])
    columns = [values for group in ("speed", "cost", "room") for values in body[group].values()]
    assert all(len(values) == len(body["x"]) for values in (*columns, body["fails"]))
    assert len(body["x"]) <= 16
    assert all(math.isfinite(number) for number in numbers_in(body))


@pytest.mark.parametrize("query", [f"{BASE}&vary=rbe", "vary=r1&cl=1mF"])
def test_answer_has_the_shape_of_the_contract(client, query):
    tradeoff_answered(client, query)


@pytest.mark.parametrize(("query", "part"), [("rl=10k", "RL"), (f"{BASE}&vary=rbe", "RBE"), (f"{BASE}&vary=r1", "R1")])
def test_answer_is_the_engines(client, query, part):
    body = client.get(f"/api/tradeoff?{query}").json()
    found = tradeoff_of(scenario_from_query(query.partition("&vary")[0]), part)
    assert body["vary"] == part.lower()
    assert body["x"] == found.R.tolist()
    assert body["present"] == found.present
    assert body["bare"] == found.bare
    assert [rate or 0.0 for rate in body["speed"]["worst"]] == found.speed.worst.tolist()
    assert [time or math.inf for time in body["speed"]["tPHL"]] == found.speed.tPHL.tolist()
    assert body["room"]["overdrive"] == found.room.overdrive.tolist()
    assert body["fails"] == [list(codes) for codes in found.failing]
    assert [one["code"] for one in body["stretches"]] == [one.code for one in found.stretches]
    assert body["limits"] == {"low": found.low_end, "high": found.high_end}
    assert body["chosen"] is None


@pytest.mark.parametrize(
    ("asked", "wanted"), [("torate=15kHz", {"rate": 15e3}), ("toedge=20us&vary=r1", {"edge": 2e-5})]
)
def test_the_chosen_resistor_is_the_engines(client, asked, wanted):
    chosen = client.get(f"/api/tradeoff?rl=10k&{asked}").json()["chosen"]
    found = pull_up_for(scenario_from_query("rl=10k"), **wanted)
    assert chosen["RL"] == found.RL
    assert chosen["reached"] == found.figure
    assert chosen["unit"] == ("Hz" if "rate" in wanted else "s")
    assert chosen["reason"] == found.reason
    assert chosen["scenario"] == query_from(found.scenario)


def test_where_no_resistor_does_the_reason_is_told(client):
    chosen = client.get("/api/tradeoff?rl=10k&torate=1MHz").json()["chosen"]
    assert chosen["RL"] is chosen["scenario"] is chosen["reached"] is None
    assert "comes nearest" in chosen["reason"]


def test_every_problem_is_told_at_once(client):
    answer = client.get("/api/tradeoff?vs=x&nope=1&vary=cl&torate=fast&toedge=1V")
    assert answer.status_code == 422
    assert answer.headers["Content-Type"] == "application/problem+json"
    ProblemDocument.model_validate(answer.json(), strict=True)
    assert {e["field"] for e in answer.json()["errors"]} == {"vs", "nope", "vary", "torate", "toedge"}


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ("vary=rbe", "vary"),
        ("in=limited&vary=r1", "vary"),
        ("vary=rl&vary=r1", "vary"),
        ("torate=1k&toedge=1ms", "torate"),
        ("torate=0", "torate"),
        ("toedge=1e9s", "toedge"),
        ("vs=1V&r1=auto", "if"),
    ],
)
def test_what_cannot_be_is_refused_with_its_field(client, query, field):
    answer = client.get(f"/api/tradeoff?{query}")
    assert answer.status_code == 422
    assert [e["field"] for e in answer.json()["errors"]] == [field]


own = st.lists(
    st.tuples(st.sampled_from(["vary", "torate", "toedge"]), st.one_of(typed, st.sampled_from(["r1", "rbe", "9k"]))),
    max_size=3,
)


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(pairs=pairs, own=own)
def test_any_fields(client, pairs, own):
    check(client.get("/api/tradeoff", params=[*pairs, *own], follow_redirects=False))


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(query=st.binary(max_size=200))
def test_any_bytes(client, query):
    check(client.get(f"/api/tradeoff?{quote(query, safe='&=+%')}", follow_redirects=False))


@pytest.mark.parametrize("key", ["vary", "torate", "toedge", "rl", "rbe", "rate"])
def test_specimens_in_the_fields_of_speed(client, key):
    for text in SPECIMENS:
        answer = client.get("/api/tradeoff", params={key: text, "coupler": "with-base"})
        check(answer)
        json.loads(answer.text)
