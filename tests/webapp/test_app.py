"""The application put together: headers, start settings, the last handler."""

import pytest
from starlette.testclient import TestClient

from webapp import __version__
from webapp.app import SECURITY_HEADERS, create_app
from webapp.settings import Settings


@pytest.fixture
def broken():
    """A client of an application with a route that fails."""
    app = create_app(Settings())

    @app.get("/broken")
    def fail():
        raise ZeroDivisionError("an inner detail")

    return TestClient(app, raise_server_exceptions=False)


def test_healthz_tells_the_version(client):
    assert client.get("/healthz").json() == {"status": "ok", "version": __version__}


@pytest.mark.parametrize("path", ["/healthz", "/nowhere", "/api/nowhere", "/static/favicon.svg", "/broken"])
def test_every_answer_has_the_security_headers(broken, path):
    assert broken.get(path).headers.items() >= {name.lower(): text for name, text in SECURITY_HEADERS.items()}.items()


def test_the_policy_starts_from_nothing_and_allows_nothing_inline(client):
    policy = client.get("/healthz").headers["Content-Security-Policy"]

    assert policy.startswith("default-src 'none';")
    assert "unsafe" not in policy


def test_a_fault_is_told_without_its_details(broken):
    answer = broken.get("/broken")

    assert answer.status_code == 500
    assert answer.headers["Content-Type"] == "application/problem+json"
    assert answer.json()["title"] == "Internal Server Error"
    assert "inner detail" not in answer.text
    assert "Traceback" not in answer.text


def test_pages_that_would_load_scripts_from_elsewhere_are_off(client):
    assert client.get("/openapi.json").json()["info"] == {"title": "Lightgap", "version": __version__}
    assert client.get("/docs").status_code == 404
    assert client.get("/redoc").status_code == 404


@pytest.mark.parametrize(("level", "encoding"), [(0, None), (1, "gzip")])
def test_answers_are_compressed_on_request_only(level, encoding):
    client = TestClient(create_app(Settings(gzip_level=level)))

    assert client.get("/static/vendor/htmx.min.js").headers.get("Content-Encoding") == encoding
