"""Try ratios, wheels and current limits of a candidate; make a pick a candidate of its own."""

from __future__ import annotations

import math
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData

from models.errors import NotFoundError
from models.services import Store, add_geared, load_study
from models.study.schema import Candidate, Study
from models.trade.exploring import Design, design_of, offers_of
from models.trade.exploring_words import ratio_text
from models.units import UnitSystem
from webapp.access import author_name, checked_form, store, unit_system
from webapp.pages.gearing.asked import Typed
from webapp.pages.gearing.context import gearing_context
from webapp.shared.links import StudyLinks
from webapp.templating import render

router = APIRouter(prefix="/studies/{study_id}/gearing")
Opened = Annotated[Store, Depends(store)]


@router.get("")
def show_gearing(
    *,
    request: Request,
    study_id: str,
    opened: Opened,
    system: Annotated[UnitSystem, Depends(unit_system)],
    typed: Annotated[Typed, Depends()],
) -> Response:
    """Show the map, the tie, what can be bought, the pick against the chosen, the limits."""
    state = load_study(opened, study_id)
    status, context = gearing_context(state, system, typed)
    return render(request, "pages/gearing/gearing.html", context, status=status)


@router.post("")
def take_design(
    study_id: str,
    opened: Opened,
    author: Annotated[str, Depends(author_name)],
    form: Annotated[FormData, Depends(checked_form)],
) -> Response:
    """Make the pick a candidate and open it."""
    number = str(form.get("base_revision", ""))
    known = number.isascii() and number.isdigit() and len(number) < 10
    state = load_study(opened, study_id, int(number) if known else None)
    candidate = state.study.candidate(str(form.get("candidate", "")))
    design = design_from(form)
    _, key = add_geared(
        opened,
        study_id,
        candidate.key,
        changes_of(state.study, candidate, design),
        name=ratio_text(design.ratio).removesuffix(":1"),
        base_revision=state.revision.number,
        author=author,
        once=str(form.get("once", ""))[:200] or None,
    )
    return RedirectResponse(StudyLinks.for_study(study_id).candidate(key), status_code=303)


def design_from(form: FormData) -> Design:
    """Return the design that a form names."""
    try:
        numbers = [float(str(form[name])) for name in ("ratio", "diameter", "stator", "supply")]
    except (KeyError, ValueError):
        raise NotFoundError("The form names no design.") from None
    if any(math.isnan(number) for number in numbers) or not all(map(math.isfinite, numbers[:2])):
        raise NotFoundError("The form names no design.")
    return Design(*numbers)


def changes_of(study: Study, candidate: Candidate, design: Design) -> dict[str, Any]:
    """Return what differs from the candidate as a study file writes it.

    A ratio on offer is written by its tooth counts, so that what is to be bought can be read.
    """
    own = design_of(candidate)
    changes: dict[str, Any] = {}
    if design.ratio != own.ratio:
        offer = next(
            (one for one in offers_of(study, candidate) if one.ratio == design.ratio), None
        )
        changes["ratio"] = offer.teeth if offer is not None and offer.teeth else design.ratio
    if design.diameter_m != own.diameter_m:
        changes["diameter"] = design.diameter_m
    for name, limit, before in (
        ("stator", design.stator_a, own.stator_a),
        ("supply", design.supply_a, own.supply_a),
    ):
        if limit != before:
            changes[name] = limit if math.isfinite(limit) else None
    return changes
