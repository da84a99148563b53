"""Show a study to whoever has a link: overview, fit, charts and their figures."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from webapp.pages.shared_view import (
    away_view,
    decide_view,
    matters_view,
    power_view,
    routes_view,
    schedule_view,
    shoving_view,
    turning_view,
)
from webapp.pages.shared_view.context import viewer_context
from webapp.pages.shared_view.opening import Ranges, Shared, Shown, Units
from webapp.shared.away.context import take_away_context
from webapp.shared.charts.context import charts_context, charts_data
from webapp.shared.comparison.context import comparison_context
from webapp.shared.fit.context import fit_context
from webapp.shared.links import StudyLinks
from webapp.templating import render, site_of

router = APIRouter(prefix="/shared/{token}")
router.include_router(routes_view.router)
router.include_router(turning_view.router)
router.include_router(shoving_view.router)
router.include_router(power_view.router)
router.include_router(schedule_view.router)
router.include_router(decide_view.router)
router.include_router(matters_view.router)
router.include_router(away_view.router)


@router.get("")
def show_overview(
    *,
    request: Request,
    token: str,
    shared: Shared,
    units: Units,
    ranges: Ranges,
    show: Shown = None,
    only: str = "",
    beside: str | None = None,
) -> Response:
    """Show the verdict and the candidates side by side."""
    comparison = comparison_context(
        shared.payload,
        shared.state,
        StudyLinks.for_viewer(token),
        units,
        show=show,
        only=only == "differences",
        beside=beside,
        ranges=ranges,
    )
    links = StudyLinks.for_viewer(token)
    address = site_of(request) + links.overview()
    away = take_away_context(shared.payload, shared.state, links, units, address=address)
    context = {**comparison, **away, **viewer_context(shared, token, "overview")}
    return render(request, "pages/shared_view/overview.html", context)


@router.get("/fit")
def show_fit(
    *,
    request: Request,
    token: str,
    shared: Shared,
    units: Units,
    candidate: str | None = None,
    pose: str | None = None,
    row: int | None = None,
) -> Response:
    """Show the plan and side drawing of a candidate in a pose."""
    fit = fit_context(
        shared.payload,
        shared.state.study,
        StudyLinks.for_viewer(token),
        units,
        candidate=candidate,
        pose=pose,
        row=row,
    )
    context = {**fit, **viewer_context(shared, token, "fit")}
    return render(request, "pages/shared_view/fit.html", context)


@router.get("/charts")
def show_charts(
    *,
    request: Request,
    token: str,
    shared: Shared,
    units: Units,
    strong: str | None = None,
    show: Shown = None,
) -> Response:
    """Show the curves of the candidates over each other."""
    charts = charts_context(
        shared.state.study,
        StudyLinks.for_viewer(token),
        units,
        strong=strong,
        shown=show,
        choose=True,
    )
    context = {**charts, **viewer_context(shared, token, "charts")}
    return render(request, "pages/shared_view/charts.html", context)


@router.get("/charts/data.json")
def chart_figures(
    shared: Shared, units: Units, strong: str | None = None, show: Shown = None
) -> dict[str, Any]:
    """Answer the figures behind the charts."""
    return charts_data(shared.state.study, units, strong=strong, shown=show)
