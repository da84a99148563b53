"""Who may send what: host names, form tokens, and what a browser keeps for its user.

The functions with a `Request` are FastAPI dependencies for the pages.
"""

from __future__ import annotations

import secrets
from collections.abc import AsyncIterator
from typing import Any
from urllib.parse import quote, unquote

from fastapi import Request
from starlette.datastructures import FormData, Headers, MutableHeaders
from starlette.responses import PlainTextResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from models.errors import SwitchoverError
from models.services import Store
from models.units import UnitSystem
from webapp.settings import Settings

TOKEN_COOKIE = "switchover_form"  # noqa: S105  (a cookie's name, not a secret)
TOKEN_FIELD = "csrf_token"  # noqa: S105
UNITS_COOKIE = "units"
RANGES_COOKIE = "ranges"
AUTHOR_COOKIE = "author"
AUTHOR_LENGTH = 60
YEAR_S = 365 * 24 * 3600
LOCAL_HOSTS = frozenset({"localhost", "127.0.0.1", "[::1]"})
MAX_FILES = 5
MAX_FIELDS = 6000
MAX_FIELD_BYTES = 1_000_000

CONTENT_SECURITY_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data:",
        "font-src 'self'",
        "connect-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
SECURITY_HEADERS = {
    "content-security-policy": CONTENT_SECURITY_POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "x-frame-options": "DENY",
}


class FormRefusedError(SwitchoverError):
    """A form that did not come from a page of this server; nothing was changed."""


class HostCheck:
    """Answer only under the server's own names, so that no foreign name can be pointed at it."""

    def __init__(self, app: ASGIApp, host_names: tuple[str, ...] = ()) -> None:
        self.app = app
        self.names = LOCAL_HOSTS | {name.lower() for name in host_names}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse with status 400 where the Host header names none of the known hosts."""
        if scope["type"] == "http":
            host = Headers(scope=scope).get("host", "")
            if host_without_port(host) not in self.names:
                refusal = PlainTextResponse(
                    "This server does not answer under that name. On this computer open it as "
                    "http://localhost and the port; other names are added by the setting "
                    "SWITCHOVER_HOST_NAMES.",
                    status_code=400,
                    headers=SECURITY_HEADERS,
                )
                await refusal(scope, receive, send)
                return
        await self.app(scope, receive, send)


class SecurityHeaders:
    """Put the security headers on every answer, and `no-store` on all that is not a static file."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on; add the headers as the answer starts."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                add_security_headers(MutableHeaders(scope=message))
            await send(message)

        await self.app(scope, receive, send_with_headers)


def add_security_headers(headers: MutableHeaders) -> None:
    """Add to an answer's headers what every answer carries; a cache rule already set stays."""
    for name, value in SECURITY_HEADERS.items():
        headers.setdefault(name, value)
    headers.setdefault("cache-control", "no-store")


def host_without_port(host: str) -> str:
    """Return the name in a Host header.

    >>> host_without_port("LOCALHOST:8000"), host_without_port("[::1]:8000")
    ('localhost', '[::1]')
    """
    host = host.strip().lower()
    if host.startswith("["):
        return host[: host.find("]") + 1]
    return host.partition(":")[0].rstrip(".")


def app_settings(request: Request) -> Settings:
    """Return the settings of the running server."""
    settings: Settings = request.app.state.settings
    return settings


def store(request: Request) -> Store:
    """Return the open store of studies."""
    opened: Store = request.app.state.store
    return opened


def ranges_shown(request: Request) -> bool:
    """Return whether the user wants to see in what range each figure lies; off until asked for."""
    return request.cookies.get(RANGES_COOKIE) == "shown"


def unit_system(request: Request) -> UnitSystem:
    """Return the units the user has chosen; SI where none or an unknown one is kept."""
    try:
        return UnitSystem(request.cookies.get(UNITS_COOKIE, UnitSystem.SI))
    except ValueError:
        return UnitSystem.SI


def author_name(request: Request) -> str:
    """Return the name the user gave for their saves, "" where none was given."""
    return clean_name(unquote(request.cookies.get(AUTHOR_COOKIE, "")))


def clean_name(text: str) -> str:
    """Return a display name on one line, without control characters, at most 60 characters.

    >>> clean_name("  Ines \\n of the  build crew ")
    'Ines of the build crew'
    """
    printable = "".join(sign if sign.isprintable() else " " for sign in text)
    return " ".join(printable.split())[:AUTHOR_LENGTH].strip()


def form_token(request: Request) -> str:
    """Return the token for this browser's forms, a new one where it has none yet."""
    token = getattr(request.state, "form_token", None)
    if token is None:
        token = request.cookies.get(TOKEN_COOKIE, "")
        if len(token) < 32 or not token.isascii():
            token = secrets.token_urlsafe(32)
        request.state.form_token = token
    return str(token)


def keep_cookie(request: Request, response: Response, name: str, value: str) -> None:
    """Keep a value in the user's browser for a year, out of reach of scripts and other sites."""
    response.set_cookie(
        name,
        quote(value, safe=""),
        max_age=YEAR_S,
        httponly=True,
        samesite="lax",
        path="/",
        secure=app_settings(request).base_url.startswith("https://"),
    )


def keep_form_token(request: Request, response: Response) -> None:
    """Give the browser the token that its forms will carry, unless it has it already."""
    token = form_token(request)
    if request.cookies.get(TOKEN_COOKIE) != token:
        keep_cookie(request, response, TOKEN_COOKIE, token)


async def checked_form(request: Request) -> AsyncIterator[FormData]:
    """Read a form, refusing it where it was not sent by a page of this server; close it after.

    The token in the form has to equal the one in the cookie. `Sec-Fetch-Site`, where the browser
    sends it, has to say that the form came from here; `Origin` cannot be used, since a page with
    `no-referrer` sends it as "null".
    """
    if request.headers.get("sec-fetch-site", "same-origin") not in {"same-origin", "none"}:
        raise FormRefusedError("This form came from another site. Nothing was changed.")
    async with request.form(
        max_files=MAX_FILES, max_fields=MAX_FIELDS, max_part_size=MAX_FIELD_BYTES
    ) as form:
        _check_token(request, form)
        yield form


def _check_token(request: Request, form: FormData) -> None:
    kept = request.cookies.get(TOKEN_COOKIE, "")
    sent = form.get(TOKEN_FIELD) or request.headers.get("x-csrf-token", "")
    if (
        not isinstance(sent, str)
        or not kept
        or not secrets.compare_digest(kept.encode(), sent.encode())
    ):
        raise FormRefusedError(
            "This form was opened in another browser or too long ago, or cookies are switched "
            "off. Nothing was changed. Go back, load the page again, and send it once more."
        )


def local_address(given: Any, otherwise: str = "/") -> str:
    """Return an address to go back to if it lies on this server, else `otherwise`.

    >>> local_address("/studies/s1?only=differences"), local_address("//elsewhere.test/")
    ('/studies/s1?only=differences', '/')
    """
    plain = (
        isinstance(given, str)
        and given.startswith("/")
        and not given.startswith("//")
        and "\\" not in given
        and given.isprintable()
    )
    return given if plain else otherwise
