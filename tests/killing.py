"""Saving scenarios while the server is killed again and again: what was acknowledged, and what is there afterwards."""

import contextlib
import http.client
import json
import os
import random
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from tests.tree import ROOT

PATIENCE = 60.0  # s until a server must answer
LONGEST = 300.0  # s of saving, whatever comes of it
SAVES_EACH = 40  # of one document, before another one is begun
WRITERS = 4


@dataclass
class Account:
    """What was acknowledged: document and revision to the notes that were sent, and how it went."""

    saved: dict = field(default_factory=dict)
    keys: dict = field(default_factory=dict)
    kills: int = 0
    cut_off: int = 0
    refused: list = field(default_factory=list)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def note(self, document: str, revision: int, notes: str) -> None:
        """Note that a save was acknowledged."""
        with self.lock:
            self.saved[document, revision] = notes


class Mortal:
    """Servers of one database at one address: when one is killed, the next one is begun."""

    def __init__(self, database: Path) -> None:
        with socket.create_server(("127.0.0.1", 0)) as free:
            self.port = free.getsockname()[1]
        self._log = database.with_suffix(".log")
        command = [sys.executable, "-m", "tests.unbounded", str(database), str(self.port)]
        with self._log.open("w") as log:
            self._parent = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=log, text=True)
        self._server = 0

    def begin(self) -> None:
        """Wait until the next server answers."""
        self._parent.send_signal(signal.SIGCONT)
        self._server = int(self._parent.stdout.readline() or 0)
        deadline = time.monotonic() + PATIENCE
        while not self.answers():
            if time.monotonic() > deadline or self._parent.poll() is not None:
                raise RuntimeError(f"no server came up:\n{self._log.read_text()[-2000:]}")
            time.sleep(0.02)

    def answers(self) -> bool:
        """Return whether it answers."""
        with contextlib.suppress(OSError, http.client.HTTPException):
            return self.ask("GET", "/healthz")[0] == 200
        return False

    def kill(self) -> None:
        """Kill the server, as happens to one whose machine fails."""
        os.kill(self._server, signal.SIGKILL)

    def fail(self) -> None:
        """Kill the server, and have no other one until `begin`."""
        self._parent.send_signal(signal.SIGSTOP)
        self.kill()

    def end(self) -> None:
        """End all."""
        self._parent.kill()
        if self._server:
            with contextlib.suppress(ProcessLookupError):
                self.kill()
        self._parent.wait(timeout=PATIENCE)
        self._parent.stdout.close()

    def ask(self, method: str, path: str, sent: dict | None = None, **headers: str) -> tuple[int, dict]:
        """Return status and object of an answer; raises OSError or HTTPException where none comes."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=PATIENCE)
        try:
            body = None if sent is None else json.dumps(sent)
            names = {name.replace("_", "-"): text for name, text in headers.items()}
            connection.request(method, path, body, {"Content-Type": "application/json", **names})
            answer = connection.getresponse()
            return answer.status, json.loads(answer.read() or b"{}")
        finally:
            connection.close()


@contextlib.contextmanager
def mortal(database: Path) -> Iterator[Mortal]:
    """Give a server that is running, and end it afterwards."""
    server = Mortal(database)
    try:
        server.begin()
        yield server
    finally:
        server.end()


def saves_under_kills(server: Mortal, wanted: int, kills: int) -> Account:
    """Save until `wanted` saves are acknowledged, killing the server at random moments; return the account.

    Parameters
    ----------
    server : Mortal
        The server, running; it runs again afterwards.
    wanted : int
        Saves.
    kills : int
        How often it is killed about: each time at a random moment after a random number of further saves.
    """
    account, over = Account(), threading.Event()
    writers = [threading.Thread(target=_write, args=(server, account, over, k)) for k in range(WRITERS)]
    for writer in writers:
        writer.start()
    moments = random.Random(20)
    until = time.monotonic() + LONGEST
    while len(account.saved) < wanted and time.monotonic() < until:
        further = len(account.saved) + moments.randint(1, 2 * wanted // (kills + 1))
        while len(account.saved) < further and time.monotonic() < until:
            time.sleep(0.001)
        time.sleep(moments.uniform(0.0, 0.03))
        server.kill()
        account.kills += 1
        server.begin()
    over.set()
    for writer in writers:
        writer.join()
    return account


def _write(server, account, over, number):
    """Save one document after another until all is over."""
    count = 0
    while not over.is_set():
        notes = f"writer {number}, document {count}"
        made = _asked(server, account, over, "POST", "/api/kept", _scenario(notes))
        count += 1
        if made is None:
            continue
        document, key = made["id"], made["key"]
        with account.lock:
            account.keys[document] = key
        account.note(document, 1, notes)
        _save_over(server, account, over, (document, key, number))


def _save_over(server, account, over, links):
    """Save a document again and again, each time over the revision that is the present one."""
    document, key, number = links
    path, revision = f"/api/kept/{document}", 1
    for count in range(SAVES_EACH):
        if over.is_set():
            return
        notes = f"writer {number}, save {count}"
        base = {"Lightgap_Key": key, "If_Match": f'"{revision}"'}
        answer = _asked(server, account, over, "PUT", path, _scenario(notes), **base)
        if answer is None:  # whether it was kept is not known: the next save is over what is there
            found = _asked(server, account, over, "GET", path)
            if found is None:
                return
            revision = found["revision"]
            continue
        revision = answer["revision"]
        account.note(document, revision, notes)


def _asked(server, account, over, *request, **headers):
    """Return the object of an answer that acknowledges; None where the server was cut off, once it answers again."""
    try:
        status, answer = server.ask(*request, **headers)
    except (OSError, http.client.HTTPException, ValueError):
        with account.lock:
            account.cut_off += 1
        while not over.is_set() and not server.answers():
            time.sleep(0.02)
        return None
    if status not in (200, 201):
        with account.lock:
            account.refused.append((status, answer))
        over.wait(0.05)
        return None
    return answer


def _scenario(notes):
    return {"title": "Kept under fire", "notes": notes, "scenario": "vs=36V"}


def missing(server: Mortal, account: Account) -> list[tuple[str, int]]:
    """Return the saves that were acknowledged and are not there as they were sent."""
    lost = []
    for (document, revision), notes in account.saved.items():
        status, found = server.ask("GET", f"/api/kept/{document}?revision={revision}")
        if status != 200 or (found["notes"], found["revision"]) != (notes, revision):
            lost.append((document, revision))
    return lost
