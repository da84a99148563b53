"""Show the robot's parts, poses, keep-outs and module types, redraw them while one types, save."""

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
from webapp.pages.robot.context import RobotForm, live_context, robot_context
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

router = APIRouter(prefix="/studies/{study_id}/robot")
Store = Annotated[Any, Depends(store)]
Author = Annotated[str, Depends(author_name)]
Units = Annotated[UnitSystem, Depends(unit_system)]
Form = Annotated[FormData, Depends(checked_form)]

PAGE = "pages/robot/robot.html"
LIVE = "pages/robot/live.html"


@router.get("")
def show_robot(
    request: Request,
    study_id: str,
    store: Store,
    author: Author,
    units: Units,
    pose: str | None = None,
    saved: str = "",
    merged: str = "",
) -> Response:
    """Show the robot as it was last saved, drawn in a pose."""
    state = load_study(store, study_id)
    context = robot_context(
        store, state, author=author, system=units, pose=pose, saved=saved, merged=bool(merged)
    )
    return render(request, PAGE, context)


@router.post("")
def save_robot(
    request: Request, study_id: str, store: Store, author: Author, form: Form
) -> Response:
    """Save the robot; a row button only changes the form, and a fault saves nothing."""
    posted = read_posted(store, study_id, form)
    if posted.control("row") or posted.control("fix"):
        return _form_again(request, store, posted, RobotForm(posted), author)
    drop_blank_rows(posted.typed)
    typed = RobotForm(posted)
    try:
        if typed.faults:
            raise StudyRefusedError(typed.faults)
        outcome = save(store, posted, typed.edits, author=author_of(posted, author))
    except StudyRefusedError as refused:
        return _form_again(
            request, store, posted, typed, author, status=422, faults=refused.faults
        )
    except SaveConflictError as error:
        conflict = conflict_view(store, posted, error)
        return _form_again(request, store, posted, typed, author, status=409, conflict=conflict)
    response = back_after_save(StudyLinks.for_study(study_id).robot(), outcome)
    keep_author(request, response, posted, author)
    return response


def _form_again(
    request: Request,
    store: Any,
    posted: Posted,
    typed: RobotForm,
    author: str,
    *,
    status: int = 200,
    **more: Any,
) -> Response:
    """Show the form with everything that was typed, not saved."""
    context = robot_context(
        store, posted.base, author=author, system=posted.system, posted=posted, form=typed, **more
    )
    return render(request, PAGE, context, status=status)


@router.post("/live")
def redraw(request: Request, study_id: str, store: Store, units: Units, form: Form) -> Response:
    """Answer with the drawing of what is typed at this moment; nothing is stored."""
    posted = read_posted(store, study_id, form)
    response = render(request, LIVE, live_context(store, posted, units))
    response.headers[SEQUENCE_HEADER] = sequence_of(posted)
    return response
