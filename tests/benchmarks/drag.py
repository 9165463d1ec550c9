"""How soon the picture follows the hand: real drags in Chromium against a real server.

Latency runs from the time stamp of the pointer's move to the first task after the frame that shows its value. The
same hand also drags a bare page of similar size with next to nothing to work out (`bare`), which tells what the machine
has to give at the moment, and the explorer with one text set in place of the request (the floor).
"""

import argparse
import asyncio
import shutil
import statistics
import sys
import tempfile
from contextlib import ExitStack
from pathlib import Path

from playwright.async_api import TimeoutError as NotInTime
from playwright.async_api import async_playwright

from tests.serving import serving
from tests.tree import ROOT

DRAGGED = {"vs": "supply voltage", "ctr": "transfer ratio", "if": "drive current"}
BARE = "bare page"
RATE = 60  # moves per second
THUMB = 17  # px
MEDIAN_TARGET, PAINTS_TARGET = 35.0, 40.0  # ms, painted updates per second
FLAGS = ["--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"]
UNWANTED = ["--disable-ipc-flooding-protection"]

WATCH = """({ key, page }) => {
  const slider = document.getElementById(`slider-${key}`);
  const form = document.getElementById("controls");
  const log = (window.log = { inputs: [], painted: [], trips: [], bytes: [], focusLost: 0 });
  let moved = 0;
  let last = -1;

  // Called within the frame that shows the stop.
  function shown(stop) {
    let index = log.inputs.length - 1;
    while (index > last && log.inputs[index].stop !== stop) index -= 1;
    if (index <= last) return;
    last = index;
    const { at } = log.inputs[index];
    const channel = new MessageChannel();
    channel.port1.onmessage = () => log.painted.push({ latency: performance.now() - at, at: performance.now() });
    channel.port2.postMessage(null);
  }

  addEventListener("pointermove", (event) => (moved = event.timeStamp), true);
  slider.addEventListener("input", () => {
    log.inputs.push({ stop: slider.dataset.stops.split("|")[slider.value], at: moved });
    if (document.activeElement !== slider) log.focusLost += 1;
  }, true);

  const follower = () => document.querySelector(`#followers [data-for="${key}"]`).dataset.stop;
  if (page === "floor") {
    const reading = document.querySelector("#flag-VS .reading").lastChild;
    form.addEventListener("drive", (event) => {
      event.stopImmediatePropagation();
      reading.textContent = ` ${slider.value}`;
      const stop = slider.dataset.stops.split("|")[slider.value];
      requestAnimationFrame(() => shown(stop));
    }, true);
    window.settled = () => true;
  } else {
    const live = document.getElementById("live");
    // The explorer shows answers within a frame, the bare page between frames.
    const look = () => {
      const stop = follower();
      if (page === "bare") requestAnimationFrame(() => shown(stop));
      else shown(stop);
    };
    const everything = { subtree: true, childList: true, characterData: true, attributes: true };
    new MutationObserver(look).observe(live, everything);
    new PerformanceObserver((list) => {
      for (const entry of list.getEntries()) {
        if (!entry.name.includes("/live")) continue;
        log.trips.push(entry.responseEnd - entry.requestStart);
        log.bytes.push(entry.encodedBodySize);
      }
    }).observe({ type: "resource" });
    window.settled = () => follower() === slider.dataset.stops.split("|")[slider.value];
  }
}"""


async def drag(page, cdp, key, moves):
    """Move one slider to and fro, a stop or more with each move, and let go; return what the page noted."""
    slider = page.locator(f"#slider-{key}")
    box, last, at = await slider.bounding_box(), int(await slider.get_attribute("max")), int(await slider.input_value())
    left, width = box["x"] + THUMB / 2, box["width"] - THUMB
    step, y = max(2.0, width / last * 1.05), box["y"] + box["height"] / 2
    low, high = left + 0.2 * width, left + 0.9 * width
    x, direction = left + at / last * width, 1

    async def send(kind, **more):
        await cdp.send("Input.dispatchMouseEvent", {"type": kind, "x": x, "y": y, "button": "left", **more})

    await send("mousePressed", clickCount=1, buttons=1)
    loop, sent = asyncio.get_running_loop(), []
    start = loop.time()
    for move in range(moves):
        if not low <= x + direction * step <= high:
            direction = -direction
        x += direction * step
        sent.append(asyncio.create_task(send("mouseMoved", buttons=1)))
        await asyncio.sleep(max(0.0, start + (move + 1) / RATE - loop.time()))
    await asyncio.gather(*sent)
    taken = loop.time() - start
    await send("mouseReleased", clickCount=1)
    try:
        await page.wait_for_function("() => window.settled()", timeout=3000)
        stale = 0
    except NotInTime:
        stale = 1
    await page.wait_for_timeout(100)
    return await page.evaluate("window.log") | {"taken": taken, "stale": stale}


async def drags(browser, address, key, options, page_kind="explorer"):
    """Drag one slider several times, each time on a fresh page, and return the notes of all drags."""
    notes = []
    for _ in range(options.drags):
        context = await browser.new_context(base_url=address, viewport={"width": 1280, "height": 720})
        page = await context.new_page()
        await page.goto("/stage")
        await page.wait_for_selector("html.script", state="attached")
        cdp = await context.new_cdp_session(page)
        if options.slow:
            await cdp.send("Emulation.setCPUThrottlingRate", {"rate": options.slow})
        await page.evaluate(WATCH, {"key": key, "page": page_kind})
        notes.append(await drag(page, cdp, key, options.moves))
        await context.close()
    return notes


def summary(notes):
    """Return the figures of several drags: rates per second, times in ms."""
    latencies = sorted(painted["latency"] for note in notes for painted in note["painted"])
    taken = sum(note["taken"] for note in notes)

    def middle(name):
        values = [value for note in notes for value in note[name]]
        return statistics.median(values) if values else 0.0

    return {
        "inputs/s": sum(len(note["inputs"]) for note in notes) / taken,
        "paints/s": len(latencies) / taken,
        "median": statistics.median(latencies),
        "p95": latencies[int(0.95 * len(latencies))],
        "trip": middle("trips"),
        "kB": middle("bytes") / 1e3,
        "stale": sum(note["stale"] for note in notes),
        "focus lost": sum(note["focusLost"] for note in notes),
    }


async def measured(options):
    """Return the figures of the bare page, of the floor and of every slider."""
    with tempfile.TemporaryDirectory() as folder, ExitStack() as running:

        def started(module, *arguments):
            command = [sys.executable, "-m", module, *arguments]
            return running.enter_context(serving(command, Path(folder) / f"{module}.txt", cwd=ROOT))

        explorer, bare = started("webapp", "--port", "0"), started("tests.benchmarks.bare")
        async with async_playwright() as playwright:
            browser = await playwright.chromium.launch(
                executable_path=shutil.which("chromium-headless-shell") or shutil.which("chromium"),
                args=FLAGS,
                ignore_default_args=UNWANTED,
            )
            await drags(browser, explorer, "vs", argparse.Namespace(drags=1, moves=30, slow=0))  # warm
            rows = {
                BARE: summary(await drags(browser, bare, "vs", options, "bare")),
                "floor: text only": summary(await drags(browser, explorer, "vs", options, "floor")),
            }
            for key, name in DRAGGED.items():
                rows[name] = summary(await drags(browser, explorer, key, options))
            await browser.close()
    return rows


def main(arguments=()):
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.drag", description=__doc__)
    parser.add_argument("--drags", type=int, default=4, help="drags of each slider")
    parser.add_argument("--moves", type=int, default=118, help="moves of each drag")
    parser.add_argument("--slow", type=float, default=0, help="by what the page's processor is slowed down")
    rows = asyncio.run(measured(parser.parse_args(arguments)))
    bare = rows[BARE]
    print(f"  {'':17}" + "".join(f"{name:>11}" for name in bare) + f"{'x bare':>11}")
    for name, row in rows.items():
        cells = "".join(f"{value:11d}" if isinstance(value, int) else f"{value:11.1f}" for value in row.values())
        print(f"  {name:17}{cells}{row['median'] / bare['median']:11.2f}")
    dragged = [rows[name] for name in DRAGGED.values()]
    slowest, fewest = max(row["median"] for row in dragged), min(row["paints/s"] for row in dragged)
    print(f"  slowest median {slowest:.1f} ms, target {MEDIAN_TARGET:.0f}: {verdict(slowest <= MEDIAN_TARGET)}")
    print(f"  fewest paints {fewest:.1f} per second, target {PAINTS_TARGET:.0f}: {verdict(fewest >= PAINTS_TARGET)}")
    finals = sum(row["stale"] + row["focus lost"] for row in dragged)
    print(f"  last values missing or focus lost: {finals}, target 0: {verdict(not finals)}")


def verdict(met):
    """Return whether a target is met, in a word."""
    return "met" if met else "missed"


if __name__ == "__main__":
    main(sys.argv[1:])
