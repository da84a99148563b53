"""Show a viewer when each candidate can be ready, without anything to edit or to try."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from models.services import Store
from models.services.planning import plan_of_state
from webapp.access import store
from webapp.pages.shared_view.context import viewer_context
from webapp.pages.shared_view.opening import Shared, Units
from webapp.shared.links import StudyLinks
from webapp.shared.schedule.context import schedule_context
from webapp.templating import render

router = APIRouter()


@router.get("/schedule")
def show_schedule(
    *,
    request: Request,
    token: str,
    shared: Shared,
    opened: Annotated[Store, Depends(store)],
    units: Units,
    candidate: str | None = None,
) -> Response:
    """Show the plan of the study behind a link."""
    plan = schedule_context(
        plan_of_state(opened, shared.state),
        shared.state.study,
        StudyLinks.for_viewer(token),
        units,
        candidate=candidate,
    )
    context = {**plan, **viewer_context(shared, token, "schedule")}
    return render(request, "pages/shared_view/schedule.html", context)
