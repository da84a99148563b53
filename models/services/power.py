"""Matches on a battery: worked out once for a document, a battery and a version of the model.

Contents: `power_of`, `wiring_of_state`.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from models.services.records import StudyState
from models.storage import Store
from models.study.canonical import document_hash
from models.trade.battery import battery_in_use, battery_named
from models.trade.evaluation import MODEL_VERSION
from models.trade.match import match_of
from models.trade.wiring import wiring_of

POWER = "power"


def power_of(store: Store, state: StudyState, battery: str | None = None) -> dict[str, Any]:
    """Match, sprint and push of every candidate, from memory or worked out.

    See `models.trade.match` for what it holds. `battery` is the name of the one to show, the one
    in use where left out; raises `NotFoundError` where the study has none of that name.

    The dict is shared with other requests: read it, never change it.
    """
    study = state.study
    shown = battery_in_use(study) if battery is None else battery_named(study, battery)
    return _kept(store, state, ["match", shown.name], lambda: match_of(study, shown.name))


def wiring_of_state(store: Store, state: StudyState) -> dict[str, Any]:
    """Protection and wiring on the battery in use; see `models.trade.wiring`."""
    power = power_of(store, state)
    return _kept(store, state, ["wiring"], lambda: wiring_of(state.study, power))


def _kept(
    store: Store, state: StudyState, question: list[str], answer: Callable[[], dict[str, Any]]
) -> dict[str, Any]:
    asked = (document_hash([state.revision.hash, question]), MODEL_VERSION, POWER)
    found = store.results.get(asked)
    if found is None:
        found = answer()
        store.results.put(asked, found)
    return found
