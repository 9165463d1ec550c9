"""The JSON contract of /api/diagnosis."""

import json

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from engine import diagnose, probes_of, scenario_from_query
from tests.api.test_fuzz import SPECIMENS, check
from webapp.routes.api_diagnosis import DiagnosisAnswer

DARK = [("r1", "closed", 23.2), ("out", "closed", 3.3)]


def sent(readings):
    return {"readings": [{"point": p, "state": s, "value": v} for p, s, v in readings]}


def answered(client, query, readings):
    answer = client.post(f"/api/diagnosis?{query}", json=sent(readings))
    assert answer.status_code == 200
    body = json.loads(answer.text, parse_constant=lambda name: pytest.fail(f"{name} is not JSON"))
    DiagnosisAnswer.model_validate(body, strict=True)
    return body


def refused(client, query, content, status=422):
    answer = client.post(f"/api/diagnosis?{query}", content=content)
    assert answer.status_code == status
    assert answer.headers["Content-Type"] == "application/problem+json"
    return answer.json()


@pytest.mark.parametrize("query", ["", "vs=24V&meter=pointer", "in=transistor&out=indicator", "bridge=returns"])
def test_answer_has_the_shape_of_the_contract(client, query):
    body = answered(client, query, [("vs", "closed", "24V"), ("led", "open", 0)])
    assert sum(one["probability"] for one in body["ranking"]) == pytest.approx(1.0)
    chances = [one["probability"] for one in body["ranking"]]
    assert chances == sorted(chances, reverse=True)
    ids = {one["fault"] for one in body["ranking"]}
    assert "good" in ids
    assert {name for one in body["ranking"] for name in one["same_readings_as"] + one["same_so_far_as"]} <= ids
    assert {one["fault"] for one in body["ruled_out"]} < ids
    points = {probe.id for probe in probes_of(scenario_from_query(query))}
    assert body["next"] is None or body["next"]["point"] in points


def test_answer_is_the_engines(client):
    body, found = answered(client, "vs=24V", DARK), diagnose(scenario_from_query("vs=24V"), DARK)
    assert [one["fault"] for one in body["ranking"]] == [one.fault.id for one in found.ranking]
    assert [one["text"] for one in body["ranking"]] == [one.fault.text for one in found.ranking]
    assert body["ranking"][0]["probability"] == found.ranking[0].probability
    assert (body["explained"], body["chance"]) == (found.explained, found.chance)
    assert body["next"] == {"point": found.next.point, "state": found.next.state, "gain": found.next.gain}


def test_value_may_be_a_text_with_its_unit(client):
    typed = answered(client, "vs=24V", [("led", "closed", "1130mV")])
    assert typed == answered(client, "vs=24V", [("led", "closed", 1.13)])


def test_readings_of_a_sheet_in_the_address_change_nothing(client):
    assert answered(client, "vs=24V&r.led.closed=7V", DARK) == answered(client, "vs=24V", DARK)


@pytest.mark.parametrize(
    ("content", "field"),
    [
        ("{}", "readings"),
        ("[]", "readings"),
        ("3", "readings"),
        ("null", "readings"),
        ('{"readings": {}}', "readings"),
        ('{"readings": [3]}', "readings.0"),
        ('{"readings": [{"point": "led", "state": "closed"}]}', "readings.0"),
        ('{"readings": [{"point": "led", "state": "closed", "value": true}]}', "readings.0"),
        ('{"readings": [{"point": 1, "state": "closed", "value": 1}]}', "readings.0"),
        ('{"readings": [{"point": "led", "state": "closed", "value": NaN}]}', "r.led.closed"),
        ('{"readings": [{"point": "led", "state": "closed", "value": 1e400}]}', "r.led.closed"),
        ('{"readings": [{"point": "led", "state": "closed", "value": "3A"}]}', "r.led.closed"),
        ('{"readings": [{"point": "led", "state": "closed", "value": ""}]}', "r.led.closed"),
        ('{"readings": [{"point": "led", "state": "ajar", "value": 1}]}', "r.led.ajar"),
        ('{"readings": [{"point": "x", "state": "open", "value": 1}]}', "r.x.open"),
        ('{"readings": [{"point": "led", "state": "open", "value": %s}]}' % ("9" * 400), "readings.0"),
    ],
)
def test_bad_readings_are_refused_by_name(client, content, field):
    assert [error["field"] for error in refused(client, "", content)["errors"]] == [field]


def test_what_is_no_JSON_or_too_much_is_refused(client):
    refused(client, "", "no", 400)
    refused(client, "", "[" * 60_000, 400)
    refused(client, "", b"\xff\xfe", 400)
    refused(client, "", "[" + " " * 70_000 + "]", 413)
    assert refused(client, "", json.dumps(sent([("led", "open", 1.0)] * 500)))["errors"][0]["field"] == "readings"


@pytest.mark.parametrize(
    ("query", "field"),
    [("vs=x", "vs"), ("in=ac&co=1uF", "r.out.closed"), ("out=ac-load&coupler=triac-zero", "r.out.closed")],
)
def test_stages_that_cannot_be_diagnosed_are_refused(client, query, field):
    body = refused(client, query, json.dumps(sent(DARK)))
    assert field in {error["field"] for error in body["errors"]}


values = st.one_of(st.floats(), st.integers(), st.text(max_size=20), st.sampled_from(SPECIMENS), st.none())
readings = st.lists(
    st.tuples(
        st.one_of(st.sampled_from(["led", "vs", "out", "r1"]), st.text(max_size=5)),
        st.one_of(st.sampled_from(["closed", "open"]), st.text(max_size=5)),
        values,
    ),
    max_size=8,
)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(readings=readings)
def test_any_readings(client, readings):
    check(client.post("/api/diagnosis?vs=24V", content=json.dumps(sent(readings))))


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(content=st.binary(max_size=200))
def test_any_bytes(client, content):
    answer = client.post("/api/diagnosis", content=content)
    assert answer.status_code in (400, 422)
