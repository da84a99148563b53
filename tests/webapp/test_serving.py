"""Ports, and the server as a program of its own."""

from __future__ import annotations

import json
import os
import re
import signal
import socket
import subprocess
import sys
import threading
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Any

import pytest

from models.storage.migrating import NEWEST
from webapp.serving import NoFreePortError, listening_socket

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def taken() -> Iterator[int]:
    """A port on which something listens."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        listener.listen()
        yield listener.getsockname()[1]


def test_a_taken_port_leads_to_the_next_free_one(taken: int) -> None:
    with listening_socket(taken) as found:
        assert taken < found.getsockname()[1] < taken + 100


def test_the_server_listens_on_this_computer_only() -> None:
    with listening_socket(20000) as found:
        assert found.getsockname()[0] == "127.0.0.1"


def test_no_free_port_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("webapp.serving._somebody_answers", lambda _port: True)
    with pytest.raises(NoFreePortError, match="--port"):
        listening_socket(8000)


def line_with(output: IO[str], words: str) -> str:
    for line in output:
        if words in line:
            return line
    raise AssertionError(f"the program ended without saying {words!r}")


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_demo_says_where_it_is_answers_and_stops(
    tmp_path: Path, taken: int, how: signal.Signals
) -> None:
    command = [
        sys.executable, "-m", "webapp", "demo", "--no-browser", "--port", str(taken),
        "--database", str(tmp_path / "demo.sqlite3"),
    ]  # fmt: skip
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, text=True, cwd=tmp_path, env=environment
    ) as program:
        assert program.stdout is not None
        assert f"Port {taken} is taken" in line_with(program.stdout, "taken")
        said = line_with(program.stdout, "Switchover is at")
        address = re.search(r"http://localhost:\d+/studies/\w+", said)
        assert address
        with urllib.request.urlopen(address[0], timeout=20) as answer:
            assert answer.status == 200
            assert b"<h1>" in answer.read()
        program.send_signal(how)
        assert program.wait(timeout=20) == 0
        assert line_with(program.stdout, "Stopped.")


SLOW = """
import sys, time
from webapp.app import create_app
from webapp.logs import configure_logs
from webapp.serving import run_server
from webapp.settings import Settings

settings = Settings(database_url=sys.argv[1], port=int(sys.argv[2]))
configure_logs(settings)
app = create_app(settings)

def slow():
    print("working", flush=True)
    time.sleep(1.5)
    return {"ended": app.state.store.version()}

app.add_api_route("/slow", slow)
app.router.routes.insert(0, app.router.routes.pop())

def say(words):
    print(words, flush=True)

code = run_server(app, port=settings.port, when_ready=lambda: "/", browser=False, say=say)
print("connections kept", app.state.store.engine.pool.checkedin(), flush=True)
raise SystemExit(code)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="this system has no such signal")
def test_a_stop_lets_a_request_end_and_takes_no_other(tmp_path: Path, taken: int) -> None:
    url = f"sqlite:///{(tmp_path / 'slow.sqlite3').as_posix()}"
    command = [sys.executable, "-c", SLOW, url, str(taken)]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=ROOT
    ) as program:
        assert program.stdout is not None
        assert program.stderr is not None
        said = line_with(program.stdout, "Switchover is at")
        port = int(re.findall(r":(\d+)/", said)[0])
        answers: list[Any] = []

        def ask() -> None:
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/slow", timeout=20) as answer:
                answers.append((answer.status, json.load(answer)))

        asking = threading.Thread(target=ask)
        asking.start()
        line_with(program.stdout, "working")
        program.send_signal(signal.SIGTERM)
        time.sleep(0.5)
        with pytest.raises(OSError):
            socket.create_connection(("127.0.0.1", port), timeout=2).close()
        asking.join()
        assert program.wait(timeout=20) == 0
        assert answers == [(200, {"ended": NEWEST})]
        assert "Stopped." in line_with(program.stdout, "Stopped.")
        assert "kept 0" in line_with(program.stdout, "connections")
        (logged,) = program.stderr.read().splitlines()
        assert re.search(r"INFO GET /slow 200 \d{4,5}\.\d ms", logged)


def test_only_one_port_is_tried_where_a_proxy_waits_for_it(taken: int) -> None:
    with pytest.raises(NoFreePortError, match=f"Port {taken} is taken"):
        listening_socket(taken, tried=1)
