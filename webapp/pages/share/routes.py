"""Make, list and revoke the links by which others see a study."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData

from models.errors import Fault
from models.services import (
    LinkInfo,
    Store,
    create_link,
    list_links,
    load_study,
    open_link,
    revoke_link,
)
from models.units import UnitSystem
from webapp.access import author_name, checked_form, clean_name, store, unit_system
from webapp.pages.share.context import EXPIRIES, share_context
from webapp.shared.away.context import take_away_context
from webapp.shared.just_made import JustMade
from webapp.shared.links import StudyLinks
from webapp.templating import render, site_of

router = APIRouter(prefix="/studies/{study_id}/share")
Opened = Annotated[Store, Depends(store)]
Form = Annotated[FormData, Depends(checked_form)]

PAGE = "pages/share/share.html"
LONGEST_LABEL = 60


def just_made(request: Request) -> JustMade[LinkInfo]:
    """Return the memory of links just made, one a running server."""
    state = request.app.state
    if not hasattr(state, "links_just_made"):
        state.links_just_made = JustMade()
    made: JustMade[LinkInfo] = state.links_just_made
    return made


@router.get("")
def show_links(request: Request, study_id: str, store: Opened) -> Response:
    """Show all links of a study and the form for another."""
    return render(request, PAGE, {**share_context(store, study_id)})


@router.post("/new")
def make_link(
    *,
    request: Request,
    study_id: str,
    store: Opened,
    author: Annotated[str, Depends(author_name)],
    made: Annotated[JustMade[LinkInfo], Depends(just_made)],
    units: Annotated[UnitSystem, Depends(unit_system)],
    form: Form,
) -> Response:
    """Make a link and show its address, which is never shown again."""
    typed = {name: str(form.get(name, "")).strip() for name in ("kind", "label", "expires")}
    faults = form_faults(typed)
    if faults:
        context = share_context(store, study_id, faults=faults, typed=typed)
        return render(request, PAGE, {**context}, status=422)
    once = str(form.get("once", ""))
    with made.lock:
        link, token = made.find(study_id, once) or _create(store, study_id, typed, author)
        made.remember(study_id, once, link, token)
    links = StudyLinks.for_viewer(token)
    address = site_of(request) + links.overview()
    shown = open_link(store, token)
    away = take_away_context(shown.payload, shown.state, links, units, address=address, opened=True)
    context = share_context(store, study_id, new_address=address, new_link=link, away=away)
    return render(request, PAGE, {**context, **away})


def form_faults(typed: dict[str, str]) -> list[Fault]:
    """Return what keeps a form for a new link from being used."""
    faults = []
    if typed["kind"] not in {"frozen", "live"}:
        faults.append(Fault("kind", "Choose what the link shows: this revision, or the newest."))
    if typed["expires"] not in EXPIRIES:
        faults.append(Fault("expires", "Choose when the link closes."))
    if len(typed["label"]) > LONGEST_LABEL:
        given = len(typed["label"])
        faults.append(
            Fault("label", f"A label has at most {LONGEST_LABEL} characters; this has {given}.")
        )
    return faults


def _create(
    store: Store, study_id: str, typed: dict[str, str], author: str
) -> tuple[LinkInfo, str]:
    state = load_study(store, study_id)
    after = EXPIRIES[typed["expires"]][1]
    return create_link(
        store,
        study_id,
        kind="frozen" if typed["kind"] == "frozen" else "live",
        revision=state.revision.number if typed["kind"] == "frozen" else None,
        label=clean_name(typed["label"]),
        author=author,
        expires_at=datetime.now(UTC) + after if after is not None else None,
    )


@router.post("/{link_id}/revoke")
def revoke(study_id: str, link_id: str, store: Opened, form: Form) -> Response:
    """Close a link for good."""
    by_id = {str(link.id): link for link in list_links(store, study_id)}
    if link_id in by_id:
        revoke_link(store, by_id[link_id].id)
    return RedirectResponse(StudyLinks.for_study(study_id).share(), status_code=303)
