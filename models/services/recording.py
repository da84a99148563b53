"""Decisions on record: frozen with their figures and ballots; outcomes are added beside them."""

from __future__ import annotations

import math
import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session, undefer

from models.errors import Fault, NotFoundError, StudyRefusedError
from models.services.revisions import (
    LONGEST_AUTHOR,
    LONGEST_ONCE,
    can_be_id,
    cleaned,
    find_revision,
    latest_number,
)
from models.storage import Store
from models.storage.tables import DecisionRow, OutcomeRow
from models.study.canonical import document_hash
from models.units import quoted

LONGEST_WORDS = 1000
LONGEST_METRIC = 80
LARGEST_FIGURE = 1e12


@dataclass(frozen=True)
class DecisionInfo:
    """A decision on record, without its text and figures."""

    id: str
    study_id: str
    revision: int
    author: str
    recorded_at: datetime
    choice: str
    hash: str


@dataclass(frozen=True)
class Outcome:
    """What became of a decision, said later."""

    added_at: datetime
    author: str
    metric: str
    candidate: str
    measured: float | None
    words: str


@dataclass(frozen=True)
class DecisionRecord:
    """A decision with everything that was recorded, and the outcomes so far."""

    info: DecisionInfo
    payload: Mapping[str, Any]
    outcomes: tuple[Outcome, ...]

    def is_intact(self) -> bool:
        """Whether text and figures still have the hash that they were recorded with."""
        return document_hash(dict(self.payload)) == self.info.hash


def record_decision(
    store: Store,
    study_id: str,
    *,
    revision: int,
    choice: str,
    payload: Mapping[str, Any],
    author: str,
    once: str | None = None,
) -> DecisionInfo:
    """Put a decision on record for good; a repeated request with the same key adds none.

    `payload` is everything that the record shows: words, figures, ballots. Raises
    `NotFoundError` where the study has no such revision.
    """
    key = cleaned(once, "once", LONGEST_ONCE) if once else None
    content = dict(payload)
    row = DecisionRow(
        id=secrets.token_hex(8),
        study_id=study_id,
        revision=revision,
        author=cleaned(author, "author", LONGEST_AUTHOR),
        recorded_at=datetime.now(UTC),
        payload=content,
        payload_hash=document_hash(content),
        choice=choice,
        once=f"{study_id}/{key}" if key else None,
    )
    try:
        with store.writing() as session:
            latest_number(session, study_id)
            find_revision(session, study_id, revision)
            if row.once and (before := _by_key(session, row.once)):
                return _info(before)
            session.add(row)
            session.flush()
            return _info(row)
    except IntegrityError:  # the same key came through another process in this moment
        with store.reading() as session:
            before = _by_key(session, row.once or "")
            if before is None:
                raise
            return _info(before)


def list_decisions(store: Store, study_id: str) -> list[DecisionInfo]:
    """All decisions of a study, the newest first."""
    with store.reading() as session:
        latest_number(session, study_id)
        query = (
            select(DecisionRow)
            .where(DecisionRow.study_id == study_id)
            .order_by(DecisionRow.recorded_at.desc(), DecisionRow.id)
        )
        return [_info(row) for row in session.scalars(query)]


def decision_record(store: Store, study_id: str, record_id: str) -> DecisionRecord:
    """One decision of a study; `NotFoundError` where there is none."""
    with store.reading() as session:
        row = _row(session, study_id, record_id)
        query = (
            select(OutcomeRow)
            .where(OutcomeRow.record_id == row.id)
            .order_by(OutcomeRow.added_at, OutcomeRow.id)
        )
        outcomes = tuple(
            Outcome(one.added_at, one.author, one.metric, one.candidate, one.measured, one.words)
            for one in session.scalars(query)
        )
        return DecisionRecord(_info(row), row.payload, outcomes)


def add_outcome(
    store: Store,
    study_id: str,
    record_id: str,
    *,
    metric: str = "",
    candidate: str = "",
    measured: float | None = None,
    words: str = "",
    author: str = "",
    once: str | None = None,
) -> None:
    """Add what was found out later beside what had been predicted.

    `measured` is in SI units, of the record's figure `metric` of `candidate`. Raises
    `StudyRefusedError` where nothing is said or a figure is beyond sense, `NotFoundError`.
    """
    said = cleaned(words, "words", LONGEST_WORDS)
    if measured is None and not said:
        raise StudyRefusedError([Fault("words", "is missing; say what was measured or learned")])
    if measured is not None and not (math.isfinite(measured) and abs(measured) <= LARGEST_FIGURE):
        raise StudyRefusedError([Fault("measured", "is not a figure that can be", given=measured)])
    if measured is not None and not metric:
        raise StudyRefusedError([Fault("metric", "is missing; choose the figure it belongs to")])
    key = cleaned(once, "once", LONGEST_ONCE) if once else None
    row = OutcomeRow(
        id=secrets.token_hex(8),
        record_id=record_id,
        added_at=datetime.now(UTC),
        author=cleaned(author, "author", LONGEST_AUTHOR),
        metric=cleaned(metric, "metric", LONGEST_METRIC),
        candidate=cleaned(candidate, "candidate", LONGEST_METRIC),
        measured=measured,
        words=said,
        once=f"{record_id}/{key}" if key else None,
    )
    with store.writing() as session:
        _row(session, study_id, record_id)
        said_before = select(OutcomeRow.id).where(OutcomeRow.once == row.once)
        if row.once is None or session.scalar(said_before) is None:
            session.add(row)


def _row(session: Session, study_id: str, record_id: str) -> DecisionRow:
    options = [undefer(DecisionRow.payload)]
    row = session.get(DecisionRow, record_id, options=options) if can_be_id(record_id) else None
    if row is None or row.study_id != study_id:
        raise NotFoundError(f"This study has no decision {quoted(record_id)}.")
    return row


def _by_key(session: Session, key: str) -> DecisionRow | None:
    return session.scalar(select(DecisionRow).where(DecisionRow.once == key))


def _info(row: DecisionRow) -> DecisionInfo:
    return DecisionInfo(
        id=row.id,
        study_id=row.study_id,
        revision=row.revision,
        author=row.author,
        recorded_at=row.recorded_at,
        choice=row.choice,
        hash=row.payload_hash,
    )
