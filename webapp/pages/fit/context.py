"""What the fit page shows: one candidate in one pose, its gaps, and what is moved on trial."""

from __future__ import annotations

from typing import Any

from models.services import StudyState
from webapp.pages.fit.editing import (
    Asked,
    Pending,
    editing_context,
    key_shown,
    pending_links,
    pending_of,
)
from webapp.shared.editing import ConflictView, Posted, Visit
from webapp.shared.fit.context import fit_context
from webapp.shared.links import StudyLinks


def page_context(
    visit: Visit,
    state: StudyState,
    asked: Asked,
    *,
    candidate: str | None,
    pose: str | None,
    row: int | None = None,
    posted: Posted | None = None,
    conflict: ConflictView | None = None,
    pending: Pending | None = None,
) -> dict[str, Any]:
    """Return the context of fit.html and live.html."""
    key = key_shown(state.study, candidate)
    pending = pending or pending_of(visit.store, state, key, asked, visit.units)
    links = pending_links(state, pending, key)
    fit = fit_context(
        pending.payload, pending.study, links, visit.units, candidate=key, pose=pose, row=row
    )
    fit["fit_editing"] = editing_context(
        visit, state, pending, asked, key=key, pose=fit["fit_pose"], posted=posted
    )
    return {
        "state": state,
        "links": StudyLinks.of_state(state),
        "nav": "fit",
        "conflict": conflict,
        **fit,
    }


def row_number(text: str | None) -> int | None:
    """Return the row that an address picks out; None where it names none.

    >>> row_number("3"), row_number("x"), row_number(None)
    (3, None, None)
    """
    return int(text) if text is not None and text.isascii() and text.isdigit() else None
