"""Run the server on this computer: a free port, the browser, a graceful stop."""

from __future__ import annotations

import signal
import socket
import sys
import threading
import time
import webbrowser
from collections.abc import Callable

import uvicorn
from fastapi import FastAPI

from models.errors import SwitchoverError

ADDRESS = "127.0.0.1"
PORTS_TRIED = 100
STARTING_S = 60.0
STOPPING_S = 15
"""How long requests under way may take to end once the server was told to stop."""


class NoFreePortError(SwitchoverError):
    """No port from the wanted one on could be had."""


def listening_socket(first: int, *, tried: int = PORTS_TRIED) -> socket.socket:
    """Return a socket on the first free port of this computer, from the wanted one on.

    Raises `NoFreePortError` where none of those tried is free.
    """
    for port in range(first, min(first + tried, 65536)):
        if _somebody_answers(port):
            continue
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        try:
            if sys.platform == "win32":
                listener.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
            else:
                # Else a port of a server just stopped stays taken for a minute.
                listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            listener.bind((ADDRESS, port))
            listener.listen(128)
        except OSError:
            listener.close()
            continue
        return listener
    if tried == 1:
        raise NoFreePortError(f"Port {first} is taken. Name another one with --port.")
    raise NoFreePortError(f"No port from {first} on is free. Name another one with --port.")


def _somebody_answers(port: int) -> bool:
    """Return whether a program listens there already.

    On some systems a second program can bind to a port of one that listens on all addresses.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
        probe.settimeout(0.3)
        return probe.connect_ex((ADDRESS, port)) == 0


def run_server(
    app: FastAPI,
    *,
    port: int,
    when_ready: Callable[[], str],
    browser: bool,
    say: Callable[[str], None],
    only: bool = False,
) -> int:
    """Serve until stopped; return the exit code.

    `when_ready` is called once the server answers and returns the path of the page to open.
    Stopping (Ctrl+C, SIGTERM) refuses new requests, lets those under way end, and then closes the
    database; a second Ctrl+C waits for nothing. With `only`, no other port than this is tried.
    """
    listener = listening_socket(port, tried=1 if only else PORTS_TRIED)
    taken = int(listener.getsockname()[1])
    if taken != port:
        say(f"Port {port} is taken, so this is port {taken}.")
    server = uvicorn.Server(
        uvicorn.Config(
            app,
            log_config=None,  # `webapp.logs` has said where everything goes
            access_log=False,  # addresses of shared links are secrets
            server_header=False,
            timeout_graceful_shutdown=STOPPING_S,
        )
    )
    opener = threading.Thread(
        target=_announce, args=(server, taken, when_ready, browser, say), daemon=True
    )
    opener.start()
    if threading.current_thread() is threading.main_thread():
        signal.signal(signal.SIGTERM, _stop)  # uvicorn raises the signal again when it has stopped
    try:
        server.run(sockets=[listener])
    except KeyboardInterrupt:
        pass
    finally:
        listener.close()
    if not server.started:
        return 1
    say("Stopped.")
    return 0


def _stop(_number: int, _frame: object) -> None:
    raise KeyboardInterrupt


def _announce(
    server: uvicorn.Server,
    port: int,
    when_ready: Callable[[], str],
    browser: bool,
    say: Callable[[str], None],
) -> None:
    """Say the address once the server answers, and open it."""
    until = time.monotonic() + STARTING_S
    while not server.started:
        if server.should_exit or time.monotonic() > until:
            return
        time.sleep(0.02)
    address = f"http://localhost:{port}{when_ready()}"
    say(f"Switchover is at {address}   (stop it with Ctrl+C)")
    if browser:
        webbrowser.open(address)
