"""A real server in a process of its own."""

import contextlib
import re
import subprocess
import time
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

PATIENCE = 120  # seconds until the address must have been printed


@contextlib.contextmanager
def serving(
    command: Sequence[str], log: Path, cwd: Path, environment: Mapping[str, str] | None = None
) -> Iterator[str]:
    """Run `command`, which prints the address that it serves, and give that address; all it prints goes to `log`."""
    with log.open("w") as output:
        process = subprocess.Popen(command, cwd=cwd, env=environment, stdout=output, stderr=subprocess.STDOUT)
    try:
        yield _printed_address(process, log)
    finally:
        process.terminate()
        process.wait(timeout=PATIENCE)


def _printed_address(process: subprocess.Popen, log: Path) -> str:
    """Wait until the address stands in `log`; when that does not come about, tell what does."""
    deadline = time.monotonic() + PATIENCE
    while time.monotonic() < deadline and process.poll() is None:
        if address := re.search(r"http://\S+", log.read_text()):
            return address[0]
        time.sleep(0.02)
    raise RuntimeError(f"no server came up; exit code {process.poll()}, output:\n{log.read_text()}")
