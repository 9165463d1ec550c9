"""A bare page to compare with: as much to show as a small explorer, nothing to work out, swapped whole by htmx.

It has the hooks by which the drag benchmark finds slider and answer, and no style or script of its own.
"""

import socket

import uvicorn
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse
from starlette.routing import Route

from tests.tree import ROOT

STOPS = 100
FIELDS, PARTS, LABELS, ROWS, LINES = 20, 15, 18, 25, 8
HTMX = ROOT / "node_modules" / "htmx.org" / "dist" / "htmx.min.js"


def answer(stop: int) -> str:
    """Return a drawing, a table and a list whose figures all depend on the stop."""
    parts = "".join(
        f'<g transform="translate({20 + k * 58} 60)"><path d="M0 0H10M30 0H40" stroke="black"/>'
        f'<rect x="10" y="-6" width="20" height="12" fill="none" stroke="black"/><text y="30">R{k} 4.7 k</text></g>'
        for k in range(PARTS)
    )
    labels = "".join(
        f'<g><rect x="{10 + k * 48}" y="{120 + k % 3 * 40}" width="44" height="20" fill="none" stroke="black"/>'
        f'<text x="{12 + k * 48}" y="{135 + k % 3 * 40}">{stop * (k + 1) / 7:.3g} V</text></g>'
        for k in range(LABELS)
    )
    rows = "".join(
        f"<tr><th>I{k}</th><td>{stop * (k + 3) / 11:.4g} mA</td><td>{'low' if stop * k % 3 else 'high'}</td></tr>"
        for k in range(ROWS)
    )
    lines = "".join(f"<li><b>line {k}</b>: {stop * k / 3:.3g} of 5</li>" for k in range(LINES))
    return (
        f'<svg viewBox="0 0 900 240" width="900" height="240">{parts}{labels}</svg><table>{rows}</table>'
        f'<ul>{lines}</ul><ul id="followers" hidden><li data-for="vs" data-stop="{stop}"></li></ul>'
    )


async def page(request: Request) -> HTMLResponse:
    """Answer the page."""
    fields = "".join(f'<label>P{k}<input name="p{k}" value="{k}"></label>' for k in range(FIELDS))
    stops = "|".join(str(stop) for stop in range(STOPS + 1))
    return HTMLResponse(
        f'<!doctype html><html class="script"><title>Bare</title><script src="/htmx.js"></script>'
        f'<form id="controls" hx-get="/live" hx-trigger="drive" hx-target="#live" hx-swap="innerMorph" '
        f'hx-sync="this:queue last"><input id="slider-vs" name="stop" type="range" max="{STOPS}" value="40" '
        f'data-stops="{stops}" oninput="this.form.dispatchEvent(new Event(\'drive\'))">{fields}</form>'
        f'<div id="live">{answer(40)}</div></html>'
    )


async def live(request: Request) -> HTMLResponse:
    """Answer what stands at a stop."""
    return HTMLResponse(answer(int(request.query_params["stop"])))


async def htmx(request: Request) -> FileResponse:
    """Answer the library."""
    return FileResponse(HTMX)


def main() -> None:
    """Serve on any free port and print the address."""
    app = Starlette(routes=[Route("/stage", page), Route("/live", live), Route("/htmx.js", htmx)])
    listener = socket.create_server(("127.0.0.1", 0))
    print(f"Bare page at http://127.0.0.1:{listener.getsockname()[1]} - Ctrl+C stops it", flush=True)
    uvicorn.Server(uvicorn.Config(app, log_level="warning")).run([listener])


if __name__ == "__main__":
    main()
