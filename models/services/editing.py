"""Saving edits: what two people change in different sections merges, the rest is a conflict."""

from __future__ import annotations

import copy
import re
from collections.abc import Mapping
from typing import Any

from models.errors import (
    Fault,
    NotFoundError,
    SaveConflictError,
    SectionConflict,
    StudyRefusedError,
)
from models.services.records import SaveOutcome, StudyState
from models.services.revisions import (
    LONGEST_NOTE,
    Proposal,
    append,
    find_revision,
    info_of,
    load_study,
    study_of,
)
from models.storage import Store
from models.study.canonical import same
from models.study.kinds import LONGEST_TEXT
from models.study.merging import merge_documents
from models.study.sections import ORDER, apply_edits, candidate_section, split_sections
from models.units import quoted

VARIANT = " (variant{number})"
LONGEST_KEY = 40


def save_sections(
    store: Store,
    study_id: str,
    *,
    base_revision: int,
    edits: Mapping[str, Any],
    author: str,
    note: str,
    once: str | None = None,
) -> SaveOutcome:
    """Append a revision with some sections replaced (None takes one out).

    `base_revision` is what the edits began from; what others saved since in other sections is
    kept. Raises `SaveConflictError` where they changed the same section to something else,
    `StudyRefusedError` where the study would not hold, `NotFoundError`; then nothing is stored.
    A key `once` that was used before on this study gives back what it led to.
    """

    def propose(latest: StudyState) -> Proposal:
        base = _document(store, study_id, base_revision)
        mine = apply_edits(base, edits)
        if base_revision == latest.revision.number:
            return Proposal(mine)
        return _merged(store, base_revision, base, mine, latest)

    return append(store, study_id, propose, author=author, note=note, once=once)


def restore_revision(store: Store, study_id: str, number: int, *, author: str) -> SaveOutcome:
    """Append a revision with the document of an earlier one: undoing adds to the history."""
    document = _document(store, study_id, number)
    return append(
        store,
        study_id,
        lambda latest: Proposal(document),
        author=author,
        note=f"Restored revision {number}",
    )


def duplicate_candidate(
    store: Store, study_id: str, key: str, *, base_revision: int, author: str
) -> tuple[SaveOutcome, str]:
    """Put a variant of a candidate right behind it, under a key of its own; give both back.

    The copy is of the candidate at `base_revision` and is never the baseline.
    """
    with store.write_lock:
        base = split_sections(_document(store, study_id, base_revision))
        latest = split_sections(load_study(store, study_id).document)
        original = base.get(candidate_section(key))
        if original is None:
            raise NotFoundError(f"This study has no candidate {quoted(key)}.")
        taken = {*base.get(ORDER, ()), *latest.get(ORDER, ())}
        new_key = _free_key(key, taken)
        names = {value.get("name") for value in _candidates(latest)}
        variant = copy.deepcopy(original)
        variant.pop("baseline", None)
        variant.update(key=new_key, name=_free_name(str(original.get("name") or key), names))
        order = list(base[ORDER])
        order.insert(order.index(key) + 1, new_key)
        note = f"Duplicated {original.get('name') or key}"
        outcome = save_sections(
            store,
            study_id,
            base_revision=base_revision,
            edits={candidate_section(new_key): variant, ORDER: order},
            author=author,
            note=note[:LONGEST_NOTE],
        )
    return outcome, new_key


def remove_candidate(
    store: Store, study_id: str, key: str, *, base_revision: int, author: str
) -> SaveOutcome:
    """Take a candidate out of the newest state; earlier revisions keep it."""
    base = split_sections(_document(store, study_id, base_revision))
    candidate = base.get(candidate_section(key))
    if candidate is None:
        raise NotFoundError(f"This study has no candidate {quoted(key)}.")
    keeping = [
        str(one.get("name") or one["key"])
        for one in _candidates(split_sections(load_study(store, study_id).document))
        if one.get("same_base_as") == key
    ]
    if keeping:
        raise StudyRefusedError(
            [
                Fault(
                    candidate_section(key),
                    f"{quoted(keeping[0])} keeps the base of this candidate; remove that one "
                    "first, or give it a base of its own.",
                    given=key,
                )
            ]
        )
    note = f"Removed {candidate.get('name') or key}"
    return save_sections(
        store,
        study_id,
        base_revision=base_revision,
        edits={candidate_section(key): None},
        author=author,
        note=note[:LONGEST_NOTE],
    )


def _document(store: Store, study_id: str, number: int) -> dict[str, Any]:
    return load_study(store, study_id, number).document


def _candidates(sections: Mapping[str, Any]) -> list[dict[str, Any]]:
    return [sections[candidate_section(key)] for key in sections.get(ORDER, ())]


def _free_key(key: str, taken: set[str]) -> str:
    """The key with the next free number behind it: swerve, swerve-2, swerve-3."""
    stem = re.sub(r"-[0-9]{1,3}$", "", key)
    number = 2
    while (new := f"{stem[: LONGEST_KEY - len(str(number)) - 1]}-{number}") in taken:
        number += 1
    return new


def _free_name(name: str, taken: set[Any]) -> str:
    """The name with "(variant)", numbered from the second one on."""
    stem = name.partition(" (variant")[0] if name.endswith(")") else name
    number = 1
    while True:
        ending = VARIANT.format(number=f" {number}" if number > 1 else "")
        new = stem[: LONGEST_TEXT - len(ending)] + ending
        if new not in taken:
            return new
        number += 1


def _merged(
    store: Store,
    base_revision: int,
    base: dict[str, Any],
    mine: dict[str, Any],
    latest: StudyState,
) -> Proposal:
    """My edits and what others saved since, together; raises `SaveConflictError`."""
    merge = merge_documents(base, mine, latest.document)
    if merge.conflicts:
        raise _conflict(store, base_revision, merge.conflicts, latest)
    try:
        study_of(store, merge.document)
    except StudyRefusedError as refused:
        study_of(store, mine)  # what is wrong with my edits alone is said as such
        conflicts = _clash(base, mine, latest.document, refused)
        raise _conflict(store, base_revision, conflicts, latest) from refused
    return Proposal(merge.document, merged=bool(merge.taken_over))


def _clash(
    base: Mapping[str, Any],
    mine: Mapping[str, Any],
    theirs: Mapping[str, Any],
    refused: StudyRefusedError,
) -> list[SectionConflict]:
    """Edits that each hold alone but not together, such as a motor removed here and used there."""
    before, my, their = split_sections(base), split_sections(mine), split_sections(theirs)
    words = [f"Together with theirs: {fault}" for fault in refused.faults]
    return [
        SectionConflict(name, before.get(name), my.get(name), their.get(name), words)
        for name in dict.fromkeys([*my, *before])
        if name != ORDER and not same(my.get(name), before.get(name))
    ]


def _conflict(
    store: Store, base_revision: int, conflicts: list[SectionConflict], latest: StudyState
) -> SaveConflictError:
    """The error, naming the last revision that touched one of the sections."""
    sections = {conflict.section for conflict in conflicts}
    changed = latest.revision
    with store.reading() as session:
        newer = latest.document
        for number in range(latest.revision.number, base_revision, -1):
            row = find_revision(session, latest.study_id, number - 1)
            older = row.document
            one, other = split_sections(older), split_sections(newer)
            if any(not same(one.get(name), other.get(name)) for name in sections):
                changed = info_of(find_revision(session, latest.study_id, number))
                break
            newer = older
    return SaveConflictError(
        conflicts,
        latest_number=latest.revision.number,
        latest_author=changed.author,
        latest_saved_at=changed.saved_at,
        changed_in=changed.number,
    )
