"""Ports, and the server as a program of its own."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import IO

import pytest

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
        assert program.wait(timeout=20) in (0, -how)
