"""The fit page: plan and side view of a candidate in a pose."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import HTMLResponse

from models.services import Store, evaluation_of, load_study
from models.units import UnitSystem
from webapp.access import store, unit_system
from webapp.pages.fit.context import page_context, row_number
from webapp.templating import render

router = APIRouter()


@router.get("/studies/{study_id}/fit")
def fit(
    request: Request,
    study_id: str,
    *,
    opened: Annotated[Store, Depends(store)],
    system: Annotated[UnitSystem, Depends(unit_system)],
    candidate: str | None = None,
    pose: str | None = None,
    row: str | None = None,
) -> HTMLResponse:
    """Show what of the base stands where, and which gaps are tight."""
    state = load_study(opened, study_id)
    payload = evaluation_of(opened, state)
    context = page_context(
        state, payload, system, candidate=candidate, pose=pose, row=row_number(row)
    )
    return render(request, "pages/fit/fit.html", context)
