"""The application with wide allowances, served by one process after another: `python -m tests.unbounded DATABASE PORT`.

All modules are read once; then each server is a process of its own that opens the database anew. Its number is
printed; when it has been killed, the next one is begun.
"""

import os
import signal
import sys

import uvicorn

from engine import Scenario, operating_point
from webapp.app import create_app
from webapp.hunting.rates import Allowance, Rates
from webapp.settings import Settings


def main(database: str, port: str) -> None:
    """Serve until one server ends otherwise than by being killed."""
    operating_point(Scenario())  # what is worked out once for all stages need not be so after every kill
    while True:
        server = os.fork()
        if not server:
            serve(database, int(port))
            return
        print(server, flush=True)
        _, status = os.waitpid(server, 0)
        if not (os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGKILL):
            return


def serve(database: str, port: int) -> None:
    """Serve from a store that is opened now."""
    app = create_app(Settings(database=database))
    wide = {name: Allowance(1e9, 1e9) for name in ("keeping", "keeping_all", "saving")}
    app.state.hunt_rates = Rates(**wide)
    app.state.store.open()
    uvicorn.run(app, host="127.0.0.1", port=port, log_level="warning")


if __name__ == "__main__":
    main(*sys.argv[1:])
