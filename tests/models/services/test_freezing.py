"""What ballots and decisions keep of a study."""

from __future__ import annotations

import json

import pytest

from models.errors import NotFoundError, StudyRefusedError
from models.seed import example_document
from models.services import (
    Store,
    StudyState,
    call_for_ballots,
    can_weigh,
    cast_ballot,
    close_ballots,
    create_study,
    decision_of_state,
    decision_payload,
    record_decision,
    whole_evaluation_of,
)
from models.services.planning import plan_of_state


@pytest.fixture
def example(store: Store) -> StudyState:
    return create_study(store, example_document(), author="Ines", note="")


def test_ballots_freeze_criteria_candidates_and_failed_gates(
    store: Store, example: StudyState
) -> None:
    found, token = call_for_ballots(store, example.study_id, title="Which?", author="Ines")
    assert len(token) >= 20
    assert found.revision == 1
    assert example.study.decision is not None
    asked = [one.metric for one in example.study.decision.criteria]
    assert [item["metric"] for item in found.criteria] == asked
    figures = {one["key"]: one for one in whole_evaluation_of(store, example)["candidates"]}
    for one in found.candidates:
        own = figures[one["key"]]
        assert one["values"] == {metric: own["metrics"][metric] for metric in asked}
        assert one["baseline"] == own["baseline"]
        assert ("Fits around the mechanisms" in one["fails"]) == (own["metrics"]["fits"] is False)
    assert any(one["fails"] for one in found.candidates)
    money = next(item for item in found.criteria if item["metric"] == "cost")
    assert example.study.schedule is not None
    assert money["currency"] == example.study.schedule.currency


def test_without_criteria_there_is_nothing_to_vote_on(store: Store) -> None:
    document = example_document()
    document.pop("decision")
    bare = create_study(store, document, author="", note="")
    assert not can_weigh(bare)
    with pytest.raises(StudyRefusedError):
        call_for_ballots(store, bare.study_id, title="Which?", author="")


def test_a_payload_holds_every_figure_of_the_day(store: Store, example: StudyState) -> None:
    found, _ = call_for_ballots(store, example.study_id, title="Which?", author="")
    weights = {item["metric"]: 50.0 for item in found.criteria}
    cast_ballot(
        store, found.id, name="Mara", weights=weights, preference="tank", reason="We know it."
    )
    close_ballots(store, example.study_id, found.id, author="Ines")
    words = {"choice": "steered", "reasons": "It is quicker."}
    payload = decision_payload(store, example, words, found.id)
    whole = whole_evaluation_of(store, example)
    assert payload["words"] == words
    assert payload["study"]["hash"] == example.revision.hash
    for frozen, one in zip(payload["candidates"], whole["candidates"], strict=True):
        assert (frozen["metrics"], frozen["ranges"]) == (one["metrics"], one["ranges"])
    plain = decision_of_state(store, example)
    for name in ("gates", "criteria", "order", "leader", "flips"):
        assert payload["decision"][name] == plain[name]
    assert payload["decision"]["ballots"]["voters"][0]["name"] == "Mara"
    assert payload["ballots"]["weighed"] is True
    assert payload["ballots"]["voters"][0]["reason"] == "We know it."
    chances = {one["key"]: one["ready_probability"] for one in
               plan_of_state(store, example)["candidates"]}  # fmt: skip
    assert {one["key"]: one["ready_probability"] for one in
            payload["schedule"]["candidates"]} == chances  # fmt: skip
    assert payload["inputs"] and set(payload["remarks"]) == {"si", "inch-pound"}
    json.dumps(payload, allow_nan=False)
    info = record_decision(
        store, example.study_id, revision=1, choice="steered", payload=payload, author="Ines"
    )
    assert len(info.hash) == 64


def test_ballots_of_another_study_cannot_count(store: Store, example: StudyState) -> None:
    other = create_study(store, example_document(), author="", note="")
    found, _ = call_for_ballots(store, other.study_id, title="Which?", author="")
    with pytest.raises(NotFoundError):
        decision_payload(store, example, {"choice": "tank"}, found.id)
