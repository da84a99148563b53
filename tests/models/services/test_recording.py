"""Decisions on record stay as they were; what is learned later stands beside them."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from models.errors import NotFoundError, StudyRefusedError
from models.services import (
    DecisionInfo,
    Store,
    StudyState,
    add_outcome,
    decision_record,
    list_decisions,
    record_decision,
)

PAYLOAD: dict[str, Any] = {
    "choice": "quick",
    "reasons": "It fits and pushes.",
    "figures": {"quick": {"mass_kg": 52.5, "fits": None}},
}


@pytest.fixture
def recorded(store: Store, state: StudyState) -> DecisionInfo:
    return record_decision(
        store,
        state.study_id,
        revision=1,
        choice="quick",
        payload=PAYLOAD,
        author="Kim",
        once="k",
    )


def test_a_record_shows_what_was_recorded(
    store: Store, state: StudyState, recorded: DecisionInfo
) -> None:
    record = decision_record(store, state.study_id, recorded.id)
    assert (record.info, record.payload, record.outcomes) == (recorded, PAYLOAD, ())
    assert record.is_intact()
    assert list_decisions(store, state.study_id) == [recorded]


def test_a_repeated_request_records_once(
    store: Store, state: StudyState, recorded: DecisionInfo
) -> None:
    again = record_decision(
        store, state.study_id, revision=1, choice="tank", payload={}, author="", once="k"
    )
    assert again == recorded
    assert len(list_decisions(store, state.study_id)) == 1


def test_outcomes_stand_beside_the_prediction(
    store: Store, state: StudyState, recorded: DecisionInfo
) -> None:
    for _ in range(2):
        add_outcome(
            store,
            state.study_id,
            recorded.id,
            metric="mass_kg",
            candidate="quick",
            measured=54.1,
            words="On the event's scale.",
            author="Lee",
            once="o1",
        )
    add_outcome(store, state.study_id, recorded.id, words="The drivers like it.")
    record = decision_record(store, state.study_id, recorded.id)
    assert [(one.metric, one.measured, one.words) for one in record.outcomes] == [
        ("mass_kg", 54.1, "On the event's scale."),
        ("", None, "The drivers like it."),
    ]
    assert record.payload == PAYLOAD
    assert record.is_intact()


@pytest.mark.parametrize(
    "values",
    [
        {},
        {"words": "  "},
        {"measured": float("nan"), "metric": "mass_kg"},
        {"measured": 1e13, "metric": "mass_kg"},
        {"measured": 3.0},
        {"words": "x" * 1001},
    ],
)
def test_an_outcome_that_says_nothing_is_refused(
    store: Store, state: StudyState, recorded: DecisionInfo, values: dict[str, Any]
) -> None:
    with pytest.raises(StudyRefusedError):
        add_outcome(store, state.study_id, recorded.id, **values)
    assert decision_record(store, state.study_id, recorded.id).outcomes == ()


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE decision_record SET payload = '{}'",
        "UPDATE decision_record SET payload_hash = 'x'",
        "UPDATE decision_record SET choice = 'tank'",
        "DELETE FROM decision_record",
        "UPDATE decision_outcome SET measured = 1",
        "DELETE FROM decision_outcome",
    ],
)
def test_a_record_cannot_be_changed_by_sql(
    store: Store, state: StudyState, recorded: DecisionInfo, statement: str
) -> None:
    add_outcome(store, state.study_id, recorded.id, words="x")
    with pytest.raises(DBAPIError, match="never"), store.writing() as session:
        session.execute(text(statement))
    assert decision_record(store, state.study_id, recorded.id).is_intact()


def test_a_record_cannot_be_replaced_by_sql(store: Store, recorded: DecisionInfo) -> None:
    replace = "INSERT OR REPLACE" if store.engine.dialect.name == "sqlite" else "INSERT"
    copy = f"{replace} INTO decision_record SELECT * FROM decision_record"
    refused = pytest.raises(DBAPIError, match=r"never|unique")
    with refused, store.writing() as session:
        session.execute(text(copy))
    with store.reading() as session:
        assert session.scalar(text("SELECT count(*) FROM decision_record")) == 1


def test_a_record_belongs_to_its_study_and_revision(
    store: Store, state: StudyState, recorded: DecisionInfo
) -> None:
    for study_id, record_id in (("other", recorded.id), (state.study_id, "none")):
        with pytest.raises(NotFoundError):
            decision_record(store, study_id, record_id)
        with pytest.raises(NotFoundError):
            add_outcome(store, study_id, record_id, words="x")
    with pytest.raises(NotFoundError):
        record_decision(store, state.study_id, revision=7, choice="quick", payload={}, author="")
