"""Show who moves whom, how long a push lasts, and what a dead part leaves."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import Response

from models.services import Store, load_study
from models.units import UnitSystem
from webapp.access import store, unit_system
from webapp.shared.links import StudyLinks
from webapp.shared.shoving.context import shoving_context
from webapp.templating import render

router = APIRouter()


@router.get("/studies/{study_id}/shoving")
def show_shoving(
    *,
    request: Request,
    study_id: str,
    opened: Annotated[Store, Depends(store)],
    system: Annotated[UnitSystem, Depends(unit_system)],
    mass: str | None = None,
    grip: str | None = None,
    push: str | None = None,
    stuck: str | None = None,
    show: Annotated[list[str] | None, Query()] = None,
) -> Response:
    """Show a shoving match, the push that the drive lasts, and dead parts."""
    state = load_study(opened, study_id)
    links = StudyLinks.of_state(state)
    context = shoving_context(
        state.study, links, system, mass=mass, grip=grip, push=push, stuck=stuck, shown=show
    )
    return render(
        request,
        "pages/shoving/shoving.html",
        {"state": state, "links": links, "nav": "shoving", **context},
        status=422 if context["faulty"] else 200,
    )
