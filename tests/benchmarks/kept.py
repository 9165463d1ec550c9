"""What is lost of 500 saves while the server process is killed at random moments: nothing that was acknowledged."""

import tempfile
import time
from pathlib import Path

from tests.killing import WRITERS, missing, mortal, saves_under_kills

SAVES = 500
KILLS = 25


def main(arguments=()):
    """Measure and print."""
    with tempfile.TemporaryDirectory() as folder, mortal(Path(folder) / "kept.sqlite3") as server:
        start = time.perf_counter()
        account = saves_under_kills(server, SAVES, KILLS)
        took = time.perf_counter() - start
        lost = missing(server, account)
    documents = len({document for document, _ in account.saved})
    print(
        f"  {len(account.saved)} saves acknowledged to {WRITERS} writers, {documents} documents, in {took:.0f} s; "
        f"{account.kills} times killed (SIGKILL), {account.cut_off} requests cut off, "
        f"{len(account.refused)} refused; target 0 lost: {len(lost)} lost"
    )
    if lost or account.refused:
        raise SystemExit(f"lost: {lost}, refused: {account.refused[:5]}")


if __name__ == "__main__":
    main()
