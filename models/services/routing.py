"""What poses allow and a faster drive buys on the routes: worked out once for a document.

Contents: `faster_drive_of`, `pose_limits_of`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from models.services.evaluating import edited_study
from models.services.records import StudyState
from models.storage import Store
from models.study.canonical import document_hash
from models.study.schema import Study
from models.trade.evaluation import MODEL_VERSION
from models.trade.route_limits import faster_drive, pose_limits

ROUTES = "routes"


def faster_drive_of(
    store: Store, state: StudyState, edits: Mapping[str, Any] | None = None
) -> dict[str, Any]:
    """What a faster drive would make of each route, with the edits where there are any.

    See `models.trade.route_limits.faster_drive`. Raises `StudyRefusedError` where the edited study
    would not hold. The dict is shared with other requests: read it, never change it.
    """
    return _kept(store, state, edits or {}, "faster", faster_drive)


def pose_limits_of(
    store: Store, state: StudyState, edits: Mapping[str, Any] | None = None
) -> dict[str, Any]:
    """What each candidate is held to in each pose, and what that costs, likewise kept.

    See `models.trade.route_limits.pose_limits`.
    """
    return _kept(store, state, edits or {}, "limits", pose_limits)


def _kept(
    store: Store,
    state: StudyState,
    edits: Mapping[str, Any],
    question: str,
    answer: Callable[[Study], dict[str, Any]],
) -> dict[str, Any]:
    asked = (document_hash([state.revision.hash, question, dict(edits)]), MODEL_VERSION, ROUTES)
    found = store.results.get(asked)
    if found is None:
        found = answer(edited_study(store, state, edits) if edits else state.study)
        store.results.put(asked, found)
    return found
