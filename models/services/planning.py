"""The plan of a study: worked out once for what it is made of and a version of the model.

Contents: `plan_of_state`, `plan_figures_of`, `plan_preview`, `what_if_of`, `what_helps_of`,
`tasks_and_calendar`.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from typing import Any

from models.services.evaluating import edited_study
from models.services.records import StudyState
from models.storage import Store
from models.study.canonical import document_hash
from models.study.schema import Study
from models.trade.evaluation import MODEL_VERSION
from models.trade.plan_changes import what_helps, what_if
from models.trade.readiness import plan_figures, plan_of

PLAN = "plan"
OF_A_PLAN = ("key", "name", "baseline", "tasks", "purchases")
"""What of a candidate its plan is made of: the rest can change and the plan stays."""


def plan_of_state(store: Store, state: StudyState) -> dict[str, Any]:
    """The plan of a saved state, from memory or worked out; see `models.trade.readiness`.

    The dict is shared with other requests: read it, never change it.
    """
    return _plan(store, state.study, None)


def plan_figures_of(store: Store, state: StudyState) -> dict[str, dict[str, Any]]:
    """The figures of the catalogue that come from the plan, by candidate and metric."""
    found: dict[str, dict[str, Any]] = _kept(
        store, state.study, ["figures"], lambda: {"figures": plan_figures(state.study)}
    )["figures"]
    return found


def plan_preview(
    store: Store, state: StudyState, edits: Mapping[str, Any], key: str | None = None
) -> dict[str, Any]:
    """The plan with some sections replaced, of all candidates or of one; nothing is stored.

    Raises `StudyRefusedError` where the edited study would not hold.
    """
    return _plan(store, edited_study(store, state, edits), key)


def what_if_of(
    store: Store, state: StudyState, key: str, *changes: Mapping[str, Any]
) -> dict[str, Any]:
    """A candidate's chance before and after changes; see `models.trade.plan_changes`.

    Raises `StudyRefusedError` where a change cannot be made.
    """
    made: dict[str, Any] = _kept(
        store, state.study, ["what if", key, *map(dict, changes)],
        lambda: what_if(state.study, key, *changes),
    )  # fmt: skip
    return made


def what_helps_of(store: Store, state: StudyState, key: str) -> list[dict[str, Any]]:
    """The single changes that raise a candidate's chance; see `models.trade.plan_changes`."""
    found: list[dict[str, Any]] = _kept(
        store, state.study, ["what helps", key],
        lambda: {"helps": what_helps(state.study, key)},
    )["helps"]  # fmt: skip
    return found


def _plan(store: Store, study: Study, key: str | None) -> dict[str, Any]:
    keys = None if key is None else [key]
    return _kept(store, study, [PLAN, key], lambda: plan_of(study, keys=keys))


def _kept(
    store: Store, study: Study, question: list[Any], answer: Callable[[], dict[str, Any]]
) -> dict[str, Any]:
    asked = (document_hash([tasks_and_calendar(study), question]), MODEL_VERSION, PLAN)
    found = store.results.get(asked)
    if found is None:
        found = answer()
        store.results.put(asked, found)
    return found


def tasks_and_calendar(study: Study) -> dict[str, Any]:
    """Return what the plan of a study is made of, as plain values."""
    return {
        "name": study.name,
        "schedule": _plain(study.schedule),
        "candidates": [
            {name: _plain(getattr(one, name)) for name in OF_A_PLAN} for one in study.candidates
        ],
    }


def _plain(value: Any) -> Any:
    """Return a part of a study as JSON has it; an estimate counts by its value alone."""
    if hasattr(value, "model_dump"):
        return json.loads(json.dumps(value.model_dump(), default=str))
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    return value
