"""Show a viewer what gates, criteria and weights say, without anything to edit."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from models.services import Store, decision_of_state, whole_evaluation_of
from webapp.access import store
from webapp.pages.shared_view.context import viewer_context
from webapp.pages.shared_view.opening import Shared, Units
from webapp.shared.choice.context import decide_context
from webapp.shared.links import StudyLinks
from webapp.templating import render

router = APIRouter()


@router.get("/decide")
def show_decision(
    *,
    request: Request,
    token: str,
    shared: Shared,
    opened: Annotated[Store, Depends(store)],
    units: Units,
) -> Response:
    """Show who leads for the gates, criteria and weights of the study behind a link."""
    choice = decide_context(
        decision_of_state(opened, shared.state),
        whole_evaluation_of(opened, shared.state),
        shared.state.study,
        StudyLinks.for_viewer(token),
        units,
    )
    context = {**choice, **viewer_context(shared, token, "decide")}
    return render(request, "pages/shared_view/decide.html", context)
