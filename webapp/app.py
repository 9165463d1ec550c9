"""The application put together: routes, error handlers, headers. Wiring only."""

import os

from fastapi import FastAPI
from sqlalchemy.exc import InterfaceError, OperationalError
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import JSONResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from webapp import __version__
from webapp.assets import load_assets
from webapp.classes.hub import Hub
from webapp.hunting.rates import Rates
from webapp.problems import problem, refused, unreachable
from webapp.remembered import Remembered
from webapp.render import make_templates
from webapp.routes import (
    api,
    api_band,
    api_bench,
    api_bounce,
    api_diagnosis,
    api_kept,
    api_lessons,
    api_life,
    api_logbooks,
    api_size,
    api_spread,
    api_square,
    api_step,
    api_sweep,
    api_timing,
    api_tradeoff,
    bands,
    bench,
    compare,
    coupler_api,
    couplers,
    curve_files,
    findings,
    following,
    fragments,
    handouts,
    hunting,
    hunts,
    keeping,
    kept,
    kept_edit,
    leading,
    lesson_editing,
    lesson_making,
    lesson_pages,
    logbooks,
    pages,
    panels,
    project,
    sharing,
    spread_run,
    terms,
    tour,
)
from webapp.settings import Settings
from webapp.store import Store, StoreError
from webapp.terms import NOTES, notes

SECURITY_HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; "
        "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}


class SecurityHeaders:
    """ASGI middleware that adds `SECURITY_HEADERS` to every answer, each unless the answer has one of its own.

    Parameters
    ----------
    app : ASGIApp
        The application that answers.
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app
        self._headers = [(name.lower().encode(), value.encode()) for name, value in SECURITY_HEADERS.items()]

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, and add the headers where the answer starts."""

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                own = list(message.get("headers", ()))
                named = {name.lower() for name, _ in own}
                more = [header for header in self._headers if header[0] not in named]
                message = {**message, "headers": [*own, *more]}
            await send(message)

        await self._app(scope, receive, send_with_headers)


async def healthz() -> dict[str, str]:
    """Tell that the application runs, and which version."""
    return {"status": "ok", "version": __version__}


async def failed(request: Request, error: Exception) -> JSONResponse:
    """Answer what nothing else caught. The server logs the traceback; middleware does not reach this answer."""
    return problem(500, "Lightgap could not work out an answer; this is a fault of its own.", SECURITY_HEADERS)


def begin(app: FastAPI, settings: Settings) -> None:
    """Let an application begin with nothing in mind: all that it knows while it runs is made here."""
    app.state.settings = settings
    app.state.store = Store(settings.database)
    app.state.hunt_rates = Rates()
    app.state.hub = Hub(app.state.store)
    app.state.remembered = Remembered()
    app.state.pictures = Remembered()  # of the event loop alone, where nothing may wait for a thread


def create_app(settings: Settings | None = None) -> FastAPI:
    """Return the application for `settings`, by default those of the environment."""
    settings = settings or Settings.from_environment(os.environ)
    assets = load_assets({NOTES: notes()})

    app = FastAPI(title="Lightgap", version=__version__, docs_url=None, redoc_url=None)
    app.state.templates = make_templates(assets)
    begin(app, settings)

    app.add_route("/static/{path:path}", assets.serve, include_in_schema=False)
    app.add_api_route("/healthz", healthz)
    for routes in (
        pages,
        couplers,
        fragments,
        panels,
        bands,
        bench,
        compare,
        project,
        sharing,
        handouts,
        hunts,
        hunting,
        logbooks,
        leading,
        following,
        keeping,
        lesson_making,
        lesson_editing,
        lesson_pages,
        kept,
        kept_edit,
        api,
        api_band,
        api_bench,
        api_bounce,
        api_diagnosis,
        api_kept,
        api_lessons,
        api_life,
        api_logbooks,
        api_size,
        coupler_api,
        findings,
        api_square,
        api_step,
        api_sweep,
        api_timing,
        api_tradeoff,
        curve_files,
        api_spread,
        spread_run,
        terms,
        tour,
    ):
        app.include_router(routes.router)

    app.add_exception_handler(HTTPException, refused)
    for no_database in (OperationalError, InterfaceError, StoreError):
        app.add_exception_handler(no_database, unreachable)
    app.add_exception_handler(Exception, failed)

    if settings.gzip_level:
        app.add_middleware(GZipMiddleware, compresslevel=settings.gzip_level)
    app.add_middleware(SecurityHeaders)
    return app
