"""A backup put back: checked whole before a database takes it, and taken whole or not at all.

Either form of backup goes into either kind of database. It is first made into a SQLite file of its
own and looked at there; a SQLite database then takes that file, PostgreSQL its rows.
"""

from __future__ import annotations

import os
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import cast

from sqlalchemy import Connection, Engine, text
from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from models.errors import StorageError
from models.services.backing_up import backup, copy_whole, flush_folder, part_beside
from models.storage import Store, open_store
from models.storage.checking import examine, one_line
from models.storage.engine import open_engine
from models.storage.migrating import NEWEST, migrate, upgrade_to
from models.storage.portable import (
    NOT_COPIED,
    copy_rows,
    count_rows,
    read_header,
    read_rows,
    reflected,
    write_rows,
)

SQLITE_STARTS = b"SQLite format 3\0"
PATIENCE_S = 5.0


@dataclass(frozen=True)
class Restored:
    """What a restore did: how many studies are there now, and where what was there before is."""

    studies: int
    kept: Path | None = None


def restore(path: Path | str, url: str, *, overwrite: bool = False) -> Restored:
    """Put a backup into the database at this address; it need not be there yet.

    Raises `StorageError` for a backup that is not whole, and for a database with studies in it
    unless `overwrite`; that database is then kept as a backup of its own. The database holds the
    old state or the new one, never a part, whatever happens on the way.
    """
    file = Path(path).expanduser().resolve()
    if not file.is_file():
        raise StorageError(f"There is no file {file}.")
    target = open_engine(url)
    try:
        with _in_words(file):
            if target.dialect.name == "sqlite":
                return _into_file(file, Path(str(target.url.database)).resolve(), target, overwrite)
            return _into_server(file, target, overwrite)
    finally:
        target.dispose()


@contextmanager
def _in_words(file: Path) -> Iterator[None]:
    try:
        yield
    except (OSError, sqlite3.Error, SQLAlchemyError) as error:
        reason = one_line(error.orig if isinstance(error, DBAPIError) else error)
        raise StorageError(f"{file} was not restored: {reason}.") from error


def _into_file(file: Path, place: Path, target: Engine, overwrite: bool) -> Restored:
    if place.exists() and place.samefile(file):
        raise StorageError(f"{file} is the database itself; name a backup.")
    with part_beside(place) as part:
        studies = _build(file, part)
        if not place.exists():
            part.replace(place)
            flush_folder(place.parent)
            return Restored(studies)
        holds = _studies_in(target)
        _refuse(holds, str(place), overwrite)
        kept: Path | None = None
        if holds is None:
            kept = _put_aside(place)
            part.replace(place)
        else:
            if holds:
                kept = backup(Store(target), place.with_name(f"{place.name}.before-{_now()}"))
            _copy_over(part, target)
        flush_folder(place.parent)
        return Restored(studies, kept)


def _into_server(file: Path, target: Engine, overwrite: bool) -> Restored:
    with tempfile.TemporaryDirectory(prefix="switchover-") as folder:
        part = Path(folder) / "restored.sqlite3"
        studies = _build(file, part)
        migrate(target)
        source = open_engine(f"sqlite:///{part.as_posix()}")
        try:
            with source.connect() as reading, target.begin() as writing:
                kept = _clear(writing, file, overwrite)
                copy_rows(reading, writing)
        finally:
            source.dispose()
        return Restored(studies, kept)


def _build(file: Path, part: Path) -> int:
    """Make a SQLite file of the backup, at the newest migration; return its number of studies.

    Raises `StorageError` unless all of it is as it should be.
    """
    try:
        with file.open("rb") as opened:
            copied = opened.read(len(SQLITE_STARTS)) == SQLITE_STARTS
        if copied:
            _build_from_copy(file, part)
        else:
            _build_from_rows(file, part)
        store = open_store(f"sqlite:///{part.as_posix()}")
    except (StorageError, DBAPIError, sqlite3.Error) as error:
        reason = one_line(error.orig if isinstance(error, DBAPIError) else error).rstrip(".")
        raise StorageError(f"{file} cannot be restored: {reason}. Nothing was changed.") from error
    try:
        faults = [f"{one.name}: {one.words}" for one in examine(store.engine) if not one.good]
        if faults:
            raise StorageError(
                f"{file} cannot be restored: {'; '.join(faults)}. Nothing was changed."
            )
        with store.engine.connect() as connection:
            studies = count_rows(connection, "study")
    finally:
        store.close()
    with closing(sqlite3.connect(part)) as made:
        made.execute("PRAGMA journal_mode = delete")  # one file, with nothing beside it
    return studies


def _build_from_copy(file: Path, part: Path) -> None:
    with closing(sqlite3.connect(f"{file.as_uri()}?mode=ro", uri=True)) as source:
        copy_whole(source, part)
        tables = source.execute("SELECT 1 FROM sqlite_master WHERE name = ?", (NOT_COPIED,))
        if tables.fetchone() is None:
            raise StorageError("it is a database of another program")


def _build_from_rows(file: Path, part: Path) -> None:
    engine = open_engine(f"sqlite:///{part.as_posix()}")
    try:
        with (
            file.open("rb") as opened,
            engine.execution_options(write=True).begin() as connection,
        ):
            upgrade_to(connection, str(read_header(opened)["migration"]))
            opened.seek(0)
            read_rows(opened, connection)
    finally:
        engine.dispose()


def _studies_in(target: Engine) -> int | None:
    """How many studies a database holds, None for one that is damaged."""
    try:
        with target.connect() as connection:
            return count_rows(connection, "study")
    except (DBAPIError, sqlite3.DatabaseError) as error:
        cause = error.orig if isinstance(error, DBAPIError) else error
        damaged = any(words in str(cause) for words in ("malformed", "not a database"))
        if not damaged:
            raise
        return None


def _refuse(holds: int | None, place: str, overwrite: bool) -> None:
    if holds == 0 or overwrite:
        return
    what = "is damaged" if holds is None else f"has {holds} {'study' if holds == 1 else 'studies'}"
    raise StorageError(
        f"The database {place} {what}. With --overwrite the backup takes its place, and what is "
        "there now is kept under another name. Nothing was changed."
    )


def _put_aside(place: Path) -> Path:
    """Rename a damaged database and what belongs to it, for whoever may rescue something."""
    kept = place.with_name(f"{place.name}.damaged-{_now()}")
    for ending in ("-wal", "-shm", "-journal"):
        beside = place.with_name(place.name + ending)
        if beside.exists():
            beside.replace(kept.with_name(kept.name + ending))
    place.replace(kept)
    return kept


def _copy_over(part: Path, target: Engine) -> None:
    """Replace what a database holds in one transaction, so that a server may have it open."""
    with closing(sqlite3.connect(part)) as source, target.connect() as connection:
        into = cast(sqlite3.Connection, connection.connection.driver_connection)
        into.rollback()  # the backup interface begins and commits by itself
        until = datetime.now(UTC).timestamp() + PATIENCE_S

        def give_up(status: int, remaining: int, total: int) -> None:
            if status == sqlite3.SQLITE_BUSY and datetime.now(UTC).timestamp() > until:
                raise StorageError("Another program holds the database. Stop it, then restore.")

        source.backup(into, progress=give_up, sleep=0.05)


def _clear(connection: Connection, file: Path, overwrite: bool) -> Path | None:
    """Take all rows out of a PostgreSQL database, within a transaction that puts others in.

    Nobody else reads or writes from here to its end. Returns where the rows are kept.
    """
    names = ", ".join(f'"{table.name}"' for table in reflected(connection))
    connection.execute(text(f"LOCK TABLE {names} IN ACCESS EXCLUSIVE MODE"))
    holds = count_rows(connection, "study")
    _refuse(holds, str(connection.engine.url), overwrite)
    kept = file.with_name(f"{file.name}.before-{_now()}") if holds else None
    if kept is not None:
        with kept.open("xb") as written:
            write_rows(connection, written, migration=NEWEST)
            written.flush()
            os.fsync(written.fileno())
    for name in names.split(", "):
        connection.execute(text(f"ALTER TABLE {name} DISABLE TRIGGER USER"))
    connection.execute(text(f"TRUNCATE {names}"))
    for name in names.split(", "):
        connection.execute(text(f"ALTER TABLE {name} ENABLE TRIGGER USER"))
    return kept


def _now() -> str:
    return datetime.now(UTC).strftime("%Y%m%dT%H%M%S%fZ")
