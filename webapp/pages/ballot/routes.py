"""Vote, change one's ballot, or take it up on another device; looking changes nothing."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData

from models.errors import BallotsClosedError, Fault, StudyRefusedError
from models.services import (
    BallotRound,
    Store,
    ballot_by_code,
    ballot_round_of,
    cast_ballot,
    load_study,
)
from models.units import UnitSystem
from webapp.access import (
    YEAR_S,
    app_settings,
    author_name,
    checked_form,
    store,
    unit_system,
)
from webapp.pages.ballot.context import OwnBallot, ballot_context, own_ballot
from webapp.pages.ballot.form import Typed, read_ballot, typed_from, typed_in
from webapp.templating import render

router = APIRouter(prefix="/ballots/{token}")
Opened = Annotated[Store, Depends(store)]
Units = Annotated[UnitSystem, Depends(unit_system)]
Form = Annotated[FormData, Depends(checked_form)]


@dataclass(frozen=True)
class Asked:
    """A request for a ballot: whose browser, by which link, in which units."""

    request: Request
    token: str
    store: Store
    units: UnitSystem
    found: BallotRound


def asked(*, request: Request, token: str, store: Opened, units: Units) -> Asked:
    """Return the ballots behind a link; raises where it never was."""
    return Asked(request, token, store, units, ballot_round_of(store, token))


Asking = Annotated[Asked, Depends(asked)]

PAGE = "pages/ballot/ballot.html"
CODE_COOKIE = "ballot_code"
LONGEST_CODE = 40


@router.get("")
def show_ballot(
    asked: Asking,
    author: Annotated[str, Depends(author_name)],
    cast: str = "",
    new: str = "",
) -> Response:
    """Show the ballot to fill in, or the member's own where this browser has its code."""
    own = None if new else _own(asked)
    fresh = Typed(name="" if new else author)
    typed = fresh if own is None else typed_from(own.ballot, asked.found)
    return _page(asked, typed, own=own, cast=bool(cast))


@router.post("")
def vote(asked: Asking, form: Form) -> Response:
    """Count a ballot, or say what it still needs with everything typed kept."""
    found = asked.found
    typed = typed_in(form, found)
    own = _own(asked) if form.get("change") else None
    if own is not None:
        typed = replace(typed, name=own.ballot.name)
    points, faults = read_ballot(typed, found)
    if faults and found.closed_at is None:
        return _page(asked, typed, own=own, faults=faults, status=422)
    try:
        _, code = cast_ballot(
            asked.store,
            found.id,
            name=typed.name,
            weights=points,
            preference=typed.preference,
            reason=typed.reason,
            code=_kept_code(asked.request),
        )
    except StudyRefusedError as error:
        said = [Fault(fault.place, f"{fault.message}.") for fault in error.faults]
        return _page(asked, typed, own=own, faults=said, status=422)
    except BallotsClosedError as error:
        ended = replace(asked, found=ballot_round_of(asked.store, asked.token))
        return _page(ended, typed, own=_own(asked), late=str(error), status=410)
    return _with_code(asked, code, "?cast=1")


@router.post("/code")
def take_up(asked: Asking, form: Form) -> Response:
    """Take up a ballot that was cast in another browser, by its code."""
    code = "".join(str(form.get("code", "")).split())[:LONGEST_CODE]
    if not code or ballot_by_code(asked.store, asked.found.id, code) is None:
        words = (
            "No ballot of this round has that code. It has 12 letters and digits; large and small "
            "letters differ."
        )
        return _page(asked, Typed(), code_fault=words, status=422)
    return _with_code(asked, code, "")


def _kept_code(request: Request) -> str | None:
    return request.cookies.get(CODE_COOKIE) or None


def _own(asked: Asked) -> OwnBallot | None:
    code = _kept_code(asked.request)
    ballot = ballot_by_code(asked.store, asked.found.id, code) if code else None
    return own_ballot(asked.found, ballot, code) if ballot is not None and code else None


def _address(token: str) -> str:
    return f"/ballots/{quote(token, safe='')}"


def _with_code(asked: Asked, code: str, query: str) -> Response:
    """Go to the ballot, with its code kept in this browser for this ballot alone."""
    address = _address(asked.token)
    response = RedirectResponse(address + query, status_code=303)
    response.set_cookie(
        CODE_COOKIE,
        code,
        max_age=YEAR_S,
        httponly=True,
        samesite="lax",
        path=address,
        secure=app_settings(asked.request).base_url.startswith("https://"),
    )
    return response


def _page(asked: Asked, typed: Typed, *, status: int = 200, **rest: Any) -> Response:
    found = asked.found
    name = load_study(asked.store, found.study_id, found.revision).study.name
    context = {
        **ballot_context(found, name, asked.token, asked.units, typed, **rest),
        "here": _address(asked.token),
    }
    response = render(asked.request, PAGE, context, status=status)
    response.headers["x-robots-tag"] = "noindex, nofollow, noarchive"
    return response
