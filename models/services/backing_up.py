"""Studies out of the database: one as a file, all as a backup.

A backup is either a copy of the SQLite database, or, from both kinds of database, the portable
form of `models.storage.portable`, which can be restored into either.
"""

from __future__ import annotations

import json
import os
import secrets
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import cast

from sqlalchemy.exc import DBAPIError

from models.errors import StorageError
from models.services.revisions import load_study
from models.storage import Store
from models.storage.checking import one_line
from models.storage.engine import open_engine
from models.storage.migrating import NEWEST
from models.storage.portable import write_rows
from models.study.sections import join_sections, split_sections


def export_study(store: Store, study_id: str, revision: int | None = None) -> str:
    """A study as the text of a study file, as it was typed: units, estimates and all."""
    document = load_study(store, study_id, revision).document
    ordered = join_sections(split_sections(document))
    return json.dumps(ordered, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def backup(
    store: Store, path: Path | str, *, overwrite: bool = False, portable: bool = False
) -> Path:
    """Put the whole database into one file, also while others are saving; give back its path.

    PostgreSQL gives the portable form always, SQLite when asked for; else its copy is made by
    SQLite's backup interface (copying the file itself can lose what is not yet in it) and checked.
    Only then does the file take its name. Raises `StorageError` for a file that is there already
    unless `overwrite`, and for a folder that cannot be written.
    """
    target = Path(path).expanduser().resolve()
    _refuse(store, target, overwrite)
    try:
        with part_beside(target) as part:
            if store.engine.dialect.name == "postgresql":
                _write_from_server(store, part)
            elif portable:
                _write_from_file(store, part)
            else:
                _copy_from(store, part)
            part.replace(target)
            flush_folder(target.parent)
    except (OSError, sqlite3.Error, DBAPIError) as error:
        reason = one_line(error.orig if isinstance(error, DBAPIError) else error)
        raise StorageError(f"The backup {target} was not made: {reason}.") from error
    return target


@contextmanager
def part_beside(target: Path) -> Iterator[Path]:
    """A name beside a file under which to make it; what is left there at the end goes."""
    part = target.with_name(f".{target.name}.{secrets.token_hex(4)}.part")
    try:
        yield part
    finally:
        part.unlink(missing_ok=True)
        part.with_name(f"{part.name}-journal").unlink(missing_ok=True)


def flush_folder(folder: Path) -> None:
    """Make a new name itself survive a loss of power, where the system can do that."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _refuse(store: Store, target: Path, overwrite: bool) -> None:
    url = store.engine.url
    own_file = url.get_backend_name() == "sqlite" and target.exists()
    if own_file and target.samefile(str(url.database)):
        raise StorageError(f"{target} is the database itself; name another file.")
    if target.is_dir():
        raise StorageError(f"{target} is a folder; name a file in it.")
    if target.exists() and not overwrite:
        raise StorageError(f"{target} exists already; name another file, or say to overwrite it.")
    if not target.parent.is_dir():
        raise StorageError(f"There is no folder {target.parent}.")


def _copy_from(store: Store, part: Path) -> None:
    with store.write_lock, store.engine.connect() as connection:
        copy_whole(cast(sqlite3.Connection, connection.connection.driver_connection), part)


def copy_whole(source: sqlite3.Connection, part: Path) -> None:
    """Copy a SQLite database into a new file by its backup interface, and check the copy."""
    with closing(sqlite3.connect(part)) as copy:
        source.backup(copy)
        copy.execute("PRAGMA journal_mode = delete")  # one file, with nothing beside it
        verdict = copy.execute("PRAGMA integrity_check").fetchone()[0]
    if verdict != "ok":
        raise StorageError(f"The database does not pass its own check ({verdict}).")


def _write_from_file(store: Store, part: Path) -> None:
    """Write the rows of a copy, so that nobody waits while they are written."""
    with part_beside(part) as copy:
        _copy_from(store, copy)
        engine = open_engine(f"sqlite:///{copy.as_posix()}")
        try:
            with engine.connect() as connection, part.open("xb") as file:
                write_rows(connection, file, migration=NEWEST)
                file.flush()
                os.fsync(file.fileno())
        finally:
            engine.dispose()


def _write_from_server(store: Store, part: Path) -> None:
    """Write the rows of one state: others may go on saving meanwhile."""
    one_state = store.engine.execution_options(
        isolation_level="REPEATABLE READ", postgresql_readonly=True
    )
    with one_state.connect() as connection, part.open("xb") as file:
        write_rows(connection, file, migration=NEWEST)
        file.flush()
        os.fsync(file.fileno())
