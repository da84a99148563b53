"""The overview of a study."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import HTMLResponse

from models.services import Store, load_study, whole_evaluation_of
from models.units import UnitSystem
from webapp.access import ranges_shown, store, unit_system
from webapp.pages.overview.context import page_context
from webapp.templating import render

router = APIRouter()


@router.get("/studies/{study_id}")
def overview(
    request: Request,
    study_id: str,
    *,
    opened: Annotated[Store, Depends(store)],
    system: Annotated[UnitSystem, Depends(unit_system)],
    ranges: Annotated[bool, Depends(ranges_shown)],
    show: Annotated[list[str] | None, Query()] = None,
    only: str | None = None,
    beside: str | None = None,
) -> HTMLResponse:
    """Show the verdict and the candidates side by side."""
    state = load_study(opened, study_id)
    payload = whole_evaluation_of(opened, state)
    context = page_context(
        state,
        payload,
        system,
        show=show,
        only=only == "differences",
        beside=beside,
        ranges=ranges,
    )
    return render(request, "pages/overview/overview.html", context)
