"""Looking at a database from outside of the program, without changing it."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

from sqlalchemy.exc import DBAPIError

from models.errors import StorageError
from models.storage.checking import Finding, examine, one_line
from models.storage.engine import file_of, open_engine


class Looked(NamedTuple):
    """What was found, and the database's file where it is one."""

    findings: list[Finding]
    file: Path | None


def check_database(url: str) -> Looked:
    """Look at the database at an address; it is neither made nor brought up to date.

    Raises `StorageError` where there is none, or no answer from its server.
    """
    missing = file_of(url)
    if missing is not None and not missing.is_file():
        raise StorageError(f"There is no file {missing}.")
    engine = open_engine(url)
    try:
        if engine.dialect.name == "sqlite":
            file = Path(str(engine.url.database)).resolve()
            where = Finding("database", True, f"SQLite, {file}")
            return Looked([where, *examine(engine)], file)
        try:
            engine.connect().close()
        except DBAPIError as error:
            raise StorageError(f"{engine.url} cannot be reached: {one_line(error.orig)}") from error
        return Looked([Finding("database", True, str(engine.url)), *examine(engine)], None)
    finally:
        engine.dispose()
