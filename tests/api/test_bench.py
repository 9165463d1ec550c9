"""The JSON contract of /api/bench."""

import math

import pytest

from engine import INPUTS, METERS, OUTPUTS, bench_sheet, leads_of, scenario_from_query
from webapp.routes.api_bench import BenchAnswer

KINDS = [
    *(f"in={kind}" + ("&form=pair&coupler=two-way" if kind == "ac" else "") for kind in INPUTS),
    *(f"out={kind}&coupler={OUTPUTS[kind].usual_coupler}" for kind in OUTPUTS),
    "in=ac&dropper=capacitor",
]


@pytest.mark.parametrize("query", KINDS)
def test_answer_has_the_shape_of_the_contract(client, query):
    answer = client.get(f"/api/bench?{query}")
    body, leads = answer.json(), leads_of(scenario_from_query(query))
    assert answer.status_code == 200
    BenchAnswer.model_validate(body)
    for point in body["points"]:
        assert {point["red"], point["black"]} <= set(leads[point["side"]])
        assert point["unit"] == "V"
        assert list(point["states"]) == ["closed", "open"]
        for found in point["states"].values():
            assert found is None or found["low"] <= found["expected"] <= found["high"]
            assert found is None or all(math.isfinite(value) for value in found.values())
    assert [check["id"] for check in body["checks"]] == ["led-forward", "led-backward", "output-lit", "output-dark"]


@pytest.mark.parametrize("kind", METERS)
def test_answer_is_the_engines(client, kind):
    body, sheet = (
        client.get(f"/api/bench?vs=24V&meter={kind}").json(),
        bench_sheet(scenario_from_query(f"vs=24V&meter={kind}")),
    )
    assert body["meter"]["kind"] == kind
    assert body["meter"]["R_in"] == METERS[kind].R_in
    for point, row in zip(body["points"], sheet.rows, strict=True):
        assert (point["id"], point["words"]) == (row.probe.id, row.probe.words)
        found = row.states["open"]
        assert point["states"]["open"]["expected"] == found.expected
        assert point["states"]["open"]["high"] == found.high


def test_a_refused_field_is_named(client):
    answer = client.get("/api/bench?meter=wand&vs=x")
    assert answer.status_code == 422
    assert {error["field"] for error in answer.json()["errors"]} == {"meter", "vs"}


def test_readings_that_were_typed_change_nothing(client):
    assert client.get("/api/bench?r.led.closed=3").json() == client.get("/api/bench").json()
