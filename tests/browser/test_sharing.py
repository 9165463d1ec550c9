"""A stage passed on in a real browser: pictures that stand alone, files, the clipboard, frames of other pages."""

import base64
import contextlib
import http.server
import re
import struct
import threading
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

STAGE = "in=contact-high&vs=24V&r1=4k7"
BROAD = "in=ac&dropper=capacitor&cs=10uF&out=controller"

FRAMES = {"embed": f"embed?{STAGE}", "share": "share", "handout": "handout", "stage": "stage"}

INKS = """(address) => new Promise((resolve, reject) => {
  const image = new Image();
  image.onerror = () => reject(new Error("no picture"));
  image.onload = () => {
    const canvas = Object.assign(document.createElement("canvas"), { width: image.width, height: image.height });
    const brush = canvas.getContext("2d");
    brush.drawImage(image, 0, 0);
    const pixels = brush.getImageData(0, 0, canvas.width, canvas.height).data;
    const seen = {};
    for (let at = 0; at < pixels.length; at += 4) {
      const colour = [...pixels.slice(at, at + 4)].join(",");
      seen[colour] = (seen[colour] ?? 0) + 1;
    }
    resolve({ width: image.width, height: image.height, seen });
  };
  image.src = address;
})"""
"""Colours of a picture, each with how many pixels have it."""

CROWDED = """() => {
  const box = document.documentElement.getBoundingClientRect();
  const outside = [...document.querySelectorAll("text")].filter((text) => {
    const { left, top, right, bottom } = text.getBoundingClientRect();
    return left < box.left - 1 || top < box.top - 1 || right > box.right + 1 || bottom > box.bottom + 1;
  });
  return outside.map((text) => text.textContent);
}"""
"""Texts of a drawing that leave it."""


@pytest.mark.parametrize("query", [STAGE, BROAD, f"{BROAD}&p.figures=none&p.ink=black"])
def test_a_picture_by_itself_has_its_style_and_room_for_its_texts(page: Page, query):
    page.goto(f"/stage/schematic.svg?{query}")
    wire = page.evaluate("() => getComputedStyle(document.querySelector('.wire')).fill")
    rule = page.evaluate("() => getComputedStyle(document.querySelector('.wire')).strokeWidth")
    assert (wire, rule) == ("none", "2px")
    assert page.evaluate(CROWDED) == []


@pytest.mark.parametrize("query", [STAGE, f"{STAGE}&p.ink=black"])
def test_a_picture_in_a_page_has_its_colours(page: Page, server, query):
    page.goto("/nowhere")
    found = page.evaluate(INKS, f"{server}/stage/schematic.svg?{query}")
    most = sorted(found["seen"], key=found["seen"].get, reverse=True)
    grounds = {"238,245,244,255", "246,239,244,255"}  # those of the input and of the output side
    assert (grounds <= set(most[:3])) is ("black" not in query)
    assert (most[0] == "255,255,255,255") is ("black" in query)
    assert found["seen"].get("0,0,0,255" if "black" in query else "27,36,48,255", 0) > 2000, "wires and letters"


def test_a_picture_is_handed_over_as_png_at_twice_its_size(page: Page, tmp_path: Path):
    page.goto(f"/share?{STAGE}")
    size = page.evaluate("() => { const { naturalWidth: w, naturalHeight: h } = picture; return [w, h]; }")
    with page.expect_download() as download:
        page.click("#png")
    expect(page.locator("#told-png")).to_have_text("The picture is among your downloads.")
    file = tmp_path / download.value.suggested_filename
    download.value.save_as(file)
    content = file.read_bytes()
    assert file.name == "stage-contact-high-pull-up-closed.png"
    assert content[:8] == b"\x89PNG\r\n\x1a\n"
    assert struct.unpack(">II", content[16:24]) == tuple(2 * side for side in size)
    assert len(content) > 20_000
    page.goto("about:blank")
    found = page.evaluate(INKS, f"data:image/png;base64,{base64.b64encode(content).decode()}")
    assert len(found["seen"]) > 20
    assert {colour.rpartition(",")[2] for colour in found["seen"]} == {"255"}, "no pixel is left clear"


def test_what_is_copied_is_what_is_shown(page: Page):
    page.goto(f"/share?{STAGE}")
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    for name in ("link", "embed", "text"):
        page.click(f"[data-copies={name}]")
        expect(page.locator(f"#told-{name}")).to_have_text("Copied.")
        shown = page.locator(f"#{name}").input_value()
        assert page.evaluate("() => navigator.clipboard.readText()").replace("\r", "") == shown
    page.context.clear_permissions()


def test_without_script_nothing_is_offered_that_needs_it(browser, server):
    context = browser.new_context(base_url=server, java_script_enabled=False)
    page = context.new_page()
    page.goto(f"/share?{STAGE}")
    assert page.locator("button:visible").count() == 0
    assert page.locator("#link").input_value().endswith(f"/stage?{STAGE}")
    assert page.locator("svg.code").is_visible()
    context.close()


@contextlib.contextmanager
def page_elsewhere(content: str):
    """Serve a page of somebody else, and give its address."""

    class Elsewhere(http.server.BaseHTTPRequestHandler):
        def do_GET(self):
            self.send_response(200)
            self.send_header("Content-Type", "text/html")
            self.end_headers()
            self.wfile.write(content.encode())

        def log_message(self, *_):
            pass

    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), Elsewhere) as elsewhere:
        threading.Thread(target=elsewhere.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{elsewhere.server_address[1]}/"
        elsewhere.shutdown()


def test_a_page_elsewhere_may_frame_the_view_and_nothing_else(browser, server):
    frames = "".join(f'<iframe id="{name}" src="{server}/{path}"></iframe>' for name, path in FRAMES.items())
    context = browser.new_context()  # of its own, as what is refused is told as a breach
    page = context.new_page()
    with page_elsewhere(f"<!doctype html><title>A course</title>{frames}") as address:
        page.goto(address)
        inside = page.frame_locator("#embed")
        expect(inside.locator("#schematic svg").first).to_be_visible()
        inside.locator("#toggle").click()
        expect(inside.locator(".verdicts .shown a")).to_have_text("contact open")
        assert inside.locator(".open a").get_attribute("href") == f"/stage?{STAGE}&sw=open"
        for name in ("share", "handout", "stage"):
            assert page.frame_locator(f"#{name}").locator("link[rel=stylesheet]").count() == 0, name
    assert context.cookies() == []
    context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_code_stands_on_white(page: Page, scheme):
    page.emulate_media(color_scheme=scheme)
    page.goto("/share")
    fills = page.evaluate("""() => [".code-ground", ".code-modules"].map((part) =>
      getComputedStyle(document.querySelector(part)).fill)""")
    assert fills == ["rgb(255, 255, 255)", "rgb(0, 0, 0)"]
    assert re.fullmatch(r"rgb\(\d+, \d+, \d+\)", page.evaluate("() => getComputedStyle(document.body).color"))
