"""Show the revisions of a study, compare two, and restore one as a new revision."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData

from models.errors import NotFoundError
from models.services import Store, restore_revision
from models.units import UnitSystem
from webapp.access import author_name, checked_form, store, unit_system
from webapp.pages.history.context import history_context
from webapp.shared.links import StudyLinks
from webapp.templating import render

router = APIRouter(prefix="/studies/{study_id}/history")
Opened = Annotated[Store, Depends(store)]
LONGEST_NUMBER = 9


@router.get("")
def show_history(
    *,
    request: Request,
    study_id: str,
    store: Opened,
    units: Annotated[UnitSystem, Depends(unit_system)],
    earlier: Annotated[str, Query(alias="from")] = "",
    later: Annotated[str, Query(alias="to")] = "",
    restore: str = "",
) -> Response:
    """Show all revisions, two of them compared, and a restore that waits for confirmation."""
    context = history_context(
        store,
        study_id,
        units,
        earlier=revision_number(earlier),
        later=revision_number(later),
        restore=revision_number(restore),
    )
    return render(request, "pages/history/history.html", {**context})


@router.post("/restore")
def restore(
    study_id: str,
    store: Opened,
    author: Annotated[str, Depends(author_name)],
    form: Annotated[FormData, Depends(checked_form)],
) -> Response:
    """Save an earlier revision's document again, as the newest revision."""
    number = revision_number(str(form.get("revision", "")))
    if number is None:
        raise NotFoundError("No revision was named.")
    restore_revision(store, study_id, number, author=author)
    return RedirectResponse(StudyLinks.for_study(study_id).history(), status_code=303)


def revision_number(text: str) -> int | None:
    """Return the number in an address or form, None where none is given.

    >>> revision_number("14"), revision_number("")
    (14, None)
    """
    text = text.strip()
    if not text:
        return None
    if not (text.isascii() and text.isdigit()) or len(text) > LONGEST_NUMBER:
        raise NotFoundError(f"There is no revision {text[:20]!r}.")
    return int(text)
