"""Show the routes over the field to whoever has a link."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from models.services import Store, faster_drive_of, pose_limits_of
from models.trade.evaluation import MODEL_VERSION
from webapp.access import store
from webapp.pages.shared_view.context import viewer_context
from webapp.pages.shared_view.opening import Ranges, Shared, Units
from webapp.shared.links import StudyLinks
from webapp.shared.routes.context import picked_route, routes_context
from webapp.shared.routes.limits import limits_context
from webapp.templating import render

router = APIRouter()


@router.get("/routes")
def show_routes(
    *,
    request: Request,
    opened: Annotated[Store, Depends(store)],
    token: str,
    shared: Shared,
    units: Units,
    ranges: Ranges,
    route: str | None = None,
) -> Response:
    """Show one route on the field with the time of every candidate."""
    study = shared.state.study
    of_this_model = shared.model_version == MODEL_VERSION
    routes = routes_context(
        shared.payload,
        study,
        StudyLinks.for_viewer(token),
        units,
        faster=faster_drive_of(opened, shared.state) if of_this_model else {},
        only={picked_route(study, route)},
        ranges=ranges,
    )
    limits = limits_context(pose_limits_of(opened, shared.state), study, units)
    context = {**routes, **limits, **viewer_context(shared, token, "routes")}
    return render(request, "pages/shared_view/routes.html", context)
