"""Ballots: one each by name, changeable until the end, and afterwards as they were."""

from __future__ import annotations

import threading
from typing import Any

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from models.errors import BallotsClosedError, NotFoundError, StudyRefusedError
from models.services import (
    Ballot,
    BallotRound,
    Store,
    StudyState,
    ballot_by_code,
    ballot_round,
    ballot_round_of,
    ballots_of,
    cast_ballot,
    close_ballots,
    list_ballot_rounds,
    open_ballots,
)

CRITERIA = (
    {"metric": "push_force_n", "name": "Push", "unit": "n", "worst": 300.0, "best": 600.0},
    {"metric": "mass_kg", "name": "Mass", "unit": "kg", "worst": 60.0, "best": 50.0},
)
CANDIDATES = (
    {"key": "tank", "name": "Tank", "letter": "A"},
    {"key": "quick", "name": "Quick", "letter": "B"},
)


@pytest.fixture
def called(store: Store, state: StudyState) -> tuple[BallotRound, str]:
    return open_ballots(
        store,
        state.study_id,
        revision=1,
        title="Base for spring",
        author="Kim",
        criteria=CRITERIA,
        candidates=CANDIDATES,
    )


def cast(store: Store, called: tuple[BallotRound, str], **values: Any) -> tuple[Ballot, str]:
    said: dict[str, Any] = {
        "name": "Mara",
        "weights": {"push_force_n": 100.0, "mass_kg": 40.0},
        "preference": "quick",
        "reason": "It pushes.",
        **values,
    }
    return cast_ballot(store, called[0].id, **said)


def test_a_link_leads_to_what_is_weighed(
    store: Store, state: StudyState, called: tuple[BallotRound, str]
) -> None:
    found = ballot_round_of(store, f" {called[1]}. ")
    assert found == called[0]
    assert (found.study_id, found.revision, found.title) == (state.study_id, 1, "Base for spring")
    assert [item["metric"] for item in found.criteria] == ["push_force_n", "mass_kg"]
    assert list_ballot_rounds(store, state.study_id) == [found]
    assert ballot_round(store, state.study_id, found.id) == found


def test_neither_token_nor_code_is_in_the_database(
    store: Store, called: tuple[BallotRound, str]
) -> None:
    _, code = cast(store, called)
    with store.reading() as session:
        for table in ("ballot_round", "ballot"):
            rows = session.execute(text(f"SELECT * FROM {table}")).all()
            assert rows
            assert not any(secret in str(rows) for secret in (called[1], code))


def test_a_ballot_counts_as_it_was_last_said(store: Store, called: tuple[BallotRound, str]) -> None:
    first, code = cast(store, called)
    cast(store, called, name="Lee", preference="tank")
    changed, same_code = cast(store, called, preference="tank", reason="", code=code)
    assert (first.version, changed.version, same_code) == (1, 2, code)
    counting = ballots_of(store, called[0].id)
    assert [(one.name, one.preference) for one in counting] == [("Mara", "tank"), ("Lee", "tank")]
    assert ballot_by_code(store, called[0].id, code) == changed
    assert ballot_by_code(store, called[0].id, "nonsense") is None


def test_the_same_ballot_again_adds_nothing(store: Store, called: tuple[BallotRound, str]) -> None:
    first, code = cast(store, called)
    again, _ = cast(store, called, code=code)
    assert again == first


@pytest.mark.parametrize("name", ["Mara", "  mara ", "MARA"])
@pytest.mark.parametrize("code", [None, "wrong"])
def test_a_name_has_one_ballot(
    store: Store, called: tuple[BallotRound, str], name: str, code: str | None
) -> None:
    first, _ = cast(store, called)
    with pytest.raises(StudyRefusedError, match="has voted already"):
        cast(store, called, name=name, preference="tank", code=code)
    assert ballots_of(store, called[0].id) == [first]


@pytest.mark.parametrize(
    ("values", "place"),
    [
        ({"name": "  "}, "name"),
        ({"weights": {"push_force_n": 100.0}}, "weights.mass_kg"),
        ({"weights": {"push_force_n": 100.0, "mass_kg": 101.0}}, "weights.mass_kg"),
        ({"weights": {"push_force_n": float("nan"), "mass_kg": 1.0}}, "weights.push_force_n"),
        ({"weights": {"push_force_n": 0.0, "mass_kg": 0.0}}, "weights"),
        ({"preference": ""}, "preference"),
        ({"preference": "boat"}, "preference"),
        ({"reason": "x" * 1001}, "reason"),
    ],
)
def test_a_ballot_that_answers_not_what_is_asked_is_refused(
    store: Store, called: tuple[BallotRound, str], values: dict[str, Any], place: str
) -> None:
    with pytest.raises(StudyRefusedError) as refused:
        cast(store, called, **values)
    assert [fault.place for fault in refused.value.faults] == [place]
    assert ballots_of(store, called[0].id) == []


def test_closed_ballots_stay_as_they_were(
    store: Store, state: StudyState, called: tuple[BallotRound, str]
) -> None:
    _, code = cast(store, called)
    closed = close_ballots(store, state.study_id, called[0].id, author="Kim")
    assert (closed.closed_by, closed.closed_at is not None) == ("Kim", True)
    for values in ({"preference": "tank", "code": code}, {"name": "Late"}):
        with pytest.raises(BallotsClosedError, match="closed by Kim"):
            cast(store, called, **values)
    assert close_ballots(store, state.study_id, called[0].id, author="Lee") == closed
    assert [one.preference for one in ballots_of(store, called[0].id)] == ["quick"]


def test_no_ballot_comes_after_the_end_by_sql(
    store: Store, state: StudyState, called: tuple[BallotRound, str]
) -> None:
    cast(store, called)
    close_ballots(store, state.study_id, called[0].id, author="")
    statement = (
        "INSERT INTO ballot SELECT round_id, 'late', 1, 'late', weights, preference, reason, "
        "cast_at, code_hash FROM ballot"
    )
    with pytest.raises(DBAPIError, match="closed"), store.writing() as session:
        session.execute(text(statement))


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE ballot SET preference = 'tank'",
        "DELETE FROM ballot",
        "UPDATE ballot_round SET criteria = '[]'",
        "DELETE FROM ballot_round",
        "DELETE FROM ballot_closing",
        "UPDATE ballot_closing SET author = 'x'",
    ],
)
def test_ballots_cannot_be_changed_by_sql(
    store: Store, state: StudyState, called: tuple[BallotRound, str], statement: str
) -> None:
    cast(store, called)
    close_ballots(store, state.study_id, called[0].id, author="")
    with pytest.raises(DBAPIError, match="never"), store.writing() as session:
        session.execute(text(statement))


def test_many_members_vote_at_once(store: Store, called: tuple[BallotRound, str]) -> None:
    faults: list[BaseException] = []

    def vote(number: int) -> None:
        try:
            cast(store, called, name=f"Member {number}")
        except BaseException as error:
            faults.append(error)

    threads = [threading.Thread(target=vote, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []
    names = {one.name for one in ballots_of(store, called[0].id)}
    assert names == {f"Member {number}" for number in range(8)}


def test_one_name_from_two_browsers_at_once_has_one_ballot(
    store: Store, called: tuple[BallotRound, str]
) -> None:
    outcomes: list[str] = []

    def vote(preference: str) -> None:
        try:
            cast(store, called, preference=preference)
            outcomes.append("cast")
        except StudyRefusedError:
            outcomes.append("refused")

    threads = [threading.Thread(target=vote, args=(key,)) for key in ("tank", "quick")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(outcomes) == ["cast", "refused"]
    assert len(ballots_of(store, called[0].id)) == 1


def test_there_must_be_something_to_weigh_and_to_choose(store: Store, state: StudyState) -> None:
    for criteria, candidates in (((), CANDIDATES), (CRITERIA, ())):
        with pytest.raises(StudyRefusedError, match="there are none"):
            open_ballots(
                store,
                state.study_id,
                revision=1,
                title="",
                author="",
                criteria=criteria,
                candidates=candidates,
            )


def test_ballots_belong_to_their_study(store: Store, called: tuple[BallotRound, str]) -> None:
    for study_id, round_id in (("other", called[0].id), (called[0].study_id, "none")):
        with pytest.raises(NotFoundError):
            close_ballots(store, study_id, round_id, author="")
    with pytest.raises(NotFoundError):
        ballot_round_of(store, "x" * 28)
    with pytest.raises(NotFoundError):
        cast_ballot(store, "none", name="A", weights={}, preference="", reason="")
