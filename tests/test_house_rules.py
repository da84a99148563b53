"""Rules of this house that a machine can hold: docstrings, templates, sizes, true docs."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PRODUCT = sorted(
    path
    for folder in ("models", "webapp")
    for path in (ROOT / folder).rglob("*.py")
    if "migrations" not in path.parts and "_data" not in path.parts
)
TEMPLATES = sorted((ROOT / "webapp").rglob("*.html"))
PAGES = [path for path in TEMPLATES if "{% extends" in path.read_text(encoding="utf-8")]
ENGINEERING = sorted((ROOT / "models" / "engineering").glob("*.py"))
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")

LONGER_FILES = {"models/engineering"}
"""Places that may reach 600 lines: engineering modules carry long docstrings."""

NAMES_OF_SYMBOLS = re.compile(r"^[a-z]{1}$")


def relative(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def public_functions(path: Path) -> list[ast.FunctionDef]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return [
        node
        for node in tree.body
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_")
    ]


ENGINEERING_FUNCTIONS = [
    pytest.param(function, id=f"{path.stem}.{function.name}")
    for path in ENGINEERING
    for function in public_functions(path)
]


@pytest.mark.parametrize("path", PRODUCT, ids=relative)
def test_a_module_says_what_it_holds(path: Path) -> None:
    assert ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))


@pytest.mark.parametrize("path", PRODUCT, ids=relative)
def test_a_file_holds_one_subject(path: Path) -> None:
    limit = 600 if any(relative(path).startswith(place) for place in LONGER_FILES) else 500
    assert len(path.read_text(encoding="utf-8").splitlines()) <= limit


@pytest.mark.parametrize("function", ENGINEERING_FUNCTIONS)
def test_an_engineering_function_names_every_input(function: ast.FunctionDef) -> None:
    text = ast.get_docstring(function) or ""
    arguments = [*function.args.posonlyargs, *function.args.args, *function.args.kwonlyargs]
    missing = [argument.arg for argument in arguments if argument.arg not in text]
    assert text
    assert missing == []


@pytest.mark.parametrize("function", ENGINEERING_FUNCTIONS)
def test_an_engineering_function_shows_an_example_and_its_source(
    function: ast.FunctionDef,
) -> None:
    text = ast.get_docstring(function) or ""
    assert ">>>" in text
    assert re.search(r"\b[Ss]ource", text)


@pytest.mark.parametrize("function", ENGINEERING_FUNCTIONS)
def test_no_public_input_is_a_bare_symbol(function: ast.FunctionDef) -> None:
    arguments = [*function.args.args, *function.args.kwonlyargs]
    assert [item.arg for item in arguments if NAMES_OF_SYMBOLS.match(item.arg)] == []


@pytest.mark.parametrize("path", PAGES, ids=relative)
def test_a_page_has_a_title_and_one_heading(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert "{% block title %}" in text
    assert len(re.findall(r"<h1[\s>]", text)) == 1


@pytest.mark.parametrize("path", TEMPLATES, ids=relative)
def test_a_template_has_no_inline_code_or_style(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert not re.search(r"\sstyle\s*=", text)
    assert not re.search(r"\son[a-z]+\s*=\s*[\"']", text)
    assert "hx-on" not in text
    assert not re.search(r"<script(?![^>]*(\bsrc=|application/json))", text)
    assert "|safe" not in text.replace(" ", "")


def test_a_browser_is_sent_to_no_other_address() -> None:
    files = [*TEMPLATES, *(ROOT / "static" / "css").glob("*"), *(ROOT / "static" / "js").glob("*")]
    outside = re.compile(r"(?:https?:)?//(?!www\.w3\.org/)[a-z0-9.-]+\.[a-z]{2,}", re.IGNORECASE)
    found = {relative(path): outside.findall(path.read_text(encoding="utf-8")) for path in files}
    assert {name: hits for name, hits in found.items() if hits} == {}


def test_the_map_names_every_folder() -> None:
    folders = {
        path.parent.relative_to(ROOT).as_posix()
        for folder in ("models", "webapp", "static", "seed_data", "tests")
        for path in (ROOT / folder).rglob("*")
        if path.is_file() and not {"__pycache__", "_data"} & set(path.parts)
    }
    missing = [name for name in sorted(folders) if f"`{name}/" not in DEVELOPERS]
    assert missing == []


def test_every_setting_is_explained() -> None:
    from webapp.settings import Settings

    names = [f"SWITCHOVER_{name.upper()}" for name in Settings.model_fields]
    assert [name for name in names if name not in DEVELOPERS] == []


def test_every_seed_row_names_a_known_source() -> None:
    import csv
    import json

    known = set(
        re.findall(
            r"^## `([a-z0-9-]+)`",
            (ROOT / "seed_data" / "SOURCES.md").read_text(encoding="utf-8"),
            re.MULTILINE,
        )
    )
    used: set[str] = set()
    for path in (ROOT / "seed_data").glob("*.csv"):
        with path.open(encoding="utf-8", newline="") as file:
            used |= {row["source"] for row in csv.DictReader(file)}
    for path in (ROOT / "seed_data").glob("*.json"):
        content = json.loads(path.read_text(encoding="utf-8"))
        if "format" not in content:
            rows = content.values() if isinstance(content, dict) else content
            used |= {row["source"] for row in rows if isinstance(row, dict)}
    assert used
    assert used <= known


def test_vendored_files_are_what_they_were() -> None:
    import hashlib

    text = (ROOT / "static" / "vendor" / "VENDORED.md").read_text(encoding="utf-8")
    for path in (ROOT / "static" / "vendor").glob("*.js"):
        assert hashlib.sha256(path.read_bytes()).hexdigest() in text
