"""SQLite is set up so that nothing committed is lost, whatever the version."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import event, text

from models.errors import StorageError
from models.storage import Store, open_store
from models.storage.engine import (
    BUSY_TIMEOUT_MS,
    _durability,
    has_wal_reset_fault,
    open_engine,
)


@pytest.fixture(params=[("delete", 3), ("wal", 2)], ids=["delete", "wal"])
def durability(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> tuple[str, int]:
    """Both ways of keeping a commit, whichever this machine's SQLite version asks for."""
    monkeypatch.setattr("models.storage.engine._durability", lambda version: request.param)
    way: tuple[str, int] = request.param
    return way


@pytest.fixture
def file_store(tmp_path: Path, durability: tuple[str, int]) -> Iterator[Store]:
    """A store in a SQLite file, whatever the other tests run on."""
    opened = open_store(f"sqlite:///{tmp_path}/pit/switchover.db")
    yield opened
    opened.close()


@pytest.mark.parametrize(
    ("version", "faulty"),
    [
        # Source: sqlite.org/wal.html, "The WAL-Reset Bug"; release notes of 3.51.3.
        ((3, 6, 23), False),
        ((3, 7, 0), True),
        ((3, 40, 1), True),
        ((3, 44, 5), True),
        ((3, 44, 6), False),
        ((3, 45, 0), True),
        ((3, 50, 6), True),
        ((3, 50, 7), False),
        ((3, 51, 0), True),
        ((3, 51, 2), True),
        ((3, 51, 3), False),
        ((3, 53, 0), False),
    ],
)
def test_versions_with_the_wal_reset_fault(version: tuple[int, int, int], faulty: bool) -> None:
    assert has_wal_reset_fault(version) is faulty
    assert _durability(version) == (("delete", 3) if faulty else ("wal", 2))


def test_every_connection_has_the_settings(file_store: Store, durability: tuple[str, int]) -> None:
    journal, synchronous = durability
    with file_store.engine.connect() as one, file_store.engine.connect() as two:
        for connection in (one, two):
            found = {
                name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()
                for name in ("foreign_keys", "busy_timeout", "journal_mode", "synchronous")
            }
            assert found == {
                "foreign_keys": 1,
                "busy_timeout": BUSY_TIMEOUT_MS,
                "journal_mode": journal,
                "synchronous": synchronous,
            }


def test_a_setting_that_does_not_take_stops_the_start(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("models.storage.engine._durability", lambda version: ("memory", 9))
    with pytest.raises(StorageError, match="did not take the settings"):
        open_store(f"sqlite:///{tmp_path}/switchover.db")


def test_a_database_left_in_another_mode_is_brought_over(
    tmp_path: Path, durability: tuple[str, int]
) -> None:
    path = tmp_path / "switchover.db"
    with sqlite3.connect(path) as other:
        other.execute(f"PRAGMA journal_mode = {'wal' if durability[0] == 'delete' else 'delete'}")
        other.execute("CREATE TABLE seen (id)")
    other.close()
    store = open_store(f"sqlite:///{path}")
    with store.engine.connect() as connection:
        mode = connection.exec_driver_sql("PRAGMA journal_mode").scalar()
    assert mode == durability[0]
    store.close()


def test_a_write_takes_the_lock_before_it_reads(file_store: Store) -> None:
    seen: list[str] = []
    event.listen(
        file_store.engine,
        "before_cursor_execute",
        lambda conn, cursor, statement, *rest: seen.append(statement),
    )
    with file_store.writing() as session:
        session.execute(text("SELECT 1"))
    with file_store.reading() as session:
        session.execute(text("SELECT 1"))
    assert [line for line in seen if line.startswith("BEGIN")] == ["BEGIN IMMEDIATE", "BEGIN"]


def test_no_increment_is_lost_between_threads(file_store: Store) -> None:
    with file_store.writing() as session:
        session.execute(text("CREATE TABLE tally (n integer)"))
        session.execute(text("INSERT INTO tally VALUES (0)"))

    def add() -> None:
        for _ in range(5):
            with file_store.writing() as session:
                n = session.execute(text("SELECT n FROM tally")).scalar_one()
                session.execute(text("UPDATE tally SET n = :n"), {"n": n + 1})

    threads = [threading.Thread(target=add) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with file_store.reading() as session:
        assert session.execute(text("SELECT n FROM tally")).scalar_one() == 40


@pytest.mark.parametrize(
    ("url", "words"),
    [
        ("sqlite://", "need a database file"),
        ("sqlite:///:memory:", "need a database file"),
        ("nonsense", "cannot be read"),
        ("mysql://pit/robots", "not in mysql"),
    ],
)
def test_an_address_that_cannot_serve_is_refused(url: str, words: str) -> None:
    with pytest.raises(StorageError, match=words):
        open_engine(url)


def test_a_folder_that_cannot_be_made_is_said(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file", encoding="utf-8")
    with pytest.raises(StorageError, match="cannot be made"):
        open_store(f"sqlite:///{tmp_path}/taken/switchover.db")


def test_a_file_that_is_no_database_is_said(tmp_path: Path) -> None:
    path = tmp_path / "study.json"
    path.write_text("{}" * 2000, encoding="utf-8")
    with pytest.raises(StorageError, match="no Switchover database"):
        open_store(f"sqlite:///{path}")


def test_a_database_held_by_another_program_is_said(file_store: Store) -> None:
    other = sqlite3.connect(str(file_store.engine.url.database), isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    event.listen(
        file_store.engine,
        "checkout",
        lambda connection, *rest: connection.execute("PRAGMA busy_timeout = 10"),
    )
    with (
        pytest.raises(StorageError, match="Another program holds"),
        file_store.writing() as session,
    ):
        session.execute(text("SELECT 1"))
    other.execute("ROLLBACK")
    other.close()


def test_a_full_disk_is_said_and_nothing_is_kept(file_store: Store) -> None:
    event.listen(
        file_store.engine,
        "checkout",
        lambda connection, *rest: connection.execute("PRAGMA max_page_count = 1"),
    )
    with pytest.raises(StorageError, match="disk is full"), file_store.writing() as session:
        session.execute(text("CREATE TABLE large AS SELECT hex(randomblob(1000000)) AS much"))
    with file_store.reading() as session:
        tables = session.execute(text("SELECT name FROM sqlite_master WHERE name = 'large'"))
        assert tables.all() == []
