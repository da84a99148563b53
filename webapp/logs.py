"""The log: one line a request, with nothing in it that opens a link or was typed.

Contents: `RequestLog`, `configure_logs`, `mark_of`, `path_for_log`.
"""

from __future__ import annotations

import logging
import secrets
import sys
import time
from logging.handlers import WatchedFileHandler
from typing import Any
from urllib.parse import quote

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from webapp.settings import Settings, SettingsError

log = logging.getLogger("switchover")
requests = logging.getLogger("switchover.requests")

SECRETS_FOLLOW = frozenset({"shared", "ballots"})
"""Steps of a path behind which a secret stands."""
SHOWN_SIGNS = 4
SHORTEST_SHOWN = 16
LONGEST_PATH = 300
GONE = 499
"""What is written where the other side left, or the server stopped, before the answer."""
QUIET = ("/static/", "/health")
"""Asked for so often that they are logged at the level debug, unless they fail."""


class RequestLog:
    """Write a line for every request: method, path, status, milliseconds, bytes."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, and write its line at the end, also where it fails."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        scope.setdefault("state", {})
        began, status, sent = time.perf_counter(), 0, 0

        async def counting(message: Message) -> None:
            nonlocal status, sent
            if message["type"] == "http.response.start":
                status = int(message["status"])
            elif message["type"] == "http.response.body":
                sent += len(message.get("body", b""))
            await send(message)

        try:
            await self.app(scope, receive, counting)
        except Exception:
            mark_of(scope)
            status = status or 500
            raise
        except BaseException:
            status = status or GONE
            raise
        finally:
            _write(scope, status, time.perf_counter() - began, sent)


def _write(scope: Scope, status: int, took_s: float, sent: int) -> None:
    path = str(scope.get("path", ""))
    mark = scope.get("state", {}).get("mark")
    if status >= 500:
        level = logging.ERROR
    elif status < 400 and path.startswith(QUIET):
        level = logging.DEBUG
    else:
        level = logging.INFO
    requests.log(
        level,
        "%s %s %d %.1f ms %d B%s",
        scope["method"] if str(scope["method"]).isalpha() else "?",
        path_for_log(path),
        status,
        took_s * 1000,
        sent,
        f" mark {mark}" if mark else "",
    )


def mark_of(scope: Any) -> str:
    """Return the mark under which a request's error stands in the log and on its page."""
    state = scope.setdefault("state", {})
    return str(state.setdefault("mark", secrets.token_hex(4)))


def path_for_log(path: str) -> str:
    """Return a path without the secret that a shared or a ballot link carries, on one line.

    >>> path_for_log("/shared/Yk3vQm9TtLrW0pZx7aBc/plan.svg")
    '/shared/…7aBc/plan.svg'
    >>> path_for_log("/studies/s1\\nGET /")
    '/studies/s1%0AGET%20/'
    """
    steps = path.split("/")
    hidden = False
    for place, step in enumerate(steps):
        if hidden and step:
            shown = step[-SHOWN_SIGNS:] if len(step) >= SHORTEST_SHOWN else ""
            steps[place] = f"…{shown}"
            hidden = False
        hidden = hidden or step.lower() in SECRETS_FOLLOW
    return "".join(_sign(sign) for sign in "/".join(steps))[:LONGEST_PATH]


def _sign(sign: str) -> str:
    plain = sign.isascii() and sign.isprintable() and sign not in ' "\\'
    return sign if plain or sign == "…" else quote(sign, errors="replace")


def configure_logs(settings: Settings) -> logging.Handler:
    """Send everything that is logged to the settings' file, or to standard error.

    Raises `SettingsError` where the file cannot be written.
    """
    handler: logging.Handler
    if not settings.log_file:
        handler = logging.StreamHandler(sys.stderr)
    else:
        # A file that is moved away to be kept is begun anew; Windows cannot move an open file.
        kind = logging.FileHandler if sys.platform == "win32" else WatchedFileHandler
        try:
            handler = kind(settings.log_file, encoding="utf-8")
        except OSError as error:
            raise SettingsError(
                f"SWITCHOVER_LOG_FILE is {settings.log_file!r}, which cannot be written: "
                f"{error.strerror}."
            ) from None
    form = logging.Formatter(
        "%(asctime)s.%(msecs)03dZ %(levelname)s %(message)s", "%Y-%m-%dT%H:%M:%S"
    )
    form.converter = time.gmtime
    handler.setFormatter(form)
    logging.getLogger().addHandler(handler)
    logging.getLogger().setLevel(logging.WARNING)
    log.setLevel(settings.log_level.upper())
    return handler
