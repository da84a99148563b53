"""Show the robot's parts, poses, keep-outs and module types, redraw them while one types, save."""

from __future__ import annotations

from functools import partial
from typing import Annotated, Any

from fastapi import APIRouter, Depends
from fastapi.responses import Response
from starlette.datastructures import FormData

from models.services import load_study
from webapp.access import checked_form
from webapp.forms import drop_blank_rows
from webapp.pages.robot.context import RobotForm, live_context, robot_context
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

router = APIRouter(prefix="/studies/{study_id}/robot")
Visiting = Annotated[Visit, Depends(visit)]
Form = Annotated[FormData, Depends(checked_form)]

PAGE = "pages/robot/robot.html"
LIVE = "pages/robot/live.html"


@router.get("")
def show_robot(study_id: str, visit: Visiting, pose: str | None = None) -> Response:
    """Show the robot as it was last saved, drawn in a pose."""
    state = load_study(visit.store, study_id)
    return render(visit.request, PAGE, robot_context(visit, state, pose=pose))


@router.post("")
def save_robot(study_id: str, visit: Visiting, form: Form) -> Response:
    """Save the robot; a row button only changes the form, and a fault saves nothing."""
    posted = read_posted(visit.store, study_id, form)
    if posted.changes_form:
        return _form_again(visit, posted, RobotForm(posted))
    drop_blank_rows(posted.typed)
    typed = RobotForm(posted)
    return answer_to_save(
        visit,
        posted,
        typed.edits,
        address=StudyLinks.for_study(study_id).robot(),
        show_again=partial(_form_again, visit, posted, typed),
        faults=typed.faults,
    )


def _form_again(
    visit: Visit, posted: Posted, typed: RobotForm, *, status: int = 200, **more: Any
) -> Response:
    """Show the form with everything that was typed, not saved."""
    context = robot_context(visit, posted.base, posted=posted, form=typed, **more)
    return render(visit.request, PAGE, context, status=status)


@router.post("/live")
def redraw(study_id: str, visit: Visiting, form: Form) -> Response:
    """Answer with the drawing of what is typed at this moment; nothing is stored."""
    posted = read_posted(visit.store, study_id, form)
    drop_blank_rows(posted.typed)
    response = render(visit.request, LIVE, live_context(visit, posted))
    response.headers[SEQUENCE_HEADER] = sequence_of(posted)
    return response
