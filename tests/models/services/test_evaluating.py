"""Figures are computed once for a document and a model version, and belong to nobody."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from sqlalchemy import text

from models.errors import StorageError, StudyRefusedError
from models.services import (
    Store,
    StudyState,
    evaluating,
    evaluation_of,
    list_revisions,
    open_store,
    preview,
    restore_revision,
    save_sections,
)
from models.study import parse_study
from models.study.canonical import canonical_text
from models.study.sections import apply_edits

Edit = Callable[..., dict[str, Any]]


@pytest.fixture
def computed(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[str]]:
    """The names of the studies that were really computed."""
    names: list[str] = []
    real = evaluating.evaluate_study

    def count(study: Any, **more: Any) -> Any:
        names.append(study.name)
        return real(study, **more)

    monkeypatch.setattr(evaluating, "evaluate_study", count)
    yield names


def metric(payload: dict[str, Any], key: str, name: str) -> Any:
    return next(one for one in payload["candidates"] if one["key"] == key)["metrics"][name]


def test_figures_are_computed_once(
    store: Store, state: StudyState, database_url: str, computed: list[str]
) -> None:
    first = evaluation_of(store, state)
    assert evaluation_of(store, state) == first
    assert first["model_version"] == evaluating.MODEL_VERSION
    other = open_store(database_url)
    assert evaluation_of(other, state) == first
    other.close()
    assert len(computed) == 1


def test_a_preview_leaves_the_shared_figures_as_they_are(store: Store, state: StudyState) -> None:
    shared = evaluation_of(store, state)
    before = canonical_text(shared)
    key = state.study.candidates[1].key
    value = dict(state.document["candidates"][1])
    preview(store, state, {f"candidates/{key}": {**value, "name": "Another name"}})
    assert evaluation_of(store, state) is shared
    assert canonical_text(shared) == before


def test_a_restored_document_needs_no_new_figures(
    store: Store, state: StudyState, computed: list[str]
) -> None:
    evaluation_of(store, state)
    edits = {"notes": "Weighed again."}
    save_sections(store, state.study_id, base_revision=1, edits=edits, author="", note="")
    evaluation_of(store, restore_revision(store, state.study_id, 1, author="").state)
    assert len(computed) == 1


def test_another_model_version_computes_anew(
    store: Store, state: StudyState, computed: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    evaluation_of(store, state)
    monkeypatch.setattr(evaluating, "MODEL_VERSION", "another")
    evaluation_of(store, state)
    assert len(computed) == 2
    with store.reading() as session:
        versions = session.execute(text("SELECT count(*) FROM result")).scalar_one()
    assert versions == 2


def test_a_preview_moves_the_figures_and_stores_nothing(
    store: Store, state: StudyState, edited: Edit
) -> None:
    saved = evaluation_of(store, state)
    study, payload = preview(store, state, {"candidates/quick": edited("quick", 5.0)})
    assert study.candidate("quick").drive.ratio == 5.0
    before = metric(saved, "quick", "free_speed_mps")
    assert metric(payload, "quick", "free_speed_mps") == pytest.approx(before * 6.75 / 5.0)
    assert metric(payload, "today", "free_speed_mps") == metric(saved, "today", "free_speed_mps")
    assert len(list_revisions(store, state.study_id)) == 1
    assert evaluation_of(store, state) == saved


def edits_of_many_kinds(document: dict[str, Any], edited: Edit) -> dict[str, dict[str, Any]]:
    quick = edited("quick", 5.0)
    return {
        "nothing": {},
        "a candidate": {"candidates/quick": quick},
        "the baseline": {"candidates/today": edited("today", 8.0, name="Old base")},
        "both": {"candidates/quick": quick, "candidates/today": edited("today", 8.0)},
        "another baseline": {
            "candidates/quick": {**quick, "baseline": True},
            "candidates/today": edited("today", baseline=False),
        },
        "no baseline": {"candidates/today": edited("today", baseline=False)},
        "one more": {"candidates/slow": {**edited("quick", 12.0), "key": "slow"}},
        "one less": {"candidates/quick": None},
        "order": {"candidates/order": ["quick", "today"], "candidates/quick": quick},
        "name": {"name": "Other", "candidates/quick": quick},
        "power": {"power": {**document["power"], "brownout_v": 9.0}, "candidates/quick": quick},
    }


@pytest.mark.parametrize("kind", edits_of_many_kinds({"power": {}}, lambda *k, **v: {}))
def test_a_preview_equals_what_saving_gives(
    store: Store, state: StudyState, edited: Edit, kind: str
) -> None:
    edits = edits_of_many_kinds(state.document, edited)[kind]
    study, payload = preview(store, state, edits)
    assert payload == json.loads(canonical_text(evaluating.evaluate_study(study)))


def test_a_preview_computes_only_what_was_edited(
    store: Store, state: StudyState, edited: Edit, monkeypatch: pytest.MonkeyPatch
) -> None:
    evaluation_of(store, state)
    asked: list[Any] = []
    real = evaluating.evaluate_study

    def watch(study: Any, *, keys: Any = None) -> Any:
        asked.append(keys)
        return real(study, keys=keys)

    monkeypatch.setattr(evaluating, "evaluate_study", watch)
    preview(store, state, {"candidates/quick": edited("quick", 5.0)})
    preview(store, state, {"candidates/quick": edited("quick", 5.0)})
    assert asked == [{"quick"}]


def test_a_preview_that_breaks_a_rule_is_refused(
    store: Store, state: StudyState, edited: Edit
) -> None:
    with pytest.raises(StudyRefusedError, match="ratio"):
        preview(store, state, {"candidates/quick": edited("quick", "six")})


def test_many_threads_may_ask_at_once(store: Store, state: StudyState) -> None:
    answers: list[dict[str, Any]] = []
    threads = [
        threading.Thread(target=lambda: answers.append(evaluation_of(store, state)))
        for _ in range(6)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert answers == [evaluation_of(store, state)] * 6


def test_figures_are_shown_though_they_cannot_be_kept(
    store: Store, state: StudyState, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full() -> Any:
        raise StorageError("The disk is full.")

    monkeypatch.setattr(store, "writing", full)
    assert len(evaluation_of(store, state)["candidates"]) == 2


def test_a_preview_reads_only_the_edited_candidate_and_agrees_with_the_whole(
    store: Store, state: StudyState, edited: Edit, monkeypatch: pytest.MonkeyPatch
) -> None:
    edits = {"candidates/quick": edited("quick", 5.0)}
    whole = parse_study(apply_edits(state.document, edits))

    def refuse(*_: Any) -> Any:
        raise AssertionError("the whole study was read")

    monkeypatch.setattr(evaluating, "study_of", refuse)
    assert preview(store, state, edits)[0] == whole


def test_a_refused_preview_names_places_in_the_whole_study(
    store: Store, state: StudyState, edited: Edit
) -> None:
    with pytest.raises(StudyRefusedError) as refused:
        preview(store, state, {"candidates/quick": edited("quick", "six")})
    assert [fault.place for fault in refused.value.faults] == ["candidates[1].drive.ratio"]
