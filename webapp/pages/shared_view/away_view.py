"""Give a viewer the picture that a chat shows, and the study as one page to keep."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from models.services import Store, decision_of_state
from models.services.planning import plan_of_state
from models.units import UnitSystem
from webapp.access import store
from webapp.pages.shared_view.opening import Shared, Units
from webapp.shared.away.answers import download, picture_answer
from webapp.shared.away.study_file import Told, study_file
from webapp.shared.links import StudyLinks
from webapp.templating import site_of

router = APIRouter()


@router.get("/picture.png")
def show_picture(shared: Shared) -> Response:
    """Show the picture of the study behind a link, in SI units since a chat has chosen none."""
    return picture_answer(shared.payload, shared.state, UnitSystem.SI, abroad=True)


@router.get("/study.html")
def keep_study(
    *,
    request: Request,
    token: str,
    shared: Shared,
    opened: Annotated[Store, Depends(store)],
    units: Units,
) -> Response:
    """Give out the study behind a link as one page that needs no server."""
    told = Told(
        state=shared.state,
        payload=shared.payload,
        plan=plan_of_state(opened, shared.state),
        decision=decision_of_state(opened, shared.state),
        made=datetime.now(UTC),
        address=site_of(request) + StudyLinks.for_viewer(token).overview(),
    )
    page = study_file(told, units)
    return download(page.encode(), "text/html; charset=utf-8", shared.state.study.name, "html")
