"""The fit page: plan and side view of a candidate in a pose, and things moved on them."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Annotated, Any

from fastapi import APIRouter, Depends
from fastapi.responses import Response
from starlette.datastructures import FormData

from models.errors import Fault
from models.services import load_study
from webapp.access import checked_form
from webapp.pages.fit.context import page_context, row_number
from webapp.pages.fit.editing import Asked, Pending, key_shown, note_of, pending_of
from webapp.shared.editing import (
    SEQUENCE_HEADER,
    Posted,
    Visit,
    answer_to_save,
    read_posted,
    sequence_of,
    visit,
)
from webapp.shared.links import StudyLinks
from webapp.templating import render

router = APIRouter(prefix="/studies/{study_id}/fit")
Visiting = Annotated[Visit, Depends(visit)]
Form = Annotated[FormData, Depends(checked_form)]

PAGE = "pages/fit/fit.html"
LIVE = "pages/fit/live.html"


def asked_moves(
    moves: str = "", item: str = "", forward: str = "", left: str = "", free: str = ""
) -> Asked:
    """Return what an address asks to move, as a FastAPI dependency."""
    return Asked(moves, item, forward, left, bool(free))


@router.get("")
def fit(
    study_id: str,
    *,
    visiting: Visiting,
    asked: Annotated[Asked, Depends(asked_moves)],
    candidate: str | None = None,
    pose: str | None = None,
    row: str | None = None,
    base_revision: str | None = None,
) -> Response:
    """Show what of the base stands where, and which gaps are tight; with moves, how it would be."""
    began_from = row_number(base_revision[:9]) if base_revision else None
    pending = bool(asked.moves or asked.item)
    state = load_study(visiting.store, study_id, began_from if pending else None)
    context = page_context(
        visiting, state, asked, candidate=candidate, pose=pose, row=row_number(row)
    )
    refused = bool(context["fit_editing"]["faults"])
    return render(visiting.request, PAGE, context, status=422 if refused else 200)


@router.post("/live")
def follow(study_id: str, visiting: Visiting, form: Form) -> Response:
    """Answer with drawing, gaps and verdict of what is moved at this moment; nothing is stored."""
    posted = read_posted(visiting.store, study_id, form)
    context = page_context(
        visiting,
        posted.base,
        Asked(posted.control("moves")),
        candidate=posted.control("fit_candidate"),
        pose=posted.control("fit_pose") or None,
        row=row_number(posted.control("row")),
        posted=posted,
    )
    refused = bool(context["fit_editing"]["faults"])
    response = render(visiting.request, LIVE, context, status=422 if refused else 200)
    response.headers[SEQUENCE_HEADER] = sequence_of(posted)
    return response


@router.post("/save")
def save_moves(study_id: str, visiting: Visiting, form: Form) -> Response:
    """Save what was moved as a revision; where that cannot be, show it again, still moved."""
    posted = read_posted(visiting.store, study_id, form)
    key = key_shown(posted.base.study, posted.control("fit_candidate"))
    asked = Asked(posted.control("moves"))
    pending = pending_of(visiting.store, posted.base, key, asked, visiting.units)
    if pending.moves and not posted.note and not pending.faults:
        note = note_of(pending, posted.base.study, visiting.units)
        posted = replace(posted, controls={**posted.controls, "revision_note": note})
    return answer_to_save(
        visiting,
        posted,
        pending.edits,
        address=StudyLinks.for_study(study_id).fit(key, posted.control("fit_pose") or None),
        show_again=partial(_show_again, visiting, posted, pending, key),
        faults=pending.faults,
    )


def _show_again(
    visiting: Visit,
    posted: Posted,
    pending: Pending,
    key: str,
    *,
    status: int,
    faults: tuple[Fault, ...] = (),
    **more: Any,
) -> Response:
    pending = replace(pending, faults=faults) if faults else pending
    context = page_context(
        visiting,
        posted.base,
        Asked(posted.control("moves")),
        candidate=key,
        pose=posted.control("fit_pose") or None,
        posted=posted,
        pending=pending,
        **more,
    )
    return render(visiting.request, PAGE, context, status=status)
