"""The JSON contract of /api/band."""

import json
import math

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from engine import KEYS, RULES, bands_of, scenario_from_query
from tests.api.test_fuzz import typed
from webapp.answers import ProblemDocument
from webapp.routes.api_band import BandsAnswer

SLIDERS = {"vs", "r1", "if", "ctr", "vcc", "rl", "il", "ta"}
CODES = {*RULES, "sizing", "impossible"}
QUERIES = [
    "", "rl=1k", "in=sinking", "out=relay", "in=measured", "coupler=fast-gate&if=10mA", "vs=200V&r1=1M",
    "vb=900V&ins=reinforced",
]  # fmt: skip


@pytest.mark.parametrize("query", QUERIES)
def test_answer_has_the_shape_of_the_contract(client, query):
    answer = client.get(f"/api/band?{query}")
    body = answer.json()
    assert answer.status_code == 200
    BandsAnswer.model_validate(body, strict=True)
    assert body.keys() <= SLIDERS
    assert {"rl", "ta"} <= body.keys()
    for key, band in body.items():
        if "empty" in band:
            assert band["empty"] is True, key
            assert set(band["conflict"]) <= CODES
            assert band["conflict"]
            assert band["here"] is False
        else:
            assert band["low"] <= band["high"]
            assert math.isfinite(band["low"])
            assert {band["low_set_by"], band["high_set_by"]} <= {*CODES, ""}
            assert band["here"] == (band["low"] <= band["value"] <= band["high"])


def test_answer_is_the_engines(client):
    body = client.get("/api/band?vs=24V&vcc=5V&logic=hct").json()
    span = {"rl": (100.0, 1e6, "log")}
    band = bands_of(scenario_from_query("vs=24V&vcc=5V&logic=hct"), span)["rl"]
    assert (body["rl"]["low"], body["rl"]["high"]) == (band.low, band.high)
    assert (body["rl"]["low_set_by"], body["rl"]["high_set_by"]) == (band.low_set_by, band.high_set_by)
    assert body["rl"]["unit"] == "ohm"


def test_a_parameter_that_mends_nothing_tells_what_stays_broken(client):
    body = client.get("/api/band?vb=900V&ins=reinforced").json()
    assert all("empty" in band for band in body.values())
    assert "working-voltage" in body["rl"]["conflict"]


def test_an_alternating_line_is_looked_at_in_the_instant_of_its_crest(client):
    assert all(band["instant"] for band in client.get("/api/band?in=ac").json().values())
    assert not any(band["instant"] for band in client.get("/api/band").json().values())


def test_what_takes_a_cycle_with_capacitors_for_every_value_is_left_out(client):
    assert client.get("/api/band?in=ac&cs=10u").json().keys() == {"ctr", "vcc", "rl", "il"}


@pytest.mark.parametrize("query", ["rl=4,7k", "what=1", "vs=1V"])
def test_what_cannot_be_is_told_by_field(client, query):
    answer = client.get(f"/api/band?{query}")
    assert answer.status_code == 422
    assert answer.headers["Content-Type"] == "application/problem+json"
    ProblemDocument.model_validate(answer.json())


def refuse_constants(name):
    raise ValueError(f"{name} is not JSON")


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(pairs=st.lists(st.tuples(st.sampled_from(sorted(KEYS)), typed), max_size=6))
def test_any_fields(client, pairs):
    for address in ("/api/band", "/stage/bands"):
        answer = client.get(address, params=pairs)
        assert answer.status_code in (200, 422)
        if address.startswith("/api"):
            json.loads(answer.text, parse_constant=refuse_constants)
