"""Static files: vendored ones are what they say, and nothing comes from outside."""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

import pytest

from webapp.paths import data_folder

VENDOR = data_folder("static") / "vendor"
JOURNEYS = Path(__file__).resolve().parents[1] / "journeys" / "vendor"


@pytest.mark.parametrize("folder", [VENDOR, JOURNEYS], ids=["static", "journeys"])
def test_vendored_files_are_what_the_list_says(folder: Path) -> None:
    text = (folder / "VENDORED.md").read_text(encoding="utf-8")
    lines = re.findall(r"^\| `([^`]+\.(?:js|ttf))` .*`([0-9a-f]{64})` \|$", text, re.MULTILINE)
    listed = dict(lines)
    present = {
        file.name: hashlib.sha256(file.read_bytes()).hexdigest()
        for file in folder.iterdir()
        if file.suffix in {".js", ".ttf"}
    }
    assert present == listed


@pytest.mark.parametrize("folder", [VENDOR, JOURNEYS], ids=["static", "journeys"])
def test_every_vendored_script_has_its_licence(folder: Path) -> None:
    for script in folder.glob("*.js"):
        licence = folder / f"{script.name.removesuffix('.min.js')}.LICENSE.txt"
        assert licence.stat().st_size > 300
        assert licence.name in (folder / "VENDORED.md").read_text(encoding="utf-8")


def test_own_scripts_do_not_evaluate_text() -> None:
    for script in (data_folder("static") / "js").glob("*.js"):
        text = script.read_text(encoding="utf-8")
        assert not re.search(r"\beval\(|new Function\(|\.innerHTML\s*=", text), script.name
