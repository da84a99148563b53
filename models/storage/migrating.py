"""Bringing a database to the tables of this version, by migrations from the first table on."""

from __future__ import annotations

from sqlalchemy import Connection, Engine, inspect, text

from models.errors import StorageError

NEWEST = "0002"
"""The last migration; a database that says so is up to date and needs no look at the others."""
_MIGRATIONS_LOCK = 7_203_114_055
"""Any number of our own: two programs that open one PostgreSQL database migrate one by one."""


def migrate(engine: Engine) -> None:
    """Run the migrations that the database has not seen, in one transaction.

    Raises `StorageError` if a newer version of Switchover wrote the database.
    """
    with engine.connect() as connection:
        if version_of(connection) == NEWEST:
            return
    with engine.execution_options(write=True).begin() as connection:
        if connection.dialect.name == "postgresql":
            connection.execute(
                text("SELECT pg_advisory_xact_lock(:key)"), {"key": _MIGRATIONS_LOCK}
            )
        if version_of(connection) != NEWEST:
            upgrade_to(connection, "head")


def version_of(connection: Connection) -> str | None:
    """The migration that a database is at, None for one without our tables."""
    if not inspect(connection).has_table("alembic_version"):
        return None
    version = connection.scalar(text("SELECT version_num FROM alembic_version"))
    return None if version is None else str(version)


def upgrade_to(connection: Connection, version: str) -> None:
    """Run the migrations up to one of them, in the transaction of an open connection.

    Raises `StorageError` if there is none of that name.
    """
    # Alembic takes 0.6 s to import; a database that is up to date does without.
    from alembic import command  # noqa: PLC0415
    from alembic.util import CommandError  # noqa: PLC0415

    from models.storage.migrations import configuration  # noqa: PLC0415

    try:
        command.upgrade(configuration(connection), version)
    except CommandError as error:
        raise StorageError(
            "A newer version of Switchover wrote this database. "
            "Install that version, or name another database with --database."
        ) from error
