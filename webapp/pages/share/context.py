"""What the page of shared links shows."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any, TypedDict

from models.errors import Fault
from models.services import LinkInfo, Store, StudyState, list_links, load_study

EXPIRIES = {
    "never": ("Never", None),
    "day": ("After a day", timedelta(days=1)),
    "week": ("After a week", timedelta(days=7)),
    "month": ("After 30 days", timedelta(days=30)),
}
"""When a link closes by itself: key → words, time from now."""


@dataclass(frozen=True)
class LinkRow:
    """One link in the list, with what it is worth now."""

    link: LinkInfo
    status: str
    """open, revoked or expired"""


class ShareContext(TypedDict):
    """The page of shared links."""

    nav: str
    state: StudyState
    rows: Sequence[LinkRow]
    expiries: dict[str, tuple[str, timedelta | None]]
    faults: Sequence[Fault]
    typed: dict[str, str]
    once: str
    new_address: str
    """The address of a link just made; only this page ever shows it."""
    new_link: LinkInfo | None
    local_only: bool
    """True where the address leads to this computer only."""
    away: dict[str, Any]
    """Summary, picture and file under the new link; empty while there is none."""


def share_context(
    store: Store,
    study_id: str,
    *,
    faults: Sequence[Fault] = (),
    typed: dict[str, str] | None = None,
    new_address: str = "",
    new_link: LinkInfo | None = None,
    away: dict[str, Any] | None = None,
) -> ShareContext:
    """Return the links of a study, newest first, and the form for another."""
    now = datetime.now(UTC)
    links = sorted(list_links(store, study_id), key=lambda link: link.created_at, reverse=True)
    hosts = ("http://localhost", "http://127.0.0.1", "http://[::1]")
    return {
        "nav": "share",
        "state": load_study(store, study_id),
        "rows": [LinkRow(link, link_status(link, now)) for link in links],
        "expiries": EXPIRIES,
        "faults": faults,
        "typed": typed or {"kind": "frozen", "label": "", "expires": "never"},
        "once": secrets.token_urlsafe(12),
        "new_address": new_address,
        "new_link": new_link,
        "local_only": new_address.startswith(hosts),
        "away": away or {},
    }


def link_status(link: LinkInfo, now: datetime) -> str:
    """Return "open", "revoked" or "expired"."""
    if link.revoked_at is not None:
        return "revoked"
    if link.expires_at is not None and link.expires_at <= now:
        return "expired"
    return "open"
