"""Show a candidate, recompute it while one types, save it, duplicate, remove, make it today's."""

from __future__ import annotations

from functools import partial
from typing import Annotated, Any

from fastapi import APIRouter, Depends
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData

from models.services import duplicate_candidate, load_study, remove_candidate, save_sections
from models.study.sections import candidate_section, split_sections
from webapp.access import checked_form
from webapp.forms import drop_blank_rows
from webapp.pages.candidate.context import candidate_context, edits_of, live_context
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

router = APIRouter(prefix="/studies/{study_id}/candidates/{key}")
Visiting = Annotated[Visit, Depends(visit)]
Form = Annotated[FormData, Depends(checked_form)]

PAGE = "pages/candidate/candidate.html"
LIVE = "pages/candidate/live.html"


@router.get("")
def show_candidate(study_id: str, key: str, visit: Visiting) -> Response:
    """Show a candidate as it was last saved."""
    state = load_study(visit.store, study_id)
    return render(visit.request, PAGE, candidate_context(visit, state, key))


@router.post("")
def save_candidate(study_id: str, key: str, visit: Visiting, form: Form) -> Response:
    """Save the candidate; a row button only changes the form, and a fault saves nothing."""
    posted = read_posted(visit.store, study_id, form)
    if posted.changes_form:
        return _form_again(visit, posted, key, edits_of(posted, key))
    drop_blank_rows(posted.typed)
    edits = edits_of(posted, key)
    return answer_to_save(
        visit,
        posted,
        edits,
        address=StudyLinks.for_study(study_id).candidate(key),
        show_again=partial(_form_again, visit, posted, key, edits),
    )


def _form_again(
    visit: Visit, posted: Posted, key: str, edits: dict[str, Any], *, status: int = 200, **more: Any
) -> Response:
    """Show the form with everything that was typed, not saved."""
    context = candidate_context(visit, posted.base, key, posted=posted, edits=edits, **more)
    return render(visit.request, PAGE, context, status=status)


@router.post("/live")
def recompute(study_id: str, key: str, visit: Visiting, form: Form) -> Response:
    """Answer with the figures of what is typed at this moment; nothing is stored."""
    posted = read_posted(visit.store, study_id, form)
    drop_blank_rows(posted.typed)
    context = live_context(visit, posted, key, edits_of(posted, key))
    response = render(visit.request, LIVE, context)
    response.headers[SEQUENCE_HEADER] = sequence_of(posted)
    return response


@router.post("/duplicate")
def duplicate(study_id: str, key: str, visit: Visiting, form: Form) -> Response:
    """Make a variant of the saved candidate and go to it."""
    state = load_study(visit.store, study_id)
    number = state.revision.number
    _, new_key = duplicate_candidate(
        visit.store, study_id, key, base_revision=number, author=visit.author
    )
    return RedirectResponse(StudyLinks.for_study(study_id).candidate(new_key), status_code=303)


@router.post("/remove")
def remove(study_id: str, key: str, visit: Visiting, form: Form) -> Response:
    """Take the candidate out of the study; the history keeps it."""
    number = load_study(visit.store, study_id).revision.number
    remove_candidate(visit.store, study_id, key, base_revision=number, author=visit.author)
    return RedirectResponse(StudyLinks.for_study(study_id).overview(), status_code=303)


@router.post("/baseline")
def make_baseline(study_id: str, key: str, visit: Visiting, form: Form) -> Response:
    """Make this candidate what the robot drives on today."""
    state = load_study(visit.store, study_id)
    candidate = state.study.candidate(key)
    sections = split_sections(state.document)
    edits = {}
    for one in state.study.candidates:
        section = candidate_section(one.key)
        after = {name: kept for name, kept in sections[section].items() if name != "baseline"}
        if one.key == key:
            after["baseline"] = True
        if after != sections[section]:
            edits[section] = after
    if edits:
        save_sections(
            visit.store,
            study_id,
            base_revision=state.revision.number,
            edits=edits,
            author=visit.author,
            note=f"{candidate.name} is today's base",
        )
    return RedirectResponse(StudyLinks.for_study(study_id).candidate(key), status_code=303)
