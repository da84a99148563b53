"""What the page of revisions shows."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypedDict

from models.errors import NotFoundError
from models.services import (
    Change,
    RevisionInfo,
    Store,
    StudyState,
    changes_between,
    list_revisions,
    load_study,
)
from models.units import UnitSystem


class Compared(TypedDict):
    """Two revisions and what changed from the earlier to the later, in words."""

    earlier: int
    later: int
    changes: Sequence[Change]


class HistoryContext(TypedDict):
    """The page of revisions."""

    nav: str
    state: StudyState
    revisions: Sequence[RevisionInfo]
    """Newest first."""
    compared: Compared | None
    restore: Compared | None
    """A restore that waits for its confirmation: what it would change."""


def history_context(
    store: Store,
    study_id: str,
    units: UnitSystem,
    *,
    earlier: int | None = None,
    later: int | None = None,
    restore: int | None = None,
) -> HistoryContext:
    """Return the revisions of a study, two compared, the newest two where none are named."""
    state = load_study(store, study_id)
    revisions = list_revisions(store, study_id)
    latest = state.latest_number
    known = {info.number for info in revisions}
    for number in (earlier, later, restore):
        if number is not None and number not in known:
            raise NotFoundError(f"This study has no revision {number}.")
    if later is None:
        later = latest
    if earlier is None:
        earlier = max((number for number in known if number < later), default=later)
    earlier, later = min(earlier, later), max(earlier, later)
    return {
        "nav": "history",
        "state": state,
        "revisions": revisions,
        "compared": _compared(store, study_id, units, earlier, later) if earlier != later else None,
        "restore": _compared(store, study_id, units, latest, restore) if restore else None,
    }


def _compared(store: Store, study_id: str, units: UnitSystem, earlier: int, later: int) -> Compared:
    changes = changes_between(store, study_id, earlier, later, units)
    return {"earlier": earlier, "later": later, "changes": changes}
