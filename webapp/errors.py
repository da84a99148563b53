"""The one place where what was refused or went wrong becomes a page, or JSON for programs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from starlette.exceptions import HTTPException

from models.errors import (
    BallotsClosedError,
    Fault,
    LinkClosedError,
    NotFoundError,
    SaveConflictError,
    StorageError,
    StudyRefusedError,
    SwitchoverError,
)
from webapp.access import FormRefusedError, add_security_headers
from webapp.logs import log, mark_of, path_for_log
from webapp.templating import render

STATUS_OF: dict[type[SwitchoverError], int] = {
    NotFoundError: 404,
    LinkClosedError: 410,
    BallotsClosedError: 410,
    FormRefusedError: 403,
    SaveConflictError: 409,
    StudyRefusedError: 422,
    StorageError: 503,
}
HEADINGS = {
    400: "That cannot be read",
    403: "That form was not accepted",
    404: "Nothing is here",
    405: "That address does not take this kind of request",
    409: "Somebody else changed the same section",
    410: "This link is closed",
    413: "That is too large",
    422: "The study was not accepted",
    503: "The database cannot be used just now",
    500: "Something in the program failed",
}
SENTENCES = {
    404: "There is no page at this address. It may have been mistyped, or the study was never "
    "on this server.",
    405: "Go back and use the page's own buttons.",
    413: "A study file has at most 2 MB, a drawing 20 MB. Nothing was stored.",
}


def install_error_handlers(app: FastAPI) -> None:
    """Register the handlers of every error that pages let through."""
    app.add_exception_handler(SwitchoverError, _refused)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(RequestValidationError, _unreadable)
    app.add_exception_handler(Exception, _unforeseen)


def status_of(error: SwitchoverError) -> int:
    """Return the HTTP status of a refusal.

    >>> status_of(NotFoundError("No such study."))
    404
    """
    for kind, status in STATUS_OF.items():
        if isinstance(error, kind):
            return status
    return 422


def fault_list(faults: Sequence[Fault]) -> list[dict[str, Any]]:
    """Return faults as programs get them: place, given, limit, message."""
    return [
        {
            "place": fault.place,
            "given": _short(fault.given),
            "limit": fault.limit,
            "message": fault.message,
        }
        for fault in faults
    ]


def _short(given: Any) -> Any:
    """Return what was given as JSON can carry it, cut where it is long."""
    if given is None or isinstance(given, bool | int):
        return given if given is None or abs(given) < 10**15 else str(given)[:200]
    return str(given)[:200]


async def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, SwitchoverError)  # noqa: S101  (registered for it only)
    faults: Sequence[Fault] = (
        error.faults if isinstance(error, StudyRefusedError) else (Fault("", str(error)),)
    )
    conflicts = error.conflicts if isinstance(error, SaveConflictError) else []
    sentence = "" if isinstance(error, StudyRefusedError) else str(error)
    if isinstance(error, StorageError):
        mark = mark_of(request.scope)
        log.error("the database failed under mark %s: %s (%r)", mark, error, error.__cause__)
        sentence += f" It stands in the server's log under the mark {mark}."
    return _answer(request, status_of(error), sentence, faults, conflicts)


async def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)  # noqa: S101
    sentence = SENTENCES.get(error.status_code, str(error.detail))
    response = _answer(request, error.status_code, sentence, (Fault("", sentence),))
    response.headers.update(error.headers or {})
    return response


async def _unreadable(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)  # noqa: S101
    faults = [
        Fault(".".join(str(step) for step in fault["loc"][1:]), str(fault["msg"]))
        for fault in error.errors()
    ]
    return _answer(request, 422, "A part of the address cannot be read.", faults)


async def _unforeseen(request: Request, error: Exception) -> Response:
    """Say honestly that the program failed; the server logs the error under the same mark.

    The framework raises the error again after this answer, so that it reaches the server's log in
    full and no test passes over it.
    """
    mark = mark_of(request.scope)
    path = path_for_log(request.url.path)
    log.error("failed under mark %s: %s %s: %r", mark, request.method, path, error)
    sentence = (
        "This is a fault of the program, not of what was typed. Nothing was saved by this "
        f"request. It stands in the server's log under the mark {mark}."
    )
    response = _answer(request, 500, sentence, (Fault("", sentence),))
    add_security_headers(response.headers)
    return response


def _answer(
    request: Request,
    status: int,
    sentence: str,
    faults: Sequence[Fault],
    conflicts: Sequence[Any] = (),
) -> Response:
    if _for_a_program(request):
        return JSONResponse(fault_list(faults), status_code=status)
    context = {
        "heading": HEADINGS.get(status, "That did not work"),
        "sentence": sentence,
        "faults": [fault for fault in faults if fault.message != sentence],
        "conflicts": conflicts,
    }
    return render(request, "shared/error.html", context, status=status)


def _for_a_program(request: Request) -> bool:
    path = request.url.path
    return path.startswith("/api/") or path.endswith(".json")
