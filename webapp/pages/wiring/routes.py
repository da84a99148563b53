"""Show whether breakers hold, what cables stand, and whether there are slots enough."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import Response

from models.services import Store, load_study
from models.services.power import power_of, wiring_of_state
from models.units import UnitSystem
from webapp.access import store, unit_system
from webapp.pages.wiring.context import wiring_context
from webapp.shared.links import StudyLinks
from webapp.templating import render

router = APIRouter()


@router.get("/studies/{study_id}/wiring")
def show_wiring(
    *,
    request: Request,
    study_id: str,
    opened: Annotated[Store, Depends(store)],
    system: Annotated[UnitSystem, Depends(unit_system)],
    candidate: str | None = None,
    show: Annotated[list[str] | None, Query()] = None,
) -> Response:
    """Show protection, cables and slots on the battery in use."""
    state = load_study(opened, study_id)
    links = StudyLinks.of_state(state)
    context = wiring_context(
        state.study,
        power_of(opened, state),
        wiring_of_state(opened, state),
        links,
        system,
        candidate=candidate or None,
        shown=show,
    )
    return render(
        request,
        "pages/wiring/wiring.html",
        {"state": state, "links": links, "nav": "wiring", **context},
    )
