"""What `start.py` decides without installing anything."""

from __future__ import annotations

import ast
import importlib.util
import subprocess
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parent.parent


@pytest.fixture
def start(tmp_path: Path) -> ModuleType:
    """`start.py` as a module, over a copy of the files that it reads."""
    spec = importlib.util.spec_from_file_location("start_of_switchover", ROOT / "start.py")
    assert spec and spec.loader
    module: Any = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    for name in ("pyproject.toml", "constraints.txt"):
        (tmp_path / name).write_bytes((ROOT / name).read_bytes())
    module.ROOT, module.ENVIRONMENT = tmp_path, tmp_path / ".venv"
    made: ModuleType = module
    return made


def test_it_needs_the_standard_library_only() -> None:
    tree = ast.parse((ROOT / "start.py").read_text(encoding="utf-8"))
    imported = {
        name.name.partition(".")[0]
        for node in ast.walk(tree)
        if isinstance(node, ast.Import)
        for name in node.names
    } | {
        str(node.module).partition(".")[0]
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom)
    }
    assert imported <= sys.stdlib_module_names


def test_the_tests_need_more_than_the_app(start: Any) -> None:
    assert set(start.requirements(False)) < set(start.requirements(True))
    assert any(one.startswith("playwright") for one in start.requirements(True))


@pytest.mark.parametrize("name", ["pyproject.toml", "constraints.txt"])
def test_a_changed_list_of_packages_is_noticed(start: Any, tmp_path: Path, name: str) -> None:
    before = start.stamp(False)
    text = (tmp_path / name).read_text(encoding="utf-8")
    changed = text.replace("fastapi>=", "fastapi>=0.0.1,>=").replace("fastapi==", "fastapi==9")
    (tmp_path / name).write_text(changed, encoding="utf-8")
    assert start.stamp(False) != before


@pytest.fixture
def steps(start: Any, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Notes what would be made or installed instead of doing it."""
    done: list[str] = []

    def make_environment() -> None:
        done.append("make")
        python = start.ENVIRONMENT / (
            "Scripts/python.exe" if sys.platform == "win32" else "bin/python"
        )
        python.parent.mkdir(parents=True, exist_ok=True)
        python.write_text("")

    monkeypatch.setattr(start, "make_environment", make_environment)
    monkeypatch.setattr(
        start, "install", lambda _python, testing: done.append(f"install {testing}")
    )
    monkeypatch.setattr(start, "runs", lambda _python: True)
    return done


def test_a_second_start_installs_nothing(start: Any, steps: list[str]) -> None:
    start.ready_environment(False)
    start.ready_environment(False)
    assert steps == ["make", "install False"]


def test_the_tests_add_to_the_same_environment_and_serve_the_app_too(
    start: Any, steps: list[str]
) -> None:
    start.ready_environment(False)
    start.ready_environment(True)
    start.ready_environment(False)
    start.ready_environment(True)
    assert steps == ["make", "install False", "install True"]


def test_an_environment_of_another_python_is_made_anew(
    start: Any, steps: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    start.ready_environment(False)
    monkeypatch.setattr(start, "stamp_of_python", lambda: "python-9.9-other")
    start.ready_environment(False)
    assert steps == ["make", "install False", "make", "install False"]


@pytest.mark.parametrize(
    ("words", "command"),
    [
        ([], ["-m", "webapp", "demo"]),
        (
            ["--no-browser", "--port", "8010"],
            ["-m", "webapp", "demo", "--no-browser", "--port", "8010"],
        ),
        (["serve", "--port", "1"], ["-m", "webapp", "serve", "--port", "1"]),
        (["test", "-k", "name"], ["-m", "pytest", "-k", "name"]),
    ],
)
def test_words_are_passed_on(
    start: Any, monkeypatch: pytest.MonkeyPatch, words: list[str], command: list[str]
) -> None:
    asked: list[list[str]] = []
    monkeypatch.setattr(start, "ready_environment", lambda _testing: Path("python"))
    monkeypatch.setattr(start, "run", lambda given: asked.append(given) or 0)
    assert start.main(words) == 0
    assert asked == [["python", *command]]


def test_a_failed_installation_is_said_in_a_sentence(
    start: Any, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fail(_testing: bool) -> None:
        raise subprocess.CalledProcessError(1, ["pip"])

    monkeypatch.setattr(start, "ready_environment", fail)
    assert start.main([]) == 1
    assert "needs the network" in capsys.readouterr().out


def test_an_older_python_is_told_which_it_needs(tmp_path: Path) -> None:
    text = (ROOT / "start.py").read_text(encoding="utf-8")
    old = tmp_path / "start_old.py"
    old.write_text(text.replace("sys.version_info <", "(3, 10, 2, 'final', 0) <"), encoding="utf-8")
    done = subprocess.run(
        [sys.executable, str(old), "--help"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 1
    assert "needs Python 3.11 or newer" in done.stderr


def test_it_passes_every_command_on(start: ModuleType) -> None:
    from webapp.cli import argument_parser

    lists = [action.choices for action in argument_parser()._actions if action.choices]
    assert [set(start.COMMANDS)] == [set(choices) for choices in lists]
