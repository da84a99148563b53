"""Show which uncertain input moves a figure most, so that it is measured first."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from models.services import Store, load_study
from models.units import UnitSystem
from webapp.access import store, unit_system
from webapp.shared.choice.matters import matters_context
from webapp.shared.links import StudyLinks
from webapp.templating import render

router = APIRouter()


@router.get("/studies/{study_id}/matters")
def show_matters(
    *,
    request: Request,
    study_id: str,
    opened: Annotated[Store, Depends(store)],
    system: Annotated[UnitSystem, Depends(unit_system)],
    candidate: str | None = None,
    metric: str | None = None,
) -> Response:
    """Show what moves a figure of a candidate, the score or the lead."""
    state = load_study(opened, study_id)
    links = StudyLinks.of_state(state)
    context = matters_context(opened, state, links, system, candidate=candidate, metric=metric)
    full = {"state": state, "links": links, "nav": "matters", **context}
    return render(request, "pages/matters/matters.html", full)
