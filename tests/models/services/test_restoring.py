"""A backup goes back whole, into either kind of database, or changes nothing."""

from __future__ import annotations

import hashlib
import json
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text

from models.errors import StorageError
from models.services import (
    Store,
    StudyState,
    backup,
    create_link,
    create_study,
    list_revisions,
    list_studies,
    load_study,
    open_link,
    open_store,
    restore,
    save_sections,
)
from models.storage.checking import examine
from models.storage.portable import reflected, rows_of


@pytest.fixture(params=["copy", "portable"])
def portable(request: pytest.FixtureRequest) -> bool:
    """Whether the backup is in the form for both kinds of database."""
    return bool(request.param == "portable")


@pytest.fixture
def other_url(tmp_path: Path) -> str:
    return f"sqlite:///{tmp_path}/other.db"


def everything(store: Store) -> dict[str, list[Any]]:
    """All rows of all tables."""
    with store.engine.connect() as connection:
        return {table.name: list(rows_of(connection, table)) for table in reflected(connection)}


def fill(store: Store, state: StudyState) -> str:
    """Put something into the tables, closed ballots among it; give back a link's token."""
    edits = {"notes": "Ångström, 6.75 “quoted”\nline"}
    save_sections(
        store, state.study_id, base_revision=1, edits=edits, author="Léa", note="n", once="k"
    )
    _, token = create_link(store, state.study_id, kind="frozen")
    return token


def closed_ballots(store: Store, state: StudyState) -> None:
    with store.writing() as session:
        session.execute(
            text(
                "INSERT INTO ballot_round (id, study_id, revision, title, author, opened_at, "
                "criteria, candidates, token_hash, last_four) VALUES ('r', :study, 1, 't', 'a', "
                "'2026-03-02 12:00:00.5', '[]', '[]', 'h', 'abcd')"
            ),
            {"study": state.study_id},
        )
        session.execute(
            text(
                "INSERT INTO ballot (round_id, voter, version, name, weights, preference, reason, "
                "cast_at, code_hash) VALUES ('r', 'kim', 1, 'Kim', '{}', '', 'why', "
                "'2026-03-02 12:30:00', 'c')"
            )
        )
        session.execute(
            text(
                "INSERT INTO ballot_closing (round_id, closed_at, author) "
                "VALUES ('r', '2026-03-02 13:00:00', 'Kim')"
            )
        )


def test_all_of_it_comes_back(
    store: Store, state: StudyState, tmp_path: Path, other_url: str, portable: bool
) -> None:
    token = fill(store, state)
    closed_ballots(store, state)
    made = backup(store, tmp_path / "backup", portable=portable)
    assert restore(made, other_url).studies == 1
    again = open_store(other_url)
    assert everything(again) == everything(store)
    assert load_study(again, state.study_id) == load_study(store, state.study_id)
    assert open_link(again, token).payload == open_link(store, token).payload
    assert all(one.good for one in examine(again.engine))
    again.close()


def test_a_file_goes_into_the_tests_database_too(
    database_url: str, tmp_path: Path, other_url: str, document: dict[str, Any], portable: bool
) -> None:
    first = open_store(other_url)
    state = create_study(first, document, author="Kim", note="")
    fill(first, state)
    closed_ballots(first, state)
    made = backup(first, tmp_path / "backup", portable=portable)
    assert restore(made, database_url).studies == 1
    again = open_store(database_url)
    assert everything(again) == everything(first)
    assert all(one.good for one in examine(again.engine))
    with pytest.raises(Exception, match="never changed"), again.writing() as session:
        session.execute(text("UPDATE revision SET note = 'x'"))
    again.close()
    first.close()


def test_a_database_with_studies_is_replaced_only_when_told_and_kept(
    store: Store, state: StudyState, database_url: str, tmp_path: Path, portable: bool
) -> None:
    made = backup(store, tmp_path / "backup", portable=portable)
    later = create_study(store, {**state.document, "name": "Later"}, author="", note="")
    before = everything(store)
    with pytest.raises(StorageError, match=r"has 2 studies.*--overwrite"):
        restore(made, database_url)
    assert everything(store) == before
    done = restore(made, database_url, overwrite=True)
    assert [study.id for study in list_studies(store)] == [state.study_id]  # open all the while
    save_sections(store, state.study_id, base_revision=1, edits={"notes": "on"}, author="", note="")
    assert done.kept is not None
    restore(done.kept, database_url, overwrite=True)
    assert everything(store) == before
    assert load_study(store, later.study_id).study.name == "Later"


def signed(lines: list[bytes]) -> bytes:
    """The lines of a portable backup with the hash that belongs to them."""
    end = json.loads(lines[-1])
    end["sha256"] = hashlib.sha256(b"".join(lines[:-1])).hexdigest()
    return b"".join([*lines[:-1], json.dumps(end).encode()])


def spoil(lines: list[bytes], how: str) -> bytes:
    revision = next(n for n, line in enumerate(lines) if b'"4 in' in line)
    if how == "cut off":
        return b"".join(lines[:-1])
    if how == "half a line":
        return b"".join(lines)[:-300]
    if how == "a byte":
        return b"".join(lines).replace(b"Ridge", b"Fudge", 1)
    if how == "more behind":
        return b"".join(lines) + b"[]\n"
    if how == "another document":
        lines[revision] = lines[revision].replace(b"4 in", b"5 in")
    elif how == "no such table":
        lines[1] = b'{"table": "sqlite_master", "columns": ["sql"]}\n'
    elif how == "newer":
        lines[0] = lines[0].replace(b'"0002"', b'"9999"')
    elif how == "a stray value":
        lines[revision] = lines[revision].replace(b", 1, ", b', {"a": 1}, ', 1)
    elif how == "no such study":
        study = next(n for n, line in enumerate(lines) if b'"table": "study"' in line)
        del lines[study + 1]
        end = json.loads(lines[-1])
        end["rows"]["study"] = 0
        lines[-1] = json.dumps(end).encode()
    return signed(lines)


@pytest.mark.parametrize(
    ("how", "words"),
    [
        ("cut off", "cut off"),
        ("half a line", "cut off"),
        ("a byte", "hash"),
        ("more behind", "behind its last line"),
        ("another document", "not what its hash says"),
        ("no such table", "names a table"),
        ("newer", "newer version"),
        ("a stray value", "no plain value"),
        ("no such study", "FOREIGN KEY|refer to what is not there"),
    ],
)
@pytest.mark.usefixtures("state")
def test_a_damaged_portable_backup_changes_nothing(
    store: Store, database_url: str, tmp_path: Path, how: str, words: str
) -> None:
    made = backup(store, tmp_path / "backup", portable=True)
    made.write_bytes(spoil(made.read_bytes().splitlines(keepends=True), how))
    before = everything(store)
    with pytest.raises(StorageError, match=words):
        restore(made, database_url, overwrite=True)
    assert everything(store) == before
    assert list(tmp_path.glob(".*")) == []


@pytest.fixture
def copy(tmp_path: Path, document: dict[str, Any]) -> Iterator[Path]:
    """A copy of a SQLite database."""
    opened = open_store(f"sqlite:///{tmp_path}/first.db")
    create_study(opened, document, author="Kim", note="")
    yield backup(opened, tmp_path / "copy.db")
    opened.close()


@pytest.mark.parametrize(
    ("statement", "words"),
    [
        ("DROP TRIGGER revision_is_not_updated", "triggers: 1 are missing"),
        ("DROP TABLE alembic_version", "another program"),
        ("UPDATE alembic_version SET version_num = '9999'", "newer version"),
        (
            "INSERT INTO revision SELECT study_id, 2, author, saved_at, note, document, 'x', "
            "study_name, 1 FROM revision",
            "not what its hash says",
        ),
        (
            "INSERT INTO revision SELECT study_id, 3, author, saved_at, note, document, "
            "document_hash, study_name, 1 FROM revision",
            "a revision of the study .* is missing",
        ),
        ("INSERT INTO request VALUES ('none', 'k', 1, 0)", "refer to what is not there"),
    ],
)
def test_a_copy_that_is_not_whole_is_refused(
    copy: Path, other_url: str, tmp_path: Path, statement: str, words: str
) -> None:
    with closing(sqlite3.connect(copy)) as connection, connection:
        connection.execute(statement)
    with pytest.raises(StorageError, match=words):
        restore(copy, other_url)
    assert not (tmp_path / "other.db").exists()


def test_a_copy_with_damaged_pages_is_refused(copy: Path, other_url: str, tmp_path: Path) -> None:
    content = bytearray(copy.read_bytes())
    content[4096:20000] = bytes(20000 - 4096)
    copy.write_bytes(content)
    with pytest.raises(StorageError, match="cannot be restored"):
        restore(copy, other_url)
    assert not (tmp_path / "other.db").exists()


@pytest.mark.parametrize("content", [b"", b"hello", b"{}", b'["format"]\n', b"\xff\x00" * 50])
def test_another_file_is_refused(database_url: str, tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "holiday.jpg"
    path.write_bytes(content)
    with pytest.raises(StorageError, match="no backup of Switchover"):
        restore(path, database_url)


def test_a_missing_file_and_the_database_itself_are_refused(copy: Path, tmp_path: Path) -> None:
    with pytest.raises(StorageError, match="no file"):
        restore(tmp_path / "none", f"sqlite:///{copy}")
    with pytest.raises(StorageError, match="the database itself"):
        restore(copy, f"sqlite:///{copy}", overwrite=True)


def test_a_damaged_database_is_put_aside_and_replaced(copy: Path, tmp_path: Path) -> None:
    place = tmp_path / "team.db"
    place.write_bytes(b"SQLite format 3\0" + b"\x13" * 9000)
    with pytest.raises(StorageError, match="damaged"):
        restore(copy, f"sqlite:///{place}")
    done = restore(copy, f"sqlite:///{place}", overwrite=True)
    assert done.kept is not None
    assert done.kept.read_bytes().endswith(b"\x13")
    again = open_store(f"sqlite:///{place}")
    assert len(list_studies(again)) == 1
    again.close()


@pytest.mark.parametrize("way", [("delete", 3), ("wal", 2)], ids=["delete", "wal"])
def test_a_disk_that_fills_up_leaves_the_old_state(
    copy: Path, tmp_path: Path, document: dict[str, Any], monkeypatch: pytest.MonkeyPatch, way: Any
) -> None:
    monkeypatch.setattr("models.storage.engine._durability", lambda version: way)
    store = open_store(f"sqlite:///{tmp_path}/team.db")
    create_study(store, {**document, "name": "Kept"}, author="", note="")

    class Full(sqlite3.Connection):
        def backup(self, *_: Any, **__: Any) -> None:
            raise sqlite3.OperationalError("database or disk is full")

    real = sqlite3.connect
    part = {"copies": 0}

    def connect(*args: Any, **rest: Any) -> sqlite3.Connection:
        part["copies"] += str(args[0]).endswith(".part")
        # the last look into the part is the one from which the database takes it
        kind = Full if part["copies"] == 4 else sqlite3.Connection
        return real(*args, **{**rest, "factory": kind})

    before = everything(store)
    monkeypatch.setattr("models.services.restoring.sqlite3.connect", connect)
    with pytest.raises(StorageError, match="disk is full"):
        restore(copy, f"sqlite:///{tmp_path}/team.db", overwrite=True)
    assert everything(store) == before
    store.close()


def test_a_backup_made_while_eight_save_restores_whole(
    store: Store, state: StudyState, tmp_path: Path, other_url: str, portable: bool
) -> None:
    stop = threading.Event()
    faults: list[BaseException] = []
    studies = [
        create_study(store, {**state.document, "name": f"Study {n}"}, author="", note="").study_id
        for n in range(8)
    ]

    def keep_saving(study_id: str) -> None:
        number = 1
        try:
            while not stop.is_set():
                edits = {"notes": f"turn {number}"}
                saved = save_sections(
                    store, study_id, base_revision=number, edits=edits, author="", note=""
                )
                number = saved.state.revision.number
        except BaseException as error:
            faults.append(error)

    threads = [threading.Thread(target=keep_saving, args=(study_id,)) for study_id in studies]
    for thread in threads:
        thread.start()
    made = [backup(store, tmp_path / f"backup-{n}", portable=portable) for n in range(2)]
    stop.set()
    for thread in threads:
        thread.join()
    assert faults == []
    for path in made:
        restore(path, other_url, overwrite=True)
        again = open_store(other_url)
        assert all(one.good for one in examine(again.engine))
        for study_id in studies:
            there = [one.number for one in list_revisions(again, study_id)]
            assert there == list(range(len(there), 0, -1))
            assert {one.hash for one in list_revisions(again, study_id)} <= {
                one.hash for one in list_revisions(store, study_id)
            }
        again.close()
