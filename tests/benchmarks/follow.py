"""How soon a class has what it is shown: 200 who follow, each told by an event and then asking for the picture.

All of them, whoever leads and the server share this machine. A client does as the page does: it asks for the newest
scenario, one at a time, spread over a moment; a lost connection is tried again by chance earlier or later.
"""

import argparse
import asyncio
import contextlib
import html
import os
import random
import re
import statistics
import sys
import tempfile
import time
from pathlib import Path
from urllib.parse import urlencode

from engine import query_from, scenario_from_query
from tests.benchmarks.yardstick import yardstick
from tests.killing import mortal
from tests.serving import serving
from tests.tree import ROOT

FOLLOWERS = 200
MOVES = 32  # of one drag
PACE = 0.125  # s between two moves
ROUNDS = 5
TARGET = 1.0  # s, median
PATIENCE = 20.0  # s after which somebody has missed it
NARROW, BROAD = 0.08, 0.4  # s over which a class asks for the same picture, as in class.js
SOONEST, LATEST = 0.3, 8.0  # s until a connection is tried again, as in class.js

_SHOWN = re.compile(rb'id="followers" hidden data-query="([^"]*)"')


class Connection:
    """A connection that is kept for one request after the other, and opened anew where it is lost."""

    def __init__(self, port):
        self._port, self._pair = port, None

    async def ask(self, method, path, body=""):
        """Return status, headers and body of an answer; raises OSError or EOFError where none comes."""
        try:
            if self._pair is None:
                self._pair = await asyncio.open_connection("127.0.0.1", self._port)
            reader, writer = self._pair
            head = f"{method} {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: {len(body)}\r\n"
            writer.write(f"{head}Content-Type: application/x-www-form-urlencoded\r\n\r\n{body}".encode())
            top = (await reader.readuntil(b"\r\n\r\n")).decode()
            headers = {k.lower(): v for k, v in re.findall(r"^([\w-]+): (.*)\r$", top, flags=re.MULTILINE)}
            content = await reader.readexactly(int(headers.get("content-length", 0)))
            return int(top.split()[1]), headers, content
        except (OSError, EOFError):
            self.close()
            raise

    def close(self):
        if self._pair:
            self._pair[1].close()
        self._pair = None


class Follower:
    """One who follows, with what they have and since when."""

    def __init__(self, port, path):
        self.port, self.path, self.known = port, path, 0
        self.newest = self.had = None
        self.since, self.events, self.pictures = 0.0, 0, 0
        self._news = asyncio.Event()
        self.tasks = [asyncio.create_task(self._listen()), asyncio.create_task(self._look())]

    async def _listen(self):
        """Hear of every scenario, over lost connections."""
        wait = SOONEST
        while True:
            with contextlib.suppress(OSError, EOFError):
                reader, writer = await asyncio.open_connection("127.0.0.1", self.port)
                writer.write(f"GET {self.path}/events?after={self.known} HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n".encode())
                while line := await reader.readline():
                    wait = SOONEST
                    self._heard(line.decode().strip())
                writer.close()
            await asyncio.sleep(wait * random.uniform(0.5, 1.5))
            wait = min(2 * wait, LATEST)

    def _heard(self, line):
        """Take one line of the stream."""
        if line.startswith("id: "):
            self.known = int(line[4:])
        if line.startswith("data: ?"):
            self.events += 1
            self.newest = line[7:]
            self._news.set()

    async def _look(self):
        """Ask for the picture of the newest scenario, one at a time."""
        connection, spread = Connection(self.port), NARROW
        while True:
            await self._news.wait()
            self._news.clear()
            await asyncio.sleep(random.uniform(0.0, spread))
            wanted, asked = self.newest, time.perf_counter()
            try:
                status, _, picture = await connection.ask("GET", f"/stage/explorer?{wanted}")
            except (OSError, EOFError):
                status = 0
            if status != 200:
                self._news.set()
                await asyncio.sleep(random.uniform(0.5, 1.5) * SOONEST)
                continue
            self.pictures += 1
            self.had, self.since = html.unescape(_SHOWN.search(picture)[1].decode()), time.perf_counter()
            spread = min(BROAD, max(NARROW, 3 * (self.since - asked)))


class Leader:
    """Who leads."""

    def __init__(self, port):
        self._connection = Connection(port)
        self.own = ""

    async def begin(self):
        _, headers, _ = await self._connection.ask("POST", "/follow/new?vs=24V")
        self.own = headers["location"]
        return self.own.partition("/lead/")[0]

    async def show(self, query):
        """Show the class a scenario, however often that must be tried; return when it was first sent."""
        sent = time.perf_counter()
        while True:
            with contextlib.suppress(OSError, EOFError):
                status, _, _ = await self._connection.ask(
                    "POST", f"{self.own}/scenario", urlencode({"scenario": query})
                )
                if status == 200:
                    return sent
            await asyncio.sleep(0.1)

    async def drag(self, end):
        """Move a slider for a while; return its last scenario, and when it was sent."""
        for number in range(MOVES):
            volts = end - 0.05 * (MOVES - 1 - number)
            query = query_from(scenario_from_query(f"vs={volts:.2f}V&r1=3k3"))
            sent = await self.show(query)
            if number < MOVES - 1:
                await asyncio.sleep(max(0.0, PACE - (time.perf_counter() - sent)))
        return query, sent


async def _all_have(followers, query, since):
    """Return how long each took to have a picture, and how many have missed it."""
    until = time.perf_counter() + PATIENCE
    while time.perf_counter() < until and any(one.had != query for one in followers):
        await asyncio.sleep(0.01)
    took = sorted(one.since - since for one in followers if one.had == query)
    return took, len(followers) - len(took)


def _told(name, took, missed, more=""):
    """Print the times of a part."""
    p95 = took[int(0.95 * len(took))] if took else float("nan")
    print(
        f"  {name:52} median {statistics.median(took or [0.0]) * 1e3:5.0f} ms  p95 {p95 * 1e3:5.0f} ms  "
        f"max {(took or [0.0])[-1] * 1e3:5.0f} ms  missed {missed} of {len(took) + missed}{more}",
        flush=True,
    )


async def _class(port, kill=None, begin=None):
    """Lead a class, and print how soon all have what it is shown."""
    leader = Leader(port)
    path = await leader.begin()
    followers = [Follower(port, path) for _ in range(FOLLOWERS)]
    print(
        f"  {FOLLOWERS} follow; target: median {TARGET * 1e3:.0f} ms, nobody misses the last scenario; "
        f"the yardstick takes {yardstick():.1f} ms"
    )
    await _all_have(followers, "vs=24V", 0.0)
    times, missed = [], 0
    for number in range(ROUNDS):
        took, late = await _all_have(followers, *(await leader.drag(10.0 + 3.0 * number)))
        times, missed = [*times, *took], missed + late
        await asyncio.sleep(1.0)
    events, pictures = (sum(getattr(one, name) for one in followers) for name in ("events", "pictures"))
    shown = FOLLOWERS * ROUNDS * MOVES
    _told(
        f"after the last of {MOVES} moves, {ROUNDS} drags",
        sorted(times),
        missed,
        f"; heard of {events / shown:.0%}, saw {pictures / shown:.0%} of all moves",
    )
    if kill:
        await _over_a_restart(leader, followers, kill, begin)
    for one in followers:
        for task in one.tasks:
            task.cancel()


async def _over_a_restart(leader, followers, kill, begin):
    """Kill the server while a slider is moved, and print how soon all have what it was moved to."""
    moving = asyncio.create_task(leader.drag(40.0))
    await asyncio.sleep(0.6 * MOVES * PACE)
    kill()
    down = time.perf_counter()
    await asyncio.to_thread(begin)
    print(f"  the server was killed in mid-drag and was up again after {time.perf_counter() - down:.1f} s")
    took, missed = await _all_have(followers, *(await moving))
    _told("after the last move, the server killed before", took, missed)
    kill()
    query = query_from(scenario_from_query("vs=48V"))
    showing = asyncio.create_task(leader.show(query))
    await asyncio.to_thread(begin)
    up = time.perf_counter()
    await showing
    took, missed = await _all_have(followers, query, up)
    _told("shown while it was down: after it is up", took, missed)


def main(arguments=()):
    """Measure and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--postgresql", action="store_true")
    options = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as folder:
        print("  one process, SQLite:")
        with mortal(Path(folder) / "kept.sqlite3") as server:
            asyncio.run(_class(server.port, server.kill, server.begin))
        if options.postgresql:
            _on_postgresql(Path(folder))


def _on_postgresql(folder):
    """Measure with two processes on a PostgreSQL of its own."""
    from tests.postgresql import address_of, run_sql, running_cluster

    print("  two processes, PostgreSQL:")
    with running_cluster() as cluster:
        run_sql(cluster, "CREATE DATABASE follow")
        environment = os.environ | {"LIGHTGAP_DATABASE": address_of(cluster, "follow")}
        command = [sys.executable, "-m", "webapp", "--port", "0", "--workers", "2"]
        with serving(command, folder / "log.txt", ROOT, environment) as address:
            port = int(address.rpartition(":")[2])
            asyncio.run(_class_once_up(port))


async def _class_once_up(port):
    """Lead a class as soon as the processes answer."""
    while True:
        with contextlib.suppress(OSError, EOFError):
            await Connection(port).ask("GET", "/healthz")
            break
        await asyncio.sleep(0.2)
    await asyncio.sleep(5.0)  # until both do
    await _class(port)


if __name__ == "__main__":
    main(sys.argv[1:])
