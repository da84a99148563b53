"""The store: one open database with its sessions, its write lock and what it keeps in memory."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from threading import RLock
from typing import Any

from sqlalchemy import Engine
from sqlalchemy.exc import DataError, DBAPIError, IntegrityError, ProgrammingError
from sqlalchemy.orm import Session, sessionmaker

from models.errors import StorageError
from models.storage.engine import open_engine
from models.storage.migrating import migrate, version_of
from models.storage.recent import Recent
from models.study.schema import Study

STUDIES_IN_MEMORY = 64
RESULTS_IN_MEMORY = 128
BASES_IN_MEMORY = 8

_SENTENCES = (
    ("disk is full", "The disk is full, so nothing was saved. Free some space and save again."),
    ("readonly", "The database cannot be written to, so nothing was saved. Check who owns it."),
    ("locked", "Another program holds the database. Nothing was saved; save again in a moment."),
    ("unable to open", "The database file cannot be opened. Check that its folder can be used."),
    ("disk i/o", "The disk reported an error, so nothing was saved. Make a backup elsewhere now."),
    ("not a database", "This file is no Switchover database. Name another one with --database."),
    ("malformed", "The database file is damaged. Go back to the last backup."),
    ("connection", "The database server cannot be reached, so nothing was saved."),
)
"""What a fault of the database means to the user; matched in the driver's message, in order."""


class Store:
    """One open database; hand it as first argument to the services."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        self.write_lock = RLock()
        """One writer at a time in this process; waiting here is cheaper than in the database."""
        self.studies: Recent[Study] = Recent(limit=STUDIES_IN_MEMORY)
        """Parsed studies by the hash of their document; they are frozen, so they can be shared."""
        self.results: Recent[dict[str, Any]] = Recent(limit=RESULTS_IN_MEMORY)
        """Evaluations by document hash and model version; shared, so read and never changed."""
        self.bases: Recent[Any] = Recent(limit=BASES_IN_MEMORY)
        """Figures over draws by document hash; some megabytes each, so only a few."""
        self._read = sessionmaker(engine, expire_on_commit=False)
        self._write = sessionmaker(engine.execution_options(write=True), expire_on_commit=False)

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """A session for reading one consistent state."""
        with _in_words(), self._read() as session:
            yield session

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """A session that commits at the end, or leaves everything as it was on any error."""
        with self.write_lock, _in_words(), self._write.begin() as session:
            yield session

    @property
    def kind(self) -> str:
        """The kind of database: sqlite or postgresql."""
        return self.engine.dialect.name

    def version(self) -> str | None:
        """Ask the database for the migration of its tables; `StorageError` where it fails."""
        try:
            with _in_words(), self.engine.connect() as connection:
                return version_of(connection)
        except DBAPIError as error:
            raise StorageError(f"The database does not answer: {error.orig}") from error

    def close(self) -> None:
        """Close all connections."""
        self.engine.dispose()


def open_store(url: str) -> Store:
    """Open a database by its SQLAlchemy URL and bring its tables up to date.

    Raises `StorageError` where the database cannot be used; its message says why.
    """
    engine = open_engine(url)
    try:
        with _in_words():
            migrate(engine)
    except BaseException:
        engine.dispose()
        raise
    return Store(engine)


@contextmanager
def _in_words() -> Iterator[None]:
    """Say the database's own faults in a sentence; a broken rule of ours stays what it is."""
    try:
        yield
    except (DBAPIError, sqlite3.DatabaseError) as error:
        sentence = _sentence_for(error)
        if sentence is None:
            raise
        raise StorageError(sentence) from error


def _sentence_for(error: DBAPIError | sqlite3.DatabaseError) -> str | None:
    cause = error.orig if isinstance(error, DBAPIError) else error
    if isinstance(error, IntegrityError | ProgrammingError | DataError):
        return None
    message = str(cause).lower()
    return next((sentence for words, sentence in _SENTENCES if words in message), None)
