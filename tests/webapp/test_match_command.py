"""The command that follows a match."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from webapp.cli import main

EXAMPLE = Path(__file__).parents[2] / "seed_data" / "example-study.json"


def test_it_prints_what_programs_read(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["match", str(EXAMPLE), "--json", "--candidate", "tank"]) == 0
    payload: dict[str, Any] = json.loads(capsys.readouterr().out)
    assert [one["key"] for one in payload["candidates"]] == ["tank"]
    assert abs(payload["candidates"][0]["match"]["closing_share"]) < 0.005
    assert payload["wiring"]["cables"]


def test_it_says_it_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["match", str(EXAMPLE), "--battery", "practice battery"]) == 0
    text = capsys.readouterr().out
    assert "on “practice battery”" in text
    assert "cycles; lowest bus voltage" in text
    assert "below brownout" in text
    assert "breaker" in text
    assert max(map(len, text.splitlines()[3:])) <= 80


def test_an_unknown_battery_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["match", str(EXAMPLE), "--battery", "none"]) != 0
    assert "“match battery”" in capsys.readouterr().err


def test_a_study_without_routes_says_so(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    case = json.loads(EXAMPLE.read_text(encoding="utf-8"))
    case["routes"] = []
    case.pop("decision", None)
    path = tmp_path / "bare.json"
    path.write_text(json.dumps(case), encoding="utf-8")
    assert main(["match", str(path)]) == 0
    text = capsys.readouterr().out
    assert "no routes yet" in text
    assert "Lowest in the sprint" in text
