"""Search for arrangements that fit; make one a candidate, keep-outs moved where it needs that."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData

from models.errors import NotFoundError
from models.services import Store, StudyState, add_arrangement, load_study, save_sections
from models.services.arranging import KEEPOUTS, moved_keepouts
from models.study.schema import CORNERS
from models.study.sections import split_sections
from models.trade.arranging import ORIENTATIONS, rearranged
from models.trade.arranging_changes import freeing_changes
from models.units import UnitSystem
from webapp.access import author_name, checked_form, store, unit_system
from webapp.pages.arrange.context import arrange_context, asked_of, shown_after
from webapp.shared.links import StudyLinks
from webapp.templating import render

router = APIRouter(prefix="/studies/{study_id}/arrange")
Opened = Annotated[Store, Depends(store)]


@router.get("")
def show_arrangements(
    *,
    request: Request,
    study_id: str,
    opened: Opened,
    system: Annotated[UnitSystem, Depends(unit_system)],
    candidate: str | None = None,
    largest: Annotated[str | None, Query(alias="range")] = None,
    step: str | None = None,
    rank: str | None = None,
    sides: str | None = None,
) -> Response:
    """Search, and show the best arrangements or the least changes that free the nearest."""
    state = load_study(opened, study_id)
    asked = asked_of(system, candidate or None, largest=largest, step=step, order=rank, sides=sides)
    status, context = arrange_context(state, system, asked)
    return render(request, "pages/arrange/arrange.html", context, status=status)


@router.post("")
def take_arrangement(
    study_id: str,
    opened: Opened,
    author: Annotated[str, Depends(author_name)],
    form: Annotated[FormData, Depends(checked_form)],
) -> Response:
    """Make an arrangement a candidate, or only move the keep-outs that stand in the way."""
    number = str(form.get("base_revision", ""))
    known = number.isascii() and number.isdigit() and len(number) < 10
    state = load_study(opened, study_id, int(number) if known else None)
    key = str(form.get("candidate", ""))
    corners = corners_from(form)
    moves = moves_for(state, key, corners) if form.get("move") else {}
    once = str(form.get("once", ""))[:200] or None
    new_key = None
    if corners:
        _, new_key = add_arrangement(
            opened,
            study_id,
            key,
            corners,
            base_revision=state.revision.number,
            author=author,
            moves=moves,
            once=once,
        )
    elif moves:
        typed = split_sections(state.document)[KEEPOUTS]
        save_sections(
            opened,
            study_id,
            base_revision=state.revision.number,
            edits={KEEPOUTS: moved_keepouts(typed, state.study.robot.keepouts, moves)},
            author=author,
            note=f"Moved {', '.join(moves)}"[:200],
            once=once,
        )
    show = shown_after(load_study(opened, study_id), key, new_key)
    return RedirectResponse(StudyLinks.for_study(study_id).overview(show=show), status_code=303)


def corners_from(form: FormData) -> dict[str, dict[str, Any]]:
    """Return the arrangement that a form names; empty where it names none."""
    corners: dict[str, dict[str, Any]] = {}
    for name in CORNERS:
        words = str(form.get(name, "")).split()
        if not words:
            continue
        try:
            orientation, along, across = words
            inset = [float(along), float(across)]
        except ValueError:
            raise NotFoundError("The form names no arrangement.") from None
        if orientation not in ORIENTATIONS:
            raise NotFoundError("The form names no arrangement.")
        corners[name] = {"orientation": orientation, "inset_m": inset}
    if corners and len(corners) < len(CORNERS):
        raise NotFoundError("The form names no whole arrangement.")
    return corners


def moves_for(
    state: StudyState, key: str, corners: dict[str, dict[str, Any]]
) -> dict[str, tuple[float, float]]:
    """Return the least moves of keep-outs that free the arrangement, by name [m]."""
    candidate = state.study.candidate(key)
    if corners:
        candidate = rearranged(candidate, corners)
    changes = freeing_changes(state.study, candidate).of_keepouts
    return {
        change["keepout"]: (change["move"]["by_m"][0], change["move"]["by_m"][1])
        for change in changes
        if change["move"] is not None
    }
