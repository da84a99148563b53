"""Reading revisions and appending one: the only place that writes to a study's history."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, NamedTuple

from sqlalchemy import func, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session, undefer

from models.errors import Fault, NotFoundError, StudyRefusedError
from models.services.records import RevisionInfo, SaveOutcome, StudyState
from models.storage import Store
from models.storage.tables import RequestRow, RevisionRow, StudyRow
from models.study.canonical import canonical_text, document_hash, same
from models.study.reader import MAX_BYTES, parse_study
from models.study.schema import Study
from models.units import quoted

LONGEST_AUTHOR = 60
LONGEST_NOTE = 200
LONGEST_ONCE = 200
LONGEST_ID = 64
LARGEST_NUMBER = 2**31 - 1
QUICK_TRIES = 3
"""Tries to append without holding other programs off."""


@dataclass(frozen=True)
class Proposal:
    """A document that is to become the next revision."""

    document: dict[str, Any]
    merged: bool = False


def load_study(store: Store, study_id: str, revision: int | None = None) -> StudyState:
    """A study at a revision, or at its newest.

    Raises `NotFoundError` where there is none.
    """
    with store.reading() as session:
        return state_in(store, session, study_id, revision)


def state_in(store: Store, session: Session, study_id: str, number: int | None) -> StudyState:
    """A study's state, read in a session that is open already."""
    latest = latest_number(session, study_id)
    row = find_revision(session, study_id, latest if number is None else number)
    return StudyState(
        study_id=study_id,
        revision=info_of(row),
        document=row.document,
        study=study_of(store, row.document, row.document_hash),
        latest_number=latest,
    )


def latest_number(session: Session, study_id: str) -> int:
    """The number of a study's newest revision; `NotFoundError` where there is no such study."""
    query = select(func.max(RevisionRow.number)).where(RevisionRow.study_id == study_id)
    number = session.scalar(query) if can_be_id(study_id) else None
    if number is None:
        raise NotFoundError(f"There is no study under {quoted(study_id)}.")
    return number


def can_be_id(text: str) -> bool:
    """Whether a text from an address may be looked up; not every database takes every character.

    >>> can_be_id("6yst44ypsg"), can_be_id("a\\0b")
    (True, False)
    """
    return text.isascii() and text.isprintable() and len(text) <= LONGEST_ID


def find_revision(session: Session, study_id: str, number: int) -> RevisionRow:
    """One revision with its document; `NotFoundError` where there is none of that number."""
    known = 0 < number <= LARGEST_NUMBER
    options = [undefer(RevisionRow.document)]
    row = session.get(RevisionRow, (study_id, number), options=options) if known else None
    if row is None:
        raise NotFoundError(f"This study has no revision {number}.")
    return row


def info_of(row: RevisionRow) -> RevisionInfo:
    """A revision without its document."""
    return RevisionInfo(row.number, row.author, row.saved_at, row.note, row.document_hash)


def study_of(store: Store, document: dict[str, Any], hash_: str | None = None) -> Study:
    """The study parsed from a document; parsed once for equal documents.

    Raises `StudyRefusedError` with every fault found.
    """
    key = hash_ or document_hash(document)
    study = store.studies.get(key)
    if study is None:
        study = parse_study(document)
        store.studies.put(key, study)
    return study


def append(
    store: Store,
    study_id: str,
    propose: Callable[[StudyState], Proposal],
    *,
    author: str,
    note: str,
    once: str | None = None,
) -> SaveOutcome:
    """Append what `propose` makes of the newest state; nothing is added if that is no change.

    The document is made and checked outside of the database's transaction, which then only sees
    whether the newest revision is still the same, and adds one. Where other programs keep being
    first, they are held off for one last try. A key `once` that was used before on this study
    gives back what it led to then.
    """
    author, note = cleaned(author, "author", LONGEST_AUTHOR), cleaned(note, "note", LONGEST_NOTE)
    once = cleaned(once, "once", LONGEST_ONCE) if once else None

    def draft() -> _Draft:
        latest = load_study(store, study_id)
        proposal = propose(latest)
        row = new_row(store, study_id, latest.latest_number + 1, proposal.document)
        row.author, row.note = author, note
        return _Draft(latest, proposal, row, once)

    with store.write_lock:
        for _ in range(QUICK_TRIES):
            if done := _done_before(store, study_id, once):
                return done
            drafted = draft()
            with suppress(IntegrityError), store.writing() as session:  # same key, this moment
                _queue_for(session, study_id)
                if latest_number(session, study_id) == drafted.latest.latest_number:
                    return _add(store, session, drafted)
        with store.writing() as session:
            _queue_for(session, study_id)
            return _done_before(store, study_id, once) or _add(store, session, draft())


def new_row(store: Store, study_id: str, number: int, document: dict[str, Any]) -> RevisionRow:
    """A revision row for a document that holds; author and note are still to be set."""
    text = canonical_text(document)
    if len(text) > MAX_BYTES:
        raise StudyRefusedError(
            [Fault("", "the study is too large", given=len(text), limit=f"{MAX_BYTES} bytes")]
        )
    hash_ = document_hash(document)
    study = study_of(store, document, hash_)
    return RevisionRow(
        study_id=study_id,
        number=number,
        author="",
        saved_at=datetime.now(UTC),
        note="",
        document=document,
        document_hash=hash_,
        study_name=study.name,
        candidate_count=len(study.candidates),
    )


def cleaned(text: str, place: str, longest: int) -> str:
    """One line of text without stray blanks or control characters; too long a one is refused.

    >>> cleaned("  Kim\\tfrom\\nthe pit ", "author", 60)
    'Kim from the pit'
    """
    line = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    if len(line) > longest:
        raise StudyRefusedError(
            [
                Fault(
                    place,
                    f"has {len(line)} characters; {longest} is the most",
                    given=line,
                    limit=str(longest),
                )
            ]
        )
    return line


class _Draft(NamedTuple):
    """A revision about to be added behind the newest one."""

    latest: StudyState
    proposal: Proposal
    row: RevisionRow
    once: str | None


def _done_before(store: Store, study_id: str, once: str | None) -> SaveOutcome | None:
    if once is None:
        return None
    with store.reading() as session:
        request = session.get(RequestRow, (study_id, once)) if can_be_id(study_id) else None
        if request is None:
            return None
        state = state_in(store, session, study_id, request.number)
        return SaveOutcome(state, merged=request.merged, unchanged=False)


def _queue_for(session: Session, study_id: str) -> None:
    """Wait until no other writer of this study is at work; SQLite has one writer anyway."""
    session.execute(select(StudyRow.id).where(StudyRow.id == study_id).with_for_update())


def _add(store: Store, session: Session, draft: _Draft) -> SaveOutcome:
    """Add the drafted revision, unless it says nothing new."""
    latest, proposal, row, once = draft
    unchanged = same(proposal.document, latest.document)
    if not unchanged:
        session.add(row)
        session.flush()
    if once:
        number = latest.latest_number if unchanged else row.number
        session.add(
            RequestRow(study_id=latest.study_id, once=once, number=number, merged=proposal.merged)
        )
        session.flush()
    if unchanged:
        return SaveOutcome(latest, merged=proposal.merged, unchanged=True)
    state = StudyState(
        study_id=latest.study_id,
        revision=info_of(row),
        document=proposal.document,
        study=study_of(store, proposal.document, row.document_hash),
        latest_number=row.number,
    )
    return SaveOutcome(state, merged=proposal.merged, unchanged=False)
