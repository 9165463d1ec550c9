"""The Jinja environment, and answers made with it.

Templates get `asset(name)` for static files and `url_for(route, query, **path)` for everything else; `explain(label)`
makes a symbol or a word explain itself. What they print arrives as a record from `present`; nothing is worked out here.
"""

from functools import lru_cache
from types import CodeType
from typing import Any

import jinja2
from jinja2.bccache import Bucket
from markupsafe import Markup, escape
from starlette.requests import Request
from starlette.responses import HTMLResponse
from starlette.templating import Jinja2Templates

from engine import INPUTS
from webapp.assets import Assets, folder
from webapp.terms import NOTES, symbol_in, term_of

USUAL_STAGE = f"in={next(iter(INPUTS))}"
"""Query string of the usual stage, where an empty one means another."""


class Compiled(jinja2.BytecodeCache):
    """Templates as code, one for each file, so that an application that is opened again need not compile them."""

    def __init__(self) -> None:
        self._kept: dict[str, tuple[str, CodeType]] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        """Give a template the code that it had, if it has not changed since."""
        source, code = self._kept.get(bucket.key, ("", None))
        if source == bucket.checksum:
            bucket.code = code

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep the code of a template."""
        self._kept[bucket.key] = bucket.checksum, bucket.code


_COMPILED = Compiled()


def make_templates(assets: Assets) -> Jinja2Templates:
    """Return the templates, with the addresses of `assets`."""
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(folder("templates")),
        undefined=jinja2.StrictUndefined,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        bytecode_cache=_COMPILED,
    )
    environment.globals |= {"asset": assets.url, "url_for": url_for, "explain": explain, "term_notes": NOTES}
    return Jinja2Templates(env=environment)


@jinja2.pass_context
def url_for(context: jinja2.runtime.Context, route: str, query: str = "", /, **path: Any) -> str:
    """Return the path of the named route, followed by the query string where one is given.

    A page that shows the explorer at an address of its own names that in `request.state.explorer_at`; links to stages
    then stay on it. There the bare path is another stage than the usual one, so the usual one is written out.
    """
    request = context["request"]
    if route == "stage" and (own := getattr(request.state, "explorer_at", "")):
        bare = not query or query.startswith("panel=")
        return f"{own}?{'&'.join(filter(None, (USUAL_STAGE, query))) if bare else query}"
    address = request.app.url_path_for(route, **path)
    return f"{address}?{query}" if query else str(address)


_LINK = Markup('<a class="term" href="/terms#{}" aria-label="{}: what it means">{}</a>{}')


@lru_cache(maxsize=1024)
def explain(label: str, text: str = "") -> Markup:
    """Return a label that leads to what it means; the bare text where no term is about it.

    Parameters
    ----------
    label : str
        A symbol or a word, or a label that begins with one; what follows its comma stays beside.
    text : str
        What is printed in its place.
    """
    term, symbol = term_of(label), symbol_in(label)
    if term is None:
        return escape(text or label)
    rest = "" if text else label[len(symbol) :]
    spoken = text if any(map(str.isalpha, text)) else symbol
    return _LINK.format(term.id, spoken, text or symbol, rest)


def page(request: Request, name: str, status_code: int = 200, **context: Any) -> HTMLResponse:
    """Return the whole page `name`, which a browser may keep but must ask for again."""
    return _render(request, name, context, status_code, "no-cache")


def fragment(request: Request, name: str, status_code: int = 200, **context: Any) -> HTMLResponse:
    """Return the part of a page `name`, never kept."""
    return _render(request, name, context, status_code, "no-store")


def _render(request: Request, name: str, context: dict[str, Any], status_code: int, cache_control: str) -> HTMLResponse:
    """Return the template `name` printed with `context`."""
    templates: Jinja2Templates = request.app.state.templates
    headers = {"Cache-Control": cache_control}
    return templates.TemplateResponse(request, name, context, status_code=status_code, headers=headers)
