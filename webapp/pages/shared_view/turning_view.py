"""Show a viewer how the candidates turn, and what they do in every direction."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response

from webapp.pages.shared_view.context import viewer_context
from webapp.pages.shared_view.opening import Shared, Shown, Units
from webapp.shared.links import StudyLinks
from webapp.shared.turning.context import turning_context
from webapp.templating import render

router = APIRouter()


@router.get("/turning")
def show_turning(
    *,
    request: Request,
    token: str,
    shared: Shared,
    units: Units,
    angle: str | None = None,
    show: Shown = None,
) -> Response:
    """Show turns of an angle over time, and speed and push against the heading."""
    links = StudyLinks.for_viewer(token)
    turning = turning_context(shared.state.study, links, units, angle=angle, shown=show)
    context = {**turning, **viewer_context(shared, token, "turning")}
    status = 422 if turning["faulty"] else 200
    return render(request, "pages/shared_view/turning.html", context, status=status)
