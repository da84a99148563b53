"""Studies are created whole or not at all, listed by their newest revision, and copied."""

from __future__ import annotations

import copy
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from models.errors import NotFoundError, StudyRefusedError
from models.services import (
    Store,
    StudyState,
    changes_between,
    create_study,
    duplicate_study,
    list_revisions,
    list_studies,
    load_study,
    save_sections,
)
from models.study.canonical import document_hash
from models.units import UnitSystem


def test_a_new_study_is_kept_as_typed(store: Store, document: dict[str, Any]) -> None:
    typed = copy.deepcopy(document)
    state = create_study(store, document, author=" Kim\n", note="First")
    again = load_study(store, state.study_id)
    assert again.document == typed
    assert again == state
    assert again.study.candidate("quick").wheels.diameter_m == pytest.approx(0.1016)
    assert again.latest_number == 1
    revision = again.revision
    assert (revision.number, revision.author, revision.note) == (1, "Kim", "First")
    assert revision.hash == document_hash(typed)
    assert abs(datetime.now(UTC) - revision.saved_at) < timedelta(minutes=1)


def test_a_study_that_breaks_a_rule_leaves_nothing(store: Store, document: dict[str, Any]) -> None:
    document["candidates"][1]["drive"]["ratio"] = -3
    with pytest.raises(StudyRefusedError) as caught:
        create_study(store, document, author="Kim", note="")
    assert "candidates[1].drive.ratio" in {fault.place for fault in caught.value.faults}
    assert list_studies(store) == []


@pytest.mark.parametrize(
    ("field", "text"), [("author", "k" * 61), ("note", "n" * 201), ("once", "o" * 201)]
)
def test_a_line_that_is_too_long_is_refused(
    store: Store, document: dict[str, Any], field: str, text: str
) -> None:
    with pytest.raises(StudyRefusedError) as caught:
        create_study(store, document, **{"author": "", "note": "", field: text})
    assert caught.value.faults[0].place == field
    assert list_studies(store) == []


def test_a_study_too_large_is_refused(
    store: Store, document: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("models.services.revisions.MAX_BYTES", 500)
    with pytest.raises(StudyRefusedError, match="too large"):
        create_study(store, document, author="", note="")


def test_creating_twice_with_one_key_makes_one_study(
    store: Store, document: dict[str, Any]
) -> None:
    first = create_study(store, document, author="Kim", note="", once="form-1")
    again = create_study(store, document, author="Kim", note="", once="form-1")
    other = create_study(store, document, author="Kim", note="", once="form-2")
    assert again == first
    assert other.study_id != first.study_id
    assert len(list_studies(store)) == 2


def test_the_study_saved_last_is_listed_first(store: Store, document: dict[str, Any]) -> None:
    one = create_study(store, document, author="Kim", note="")
    two = create_study(store, {**document, "name": "Other"}, author="Lee", note="")
    edits = {"name": "Renamed", "candidates/quick": None}
    save_sections(store, one.study_id, base_revision=1, edits=edits, author="Ann", note="")
    listed = list_studies(store)
    assert [summary.id for summary in listed] == [one.study_id, two.study_id]
    newest = listed[0]
    assert (newest.name, newest.revision, newest.author) == ("Renamed", 2, "Ann")
    assert newest.candidate_count == 1
    assert newest.saved_at.tzinfo is UTC


@pytest.mark.parametrize("study_id", ["nobody", "", "a\0b", "\ud800", "x" * 1000, "' or 1=1"])
def test_a_study_that_is_not_there_is_said(store: Store, study_id: str) -> None:
    for ask in (load_study, list_revisions):
        with pytest.raises(NotFoundError, match="no study"):
            ask(store, study_id)


@pytest.mark.parametrize("number", [0, -1, 2, 2**31, 2**80])
def test_a_revision_that_is_not_there_is_said(store: Store, state: StudyState, number: int) -> None:
    with pytest.raises(NotFoundError, match="no revision"):
        load_study(store, state.study_id, number)


def test_a_copy_starts_a_history_of_its_own(store: Store, state: StudyState) -> None:
    twin = duplicate_study(store, state.study_id, author="Lee", name="Second robot")
    edits = {"notes": "Only here."}
    save_sections(store, twin.study_id, base_revision=1, edits=edits, author="Lee", note="")
    assert twin.document == {**state.document, "name": "Second robot"}
    assert twin.revision.note == "Copied from revision 1 of Ridge robot"
    assert load_study(store, state.study_id).latest_number == 1


def test_revisions_are_listed_and_compared(store: Store, state: StudyState) -> None:
    edits = {"rules": {**state.document["rules"], "mass_limit_kg": 57.0}}
    save_sections(store, state.study_id, base_revision=1, edits=edits, author="Lee", note="More")
    listed = list_revisions(store, state.study_id)
    assert [(one.number, one.author, one.note) for one in listed] == [
        (2, "Lee", "More"),
        (1, "Kim", "First figures"),
    ]
    (change,) = changes_between(store, state.study_id, 1, 2)
    assert change.words == "Rules, mass limit: 56.0 kg → 57.0 kg"
    (back,) = changes_between(store, state.study_id, 2, 1, UnitSystem.INCH_POUND)
    assert back.words == "Rules, mass limit: 126 lb → 123 lb"


def test_changing_a_loaded_document_changes_nothing_stored(store: Store, state: StudyState) -> None:
    loaded = load_study(store, state.study_id)
    loaded.document["candidates"].clear()
    assert len(load_study(store, state.study_id).document["candidates"]) == 2
