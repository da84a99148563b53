"""Show a viewer what the battery goes through."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from models.services import Store
from models.services.power import power_of
from webapp.access import store
from webapp.pages.shared_view.context import viewer_context
from webapp.pages.shared_view.opening import Shared, Shown, Units
from webapp.shared.links import StudyLinks
from webapp.shared.power.context import power_context
from webapp.templating import render

router = APIRouter()


@router.get("/power")
def show_power(
    *,
    request: Request,
    token: str,
    opened: Annotated[Store, Depends(store)],
    shared: Shared,
    units: Units,
    battery: str | None = None,
    candidate: str | None = None,
    show: Shown = None,
) -> Response:
    """Show sprint, push, match and day on the battery in use, or on one that is looked at."""
    links = StudyLinks.for_viewer(token)
    payload = power_of(opened, shared.state, battery or None)
    power = power_context(
        payload, shared.state.study, links, units, candidate=candidate or None, shown=show
    )
    context = {**power, **viewer_context(shared, token, "power")}
    return render(request, "pages/shared_view/power.html", context)
