"""What the fit page shows: one candidate in one pose, and its gaps."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from models.services import StudyState
from models.units import UnitSystem
from webapp.shared.fit.context import fit_context
from webapp.shared.links import StudyLinks


def page_context(
    state: StudyState,
    payload: Mapping[str, Any],
    system: UnitSystem,
    *,
    candidate: str | None,
    pose: str | None,
    row: int | None,
) -> dict[str, Any]:
    """Return the context of fit.html."""
    links = StudyLinks.of_state(state)
    fit = fit_context(payload, state.study, links, system, candidate=candidate, pose=pose, row=row)
    return {"state": state, "links": links, "nav": "fit", **fit}


def row_number(text: str | None) -> int | None:
    """Return the row that an address picks out; None where it names none.

    >>> row_number("3"), row_number("x"), row_number(None)
    (3, None, None)
    """
    return int(text) if text is not None and text.isascii() and text.isdigit() else None
