"""The JSON contract of /api/spread."""

import json
import math

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from engine import INPUTS, OUTPUTS, Plan, scenario_from_query, spread_of
from tests.api.test_fuzz import SPECIMENS, check, pairs, typed
from webapp.routes.api_spread import OWN, SpreadAnswer

KINDS = [*(f"in={side}" for side in INPUTS), *(f"out={load}" for load in OUTPUTS)]
ORDER = "min", "p1", "median", "p99", "max"


@pytest.mark.parametrize("query", [*KINDS, "tamin=-20C&tamax=70C&years=9", "vs=0V&r1=1k&vcc=0V", "dist=normal&seed=0"])
def test_answer_has_the_shape_of_the_contract(client, query):
    answer = client.get(f"/api/spread?{query}&samples=100")
    body = json.loads(answer.text, parse_constant=lambda name: pytest.fail(f"{name} is not JSON"))
    assert answer.status_code == 200
    SpreadAnswer.model_validate(body, strict=True)
    assert body["samples"] == 100
    for kind in ("quantities", "nodes", "currents", "powers"):
        assert set(body[kind]) == {"closed", "open"}
        for found in body[kind].values():
            for one in found.values():
                assert [one[name] for name in ORDER] == sorted(one[name] for name in ORDER)
                assert one["unit"] in ("V", "A", "W", "1", "s", "deg", "°")
                assert sum(one["histogram"]["counts"]) == 100
                assert one["sd"] >= 0.0
    assert all(0.0 <= share <= 1.0 for share in body["yield"].values())
    codes = body["yield"].keys() - {"all"}
    assert body["yield"]["all"] <= min(body["yield"][code] for code in codes)
    assert set(body["guaranteed"]) <= codes
    assert not set(body["undrawn"]) & codes


def test_answer_is_the_engines(client):
    body = client.get("/api/spread?vs=24V&ctrmin=20%25&samples=300&seed=7&dist=normal").json()
    found = spread_of(scenario_from_query("vs=24V&ctrmin=20%25"), Plan(300, 7, "normal"))
    assert (body["scenario"], body["seed"], body["dist"]) == ("vs=24V&ctrmin=20%25", 7, "normal")
    one, VOUT = body["quantities"]["closed"]["VOUT"], found.states["closed"]["quantities"]["VOUT"]
    assert [one[name] for name in ("min", "median", "mean", "sd", "low", "high")] == [
        VOUT.minimum, VOUT.median, VOUT.mean, VOUT.sd, VOUT.low, VOUT.high,
    ]  # fmt: skip
    assert body["yield"] == {code: kept.share for code, kept in found.yields.items()} | {"all": found.all.share}


def test_the_same_address_gives_the_same_answer(client):
    first, again = (client.get("/api/spread?samples=500&seed=3").text for _ in range(2))
    assert first == again
    assert first != client.get("/api/spread?samples=500&seed=4").text


def test_two_thousand_samples_where_nothing_is_asked_for(client):
    body = client.get("/api/spread").json()
    assert (body["samples"], body["seed"], body["dist"], body["scenario"]) == (2000, 1, "uniform", "")


def test_every_problem_is_named_at_once(client):
    answer = client.get("/api/spread?vs=x&samples=200001&seed=1.5&dist=square&dist=normal")
    assert answer.status_code == 422
    assert answer.headers["Content-Type"] == "application/problem+json"
    assert sorted(error["field"] for error in answer.json()["errors"]) == ["dist", "dist", "samples", "seed", "vs"]


@pytest.mark.parametrize(
    ("query", "field", "accepted"),
    [
        ("samples=99", "samples", "100 to 200000"),
        ("samples=many", "samples", "100 to 200000"),
        ("seed=-1", "seed", "0 to 4294967295"),
        ("in=ac&samples=5001", "samples", "100 to 5000"),
        ("vs=0.5V", "if", "a resistor of your own"),
    ],
)
def test_refusals_tell_what_is_accepted(client, query, field, accepted):
    answer = client.get(f"/api/spread?{query}")
    assert answer.status_code == 422
    error = answer.json()["errors"][0]
    assert error["field"] == field
    assert accepted in error["accepted"]


def test_what_takes_too_long_is_refused(client, monkeypatch):
    monkeypatch.setattr("webapp.routes.api_spread._LONGEST", 0.0)
    answer = client.get("/api/spread?samples=20000")
    assert answer.status_code == 422
    assert "takes longer than" in answer.json()["errors"][0]["reason"]


def test_description_lists_every_parameter(client):
    operation = client.get("/openapi.json").json()["paths"]["/api/spread"]["get"]
    assert {p["name"] for p in operation["parameters"]} > set(OWN)
    assert set(operation["responses"]) == {"200", "422"}


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(pairs=pairs, own=st.lists(st.tuples(st.sampled_from(OWN), typed), max_size=4))
def test_any_fields(client, pairs, own):
    few = [] if any(key == "samples" for key, _ in own) else [("samples", "100")]
    check(client.get("/api/spread", params=[*few, *pairs, *own]))


@pytest.mark.parametrize("key", OWN)
def test_specimens_in_every_parameter_of_its_own(client, key):
    for text in SPECIMENS:
        check(client.get("/api/spread", params={"samples": "100", **{key: text}}))


def test_numbers_are_finite(client):
    body = client.get("/api/spread?vs=1000V&r1=1&vcc=1000V&rl=1&ctr=2000%25&ta=150C&samples=100").json()
    for one in body["quantities"]["closed"].values():
        assert all(math.isfinite(one[name]) for name in (*ORDER, "mean", "sd"))
