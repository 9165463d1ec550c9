"""The command `lightgap`, also `python -m webapp`: reads the settings, listens, prints the address, serves."""

import argparse
import contextlib
import os
import socket
import sys
from collections.abc import Sequence

import uvicorn
from fastapi import FastAPI
from uvicorn.supervisors import ChangeReload, Multiprocess

from webapp.app import create_app
from webapp.assets import PACKAGE, AssetError
from webapp.settings import Settings, SettingsError
from webapp.store import StoreError

GRACE = 5
"""How long answers that are on their way may hold up the end [s]."""


def main(arguments: Sequence[str] | None = None) -> None:
    """Serve until interrupted; what cannot start ends the program with one line."""
    options = _parser().parse_args(arguments)
    chosen = {"LIGHTGAP_HOST": options.host, "LIGHTGAP_PORT": options.port, "LIGHTGAP_WORKERS": options.workers}
    environment = os.environ | {name: text for name, text in chosen.items() if text is not None}
    try:
        settings = Settings.from_environment(environment)
        app = create_app(settings)
        app.state.store.open()
        listener = _listen(settings.host, settings.port)
    except (SettingsError, AssetError, StoreError, OSError) as error:
        sys.exit(f"lightgap: {error}")
    print(f"Lightgap is at {_address(listener)} - Ctrl+C stops it", flush=True)
    _serve(app, listener, reload=options.reload)


def _parser() -> argparse.ArgumentParser:
    """Return the reader of the command line."""
    parser = argparse.ArgumentParser(prog="lightgap", description="Explorer for optically isolated stages.")
    parser.add_argument("--host", help="address to listen on (LIGHTGAP_HOST, 127.0.0.1)")
    parser.add_argument("--port", help="port to listen on, 0 for any free one (LIGHTGAP_PORT, 8000)")
    parser.add_argument("--workers", help="processes that answer (LIGHTGAP_WORKERS, 1)")
    parser.add_argument("--reload", action="store_true", help="start again when a Python file changes")
    return parser


def _listen(host: str, port: int) -> socket.socket:
    """Return a socket bound to `host` and `port`."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    try:
        return socket.create_server((host, port), family=family)
    except OSError as error:
        reason = error.strerror.partition(" (")[0]
        raise OSError(f"cannot listen on {host} port {port}: {reason}; choose another with --host, --port") from error


def _address(listener: socket.socket) -> str:
    """Return the address of `listener` as a browser takes it."""
    host, port = listener.getsockname()[:2]
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"


def _serve(app: FastAPI, listener: socket.socket, reload: bool) -> None:
    """Answer on `listener`: from as many processes as are set, or from one that starts again after each change."""
    if reload:
        sources = [str(PACKAGE), str(PACKAGE.parent / "engine")]
        config = uvicorn.Config("webapp.app:create_app", factory=True, reload=True, reload_dirs=sources)
        ChangeReload(config, uvicorn.Server(config).run, [listener]).run()
    elif app.state.settings.workers > 1:
        app.state.store.close()  # each process opens the database by itself
        calm = {"log_level": "warning", "timeout_graceful_shutdown": GRACE}
        config = uvicorn.Config("webapp.app:create_app", factory=True, workers=app.state.settings.workers, **calm)
        Multiprocess(config, [listener]).run()
    else:
        with contextlib.suppress(KeyboardInterrupt):
            config = uvicorn.Config(app, log_level="warning", timeout_graceful_shutdown=GRACE)
            uvicorn.Server(config).run([listener])


if __name__ == "__main__":
    main()
