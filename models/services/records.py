"""What the services hand out: plain records without a session behind them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from models.study.schema import Study

LinkKind = Literal["frozen", "live"]


@dataclass(frozen=True)
class StudySummary:
    """One line in the list of studies: its newest revision."""

    id: str
    name: str
    revision: int
    saved_at: datetime
    author: str
    candidate_count: int


@dataclass(frozen=True)
class RevisionInfo:
    """Who saved what state when and why; `hash` is the SHA-256 of the document."""

    number: int
    author: str
    saved_at: datetime
    note: str
    hash: str


@dataclass(frozen=True)
class StudyState:
    """A study at one revision: the document as it was typed, and the study parsed from it."""

    study_id: str
    revision: RevisionInfo
    document: dict[str, Any]
    study: Study
    latest_number: int


@dataclass(frozen=True)
class SaveOutcome:
    """What a save led to."""

    state: StudyState
    merged: bool
    """Somebody else's changes in other sections are in it as well."""
    unchanged: bool
    """The save said nothing new, so no revision was added."""


@dataclass(frozen=True)
class LinkInfo:
    """A shared link, without its secret token."""

    id: str
    study_id: str
    kind: LinkKind
    label: str
    revision: int | None
    created_at: datetime
    author: str
    expires_at: datetime | None
    revoked_at: datetime | None
    last_four: str

    def closed_at(self, now: datetime) -> datetime | None:
        """When the link was revoked or expired; None while it is open at `now`."""
        ends = [self.revoked_at, self.expires_at]
        past = [end for end in ends if end is not None and end <= now]
        return min(past, default=None)


@dataclass(frozen=True)
class SharedView:
    """What a link shows: a state with its figures and the version of the model they are from."""

    state: StudyState
    payload: dict[str, Any]
    link: LinkInfo
    model_version: str
