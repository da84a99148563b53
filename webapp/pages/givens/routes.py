"""Show what all candidates share, remark on it while one types, save it."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response
from starlette.datastructures import FormData

from models.errors import SaveConflictError, StudyRefusedError
from models.services import load_study
from models.units import UnitSystem
from webapp.access import author_name, checked_form, store, unit_system
from webapp.forms import drop_blank_rows
from webapp.pages.givens.context import edits_of, givens_context, live_context
from webapp.shared.editing import (
    SEQUENCE_HEADER,
    Posted,
    author_of,
    back_after_save,
    conflict_view,
    keep_author,
    read_posted,
    save,
    sequence_of,
)
from webapp.shared.links import StudyLinks
from webapp.templating import render

router = APIRouter(prefix="/studies/{study_id}/givens")
Store = Annotated[Any, Depends(store)]
Author = Annotated[str, Depends(author_name)]
Units = Annotated[UnitSystem, Depends(unit_system)]
Form = Annotated[FormData, Depends(checked_form)]

PAGE = "pages/givens/givens.html"
LIVE = "pages/givens/live.html"


@router.get("")
def show_givens(
    request: Request,
    study_id: str,
    store: Store,
    author: Author,
    units: Units,
    saved: str = "",
    merged: str = "",
) -> Response:
    """Show the givens as they were last saved."""
    state = load_study(store, study_id)
    context = givens_context(
        store, state, author=author, system=units, saved=saved, merged=bool(merged)
    )
    return render(request, PAGE, context)


@router.post("")
def save_givens(
    request: Request, study_id: str, store: Store, author: Author, form: Form
) -> Response:
    """Save the givens; a row button only changes the form, and a fault saves nothing."""
    posted = read_posted(store, study_id, form)
    if posted.control("row") or posted.control("fix"):
        return _form_again(request, store, posted, edits_of(posted), author)
    drop_blank_rows(posted.typed)
    edits = edits_of(posted)
    try:
        outcome = save(store, posted, edits, author=author_of(posted, author))
    except StudyRefusedError as refused:
        return _form_again(
            request, store, posted, edits, author, status=422, faults=refused.faults
        )
    except SaveConflictError as error:
        conflict = conflict_view(store, posted, error)
        return _form_again(request, store, posted, edits, author, status=409, conflict=conflict)
    response = back_after_save(StudyLinks.for_study(study_id).givens(), outcome)
    keep_author(request, response, posted, author)
    return response


def _form_again(
    request: Request,
    store: Any,
    posted: Posted,
    edits: dict[str, Any],
    author: str,
    *,
    status: int = 200,
    **more: Any,
) -> Response:
    """Show the form with everything that was typed, not saved."""
    context = givens_context(
        store, posted.base, author=author, system=posted.system, posted=posted, edits=edits, **more
    )
    return render(request, PAGE, context, status=status)


@router.post("/live")
def remark(request: Request, study_id: str, store: Store, form: Form) -> Response:
    """Answer with remarks on what is typed at this moment; nothing is stored."""
    posted = read_posted(store, study_id, form)
    response = render(request, LIVE, live_context(store, posted))
    response.headers[SEQUENCE_HEADER] = sequence_of(posted)
    return response
