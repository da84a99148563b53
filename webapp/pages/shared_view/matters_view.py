"""Show a viewer which uncertain input moves a figure most."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from models.services import Store
from webapp.access import store
from webapp.pages.shared_view.context import viewer_context
from webapp.pages.shared_view.opening import Shared, Units
from webapp.shared.choice.matters import matters_context
from webapp.shared.links import StudyLinks
from webapp.templating import render

router = APIRouter()


@router.get("/matters")
def show_matters(
    *,
    request: Request,
    token: str,
    shared: Shared,
    opened: Annotated[Store, Depends(store)],
    units: Units,
    candidate: str | None = None,
    metric: str | None = None,
) -> Response:
    """Show what moves a figure of a candidate, the score or the lead."""
    links = StudyLinks.for_viewer(token)
    matters = matters_context(
        opened, shared.state, links, units, candidate=candidate, metric=metric
    )
    context = {**matters, **viewer_context(shared, token, "matters")}
    return render(request, "pages/shared_view/matters.html", context)
