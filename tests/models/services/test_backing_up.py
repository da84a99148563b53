"""Studies leave the database whole: as a file that reads back, as a copy made under load."""

from __future__ import annotations

import hashlib
import json
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from models.errors import NotFoundError, StorageError
from models.services import (
    Store,
    StudyState,
    backup,
    create_study,
    export_study,
    list_revisions,
    load_study,
    open_store,
    save_sections,
)
from models.study.reader import read_document


@pytest.fixture(params=[("delete", 3), ("wal", 2)], ids=["delete", "wal"])
def file_store(
    request: pytest.FixtureRequest,
    tmp_path: Path,
    document: dict[str, Any],
    monkeypatch: pytest.MonkeyPatch,
) -> Iterator[Store]:
    """A store in a SQLite file with one study, in either way of keeping a commit."""
    monkeypatch.setattr("models.storage.engine._durability", lambda version: request.param)
    opened = open_store(f"sqlite:///{tmp_path}/switchover.db")
    create_study(opened, document, author="Kim", note="")
    yield opened
    opened.close()


def test_an_exported_study_reads_back_the_same(store: Store, state: StudyState) -> None:
    text = export_study(store, state.study_id)
    again = create_study(store, read_document(text), author="", note="")
    assert again.revision.hash == state.revision.hash
    assert list(read_document(text))[:3] == ["format", "version", "name"]
    assert '"4 in"' in text
    assert text.endswith("}\n")


def test_an_earlier_revision_can_be_exported(
    store: Store, state: StudyState, edited: Callable[..., dict[str, Any]]
) -> None:
    edits = {"candidates/quick": edited("quick", 5.0)}
    save_sections(store, state.study_id, base_revision=1, edits=edits, author="", note="")
    assert read_document(export_study(store, state.study_id, 1)) == state.document
    with pytest.raises(NotFoundError):
        export_study(store, state.study_id, 3)


def test_a_backup_opens_as_a_database(file_store: Store, tmp_path: Path) -> None:
    made = backup(file_store, tmp_path / "saved" / ".." / "backup.db")
    copy = open_store(f"sqlite:///{tmp_path}/backup.db")
    (study,) = {row.id for row in _studies(copy)}
    assert made.samefile(tmp_path / "backup.db")
    assert load_study(copy, study) == load_study(file_store, study)
    copy.close()


def _studies(store: Store) -> Any:
    from models.services import list_studies

    return list_studies(store)


def test_a_backup_is_one_file_and_leaves_no_other(file_store: Store, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    backup(file_store, tmp_path / "out" / "backup.db")
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["backup.db"]


def test_a_backup_overwrites_only_when_told(file_store: Store, tmp_path: Path) -> None:
    target = tmp_path / "backup.db"
    target.write_text("something dear", encoding="utf-8")
    with pytest.raises(StorageError, match="exists already"):
        backup(file_store, target)
    assert target.read_text(encoding="utf-8") == "something dear"
    backup(file_store, target, overwrite=True)
    assert target.read_bytes().startswith(b"SQLite format 3")


def test_a_backup_onto_the_database_itself_is_refused(file_store: Store, tmp_path: Path) -> None:
    with pytest.raises(StorageError, match="the database itself"):
        backup(file_store, tmp_path / "switchover.db", overwrite=True)


def test_a_backup_without_a_place_is_refused(file_store: Store, tmp_path: Path) -> None:
    with pytest.raises(StorageError, match="no folder"):
        backup(file_store, tmp_path / "nowhere" / "backup.db")
    with pytest.raises(StorageError, match="is a folder"):
        backup(file_store, tmp_path)


def test_a_backup_that_fails_leaves_the_older_one(
    file_store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = backup(file_store, tmp_path / "backup.db")
    before = target.read_bytes()

    def fail(source: object, part: Path) -> None:
        part.write_bytes(b"half")
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("models.services.backing_up.copy_whole", fail)
    with pytest.raises(StorageError, match="was not made"):
        backup(file_store, target, overwrite=True)
    assert target.read_bytes() == before
    assert not list(tmp_path.glob("*.part"))


def test_a_backup_while_others_save_is_one_state(file_store: Store, tmp_path: Path) -> None:
    study_id = _studies(file_store)[0].id
    other = open_store(file_store.engine.url.render_as_string(hide_password=False))
    stop = threading.Event()
    faults: list[BaseException] = []

    def keep_saving() -> None:
        turn = 0
        try:
            while not stop.is_set():
                turn += 1
                edits = {"notes": f"turn {turn}"}
                base = load_study(other, study_id).latest_number
                save_sections(other, study_id, base_revision=base, edits=edits, author="", note="")
        except BaseException as error:
            faults.append(error)

    thread = threading.Thread(target=keep_saving)
    thread.start()
    copies = [backup(file_store, tmp_path / f"backup-{number}.db") for number in range(3)]
    stop.set()
    thread.join()
    other.close()
    assert faults == []
    for path in copies:
        copy = open_store(f"sqlite:///{path}")
        numbers = [one.number for one in list_revisions(copy, study_id)]
        assert numbers == list(range(len(numbers), 0, -1))
        copy.close()


def test_a_portable_backup_names_its_tables_and_its_hash(
    store: Store, state: StudyState, tmp_path: Path
) -> None:
    made = backup(store, tmp_path / "all.jsonl", portable=True)
    *lines, last = made.read_bytes().splitlines(keepends=True)
    header, end = json.loads(lines[0]), json.loads(last)
    assert (header["format"], header["version"]) == ("switchover-backup", 1)
    assert end["sha256"] == hashlib.sha256(b"".join(lines)).hexdigest()
    assert (end["rows"]["study"], end["rows"]["revision"]) == (1, 1)
    assert sum(end["rows"].values()) == sum(line.startswith(b"[") for line in lines)
    assert [path.name for path in tmp_path.iterdir() if "part" in path.name] == []
