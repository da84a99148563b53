"""Shared links: frozen ones that keep a revision's figures as they were, and live ones."""

from __future__ import annotations

import hashlib
import secrets
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import undefer

from models.errors import Fault, LinkClosedError, NotFoundError, StudyRefusedError
from models.services.records import LinkInfo, LinkKind, SharedView
from models.services.revisions import (
    LONGEST_AUTHOR,
    can_be_id,
    cleaned,
    latest_number,
    load_study,
    state_in,
)
from models.services.whole import whole_evaluation_of
from models.storage import Store
from models.storage.tables import LinkRow
from models.units import quoted

TOKEN_ALPHABET = "23456789ABCDEFGHJKLMNPQRSTUVWXYZabcdefghijkmnopqrstuvwxyz"  # noqa: S105  letters
"""Only letters and digits, so that no chat program cuts a link short, and none that look alike."""
TOKEN_LENGTH = 28
"""28 of 57 characters are 163 bits."""
LONGEST_LABEL = 80
STRAY = " \t\r\n.,;:!?)]}>'\"*_"
"""What chat programs and people append to a link; never part of a token."""


def create_link(
    store: Store,
    study_id: str,
    *,
    kind: LinkKind,
    revision: int | None = None,
    label: str = "",
    author: str = "",
    expires_at: datetime | None = None,
) -> tuple[LinkInfo, str]:
    """Make a link to a study; the token is given back this once and only its hash is stored.

    A frozen link keeps the figures of one revision (the newest if none is named) with the version
    of the model; a live link follows the newest revision. Raises `NotFoundError`, and
    `StudyRefusedError` for an end in the past or too long a label.
    """
    now = datetime.now(UTC)
    if expires_at is not None and expires_at <= now:
        raise StudyRefusedError(
            [Fault("expires_at", "the link would have ended already; name a later time")]
        )
    frozen = kind == "frozen"
    state = load_study(store, study_id, revision if frozen else None)
    payload = whole_evaluation_of(store, state) if frozen else None
    token = "".join(secrets.choice(TOKEN_ALPHABET) for _ in range(TOKEN_LENGTH))
    row = LinkRow(
        id=secrets.token_hex(8),
        study_id=study_id,
        kind=kind,
        revision=state.revision.number if frozen else None,
        label=cleaned(label, "label", LONGEST_LABEL),
        author=cleaned(author, "author", LONGEST_AUTHOR),
        created_at=now,
        expires_at=expires_at,
        revoked_at=None,
        token_hash=_hash(token),
        last_four=token[-4:],
        payload=payload,
        model_version=payload["model_version"] if payload else None,
    )
    with store.writing() as session:
        session.add(row)
        session.flush()
        info = _info(row)
    return info, token


def list_links(store: Store, study_id: str) -> list[LinkInfo]:
    """All links of a study, open and closed, the newest first."""
    with store.reading() as session:
        latest_number(session, study_id)
        query = (
            select(LinkRow)
            .where(LinkRow.study_id == study_id)
            .order_by(LinkRow.created_at.desc(), LinkRow.id)
        )
        return [_info(row) for row in session.scalars(query)]


def revoke_link(store: Store, link_id: str) -> LinkInfo:
    """Close a link for good; one that is closed already keeps its time."""
    with store.writing() as session:
        row = session.get(LinkRow, link_id) if can_be_id(link_id) else None
        if row is None:
            raise NotFoundError(f"There is no link {quoted(link_id)}.")
        if row.revoked_at is None:
            row.revoked_at = datetime.now(UTC)
            session.flush()
        return _info(row)


def open_link(store: Store, token: str) -> SharedView:
    """What a link shows now.

    Raises `NotFoundError` for a token that never was, `LinkClosedError` for one that has ended.
    """
    with store.reading() as session:
        row = session.scalar(
            select(LinkRow)
            .where(LinkRow.token_hash == _hash(token.strip(STRAY)))
            .options(undefer(LinkRow.payload))
        )
        if row is None:
            raise NotFoundError(
                "There is no such link. It may have been cut short; ask for it anew."
            )
        link, payload, version = _info(row), row.payload, row.model_version
        _refuse_closed(link)
        state = state_in(store, session, link.study_id, link.revision)
    if payload is None or version is None:
        payload = whole_evaluation_of(store, state)
        version = payload["model_version"]
    return SharedView(state, payload, link, str(version))


def _refuse_closed(link: LinkInfo) -> None:
    closed = link.closed_at(datetime.now(UTC))
    if closed is None:
        return
    what = "was revoked" if closed == link.revoked_at else "expired"
    name = f"“{link.label}”" if link.label else f"ending in {link.last_four}"
    raise LinkClosedError(f"The link {name} {what} on {closed.day} {closed:%B %Y, %H:%M} UTC.")


def _hash(token: str) -> str:
    """The token has 163 random bits, so one plain round of SHA-256 is enough."""
    return hashlib.sha256(token.encode(errors="replace")).hexdigest()


def _info(row: LinkRow) -> LinkInfo:
    fields: dict[str, Any] = {name: getattr(row, name) for name in LinkInfo.__dataclass_fields__}
    return LinkInfo(**fields)
