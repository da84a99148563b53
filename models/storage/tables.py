"""The tables: studies, revisions, results by content, shared links, ballots, decisions.

All but links are only ever added to; database triggers (see the migrations) refuse to change or
delete what is there, and of a link only the time of its revoking can be set.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import CheckConstraint, Double, ForeignKey, ForeignKeyConstraint, MetaData, Text
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column

from models.storage.columns import CanonicalJson, Moment

NAMING = {
    "ix": "ix_%(column_0_label)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}
"""Names of constraints, so that a migration can name what it changes on every database."""


class Table(DeclarativeBase):
    """Base of all tables."""

    metadata = MetaData(naming_convention=NAMING)


class StudyRow(Table):
    """A study: only its identity; everything else stands in its revisions."""

    __tablename__ = "study"

    id: Mapped[str] = mapped_column(primary_key=True)
    created_at: Mapped[datetime] = mapped_column(Moment)
    once: Mapped[str | None] = mapped_column(unique=True)
    """The key of the request that made it, so that a repeated request makes no second study."""


class RevisionRow(Table):
    """One saved state of a study."""

    __tablename__ = "revision"
    __table_args__ = (
        CheckConstraint("number >= 1", name="numbered_from_one"),
        CheckConstraint("json_valid(document)", name="document_is_json").ddl_if(dialect="sqlite"),
    )

    study_id: Mapped[str] = mapped_column(ForeignKey("study.id"), primary_key=True)
    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    author: Mapped[str]
    saved_at: Mapped[datetime] = mapped_column(Moment)
    note: Mapped[str]
    document: Mapped[Any] = mapped_column(CanonicalJson, deferred=True)
    document_hash: Mapped[str]
    study_name: Mapped[str]
    candidate_count: Mapped[int]


class RequestRow(Table):
    """A save that carried a key against repetition, and the revision it led to."""

    __tablename__ = "request"
    __table_args__ = (
        ForeignKeyConstraint(["study_id", "number"], ["revision.study_id", "revision.number"]),
    )

    study_id: Mapped[str] = mapped_column(primary_key=True)
    once: Mapped[str] = mapped_column(primary_key=True)
    number: Mapped[int]
    merged: Mapped[bool]


class ResultRow(Table):
    """The evaluation of one document by one version of the model."""

    __tablename__ = "result"
    __table_args__ = (
        CheckConstraint("json_valid(payload)", name="payload_is_json").ddl_if(dialect="sqlite"),
    )

    document_hash: Mapped[str] = mapped_column(primary_key=True)
    model_version: Mapped[str] = mapped_column(primary_key=True)
    payload: Mapped[str] = mapped_column(Text)
    computed_at: Mapped[datetime] = mapped_column(Moment)


class LinkRow(Table):
    """A shared link: to one revision with its figures (frozen), or to the newest one (live)."""

    __tablename__ = "link"
    __table_args__ = (
        ForeignKeyConstraint(["study_id", "revision"], ["revision.study_id", "revision.number"]),
        CheckConstraint("kind in ('frozen', 'live')", name="known_kind"),
        CheckConstraint(
            "(kind = 'frozen') = (revision is not null and payload is not null "
            "and model_version is not null)",
            name="frozen_keeps_figures",
        ),
    )

    id: Mapped[str] = mapped_column(primary_key=True)
    study_id: Mapped[str] = mapped_column(ForeignKey("study.id"), index=True)
    kind: Mapped[str]
    revision: Mapped[int | None]
    label: Mapped[str]
    author: Mapped[str]
    created_at: Mapped[datetime] = mapped_column(Moment)
    expires_at: Mapped[datetime | None] = mapped_column(Moment)
    revoked_at: Mapped[datetime | None] = mapped_column(Moment)
    token_hash: Mapped[str] = mapped_column(unique=True)
    last_four: Mapped[str]
    payload: Mapped[Any | None] = mapped_column(CanonicalJson, deferred=True)
    model_version: Mapped[str | None]


class BallotRoundRow(Table):
    """A call for ballots: what is weighed, fixed for all who vote, and the secret of its link."""

    __tablename__ = "ballot_round"
    __table_args__ = (
        ForeignKeyConstraint(["study_id", "revision"], ["revision.study_id", "revision.number"]),
    )

    id: Mapped[str] = mapped_column(primary_key=True)
    study_id: Mapped[str] = mapped_column(ForeignKey("study.id"), index=True)
    revision: Mapped[int]
    title: Mapped[str]
    author: Mapped[str]
    opened_at: Mapped[datetime] = mapped_column(Moment)
    criteria: Mapped[Any] = mapped_column(CanonicalJson)
    candidates: Mapped[Any] = mapped_column(CanonicalJson)
    token_hash: Mapped[str] = mapped_column(unique=True)
    last_four: Mapped[str]


class BallotClosingRow(Table):
    """The end of a call for ballots; after it no ballot can be added."""

    __tablename__ = "ballot_closing"

    round_id: Mapped[str] = mapped_column(ForeignKey("ballot_round.id"), primary_key=True)
    closed_at: Mapped[datetime] = mapped_column(Moment)
    author: Mapped[str]


class BallotRow(Table):
    """What one member said; a change is a further version, the last one counts."""

    __tablename__ = "ballot"
    __table_args__ = (CheckConstraint("version >= 1", name="numbered_from_one"),)

    round_id: Mapped[str] = mapped_column(ForeignKey("ballot_round.id"), primary_key=True)
    voter: Mapped[str] = mapped_column(primary_key=True)
    """The name with small letters and single spaces, so that one name has one ballot."""
    version: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    name: Mapped[str]
    weights: Mapped[Any] = mapped_column(CanonicalJson)
    preference: Mapped[str]
    reason: Mapped[str] = mapped_column(Text)
    cast_at: Mapped[datetime] = mapped_column(Moment)
    code_hash: Mapped[str]
    """Of the code with which this member can change the ballot."""


class DecisionRow(Table):
    """A decision as it was recorded: words, figures and ballots, in one text with its hash."""

    __tablename__ = "decision_record"
    __table_args__ = (
        ForeignKeyConstraint(["study_id", "revision"], ["revision.study_id", "revision.number"]),
    )

    id: Mapped[str] = mapped_column(primary_key=True)
    study_id: Mapped[str] = mapped_column(ForeignKey("study.id"), index=True)
    revision: Mapped[int]
    author: Mapped[str]
    recorded_at: Mapped[datetime] = mapped_column(Moment)
    payload: Mapped[Any] = mapped_column(CanonicalJson, deferred=True)
    payload_hash: Mapped[str]
    choice: Mapped[str]
    once: Mapped[str | None] = mapped_column(unique=True)


class OutcomeRow(Table):
    """What became of a decision, added later beside what had been predicted."""

    __tablename__ = "decision_outcome"

    id: Mapped[str] = mapped_column(primary_key=True)
    record_id: Mapped[str] = mapped_column(ForeignKey("decision_record.id"), index=True)
    added_at: Mapped[datetime] = mapped_column(Moment)
    author: Mapped[str]
    metric: Mapped[str]
    """A metric's key, or empty where it is a remark alone."""
    candidate: Mapped[str]
    measured: Mapped[float | None] = mapped_column(Double)
    """In SI units, as the predicted figure."""
    words: Mapped[str] = mapped_column(Text)
    once: Mapped[str | None] = mapped_column(unique=True)
