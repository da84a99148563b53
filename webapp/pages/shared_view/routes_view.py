"""Show the routes over the field to whoever has a link."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response

from webapp.pages.shared_view.context import viewer_context
from webapp.pages.shared_view.opening import Shared, Units
from webapp.shared.links import StudyLinks
from webapp.shared.routes.context import picked_route, routes_context
from webapp.shared.routes.limits import limits_context
from webapp.templating import render

router = APIRouter()


@router.get("/routes")
def show_routes(
    request: Request, token: str, shared: Shared, units: Units, route: str | None = None
) -> Response:
    """Show one route on the field with the time of every candidate."""
    study = shared.state.study
    routes = routes_context(
        shared.payload,
        study,
        StudyLinks.for_viewer(token),
        units,
        only={picked_route(study, route)},
    )
    context = {**routes, **limits_context(study, units), **viewer_context(shared, token, "routes")}
    return render(request, "pages/shared_view/routes.html", context)
