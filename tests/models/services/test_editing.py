"""Saves append, merge or conflict; nothing that somebody saved or typed is lost."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

import pytest

from models.errors import NotFoundError, SaveConflictError, StudyRefusedError
from models.services import (
    Store,
    StudyState,
    duplicate_candidate,
    list_revisions,
    load_study,
    open_store,
    remove_candidate,
    restore_revision,
    save_sections,
)

Edit = Callable[..., dict[str, Any]]


@pytest.fixture
def save(store: Store, state: StudyState) -> Callable[..., Any]:
    def save_edits(edits: dict[str, Any], *, base: int = 1, **more: Any) -> Any:
        values = {"author": "Lee", "note": "", **more}
        return save_sections(store, state.study_id, base_revision=base, edits=edits, **values)

    return save_edits


def ratios(state: StudyState) -> dict[str, float]:
    return {one.key: float(one.drive.ratio) for one in state.study.candidates}


def test_a_save_appends_and_leaves_the_past(
    store: Store, state: StudyState, save: Callable[..., Any], edited: Edit
) -> None:
    outcome = save({"candidates/quick": edited("quick", 5.9)}, note="Taller")
    assert not outcome.merged
    assert not outcome.unchanged
    assert outcome.state == load_study(store, state.study_id)
    assert outcome.state.revision.number == outcome.state.latest_number == 2
    assert ratios(outcome.state) == {"today": 9.5, "quick": 5.9}
    assert ratios(load_study(store, state.study_id, 1)) == {"today": 9.5, "quick": 6.75}


def test_a_save_that_says_nothing_new_adds_nothing(
    store: Store, state: StudyState, save: Callable[..., Any], edited: Edit
) -> None:
    outcome = save({"candidates/quick": edited("quick", 6.75), "name": "Ridge robot"})
    assert outcome.unchanged
    assert outcome.state == state
    assert len(list_revisions(store, state.study_id)) == 1


def test_different_sections_merge(save: Callable[..., Any], edited: Edit) -> None:
    save({"candidates/quick": edited("quick", 5.9)})
    outcome = save({"candidates/today": edited("today", 10.0), "notes": "Weighed."}, author="Ann")
    assert outcome.merged
    assert outcome.state.revision.number == 3
    assert ratios(outcome.state) == {"today": 10.0, "quick": 5.9}
    assert outcome.state.document["notes"] == "Weighed."


def test_a_form_left_open_does_not_undo_what_others_saved(
    save: Callable[..., Any], edited: Edit
) -> None:
    save({"candidates/quick": edited("quick", 5.9)})
    outcome = save({"candidates/quick": edited("quick", 6.75), "notes": "Weighed."})
    assert ratios(outcome.state)["quick"] == 5.9


def test_the_same_change_by_two_people_is_one(save: Callable[..., Any], edited: Edit) -> None:
    save({"candidates/quick": edited("quick", 5.9)})
    outcome = save({"candidates/quick": edited("quick", 5.9)})
    assert outcome.unchanged
    assert outcome.state.revision.number == 2


def test_the_same_section_otherwise_is_refused_with_both_versions(
    store: Store, state: StudyState, save: Callable[..., Any], edited: Edit
) -> None:
    save({"candidates/quick": edited("quick", 6.1)}, author="Ann")
    save({"notes": "Later."}, base=2, author="Bo")
    with pytest.raises(SaveConflictError) as caught:
        save({"candidates/quick": edited("quick", 5.9), "name": "Mine"})
    error = caught.value
    (conflict,) = error.conflicts
    assert (conflict.section, error.latest_number, error.changed_in) == ("candidates/quick", 3, 2)
    assert str(error).startswith("Ann saved revision 2 meanwhile")
    assert error.latest_author == "Ann"
    assert error.latest_saved_at == load_study(store, state.study_id, 2).revision.saved_at
    assert conflict.mine["drive"]["ratio"] == 5.9
    assert conflict.theirs["drive"]["ratio"] == 6.1
    assert len(list_revisions(store, state.study_id)) == 3
    settled = save({"candidates/quick": edited("quick", 5.9), "name": "Mine"}, base=3)
    assert settled.state.document["name"] == "Mine"
    assert settled.state.document["notes"] == "Later."


def test_removing_what_somebody_edited_is_a_conflict(
    store: Store, state: StudyState, save: Callable[..., Any], edited: Edit
) -> None:
    save({"candidates/quick": edited("quick", 6.1)})
    with pytest.raises(SaveConflictError) as caught:
        remove_candidate(store, state.study_id, "quick", base_revision=1, author="Bo")
    assert caught.value.conflicts[0].mine is None


def test_edits_that_only_fail_together_are_a_conflict(
    state: StudyState, save: Callable[..., Any], edited: Edit
) -> None:
    motors = {**state.document["motors"], "br63": state.document["motors"]["bl60"]}
    save({"motors": motors})
    uses_it = edited("quick", drive={**edited("quick")["drive"], "motor": "br63"})
    save({"candidates/quick": uses_it}, base=2, author="Ann")
    with pytest.raises(SaveConflictError) as caught:
        save({"motors": state.document["motors"]}, base=2)
    (conflict,) = caught.value.conflicts
    assert conflict.section == "motors"
    assert conflict.words[0].startswith("Together with theirs: candidates[1].drive.motor")


def test_an_edit_that_breaks_a_rule_is_refused_and_stores_nothing(
    store: Store, state: StudyState, save: Callable[..., Any], edited: Edit
) -> None:
    for base in (1, 1):
        with pytest.raises(StudyRefusedError) as caught:
            save({"candidates/quick": edited("quick", "six")}, base=base)
        assert caught.value.faults[0].place == "candidates[1].drive.ratio"
    save({"notes": "x"})
    with pytest.raises(StudyRefusedError, match="ratio"):
        save({"candidates/quick": edited("quick", "six")}, base=1)
    assert len(list_revisions(store, state.study_id)) == 2


def test_nan_in_an_edit_is_refused(save: Callable[..., Any], edited: Edit) -> None:
    with pytest.raises(StudyRefusedError):
        save({"candidates/quick": edited("quick", float("nan"))})


def test_a_base_that_is_not_there_is_said(save: Callable[..., Any]) -> None:
    with pytest.raises(NotFoundError, match="no revision 9"):
        save({"notes": "x"}, base=9)


def test_a_save_sent_twice_is_one(
    store: Store, state: StudyState, save: Callable[..., Any], edited: Edit
) -> None:
    first = save({"candidates/quick": edited("quick", 5.9)}, once="form-1")
    save({"notes": "x"}, base=2)
    again = save({"candidates/quick": edited("quick", 5.9)}, once="form-1")
    assert again.state.revision == first.state.revision
    assert again.state.document == first.state.document
    assert len(list_revisions(store, state.study_id)) == 3


def test_a_key_counts_for_its_own_study_only(
    store: Store, state: StudyState, save: Callable[..., Any], document: dict[str, Any]
) -> None:
    from models.services import create_study

    other = create_study(store, document, author="", note="")
    save({"notes": "here"}, once="form-1")
    outcome = save_sections(
        store,
        other.study_id,
        base_revision=1,
        edits={"notes": "there"},
        author="",
        note="",
        once="form-1",
    )
    assert outcome.state.document["notes"] == "there"


def test_a_variant_stands_behind_its_original(store: Store, state: StudyState) -> None:
    outcome, key = duplicate_candidate(
        store, state.study_id, "today", base_revision=1, author="Lee"
    )
    assert key == "today-2"
    assert [one.key for one in outcome.state.study.candidates] == ["today", "today-2", "quick"]
    variant = outcome.state.document["candidates"][1]
    original = state.document["candidates"][0]
    assert variant["name"] == "Today's base (variant)"
    assert "baseline" not in variant
    assert variant["drive"] == original["drive"]
    assert outcome.state.study.baseline.key == "today"
    assert outcome.state.revision.note == "Duplicated Today's base"


def test_variants_of_variants_are_numbered(store: Store, state: StudyState) -> None:
    keys = ["quick"]
    for base in (1, 2, 3):
        outcome, key = duplicate_candidate(
            store, state.study_id, keys[-1], base_revision=base, author=""
        )
        keys.append(key)
    assert keys == ["quick", "quick-2", "quick-3", "quick-4"]
    assert [one.name for one in outcome.state.study.candidates][2:] == [
        "Quicker gearing (variant)",
        "Quicker gearing (variant 2)",
        "Quicker gearing (variant 3)",
    ]


def test_two_people_each_get_a_variant(store: Store, state: StudyState) -> None:
    _, first = duplicate_candidate(store, state.study_id, "quick", base_revision=1, author="Lee")
    outcome, second = duplicate_candidate(
        store, state.study_id, "quick", base_revision=1, author="Ann"
    )
    assert (first, second) == ("quick-2", "quick-3")
    assert len(outcome.state.study.candidates) == 4


def test_a_long_name_still_gets_a_variant(
    store: Store, state: StudyState, save: Callable[..., Any], edited: Edit
) -> None:
    save({"candidates/quick": edited("quick", name="q" * 120)})
    outcome, _ = duplicate_candidate(store, state.study_id, "quick", base_revision=2, author="")
    name = outcome.state.document["candidates"][2]["name"]
    assert len(name) == 120
    assert name.endswith("q (variant)")


@pytest.mark.parametrize("act", [duplicate_candidate, remove_candidate])
def test_a_candidate_that_is_not_there_is_said(
    store: Store, state: StudyState, act: Callable[..., Any]
) -> None:
    with pytest.raises(NotFoundError, match="no candidate"):
        act(store, state.study_id, "mecanum", base_revision=1, author="")


def test_a_removed_candidate_comes_back_by_restoring(store: Store, state: StudyState) -> None:
    removed = remove_candidate(store, state.study_id, "quick", base_revision=1, author="Bo")
    assert [one.key for one in removed.state.study.candidates] == ["today"]
    back = restore_revision(store, state.study_id, 1, author="Kim")
    assert back.state.document == state.document
    assert back.state.revision.hash == state.revision.hash
    assert (back.state.revision.number, back.state.revision.note) == (3, "Restored revision 1")
    assert len(list_revisions(store, state.study_id)) == 3


def test_restoring_the_newest_adds_nothing(store: Store, state: StudyState) -> None:
    assert restore_revision(store, state.study_id, 1, author="Kim").unchanged


WRITERS = 8
SAVES_EACH = 4


def test_eight_writers_at_once_lose_nothing(
    store: Store, database_url: str, document: dict[str, Any], edited: Edit
) -> None:
    """Half of the writers share one store, half open the database as other programs would."""
    from models.services import create_study

    names = [f"writer-{number}" for number in range(WRITERS)]
    document["candidates"] += [{**edited("quick"), "key": name} for name in names]
    study_id = create_study(store, document, author="", note="").study_id
    others = [open_store(database_url) for _ in range(WRITERS // 2)]
    stores = [store] * (WRITERS - len(others)) + others
    faults: list[BaseException] = []

    def write(own: Store, name: str) -> None:
        try:
            for turn in range(SAVES_EACH):
                save_sections(
                    own,
                    study_id,
                    base_revision=load_study(own, study_id).latest_number,
                    edits={f"candidates/{name}": {**edited("quick", 5 + turn), "key": name}},
                    author=name,
                    note=f"{turn}",
                )
        except BaseException as error:
            faults.append(error)

    threads = [
        threading.Thread(target=write, args=pair) for pair in zip(stores, names, strict=True)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    for other in others:
        other.close()
    assert faults == []
    revisions = list_revisions(store, study_id)
    assert [one.number for one in revisions] == list(range(WRITERS * SAVES_EACH + 1, 0, -1))
    assert {(one.author, one.note) for one in revisions[:-1]} == {
        (name, f"{turn}") for name in names for turn in range(SAVES_EACH)
    }
    found = ratios(load_study(store, study_id))
    assert [found[name] for name in names] == [5 + SAVES_EACH - 1] * WRITERS


def test_one_form_sent_by_many_threads_is_one_revision(
    store: Store, state: StudyState, edited: Edit
) -> None:
    numbers: list[int] = []

    def send() -> None:
        outcome = save_sections(
            store,
            state.study_id,
            base_revision=1,
            edits={"candidates/quick": edited("quick", 5.9)},
            author="Lee",
            note="",
            once="one form",
        )
        numbers.append(outcome.state.revision.number)

    threads = [threading.Thread(target=send) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert numbers == [2] * 6
    assert len(list_revisions(store, state.study_id)) == 2


@pytest.mark.parametrize("times", [1, 2, 3])
def test_a_save_gets_its_turn_though_another_program_is_first(
    store: Store,
    state: StudyState,
    database_url: str,
    monkeypatch: pytest.MonkeyPatch,
    times: int,
) -> None:
    from models.services import revisions

    other = open_store(database_url)
    read = revisions.load_study
    waiting = list(range(times))

    def read_then_somebody_saves(own: Store, study_id: str, revision: int | None = None) -> Any:
        found = read(own, study_id, revision)
        if own is store and revision is None and waiting:
            edits = {"rules": {**found.document["rules"], "match_s": 100 + waiting.pop()}}
            number = found.latest_number
            save_sections(other, study_id, base_revision=number, edits=edits, author="", note="")
        return found

    monkeypatch.setattr(revisions, "load_study", read_then_somebody_saves)
    edits = {"notes": "Mine."}
    outcome = save_sections(
        store, state.study_id, base_revision=1, edits=edits, author="Lee", note="", once="k"
    )
    other.close()
    assert waiting == []
    assert outcome.state.revision.number == 2 + times
    assert outcome.merged
    assert outcome.state.document["rules"]["match_s"] == 100
    assert outcome.state.document["notes"] == "Mine."
