"""Vote, change one's ballot, or take it up on another device; looking changes nothing."""

from __future__ import annotations

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

PAGE = "pages/ballot/ballot.html"
CODE_COOKIE = "ballot_code"
LONGEST_CODE = 40


@router.get("")
def show_ballot(
    *,
    request: Request,
    token: str,
    store: Opened,
    units: Units,
    author: Annotated[str, Depends(author_name)],
    cast: str = "",
    new: str = "",
) -> Response:
    """Show the ballot to fill in, or the member's own where this browser has its code."""
    found = ballot_round_of(store, token)
    own = None if new else _own(request, store, found)
    typed = Typed(name="" if new else author) if own is None else typed_from(own.ballot)
    return _page(request, store, found, token, units, typed, own=own, cast=bool(cast))


@router.post("")
def vote(*, request: Request, token: str, store: Opened, units: Units, form: Form) -> Response:
    """Count a ballot, or say what it still needs with everything typed kept."""
    found = ballot_round_of(store, token)
    typed = typed_in(form, found)
    own = _own(request, store, found) if form.get("change") else None
    if own is not None:
        typed = Typed(typed.most, typed.points, typed.preference, typed.reason, own.ballot.name)
    points, faults = read_ballot(typed, found)
    if faults and found.closed_at is None:
        return _page(request, store, found, token, units, typed, own=own, faults=faults, status=422)
    try:
        _, code = cast_ballot(
            store,
            found.id,
            name=typed.name,
            weights=points,
            preference=typed.preference,
            reason=typed.reason,
            code=_kept_code(request),
        )
    except StudyRefusedError as error:
        said = [Fault(fault.place, f"{fault.message}.") for fault in error.faults]
        return _page(request, store, found, token, units, typed, own=own, faults=said, status=422)
    except BallotsClosedError as error:
        found = ballot_round_of(store, token)
        own = _own(request, store, found)
        late = str(error)
        return _page(request, store, found, token, units, typed, own=own, late=late, status=410)
    return _with_code(request, token, code, "?cast=1")


@router.post("/code")
def take_up(*, request: Request, token: str, store: Opened, units: Units, form: Form) -> Response:
    """Take up a ballot that was cast in another browser, by its code."""
    found = ballot_round_of(store, token)
    code = "".join(str(form.get("code", "")).split())[:LONGEST_CODE]
    if not code or ballot_by_code(store, found.id, code) is None:
        words = (
            "No ballot of this round has that code. It has 12 letters and digits; large and small "
            "letters differ."
        )
        return _page(request, store, found, token, units, Typed(), code_fault=words, status=422)
    return _with_code(request, token, code, "")


def _kept_code(request: Request) -> str | None:
    return request.cookies.get(CODE_COOKIE) or None


def _own(request: Request, store: Store, found: BallotRound) -> OwnBallot | None:
    code = _kept_code(request)
    ballot = ballot_by_code(store, found.id, code) if code else None
    return own_ballot(found, ballot, code) if ballot is not None and code else None


def _with_code(request: Request, token: str, code: str, query: str) -> Response:
    """Go to the ballot, with its code kept in this browser for this ballot alone."""
    address = f"/ballots/{quote(token, safe='')}"
    response = RedirectResponse(address + query, status_code=303)
    response.set_cookie(
        CODE_COOKIE,
        code,
        max_age=YEAR_S,
        httponly=True,
        samesite="lax",
        path=address,
        secure=app_settings(request).base_url.startswith("https://"),
    )
    return response


def _page(
    request: Request,
    store: Store,
    found: BallotRound,
    token: str,
    units: UnitSystem,
    typed: Typed,
    *,
    status: int = 200,
    **rest: Any,
) -> Response:
    name = load_study(store, found.study_id, found.revision).study.name
    context = ballot_context(found, name, token, units, typed, **rest)
    here = f"/ballots/{quote(token, safe='')}"
    response = render(request, PAGE, {**context, "here": here}, status=status)
    response.headers["x-robots-tag"] = "noindex, nofollow, noarchive"
    return response
