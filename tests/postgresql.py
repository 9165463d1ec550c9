"""A private PostgreSQL: a cluster in a temporary folder, reached through a socket in it, by nobody else."""

import contextlib
import os
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest

DEBIAN = "/usr/lib/postgresql"
OWNER = "postgres"
PATIENCE = 30  # seconds until it must answer
QUICK = {  # nothing outlives a test, so nothing waits for the disk
    "fsync": "off",
    "synchronous_commit": "off",
    "full_page_writes": "off",
    "autovacuum": "off",
    "shared_buffers": "16MB",
    "max_connections": "60",
    "listen_addresses": "",
}


@contextlib.contextmanager
def running_cluster() -> Iterator[Path]:
    """Run a new cluster, and give the folder of its socket; skip the test where it cannot be had."""
    programs, become = _programs(), _become()
    where = "/tmp" if become else None  # the other user gets there
    folder = Path(tempfile.mkdtemp(prefix="lightgap-pg-", dir=where))
    try:
        if become:
            shutil.chown(folder, OWNER, OWNER)
        made = [*become, programs / "initdb", "-D", folder / "data", "-U", OWNER, "--auth=trust", "--no-sync"]
        subprocess.run(
            [*made, "--encoding=UTF8", "--locale=C"], check=True, cwd=folder, stdout=subprocess.DEVNULL, env=_calm()
        )
        settings = [f"--{name}={value}" for name, value in QUICK.items()]
        command = [*become, programs / "postgres", "-D", folder / "data", "-k", folder, *settings]
        process = subprocess.Popen(command, cwd=folder, stderr=subprocess.DEVNULL, env=_calm())
        try:
            _wait_for(folder, process)
            yield folder
        finally:
            process.send_signal(signal.SIGQUIT)  # at once, whoever is connected: nothing of it is kept
            process.wait(timeout=PATIENCE)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def address_of(folder: Path, database: str) -> str:
    """Return the address of a database as the setting takes it."""
    return f"postgresql+psycopg://{OWNER}@/{database}?host={folder}"


def run_sql(folder: Path, *statements: str, database: str = OWNER) -> None:
    """Run some statements, each by itself."""
    with psycopg.connect(host=str(folder), user=OWNER, dbname=database, autocommit=True) as connection:
        for statement in statements:
            connection.execute(statement)


def _programs() -> Path:
    """Return the folder of the programs; Debian keeps them out of the path."""
    versions = sorted(Path(DEBIAN).glob("*/bin/initdb"), key=lambda path: float(path.parts[-3]))
    found = versions[-1] if versions else shutil.which("initdb")
    if found:
        return Path(found).resolve().parent
    sentence = "PostgreSQL is missing; 'make test' installs it, and so does 'apt-get install postgresql'"
    if os.getuid() == 0 and shutil.which("apt-get"):
        pytest.fail(sentence)
    return pytest.skip(f"{sentence}; this machine has no apt-get, or you are not root")


def _become() -> list[str]:
    """Return what makes another user run a command: PostgreSQL refuses to run as root."""
    return ["setpriv", f"--reuid={OWNER}", f"--regid={OWNER}", "--init-groups"] if os.getuid() == 0 else []


def _calm() -> dict[str, str]:
    """Return an environment that says nothing of a language or of another cluster."""
    return {"PATH": os.environ["PATH"], "LC_ALL": "C"}


def _wait_for(folder: Path, process: subprocess.Popen) -> None:
    """Wait until the cluster answers."""
    deadline = time.monotonic() + PATIENCE
    while True:
        try:
            run_sql(folder)
            return
        except psycopg.OperationalError:
            if process.poll() is not None or time.monotonic() > deadline:
                raise
            time.sleep(0.02)
