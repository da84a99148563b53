"""Show how the candidates turn in place, and what they do in every direction."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import Response

from models.services import Store, load_study
from models.units import UnitSystem
from webapp.access import store, unit_system
from webapp.shared.links import StudyLinks
from webapp.shared.turning.context import turning_context
from webapp.templating import render

router = APIRouter()


@router.get("/studies/{study_id}/turning")
def show_turning(
    *,
    request: Request,
    study_id: str,
    opened: Annotated[Store, Depends(store)],
    system: Annotated[UnitSystem, Depends(unit_system)],
    angle: str | None = None,
    show: Annotated[list[str] | None, Query()] = None,
) -> Response:
    """Show turns of an angle over time, and speed and push against the heading."""
    state = load_study(opened, study_id)
    links = StudyLinks.of_state(state)
    context = turning_context(state.study, links, system, angle=angle, shown=show)
    return render(
        request,
        "pages/turning/turning.html",
        {"state": state, "links": links, "nav": "turning", **context},
        status=422 if context["faulty"] else 200,
    )
