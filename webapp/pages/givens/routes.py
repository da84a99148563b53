"""Show what all candidates share, remark on it while one types, save it."""

from __future__ import annotations

from functools import partial
from typing import Annotated, Any

from fastapi import APIRouter, Depends
from fastapi.responses import Response
from starlette.datastructures import FormData

from models.services import load_study
from webapp.access import checked_form
from webapp.forms import drop_blank_rows
from webapp.pages.givens.context import edits_of, givens_context, live_context
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

router = APIRouter(prefix="/studies/{study_id}/givens")
Visiting = Annotated[Visit, Depends(visit)]
Form = Annotated[FormData, Depends(checked_form)]

PAGE = "pages/givens/givens.html"
LIVE = "pages/givens/live.html"


@router.get("")
def show_givens(study_id: str, visit: Visiting) -> Response:
    """Show the givens as they were last saved."""
    state = load_study(visit.store, study_id)
    return render(visit.request, PAGE, givens_context(visit, state))


@router.post("")
def save_givens(study_id: str, visit: Visiting, form: Form) -> Response:
    """Save the givens; a row button only changes the form, and a fault saves nothing."""
    posted = read_posted(visit.store, study_id, form)
    if posted.changes_form:
        return _form_again(visit, posted, edits_of(posted))
    drop_blank_rows(posted.typed)
    edits = edits_of(posted)
    return answer_to_save(
        visit,
        posted,
        edits,
        address=StudyLinks.for_study(study_id).givens(),
        show_again=partial(_form_again, visit, posted, edits),
    )


def _form_again(
    visit: Visit, posted: Posted, edits: dict[str, Any], *, status: int = 200, **more: Any
) -> Response:
    """Show the form with everything that was typed, not saved."""
    context = givens_context(visit, posted.base, posted=posted, edits=edits, **more)
    return render(visit.request, PAGE, context, status=status)


@router.post("/live")
def remark(study_id: str, visit: Visiting, form: Form) -> Response:
    """Answer with remarks on what is typed at this moment; nothing is stored."""
    posted = read_posted(visit.store, study_id, form)
    drop_blank_rows(posted.typed)
    response = render(visit.request, LIVE, live_context(visit, posted))
    response.headers[SEQUENCE_HEADER] = sequence_of(posted)
    return response
