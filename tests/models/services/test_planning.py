"""Plans are worked out once for what they are made of."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest

from models.errors import StudyRefusedError
from models.services import Store, StudyState, create_study, planning, save_sections
from models.services.planning import plan_of_state, plan_preview, what_helps_of, what_if_of
from models.study.sections import candidate_section

QUICK = candidate_section("quick")
TASKS = [
    {"key": "frame", "name": "Frame", "crew": "workshop", "hours": [2, 4, 9], "needs": ["tube"]},
    {"key": "wire", "name": "Wire", "crew": "wiring", "hours": [2, 3, 6], "after": ["frame"]},
]
SCHEDULE = {
    "start": "2031-03-03",
    "ready_by": "2031-03-14",
    "meetings": [{"weekday": "tue", "start": "18:00", "hours": 3}],
    "crews": {"workshop": 1, "wiring": 1},
}


@pytest.fixture
def state(store: Store, document: dict[str, Any]) -> StudyState:
    document["schedule"] = SCHEDULE
    document["candidates"][1]["tasks"] = TASKS
    document["candidates"][1]["purchases"] = [{"name": "tube", "lead_days": [1, 2, 6]}]
    return create_study(store, document, author="Ines", note="Begun")


def quick(payload: dict[str, Any]) -> dict[str, Any]:
    return next(one for one in payload["candidates"] if one["key"] == "quick")


def test_a_plan_is_worked_out_once(
    store: Store, state: StudyState, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = plan_of_state(store, state)
    monkeypatch.setattr(planning, "plan_of", None)
    assert plan_of_state(store, state) is first


def test_a_wheel_does_not_move_the_plan_and_a_lead_time_does(
    store: Store, state: StudyState
) -> None:
    first = plan_of_state(store, state)
    other = deepcopy(state.document["candidates"][1])
    other["wheels"]["diameter_m"] = 0.15
    saved = save_sections(
        store,
        state.study_id,
        base_revision=1,
        edits={QUICK: other},
        author="Ines",
        note="",
    )
    assert plan_of_state(store, saved.state) is first
    other["purchases"][0]["lead_days"] = [8, 9, 9]
    saved = save_sections(
        store,
        state.study_id,
        base_revision=2,
        edits={QUICK: other},
        author="Ines",
        note="",
    )
    second = plan_of_state(store, saved.state)
    assert quick(second)["ready_probability"] < quick(first)["ready_probability"]


def test_a_preview_stores_nothing_and_is_the_plan_that_would_be_saved(
    store: Store, state: StudyState
) -> None:
    edited = deepcopy(state.document["candidates"][1])
    edited["tasks"][0]["hours"] = [1, 1, 1]
    edits = {QUICK: edited}
    payload = plan_preview(store, state, edits, "quick")
    assert [one["key"] for one in payload["candidates"]] == ["quick"]
    saved = save_sections(
        store, state.study_id, base_revision=1, edits=edits, author="Ines", note=""
    )
    assert quick(payload) == quick(plan_of_state(store, saved.state))


def test_a_preview_of_a_loop_is_refused(store: Store, state: StudyState) -> None:
    edited = deepcopy(state.document["candidates"][1])
    edited["tasks"][0]["after"] = ["wire"]
    with pytest.raises(StudyRefusedError, match="wait for each other"):
        plan_preview(store, state, {QUICK: edited}, "quick")


def test_questions_are_answered_once(
    store: Store, state: StudyState, monkeypatch: pytest.MonkeyPatch
) -> None:
    change = {"kind": "meeting", "weekday": "sat", "start": "10:00", "hours": 5}
    found, helps = what_if_of(store, state, "quick", change), what_helps_of(store, state, "quick")
    assert found["before"] == quick(plan_of_state(store, state))["ready_probability"]
    assert helps
    monkeypatch.setattr(planning, "what_if", None)
    monkeypatch.setattr(planning, "what_helps", None)
    assert what_if_of(store, state, "quick", change) is found
    assert what_helps_of(store, state, "quick") is helps
