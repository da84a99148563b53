"""Limits and gains on routes: as the trade says them, worked out once for equal questions."""

from __future__ import annotations

from typing import Any

import pytest

from models.errors import StudyRefusedError
from models.services import Store, StudyState, faster_drive_of, pose_limits_of, routing
from models.trade.route_limits import faster_drive, pose_limits

ROUTE = {
    "name": "there",
    "kind": "cycle",
    "start": {"at_m": [0, 0], "heading_deg": 0},
    "legs": [{"to_m": [3, 1], "action_s": 0.5}],
}


def test_the_answers_are_those_of_the_trade(store: Store, state: StudyState) -> None:
    assert faster_drive_of(store, state) == faster_drive(state.study)
    assert pose_limits_of(store, state) == pose_limits(state.study)


def test_edits_count_and_the_saved_study_stays_as_it_is(store: Store, state: StudyState) -> None:
    before = faster_drive_of(store, state)
    edited = faster_drive_of(store, state, {"routes": [ROUTE]})
    assert all(set(found) == {"there"} for found in edited.values())
    assert faster_drive_of(store, state) == before
    margin = {"yardsticks": {**state.document["yardsticks"], "tip_margin": 0.5}}
    key = state.study.candidates[0].key
    half = pose_limits_of(store, state, margin)[key][0]["brake_mps2"]
    whole = pose_limits_of(store, state)[key][0]["brake_mps2"]
    assert half == pytest.approx(whole / 2, abs=0.1)


def test_a_question_is_worked_out_once(
    store: Store, state: StudyState, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[Any] = []

    def count(study: Any) -> dict[str, Any]:
        asked.append(study)
        return {}

    monkeypatch.setattr(routing, "pose_limits", count)
    for edits in ({}, {}, {"routes": [ROUTE]}, {"routes": [ROUTE]}, None):
        pose_limits_of(store, state, edits)
    assert len(asked) == 2


def test_what_does_not_hold_is_refused(store: Store, state: StudyState) -> None:
    with pytest.raises(StudyRefusedError):
        pose_limits_of(store, state, {"routes": [{"name": "nowhere"}]})
