"""The JSON contract of /api/stage."""

import math

import pytest

from engine import INPUTS, OUTPUTS, findings_of, operating_point, scenario_from_query, traps_of
from webapp.answers import QUERY_PARAMETERS, ProblemDocument, StageAnswer

KINDS = [f"in={side}&out={load}" for side in INPUTS for load in OUTPUTS]


def numbers_in(value):
    if isinstance(value, dict):
        for inner in value.values():
            yield from numbers_in(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from numbers_in(inner)
    elif isinstance(value, float):
        yield value


@pytest.mark.parametrize(
    "query", [*KINDS, "vs=0V&r1=1k&vcc=0V", "iin=0A&vcc=0V&ta=-55C", "vs=1000V&r1=1&vcc=1000V&rl=1&ctr=2000%25&ta=150C"]
)
def test_answer_has_the_shape_of_the_contract(client, query):
    answer = client.get(f"/api/stage?{query}")
    body = answer.json()
    assert answer.status_code == 200
    assert answer.headers["Content-Type"] == "application/json"
    StageAnswer.model_validate(body, strict=True)
    over_the_cycle = {"cycle"} if query.startswith("in=ac&") else set()
    assert set(body) == {"scenario", "states", "sizing", "findings", "traps"} | over_the_cycle
    assert set(body["states"]) == {"closed", "open"}
    assert all(math.isfinite(number) for number in numbers_in(body))
    for state in body["states"].values():
        assert {"quantities", "nodes", "currents", "powers"} < set(state)
        assert len({"receiver", "indicator"} & set(state)) == 1
        for group in ("quantities", "nodes", "currents"):
            assert all(found["low"] <= found["value"] <= found["high"] for found in state[group].values())


def test_answer_is_the_engines(client):
    query = "vs=36V&r1=6k8&out=pull-down&vcc=5V"
    body = client.get(f"/api/stage?{query}").json()
    point = operating_point(scenario_from_query(query))
    assert body["states"]["closed"]["quantities"]["IF"]["value"] == point.states["closed"].quantities["IF"].value
    assert body["states"]["open"]["nodes"]["OUT"]["high"] == point.states["open"].nodes["OUT"].high
    assert [f["code"] for f in body["findings"]] == [f.code for f in findings_of(point)]
    assert body["sizing"]["R1"] == {
        "exact": point.sized["R1"].exact, "chosen": 6800.0, "automatic": False, "series": "E24", "rounding": "nearest",
    }  # fmt: skip


def test_traps_of_the_answer_are_the_engines(client):
    query = "in=contact-high&vs=5V&r1=5k&if=1mA&rl=470k&il=0.68mA"
    body = client.get(f"/api/stage?{query}").json()
    point = operating_point(scenario_from_query(query))
    traps = traps_of(point, findings_of(point))
    assert [(t["code"], t["field"], t["text"]) for t in body["traps"]] == [(t.code, t.field, t.text) for t in traps]
    assert [(t["value"], t["limit"], t["unit"]) for t in body["traps"]] == [t.decides for t in traps]
    assert [t.code for t in traps] == ["led-drop-ignored", "decade"]
    mend = body["traps"][0]["mend"]
    assert mend["text"] == "make R1 3.9 kΩ"
    assert "r1=3k9" in mend["scenario"].split("&")


def test_a_stage_without_traps_answers_none(client):
    assert client.get("/api/stage").json()["traps"] == []


def test_scenario_of_the_answer_gives_the_same_answer(client):
    first = client.get("/api/stage", params={"vs": "36 V", "r1": "auto", "rl": "10 kΩ", "ctr": "110 %"}).json()
    assert client.get(f"/api/stage?{first['scenario']}").json() == first
    assert first["scenario"] == "vs=36V&ctr=110%25&rl=10k"


def test_remedies_are_scenarios(client):
    body = client.get("/api/stage?in=logic&out=indicator&il=2mA&ctr=min").json()
    mends = [f["mend"] for f in body["findings"] if f["mend"]]
    assert mends
    assert all(client.get(f"/api/stage?{mend['scenario']}").status_code == 200 for mend in mends)


def test_description_lists_every_field_and_both_answers(client):
    operation = client.get("/openapi.json").json()["paths"]["/api/stage"]["get"]
    assert [p["name"] for p in operation["parameters"]] == [p["name"] for p in QUERY_PARAMETERS]
    assert set(operation["responses"]) == {"200", "422"}


@pytest.mark.parametrize("parameter", QUERY_PARAMETERS, ids=lambda parameter: parameter["name"])
def test_described_defaults_are_accepted(client, parameter):
    answer = client.get("/api/stage", params={parameter["name"]: parameter["schema"]["default"]})
    assert answer.status_code == 200


def test_refusal_has_the_described_shape(client):
    body = client.get("/api/stage?vs=x&r1=&nope=1&rl=1&rl=2").json()
    ProblemDocument.model_validate(body, strict=True)
    assert [e["field"] for e in body["errors"]] == ["nope", "rl", "vs", "r1"]


def test_a_wanted_signal_rate_is_among_the_findings(client):
    def asked(query):
        found = client.get(f"/api/stage?{query}").json()["findings"]
        return {finding["code"]: finding for finding in found}.get("edge-rate")

    assert asked("") is None
    slow, fast = asked("rl=10k&rate=20kHz"), asked("rl=10k&rate=1kHz")
    assert (slow["severity"], slow["unit"], slow["limit"]) == ("stop", "Hz", 20e3)
    assert fast["severity"] == "pass"
    assert "rate=20kHz" in slow["mend"]["scenario"]


@pytest.mark.parametrize("text", ["0", "-5Hz", "1e12Hz", "5V", "fast", "nan", "", "1e400", "9" * 300])
def test_a_rate_that_cannot_be_is_refused_by_its_name(client, text):
    answer = client.get("/api/stage", params={"rate": text})
    assert answer.status_code == 422
    (error,) = answer.json()["errors"]
    assert error["field"] == "rate"
    assert "1 GHz" in error["accepted"]
