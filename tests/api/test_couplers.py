"""Couplers as JSON: every line as the engine reads it, and what is refused as problem details."""

import json

import pytest

from engine import card_names, lines_of, load_card, pack_card, speed_lines_of
from webapp.answers import ProblemDocument
from webapp.cardanswers import CardAnswer, CardList


def test_the_list_names_every_coupler(client):
    body = client.get("/api/couplers").json()
    CardList.model_validate(body, strict=True)
    assert [entry["name"] for entry in body["couplers"]] == list(card_names())
    assert all(client.get(f"/api/couplers/{entry['name']}").status_code == 200 for entry in body["couplers"])


@pytest.mark.parametrize("name", card_names())
def test_the_lines_are_the_engines(client, name):
    body = client.get(f"/api/couplers/{name}").json()
    CardAnswer.model_validate(body, strict=True)
    found = *lines_of(load_card(name)), *speed_lines_of(load_card(name))
    assert [(line["name"], line["stated"], line["modelled"], line["met"]) for line in body["lines"]] == [
        (line.name, line.stated, line.modelled, line.met) for line in found
    ]
    assert body["material_group"] == load_card(name).group()


def test_an_own_card_is_answered_like_a_shipped_one(client):
    own = client.get("/api/couplers/own", params={"card": pack_card(load_card("general"))}).json()
    shipped = client.get("/api/couplers/general").json()
    tests = own.pop("tests"), shipped.pop("tests")
    assert own | {"name": "general"} == shipped
    assert [test | {"query": ""} for test in tests[0]] == [test | {"query": ""} for test in tests[1]]
    assert all(test["query"].count("coupler=own") == 1 for test in tests[0])


@pytest.mark.parametrize("name", card_names())
def test_the_tests_of_a_card_open_as_stages(client, name):
    for test in client.get(f"/api/couplers/{name}").json()["tests"]:
        assert bool(test["query"]) != bool(test["why"])
        if test["query"]:
            assert client.get(f"/api/stage?{test['query']}").status_code == 200


def test_an_unknown_coupler_is_a_problem(client):
    answer = client.get("/api/couplers/nope")
    assert answer.status_code == 404
    assert answer.headers["Content-Type"] == "application/problem+json"
    assert "general" in answer.json()["detail"]


@pytest.mark.parametrize("text", ["", "x", "A" * 9000, "eJwDAAAAAAE", "\u00e9"])
def test_a_broken_card_is_a_problem_that_names_it(client, text):
    answer = client.get("/api/couplers/own", params={"card": text})
    assert answer.status_code == 422
    assert answer.headers["Content-Type"] == "application/problem+json"
    body = answer.json()
    ProblemDocument.model_validate(body, strict=True)
    assert [error["field"] for error in body["errors"]] == ["card"]


def test_numbers_are_finite(client):
    for name in card_names():
        json.loads(client.get(f"/api/couplers/{name}").text, parse_constant=pytest.fail)
