"""Show a viewer who moves whom, how long a push lasts, and what a dead part leaves."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response

from webapp.pages.shared_view.context import viewer_context
from webapp.pages.shared_view.opening import Shared, Shown, Units
from webapp.shared.links import StudyLinks
from webapp.shared.shoving.context import shoving_context
from webapp.templating import render

router = APIRouter()


@router.get("/shoving")
def show_shoving(
    *,
    request: Request,
    token: str,
    shared: Shared,
    units: Units,
    mass: str | None = None,
    grip: str | None = None,
    push: str | None = None,
    stuck: str | None = None,
    show: Shown = None,
) -> Response:
    """Show a shoving match, the push that the drive lasts, and dead parts."""
    links = StudyLinks.for_viewer(token)
    shoving = shoving_context(
        shared.state.study, links, units, mass=mass, grip=grip, push=push, stuck=stuck, shown=show
    )
    context = {**shoving, **viewer_context(shared, token, "shoving")}
    status = 422 if shoving["faulty"] else 200
    return render(request, "pages/shared_view/shoving.html", context, status=status)
