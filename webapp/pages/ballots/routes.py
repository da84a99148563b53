"""Open a call for ballots, list them all, show what was said in one, close it."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData

from models.errors import Fault
from models.services import (
    BallotRound,
    Store,
    call_for_ballots,
    can_weigh,
    close_ballots,
    decision_of_state,
    load_study,
)
from models.services.balloting import LONGEST_TITLE
from models.units import UnitSystem
from webapp.access import app_settings, author_name, checked_form, store, unit_system
from webapp.pages.ballots.context import ballots_context, round_context
from webapp.shared.just_made import JustMade
from webapp.shared.links import StudyLinks
from webapp.templating import render

router = APIRouter(prefix="/studies/{study_id}/ballots")
Opened = Annotated[Store, Depends(store)]
Form = Annotated[FormData, Depends(checked_form)]

PAGE = "pages/ballots/ballots.html"
ROUND = "pages/ballots/round.html"


def just_opened(request: Request) -> JustMade[BallotRound]:
    """Return the memory of ballots just opened, one a running server."""
    state = request.app.state
    if not hasattr(state, "ballots_just_opened"):
        state.ballots_just_opened = JustMade()
    made: JustMade[BallotRound] = state.ballots_just_opened
    return made


@router.get("")
def show_rounds(request: Request, study_id: str, store: Opened) -> Response:
    """Show all calls for ballots and the form for another."""
    return render(request, PAGE, ballots_context(store, study_id))


@router.post("/new")
def open_round(
    *,
    request: Request,
    study_id: str,
    store: Opened,
    author: Annotated[str, Depends(author_name)],
    made: Annotated[JustMade[BallotRound], Depends(just_opened)],
    form: Form,
) -> Response:
    """Open a call for ballots and show its link, which is never shown again."""
    title = " ".join(str(form.get("title", "")).split())
    state = load_study(store, study_id)
    faults = _faults(title, can_open=can_weigh(state))
    if faults:
        context = ballots_context(store, study_id, faults=faults, title=title)
        return render(request, PAGE, context, status=422)
    decision_of_state(store, state)  # may take seconds, so before the others have to wait
    once = str(form.get("once", ""))
    with made.lock:
        found, token = made.find(study_id, once) or call_for_ballots(
            store, study_id, revision=state.revision.number, title=title, author=author
        )
        made.remember(study_id, once, found, token)
    base = app_settings(request).base_url or str(request.base_url).rstrip("/")
    context = ballots_context(
        store, study_id, new_address=f"{base}/ballots/{token}", new_round=found
    )
    return render(request, PAGE, context)


def _faults(title: str, *, can_open: bool) -> list[Fault]:
    faults = []
    if not can_open:
        faults.append(Fault("", "This study names no criteria yet. Name on Decide what counts."))
    if not title:
        faults.append(Fault("title", "Type a title, so that members know what they vote on."))
    if len(title) > LONGEST_TITLE:
        faults.append(
            Fault(
                "title",
                f"A title has at most {LONGEST_TITLE} characters; this has {len(title)}.",
            )
        )
    return faults


@router.get("/{round_id}")
def show_round(
    *,
    request: Request,
    study_id: str,
    round_id: str,
    store: Opened,
    units: Annotated[UnitSystem, Depends(unit_system)],
    close: str = "",
) -> Response:
    """Show what was said so far, and whether to close where that is asked."""
    context = round_context(store, study_id, round_id, units, closing=bool(close))
    return render(request, ROUND, context)


@router.post("/{round_id}/close")
def close_round(
    study_id: str,
    round_id: str,
    store: Opened,
    author: Annotated[str, Depends(author_name)],
    form: Form,
) -> Response:
    """Close a call for ballots for good."""
    close_ballots(store, study_id, round_id, author=author)
    return RedirectResponse(StudyLinks.for_study(study_id).ballots(round_id), status_code=303)
