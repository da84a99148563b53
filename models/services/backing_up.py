"""Studies out of the database: one as a file, all as a copy of the database."""

from __future__ import annotations

import json
import os
import secrets
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import cast

from models.errors import StorageError
from models.services.revisions import load_study
from models.storage import Store
from models.study.sections import join_sections, split_sections


def export_study(store: Store, study_id: str, revision: int | None = None) -> str:
    """A study as the text of a study file, as it was typed: units, estimates and all."""
    document = load_study(store, study_id, revision).document
    ordered = join_sections(split_sections(document))
    return json.dumps(ordered, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def backup(store: Store, path: Path | str, *, overwrite: bool = False) -> Path:
    """Copy the whole database into one file, also while others are saving; give back its path.

    The copy is made by SQLite's backup interface (copying the file itself can lose what is not
    yet in it), checked, and only then takes its name. Raises `StorageError` for a file that is
    there already unless `overwrite`, a folder that cannot be written, a database that is not
    SQLite.
    """
    target = Path(path).expanduser().resolve()
    _refuse(store, target, overwrite)
    part = target.with_name(f".{target.name}.{secrets.token_hex(4)}.part")
    try:
        with store.write_lock, store.engine.connect() as connection:
            _copy(cast(sqlite3.Connection, connection.connection.driver_connection), part)
        part.replace(target)
        _flush_folder(target.parent)
    except (OSError, sqlite3.Error) as error:
        raise StorageError(f"The backup {target} was not made: {error}.") from error
    finally:
        part.unlink(missing_ok=True)
    return target


def _refuse(store: Store, target: Path, overwrite: bool) -> None:
    url = store.engine.url
    if url.get_backend_name() != "sqlite":
        raise StorageError(
            "This database is PostgreSQL, which has a program of its own for that: "
            f"pg_dump --format=custom --file={target} {url.database}"
        )
    if target.exists() and target.samefile(str(url.database)):
        raise StorageError(f"{target} is the database itself; name another file.")
    if target.is_dir():
        raise StorageError(f"{target} is a folder; name a file in it.")
    if target.exists() and not overwrite:
        raise StorageError(f"{target} exists already; name another file, or say to overwrite it.")
    if not target.parent.is_dir():
        raise StorageError(f"There is no folder {target.parent}.")


def _copy(source: sqlite3.Connection, part: Path) -> None:
    with closing(sqlite3.connect(part)) as copy:
        source.backup(copy)
        copy.execute("PRAGMA journal_mode = delete")  # one file, with nothing beside it
        verdict = copy.execute("PRAGMA integrity_check").fetchone()[0]
    if verdict != "ok":
        raise StorageError(f"The database does not pass its own check ({verdict}).")


def _flush_folder(folder: Path) -> None:
    """Make the new name itself survive a loss of power, where the system can do that."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
