"""`switchover backup`, `restore` and `check`."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from webapp.cli import main

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """Runs a command; gives back its exit code and what it printed."""

    def call(*words: object) -> tuple[int, str, str]:
        code = main([str(word) for word in words])
        printed = capsys.readouterr()
        return code, printed.out, printed.err

    return call


@pytest.fixture
def database(tmp_path: Path, document: dict[str, Any], run: Run) -> Path:
    """A database with one study."""
    path = tmp_path / "study.json"
    path.write_text(json.dumps(document), encoding="utf-8")
    assert run("import", path, "--database", tmp_path / "kept.sqlite3")[0] == 0
    return tmp_path / "kept.sqlite3"


@pytest.mark.parametrize("options", [[], ["--portable"]])
def test_a_backup_goes_back(run: Run, database: Path, tmp_path: Path, options: list[str]) -> None:
    copy, new = tmp_path / "backup", tmp_path / "new.sqlite3"
    assert run("backup", copy, *options, "--database", database)[0] == 0
    assert run("restore", copy, "--database", new) == (
        0,
        f"{copy} is restored: 1 study is in the database.\n",
        "",
    )
    code, _, said = run("restore", copy, "--database", new)
    assert code == 2
    assert "has 1 study. With --overwrite" in said
    code, said, _ = run("restore", copy, "--database", new, "--overwrite")
    assert code == 0
    kept = Path(said.rstrip(".\n").split("kept in ")[1])
    assert run("check", "--database", kept)[0] == 0


def test_a_backup_of_that_name_is_kept(run: Run, database: Path, tmp_path: Path) -> None:
    copy = tmp_path / "backup"
    assert run("backup", copy, "--database", database)[0] == 0
    assert run("backup", copy, "--database", database)[0] == 2
    assert run("backup", copy, "--overwrite", "--database", database)[0] == 0


def test_check_says_a_line_for_each_thing(run: Run, database: Path) -> None:
    code, said, _ = run("check", "--database", database)
    assert code == 0
    lines = [line.split()[:2] for line in said.splitlines()]
    names = ["settings", "database", "integrity", "migrations", "triggers", "hashes", "disk"]
    assert lines == [["ok", name] for name in names]


def test_check_finds_a_changed_revision(run: Run, database: Path) -> None:
    with closing(sqlite3.connect(database)) as connection, connection:
        connection.execute("DROP TRIGGER revision_is_not_updated")
        connection.execute("UPDATE revision SET document = '{}'")
    code, said, _ = run("check", "--json", "--database", database)
    assert code == 1
    found = json.loads(said)
    assert found["good"] is False
    bad = [one["name"] for one in found["findings"] if not one["good"]]
    assert bad == ["triggers", "hashes"]


def test_check_makes_no_database(run: Run, tmp_path: Path) -> None:
    code, said, _ = run("check", "--database", tmp_path / "new" / "none.sqlite3")
    assert code == 1
    assert "There is no file" in said
    assert not (tmp_path / "new").exists()


def test_check_finds_a_wrong_setting(
    run: Run, database: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SWITCHOVER_LOG_LEVEL", "loud")
    code, said, _ = run("check", "--database", database)
    assert code == 1
    assert "SWITCHOVER_LOG_LEVEL is 'loud'" in said


def test_check_finds_a_full_disk(run: Run, database: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("webapp.commands.keeping.LEAST_FREE_BYTES", 10**18)
    code, said, _ = run("check", "--database", database)
    assert code == 1
    assert "FAILED  disk" in said
