"""Decisions of a saved study: worked out once, from the figures that its pages show."""

from __future__ import annotations

import copy
from datetime import UTC, datetime

import pytest

from models.errors import NotFoundError, StudyRefusedError
from models.seed import example_document
from models.services import (
    Ballot,
    Store,
    StudyState,
    create_study,
    decision_of_state,
    matters_of_state,
    typed_decision_of,
    whole_evaluation_of,
)
from models.trade import choosing


@pytest.fixture
def example(store: Store) -> StudyState:
    return create_study(store, example_document(), author="", note="")


def test_a_decision_rests_on_the_figures_of_the_pages(store: Store, example: StudyState) -> None:
    payload = whole_evaluation_of(store, example)
    found = decision_of_state(store, example)
    metrics = {one["key"]: one["metrics"] for one in payload["candidates"]}
    for one in found["candidates"]:
        for gate in one["gates"]:
            assert gate["value"] == metrics[one["key"]][gate["metric"]]
    assert found["leader"] in metrics
    assert found["draws"] == payload["draws"]


def test_it_is_worked_out_once(
    store: Store, example: StudyState, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = decision_of_state(store, example)

    def never(*args: object, **options: object) -> None:
        raise AssertionError

    monkeypatch.setattr("models.services.whole.drawn_figures", never)
    monkeypatch.setattr(choosing, "decide", never)
    assert decision_of_state(store, example) is first
    with pytest.raises(AssertionError):
        decision_of_state(store, example, [ballot("Mara")])


def ballot(name: str) -> Ballot:
    return Ballot(
        name=name,
        version=1,
        weights={"push_force_n": 100.0},
        preference="tank",
        reason="",
        cast_at=datetime.now(UTC),
    )


def test_ballots_are_weighed_in(store: Store, example: StudyState) -> None:
    found = decision_of_state(store, example, [ballot("Mara"), ballot("Lee")])
    assert [one["name"] for one in found["ballots"]["voters"]] == ["Mara", "Lee"]
    assert decision_of_state(store, example)["ballots"] is None


def test_what_matters_is_asked_of_a_candidate_that_is_there(
    store: Store, example: StudyState
) -> None:
    rows = matters_of_state(store, example, "sprint_stop_time_s", "steered")["rows"]
    assert rows[0]["swing"] >= rows[-1]["swing"] > 0.0
    with pytest.raises(NotFoundError):
        matters_of_state(store, example, "sprint_stop_time_s", "boat")


def test_other_weights_are_weighed_without_being_stored(store: Store, example: StudyState) -> None:
    before = decision_of_state(store, example)
    section = copy.deepcopy(example.document["decision"])
    assert typed_decision_of(store, example, section)["order"] == before["order"]
    for one in section["criteria"]:
        one["weight"] = 1 if one["metric"] == "cost" else 0
    found = typed_decision_of(store, example, section)
    assert found["leader"] == "tank"
    assert decision_of_state(store, example) is before
    section["criteria"][0]["worst"] = section["criteria"][0]["best"]
    with pytest.raises(StudyRefusedError):
        typed_decision_of(store, example, section)
