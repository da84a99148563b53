"""Show what gates, criteria and weights say, weigh while one types, save, find weights by swing."""

from __future__ import annotations

from functools import partial
from typing import Annotated, Any

from fastapi import APIRouter, Depends
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData

from models.services import StudyState, load_study, whole_evaluation_of
from webapp.access import checked_form
from webapp.pages.decide.context import now_context, page_context
from webapp.pages.decide.form import DecisionForm
from webapp.pages.decide.swing import SwingForm, swing_context
from webapp.shared.choice.measures import figures_of
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

router = APIRouter(prefix="/studies/{study_id}/decide")
Visiting = Annotated[Visit, Depends(visit)]
Form = Annotated[FormData, Depends(checked_form)]

PAGE = "pages/decide/decide.html"
LIVE = "pages/decide/live.html"
SWING = "pages/decide/swing.html"


@router.get("")
def show_decision(study_id: str, visiting: Visiting) -> Response:
    """Show who leads for the saved gates, criteria and weights."""
    return _page(visiting, load_study(visiting.store, study_id))


def _page(visiting: Visit, state: StudyState, *, status: int = 200, **more: Any) -> Response:
    return render(visiting.request, PAGE, page_context(visiting, state, **more), status=status)


def _typed(visiting: Visit, posted: Posted) -> DecisionForm:
    return DecisionForm(posted, figures_of(whole_evaluation_of(visiting.store, posted.base)))


@router.post("")
def save_decision(study_id: str, visiting: Visiting, form: Form) -> Response:
    """Save gates and criteria; a row button only changes the form, and a fault saves nothing."""
    posted = read_posted(visiting.store, study_id, form)
    typed = _typed(visiting, posted)
    again = partial(_page, visiting, posted.base, form=typed, posted=posted)
    if posted.changes_form:
        return again()
    return answer_to_save(
        visiting,
        posted,
        typed.edits,
        address=StudyLinks.for_study(study_id).decide(),
        show_again=again,
        faults=typed.faults,
    )


@router.post("/live")
def weigh(study_id: str, visiting: Visiting, form: Form) -> Response:
    """Answer with who leads for what is typed at this moment; nothing is stored."""
    posted = read_posted(visiting.store, study_id, form)
    context = now_context(visiting, posted.base, _typed(visiting, posted))
    response = render(visiting.request, LIVE, {"state": posted.base, **context})
    response.headers[SEQUENCE_HEADER] = sequence_of(posted)
    return response


@router.get("/swing")
def show_swing(study_id: str, visiting: Visiting, first: str | None = None) -> Response:
    """Ask which change matters most, or, once that is said, how much each other does."""
    state = load_study(visiting.store, study_id)
    return _swing(visiting, state, first=first)


def _swing(visiting: Visit, state: StudyState, *, status: int = 200, **more: Any) -> Response:
    payload = whole_evaluation_of(visiting.store, state)
    context = swing_context(visiting, state, payload, **more)
    return render(visiting.request, SWING, context, status=status)


@router.post("/swing")
def save_swing(study_id: str, visiting: Visiting, form: Form) -> Response:
    """Save the points given to each change as weights."""
    posted = read_posted(visiting.store, study_id, form)
    typed = SwingForm(posted)
    if not typed.first:
        address = StudyLinks.for_study(study_id).decide()
        return RedirectResponse(f"{address}/swing", status_code=303)
    return answer_to_save(
        visiting,
        typed.posted,
        typed.edits,
        address=StudyLinks.for_study(study_id).decide(),
        show_again=partial(_swing, visiting, posted.base, first=typed.first, form=typed),
        faults=typed.faults,
    )
