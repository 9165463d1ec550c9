"""What is answered when no route serves a request."""

import pytest


def test_an_unknown_address_is_a_small_page(client):
    answer = client.get("/nowhere")

    assert answer.status_code == 404
    assert answer.template.name == "problems/not_found.html"
    assert answer.context["title"] == "Not Found"
    assert answer.context["sentence"] == "There is nothing at this address."


def test_an_unknown_method_is_a_small_page_that_names_the_others(client):
    answer = client.post("/healthz")

    assert answer.status_code == 405
    assert answer.template.name == "problems/not_found.html"
    assert answer.headers["Allow"] == "GET"


@pytest.mark.parametrize("method", ["GET", "POST", "DELETE"])
def test_under_api_it_is_json(client, method):
    answer = client.request(method, "/api/nowhere")

    assert answer.status_code == 404
    assert answer.headers["Content-Type"] == "application/problem+json"
    assert answer.json() == {
        "type": "about:blank",
        "title": "Not Found",
        "status": 404,
        "detail": "There is nothing at this address.",
    }
