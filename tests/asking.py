"""A client of an application in the thread of the test itself: a request costs what the answer costs.

Starlette's own hands every request to the event loop of another thread, several times to and fro. What goes on between
requests, or streams without end, needs that one.
"""

import asyncio
import atexit
import threading
from collections.abc import Coroutine
from functools import cache
from typing import Any
from urllib.parse import unquote

import httpx2
from starlette.testclient import TestClient
from starlette.types import ASGIApp, Message


@cache
def _loop() -> asyncio.AbstractEventLoop:
    """Return the event loop, which runs while a request is answered."""
    loop = asyncio.new_event_loop()
    atexit.register(loop.close)
    return loop


def _run(work: Coroutine[Any, Any, None]) -> None:
    """Run it to its end in this thread, where those of several tests may be under way."""
    if threading.current_thread() is threading.main_thread():
        _loop().run_until_complete(work)
    else:
        asyncio.run(work)


class Asking(TestClient):
    """A client that asks in the thread of the test.

    Parameters
    ----------
    app : ASGIApp
        The application.
    client : (str, int)
        Where requests come from.
    **more : Any
        As of Starlette's client.
    """

    __test__ = False

    def __init__(self, app: ASGIApp, client: tuple[str, int] = ("testclient", 50000), **more: Any) -> None:
        super().__init__(app, client=client, **more)
        self._transport = _InThread(app, client)


class _InThread(httpx2.BaseTransport):
    """What carries a request to the application, and its whole answer back."""

    def __init__(self, app: ASGIApp, client: tuple[str, int]) -> None:
        self._app = app
        self._client = client

    def handle_request(self, request: httpx2.Request) -> httpx2.Response:
        """Return the answer; what the application raises is raised."""
        answer = _Answer(request.read())
        _run(self._app(self._scope(request), answer.receive, answer.send))
        return answer.response(request)

    def _scope(self, request: httpx2.Request) -> dict[str, Any]:
        """Return what a server tells of a request."""
        url = request.url
        return {
            "type": "http",
            "http_version": "1.1",
            "method": request.method,
            "path": unquote(url.path),
            "raw_path": url.raw_path.split(b"?", 1)[0],
            "root_path": "",
            "scheme": url.scheme,
            "query_string": url.query,
            "headers": [(name.lower(), value) for name, value in request.headers.raw],
            "client": self._client,
            "server": (url.host, url.port or {"http": 80, "https": 443}[url.scheme]),
            "extensions": {"http.response.debug": {}},
            "state": {},
        }


class _Answer:
    """What an application sends, put together."""

    def __init__(self, asked: bytes) -> None:
        self._messages = [{"type": "http.request", "body": asked, "more_body": False}]
        self._ended = asyncio.Event()
        self._start: Message = {}
        self._body: list[bytes] = []
        self._printed: dict[str, Any] = {}

    async def receive(self) -> Message:
        """Give the request, and that nobody is there any more once all has been sent."""
        if self._messages:
            return self._messages.pop()
        await self._ended.wait()
        return {"type": "http.disconnect"}

    async def send(self, message: Message) -> None:
        """Take a part of the answer."""
        if message["type"] == "http.response.start":
            self._start = message
        elif message["type"] == "http.response.debug":
            self._printed = message["info"]
        else:
            self._body.append(bytes(message.get("body", b"")))
            if not message.get("more_body"):
                self._ended.set()

    def response(self, request: httpx2.Request) -> httpx2.Response:
        """Return the answer, with the template that printed it and what that was given."""
        body = b"" if request.method == "HEAD" else b"".join(self._body)
        response = httpx2.Response(
            self._start["status"], headers=self._start["headers"], stream=httpx2.ByteStream(body), request=request
        )
        for name, value in self._printed.items():
            setattr(response, name, value)
        return response
