"""The charts page and the figures behind it."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import HTMLResponse

from models.services import Store, load_study
from models.units import UnitSystem
from webapp.access import store, unit_system
from webapp.pages.charts.context import page_context
from webapp.shared.charts.context import charts_data
from webapp.templating import render

router = APIRouter()

Shown = Annotated[list[str] | None, Query()]


@router.get("/studies/{study_id}/charts")
def charts(
    request: Request,
    study_id: str,
    *,
    opened: Annotated[Store, Depends(store)],
    system: Annotated[UnitSystem, Depends(unit_system)],
    strong: str | None = None,
    show: Shown = None,
) -> HTMLResponse:
    """Show the candidates' curves over each other."""
    state = load_study(opened, study_id)
    context = page_context(state, system, strong=strong, shown=show)
    return render(request, "pages/charts/charts.html", context)


@router.get("/studies/{study_id}/charts/data.json")
def chart_figures(
    study_id: str,
    opened: Annotated[Store, Depends(store)],
    system: Annotated[UnitSystem, Depends(unit_system)],
    strong: str | None = None,
    show: Shown = None,
) -> dict[str, Any]:
    """Answer the specifications and curves that charts.js draws."""
    state = load_study(opened, study_id)
    return charts_data(state.study, system, strong=strong, shown=show)
