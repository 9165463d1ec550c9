"""The command that starts Lightgap."""

import pickle
import socket

import httpx2
import pytest
from starlette.testclient import TestClient

from webapp import __main__ as command
from webapp.__main__ import main


def test_the_printed_address_answers(server):
    assert server.startswith("http://127.0.0.1:")
    assert httpx2.get(f"{server}/healthz", trust_env=False).status_code == 200


@pytest.mark.enable_socket
def test_a_port_in_use_ends_the_program_with_one_line():
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(SystemExit) as stop:
            main(["--port", str(port)])

    expected = f"lightgap: cannot listen on 127.0.0.1 port {port}: Address already in use; choose another with"
    assert str(stop.value).startswith(expected)


def test_a_setting_that_cannot_be_used_ends_the_program_with_one_line(monkeypatch):
    monkeypatch.setenv("LIGHTGAP_GZIP", "much")

    with pytest.raises(SystemExit, match=r"^lightgap: LIGHTGAP_GZIP: 'much' is not a whole number from 0 to 9$"):
        main(["--port", "0"])


@pytest.mark.parametrize("count", ["0", "65", "two"])
def test_a_number_of_processes_that_is_none_ends_the_program_with_one_line(count):
    with pytest.raises(
        SystemExit, match=rf"^lightgap: LIGHTGAP_WORKERS: '{count}' is not a whole number from 1 to 64$"
    ):
        main(["--port", "0", "--workers", count])


@pytest.mark.enable_socket
def test_several_processes_answer_with_the_same_application_on_one_port(monkeypatch):
    begun = []

    class Supervisor:
        def __init__(self, config, sockets):
            begun.append((config, sockets))

        def run(self):
            """Begin nothing."""

    monkeypatch.setattr(command, "Multiprocess", Supervisor)
    main(["--port", "0", "--workers", "2"])
    ((config, (listener,)),) = begun
    assert config.workers == 2
    assert pickle.loads(pickle.dumps(config)).app == config.app
    config.load()
    assert TestClient(config.loaded_app).get("/healthz").status_code == 200
    listener.close()
