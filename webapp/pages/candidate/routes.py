"""Show a candidate, recompute it while one types, save it, duplicate, remove, make it today's."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData

from models.errors import SaveConflictError, StudyRefusedError
from models.services import (
    duplicate_candidate,
    load_study,
    remove_candidate,
    save_sections,
)
from models.study.sections import candidate_section, split_sections
from models.units import UnitSystem
from webapp.access import author_name, checked_form, store, unit_system
from webapp.forms import drop_blank_rows
from webapp.pages.candidate.context import (
    candidate_context,
    edits_of,
    live_context,
    require_candidate,
)
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

router = APIRouter(prefix="/studies/{study_id}/candidates/{key}")
Store = Annotated[Any, Depends(store)]
Author = Annotated[str, Depends(author_name)]
Units = Annotated[UnitSystem, Depends(unit_system)]
Form = Annotated[FormData, Depends(checked_form)]

PAGE = "pages/candidate/candidate.html"
LIVE = "pages/candidate/live.html"


@router.get("")
def show_candidate(
    request: Request,
    study_id: str,
    key: str,
    store: Store,
    author: Author,
    units: Units,
    saved: str = "",
    merged: str = "",
) -> Response:
    """Show a candidate as it was last saved."""
    state = load_study(store, study_id)
    require_candidate(state, key)
    context = candidate_context(
        store, state, key, author=author, system=units, saved=saved, merged=bool(merged)
    )
    return render(request, PAGE, context)


@router.post("")
def save_candidate(
    request: Request,
    study_id: str,
    key: str,
    store: Store,
    author: Author,
    form: Form,
) -> Response:
    """Save the candidate; a row button only changes the form, and a fault saves nothing."""
    posted = read_posted(store, study_id, form)
    if posted.control("row") or posted.control("fix"):
        return _form_again(request, store, posted, key, author, edits_of(posted, key))
    drop_blank_rows(posted.typed)
    edits = edits_of(posted, key)
    try:
        outcome = save(store, posted, edits, author=author_of(posted, author))
    except StudyRefusedError as refused:
        return _form_again(
            request, store, posted, key, author, edits, status=422, faults=refused.faults
        )
    except SaveConflictError as error:
        conflict = conflict_view(store, posted, error)
        return _form_again(
            request, store, posted, key, author, edits, status=409, conflict=conflict
        )
    response = back_after_save(StudyLinks.for_study(study_id).candidate(key), outcome)
    keep_author(request, response, posted, author)
    return response


def _form_again(
    request: Request,
    store: Any,
    posted: Posted,
    key: str,
    author: str,
    edits: dict[str, Any],
    *,
    status: int = 200,
    **more: Any,
) -> Response:
    """Show the form with everything that was typed, not saved."""
    context = candidate_context(
        store,
        posted.base,
        key,
        author=author,
        system=posted.system,
        posted=posted,
        edits=edits,
        **more,
    )
    return render(request, PAGE, context, status=status)


@router.post("/live")
def recompute(
    request: Request, study_id: str, key: str, store: Store, units: Units, form: Form
) -> Response:
    """Answer with the figures of what is typed at this moment; nothing is stored."""
    posted = read_posted(store, study_id, form)
    context = live_context(store, posted, key, edits_of(posted, key), units)
    response = render(request, LIVE, context)
    response.headers[SEQUENCE_HEADER] = sequence_of(posted)
    return response


@router.post("/duplicate")
def duplicate(study_id: str, key: str, store: Store, author: Author, form: Form) -> Response:
    """Make a variant of the saved candidate and go to it."""
    state = load_study(store, study_id)
    require_candidate(state, key)
    number = state.revision.number
    _, new_key = duplicate_candidate(store, study_id, key, base_revision=number, author=author)
    return RedirectResponse(StudyLinks.for_study(study_id).candidate(new_key), status_code=303)


@router.post("/remove")
def remove(study_id: str, key: str, store: Store, author: Author, form: Form) -> Response:
    """Take the candidate out of the study; the history keeps it."""
    state = load_study(store, study_id)
    require_candidate(state, key)
    remove_candidate(store, study_id, key, base_revision=state.revision.number, author=author)
    return RedirectResponse(StudyLinks.for_study(study_id).overview(), status_code=303)


@router.post("/baseline")
def make_baseline(study_id: str, key: str, store: Store, author: Author, form: Form) -> Response:
    """Make this candidate what the robot drives on today."""
    state = load_study(store, study_id)
    candidate = state.study.candidate(key)
    sections = split_sections(state.document)
    edits = {}
    for one in state.study.candidates:
        section = candidate_section(one.key)
        before = sections[section]
        after = {name: value for name, value in before.items() if name != "baseline"}
        if one.key == key:
            after["baseline"] = True
        if after != before:
            edits[section] = after
    if edits:
        save_sections(
            store,
            study_id,
            base_revision=state.revision.number,
            edits=edits,
            author=author,
            note=f"{candidate.name} is today's base",
        )
    return RedirectResponse(StudyLinks.for_study(study_id).candidate(key), status_code=303)
