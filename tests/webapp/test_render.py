"""Pages and fragments out of templates."""

import jinja2
import pytest
from fastapi import FastAPI, Request
from starlette.testclient import TestClient

from webapp.assets import HTMX, load_assets
from webapp.render import fragment, make_templates, page

TEMPLATES = {
    "page.html": "<p>{{ text }}</p>",
    "links.html": "{{ asset(file) }} {{ url_for('part', number=7) }} {{ url_for('part', 'a=1&b=2', number=7) }}",
}


@pytest.fixture
def application():
    """An application with templates of its own and one route for each thing that can be answered."""
    app = FastAPI()
    app.state.templates = make_templates(load_assets())
    app.state.templates.env.loader = jinja2.DictLoader(TEMPLATES)

    @app.get("/page")
    def whole(request: Request, text: str):
        return page(request, "page.html", text=text)

    @app.get("/part/{number}", name="part")
    def part(request: Request, number: int):
        return fragment(request, "page.html", 422, text=number)

    @app.get("/links")
    def links(request: Request):
        return page(request, "links.html", file=HTMX)

    @app.get("/missing")
    def missing(request: Request):
        return page(request, "page.html")

    return TestClient(app)


def test_a_page_is_html_that_is_asked_for_again(application):
    answer = application.get("/page", params={"text": "<b>"})

    assert answer.text == "<p>&lt;b&gt;</p>"
    assert answer.headers["Content-Type"] == "text/html; charset=utf-8"
    assert answer.headers["Cache-Control"] == "no-cache"
    assert answer.template.name == "page.html"
    assert answer.context["text"] == "<b>"


def test_a_fragment_is_never_kept(application):
    answer = application.get("/part/7")

    assert (answer.status_code, answer.text) == (422, "<p>7</p>")
    assert answer.headers["Cache-Control"] == "no-store"


def test_addresses_are_paths(application):
    asset, part, part_with_query = application.get("/links").text.split()

    assert asset.startswith("/static/")
    assert asset.endswith(HTMX)
    assert part == "/part/7"
    assert part_with_query == "/part/7?a=1&amp;b=2"


def test_a_value_that_was_not_given_is_an_error(application):
    with pytest.raises(jinja2.UndefinedError, match="'text' is undefined"):
        application.get("/missing")
