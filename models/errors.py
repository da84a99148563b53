"""Everything that Switchover refuses, as one tree of exceptions.

The web app turns these into pages and status codes in one place (`webapp.errors`); the command
line turns them into sentences and exit codes. Anything else is a fault of the program.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True)
class Fault:
    """One thing wrong with one input: where, what was given, what is allowed, what to do."""

    place: str
    message: str
    given: Any = None
    limit: str | None = None

    def __str__(self) -> str:
        return f"{self.place}: {self.message}" if self.place else self.message


class SwitchoverError(Exception):
    """Base of all errors whose message is written for the user."""


class OutOfRangeError(SwitchoverError, ValueError):
    """A physical input outside the range in which the model holds; states limit and value."""


class UnitError(SwitchoverError, ValueError):
    """A number or unit that was typed and cannot be read; the message says what to type."""


class StudyRefusedError(SwitchoverError):
    """A study document that breaks rules: refused whole, with every fault that was found."""

    def __init__(self, faults: list[Fault] | tuple[Fault, ...]) -> None:
        self.faults = tuple(faults)
        super().__init__("; ".join(str(fault) for fault in self.faults))


class NotFoundError(SwitchoverError):
    """No study, revision, candidate or link under that name."""


class StorageError(SwitchoverError):
    """The database cannot do what was asked: full disk, unsafe folder, newer version."""


class LinkClosedError(SwitchoverError):
    """A shared link that was revoked or has expired; the message says which and when."""


class BallotsClosedError(SwitchoverError):
    """A ballot that came after the end; the message says when that was."""


@dataclass
class SectionConflict:
    """One section that two people changed from the same revision."""

    section: str
    base: Any
    mine: Any
    theirs: Any
    words: list[str] = field(default_factory=list)


class SaveConflictError(SwitchoverError):
    """A save that began from an older revision and touches what somebody else has changed."""

    def __init__(
        self,
        conflicts: list[SectionConflict],
        *,
        latest_number: int,
        latest_author: str,
        latest_saved_at: Any,
        changed_in: int | None = None,
    ) -> None:
        """`latest_author` and `latest_saved_at` tell of the revision that changed the sections.

        That revision is `changed_in`; without it, the newest one.
        """
        self.conflicts = conflicts
        self.latest_number = latest_number
        self.latest_author = latest_author
        self.latest_saved_at = latest_saved_at
        self.changed_in = changed_in or latest_number
        sections = ", ".join(conflict.section for conflict in conflicts)
        super().__init__(
            f"{latest_author or 'Somebody'} saved revision {self.changed_in} meanwhile and "
            f"changed the same section: {sections}."
        )
