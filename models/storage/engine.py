"""The database engine: SQLite set up so that nothing committed is lost, PostgreSQL as it comes."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError

from models.errors import StorageError
from models.storage.places import refuse_unsafe_place

BUSY_TIMEOUT_MS = 5000
POOL_SIZE = 10
"""Connections kept; not fewer than the threads of the server, or they wait for each other."""
_FULL, _EXTRA = 2, 3


def has_wal_reset_fault(version: tuple[int, int, int]) -> bool:
    """Whether this SQLite version can corrupt a database in write-ahead mode.

    A checkpoint that meets a log being reset by another connection loses committed pages. Present
    in 3.7.0 to 3.51.2; mended in 3.51.3 and in the branches' 3.50.7 and 3.44.6. Source: SQLite
    documentation, "Write-Ahead Logging", section "The WAL-Reset Bug" (sqlite.org/wal.html).

    >>> has_wal_reset_fault((3, 40, 1)), has_wal_reset_fault((3, 50, 7))
    (True, False)
    """
    if version >= (3, 51, 3) or version < (3, 7, 0):
        return False
    return not ((3, 50, 7) <= version < (3, 51, 0) or (3, 44, 6) <= version < (3, 45, 0))


def open_engine(url: str) -> Engine:
    """Make the engine for a database URL in SQLAlchemy's form, with its SQLite safeguards.

    Raises `StorageError` for an address that cannot be read, an unsafe folder, a database in
    memory only, and a kind of database for which Switchover is not made.
    """
    try:
        address = make_url(url)
    except ArgumentError as error:
        raise StorageError(
            f"The database address {url!r} cannot be read. "
            "Write it like sqlite:////home/team/switchover.db"
        ) from error
    kind = address.get_backend_name()
    if kind == "sqlite":
        return _sqlite_engine(address)
    if kind == "postgresql":
        return create_engine(
            address.set(drivername="postgresql+psycopg"),
            pool_size=POOL_SIZE,
            pool_pre_ping=True,
            hide_parameters=True,  # what was typed does not belong in a log
        )
    raise StorageError(f"Switchover keeps studies in SQLite or PostgreSQL, not in {kind}.")


def file_of(url: str) -> Path | None:
    """The file of a SQLite address, None for any other address.

    >>> file_of("sqlite:////home/team/switchover.db").name, file_of("postgresql://pit/robots")
    ('switchover.db', None)
    """
    try:
        address = make_url(url)
    except ArgumentError:
        return None
    sqlite = address.get_backend_name() == "sqlite" and address.database
    return Path(address.database or "").absolute() if sqlite else None


def _sqlite_engine(address: URL) -> Engine:
    name = address.database
    if not name or name == ":memory:" or name.startswith("file:"):
        raise StorageError("Studies need a database file, so that they outlast the program.")
    path = Path(name)
    refuse_unsafe_place(path)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StorageError(
            f"The folder {path.parent} for the database cannot be made: {error.strerror}."
        ) from error
    engine = create_engine(
        address,
        connect_args={"timeout": BUSY_TIMEOUT_MS / 1000},
        pool_size=POOL_SIZE,
        hide_parameters=True,
    )
    event.listen(engine, "connect", _set_up_connection)
    event.listen(engine, "begin", _begin)
    return engine


def _set_up_connection(connection: sqlite3.Connection, _record: object) -> None:
    """Set what must hold on every connection; one that does not take it is closed again."""
    try:
        _set_and_check(connection)
    except BaseException:
        connection.close()
        raise


def _set_and_check(connection: sqlite3.Connection) -> None:
    connection.isolation_level = None  # the driver's own BEGIN comes too late: losing updates
    journal, synchronous = _durability(sqlite3.sqlite_version_info)
    wanted: dict[str, object] = {
        "busy_timeout": BUSY_TIMEOUT_MS,
        "foreign_keys": 1,
        "recursive_triggers": 1,  # so that REPLACE meets the triggers that guard deletion
        "journal_mode": journal,
        "synchronous": synchronous,
    }
    for name, value in wanted.items():
        connection.execute(f"PRAGMA {name} = {value}").fetchall()
    found = {name: connection.execute(f"PRAGMA {name}").fetchone()[0] for name in wanted}
    if found != wanted:
        raise StorageError(
            "SQLite did not take the settings that keep studies safe: "
            f"wanted {wanted}, has {found}."
        )


def _durability(version: tuple[int, ...]) -> tuple[str, int]:
    """Journal mode and synchronous level under which a commit survives a loss of power."""
    major, minor, patch = version[:3]
    return ("delete", _EXTRA) if has_wal_reset_fault((major, minor, patch)) else ("wal", _FULL)


def _begin(connection: Connection) -> None:
    """Begin in earnest; a writer takes the lock at once, where the busy timeout still counts."""
    writes = connection.get_execution_options().get("write", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
