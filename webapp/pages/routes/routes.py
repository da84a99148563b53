"""Show the routes, answer while one drags or types, save them."""

from __future__ import annotations

from functools import partial
from typing import Annotated, Any

from fastapi import APIRouter, Depends
from fastapi.responses import Response
from starlette.datastructures import FormData

from models.services import load_study
from webapp.access import checked_form
from webapp.forms import drop_blank_rows
from webapp.pages.routes.context import live_context, page_context, poses_context
from webapp.pages.routes.editing import RouteForm, read_form
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

router = APIRouter(prefix="/studies/{study_id}/routes")
Visiting = Annotated[Visit, Depends(visit)]
Form = Annotated[FormData, Depends(checked_form)]

PAGE = "pages/routes/routes.html"
LIVE = "pages/routes/live.html"
POSES = "pages/routes/poses.html"


@router.get("")
def show_routes(study_id: str, visit: Visiting, route: str | None = None) -> Response:
    """Show the routes as they were last saved, one of them picked out."""
    state = load_study(visit.store, study_id)
    return render(visit.request, PAGE, page_context(visit, state, route=route))


@router.post("")
def save_routes(study_id: str, visit: Visiting, form: Form) -> Response:
    """Save the routes; a row button only changes the form, and a fault saves nothing."""
    posted = read_posted(visit.store, study_id, form)
    if posted.changes_form:
        return _form_again(visit, posted, read_form(posted))
    drop_blank_rows(posted.typed)
    typed = read_form(posted)
    return answer_to_save(
        visit,
        posted,
        typed.edits,
        address=StudyLinks.for_study(study_id).routes(route=_name_shown(typed)),
        show_again=partial(_form_again, visit, posted, typed),
    )


def _name_shown(typed: RouteForm) -> str | None:
    """Return the name of the route on the page, so that a save comes back to it."""
    routes = typed.values["routes"] or []
    shown = routes[typed.shown] if typed.shown < len(routes) else {}
    name = shown.get("name") if isinstance(shown, dict) and typed.shown else None
    return name if isinstance(name, str) else None


def _form_again(
    visit: Visit, posted: Posted, typed: RouteForm, *, status: int = 200, **more: Any
) -> Response:
    """Show the form with everything that was typed, not saved."""
    context = page_context(visit, posted.base, posted=posted, form=typed, **more)
    return render(visit.request, PAGE, context, status=status)


@router.post("/live")
def follow(study_id: str, visit: Visiting, form: Form) -> Response:
    """Answer with drawing and times of what is typed or dragged now; nothing is stored."""
    posted = read_posted(visit.store, study_id, form)
    response = render(visit.request, LIVE, live_context(visit, posted, read_form(posted)))
    response.headers[SEQUENCE_HEADER] = sequence_of(posted)
    return response


@router.post("/poses")
def limit_poses(study_id: str, visit: Visiting, form: Form) -> Response:
    """Answer with the limits of every pose for what is typed now; nothing is stored."""
    posted = read_posted(visit.store, study_id, form)
    return render(visit.request, POSES, poses_context(visit, posted, read_form(posted)))
