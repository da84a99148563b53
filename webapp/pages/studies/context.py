"""What the page of studies shows."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from typing import TypedDict

from models.errors import Fault
from models.services import Store, StudySummary, list_studies


class StudiesContext(TypedDict):
    """The page of studies: the list, and what was wrong with a file that was sent."""

    studies: Sequence[StudySummary]
    faults: Sequence[Fault]
    refused_file: str
    once: str
    """Key that makes one study of a button pressed twice."""


def studies_context(
    store: Store, *, faults: Sequence[Fault] = (), refused_file: str = ""
) -> StudiesContext:
    """Return what the page of studies shows, with the faults of a file that was refused."""
    return {
        "studies": list_studies(store),
        "faults": faults,
        "refused_file": refused_file,
        "once": secrets.token_urlsafe(12),
    }
