"""Column types: JSON as its one canonical text, and moments that always know their zone."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import DateTime, Dialect, Text
from sqlalchemy.types import TypeDecorator

from models.study.canonical import canonical_text


class CanonicalJson(TypeDecorator[Any]):
    """A JSON value, written as canonical text; a number that is not finite is refused.

    A value that was read is a fresh one: changing it in place changes nothing that is stored.
    """

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: Any, dialect: Dialect) -> str | None:
        """Write the value as text."""
        return None if value is None else canonical_text(value)

    def process_result_value(self, value: str | None, dialect: Dialect) -> Any:
        """Read the text back."""
        return None if value is None else json.loads(value)


class Moment(TypeDecorator[datetime]):
    """A point in time with its zone; stored and given back in UTC, a bare time is refused."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Turn any zone into UTC; SQLite keeps no zone, so there it is left off."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"a stored time needs its zone, {value!r} has none")
        moment = value.astimezone(UTC)
        return moment.replace(tzinfo=None) if dialect.name == "sqlite" else moment

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Give the time back as UTC."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)
