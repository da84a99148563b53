"""`switchover schedule`."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from webapp.cli import main

ROOT = Path(__file__).resolve().parents[2]
REFERENCE = ROOT / "tests" / "reference" / "reference-1.json"
EXAMPLE = ROOT / "seed_data" / "example-study.json"


def test_for_programs(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schedule", str(REFERENCE), "--json", "--runs", "1000", "--seed", "7"]) == 0
    printed = json.loads(capsys.readouterr().out)
    assert (printed["runs"], printed["seed"]) == (1000, 7)
    assert [one["key"] for one in printed["candidates"]][:2] == ["tank", "swerve"]
    steered = printed["candidates"][1]
    assert {"ready_probability", "date_p10", "date_p50", "date_p90", "blame"} <= steered.keys()
    assert steered["ready_probability"] == pytest.approx(0.339, abs=0.06)
    assert steered["date_p50"] == "2026-03-26"
    assert set(steered["blame"]) >= {"wire", "tune", "controllers", "modules", "modules (purchase)"}
    assert steered["blame"]["tune"] == 1.0


def test_for_people(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schedule", str(EXAMPLE)]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert max(len(line) for line in lines) <= 78
    text = "\n".join(lines)
    for words in ("Ready by Sat 27 Feb:", "What sets the end", "begin by", "10,000 runs, seed 1"):
        assert words in text


def test_one_candidate_alone(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schedule", str(REFERENCE), "--candidate", "mecanum"]) == 0
    printed = capsys.readouterr().out
    assert "No tasks are listed" in printed
    assert "Four steered modules" not in printed


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--runs", "0"], "0 runs cannot be made"),
        (["--candidate", "x"], "no candidate with the key"),
    ],
)
def test_what_cannot_be_done_is_said(
    words: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["schedule", str(REFERENCE), *words]) == 2
    assert told in capsys.readouterr().err


def test_a_loop_is_refused_by_name(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    document = json.loads(REFERENCE.read_text(encoding="utf-8"))
    document["candidates"][1]["tasks"][3]["after"] = ["wire"]
    path = tmp_path / "loop.json"
    path.write_text(json.dumps(document), encoding="utf-8")
    assert main(["schedule", str(path)]) == 2
    printed = capsys.readouterr().err
    assert "wait for each other" in printed
    assert "mount" in printed
    assert "wire" in printed
