"""Listing, creating and duplicating studies, and what happened to one so far."""

from __future__ import annotations

import secrets
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.exc import IntegrityError

from models.services.records import RevisionInfo, StudyState, StudySummary
from models.services.revisions import (
    LONGEST_AUTHOR,
    LONGEST_NOTE,
    LONGEST_ONCE,
    cleaned,
    find_revision,
    info_of,
    latest_number,
    load_study,
    new_row,
)
from models.storage import Store
from models.storage.tables import RevisionRow, StudyRow
from models.study.changes import Change, describe_changes
from models.units import UnitSystem

ID_ALPHABET = "23456789abcdefghjkmnpqrstuvwxyz"
"""No letter or digit that is taken for another when read out."""
ID_LENGTH = 10


def list_studies(store: Store) -> list[StudySummary]:
    """Every study with its newest revision, the one saved last first."""
    newest = (
        select(RevisionRow.study_id, func.max(RevisionRow.number).label("newest"))
        .group_by(RevisionRow.study_id)
        .subquery()
    )
    query = (
        select(RevisionRow)
        .join(
            newest,
            (RevisionRow.study_id == newest.c.study_id) & (RevisionRow.number == newest.c.newest),
        )
        .order_by(RevisionRow.saved_at.desc(), RevisionRow.study_id)
    )
    with store.reading() as session:
        return [
            StudySummary(
                id=row.study_id,
                name=row.study_name,
                revision=row.number,
                saved_at=row.saved_at,
                author=row.author,
                candidate_count=row.candidate_count,
            )
            for row in session.scalars(query)
        ]


def create_study(
    store: Store, document: dict[str, Any], *, author: str, note: str, once: str | None = None
) -> StudyState:
    """Keep a document as the first revision of a new study.

    Raises `StudyRefusedError` with every fault; then nothing is stored. A key `once` that was used
    before gives back the study that it made.
    """
    author, note = cleaned(author, "author", LONGEST_AUTHOR), cleaned(note, "note", LONGEST_NOTE)
    once = cleaned(once, "once", LONGEST_ONCE) if once else None
    study_id = "".join(secrets.choice(ID_ALPHABET) for _ in range(ID_LENGTH))
    row = new_row(store, study_id, 1, document)
    row.author, row.note = author, note
    try:
        with store.writing() as session:
            made = (
                session.scalar(select(StudyRow.id).where(StudyRow.once == once)) if once else None
            )
            if made is None:
                session.add(StudyRow(id=study_id, created_at=row.saved_at, once=once))
                session.flush()
                session.add(row)
    except IntegrityError:
        if once is None:
            raise
        with store.reading() as session:  # another process made it in this moment
            made = session.scalars(select(StudyRow.id).where(StudyRow.once == once)).one()
    return load_study(store, made or study_id, 1 if made else None)


def duplicate_study(
    store: Store, study_id: str, *, author: str, name: str, once: str | None = None
) -> StudyState:
    """Make a new study, under a new name, from the newest revision of another one."""
    original = load_study(store, study_id)
    note = f"Copied from revision {original.revision.number} of {original.study.name}"
    document = {**original.document, "name": name}
    return create_study(store, document, author=author, note=note[:LONGEST_NOTE], once=once)


def list_revisions(store: Store, study_id: str) -> list[RevisionInfo]:
    """All revisions of a study, the newest first."""
    with store.reading() as session:
        latest_number(session, study_id)
        query = (
            select(RevisionRow)
            .where(RevisionRow.study_id == study_id)
            .order_by(RevisionRow.number.desc())
        )
        return [info_of(row) for row in session.scalars(query)]


def changes_between(
    store: Store,
    study_id: str,
    before: int,
    after: int,
    system: UnitSystem = UnitSystem.SI,
) -> list[Change]:
    """What changed from one revision of a study to another, in words."""
    with store.reading() as session:
        latest_number(session, study_id)
        older = find_revision(session, study_id, before).document
        newer = find_revision(session, study_id, after).document
    return describe_changes(older, newer, system)
