"""`switchover explore`: the text, the JSON, and what it refuses."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from models.seed import example_document
from models.study.reader import parse_study
from models.trade.evaluation import evaluate_study
from webapp.cli import REFUSED, main


@pytest.fixture
def study_file(tmp_path: Path) -> Path:
    path = tmp_path / "study.json"
    path.write_text(json.dumps(example_document()), encoding="utf-8")
    return path


SMALL = [
    "--ratio",
    "5:9:6",
    "--diameter",
    "5in:5in:1",
    "--stator",
    "40:80:3",
    "--supply",
    "20:60:3",
]


def test_the_text_begins_with_the_answer(
    study_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["explore", str(study_file), "--candidate", "tank"]) == 0
    printed = capsys.readouterr().out.splitlines()
    assert printed[1] == "7.58:1 is quickest over 6.00 m, start to stop: 2.12 s."
    whole = "\n".join(printed)
    for words in ("quickest on offer", "Of 20000 designs nothing beats", "The tyres break away"):
        assert words in whole


def test_json_holds_everything_and_agrees_with_evaluate(
    study_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["explore", str(study_file), "--candidate", "tank", *SMALL, "--json"]) == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    metrics = evaluate_study(parse_study(example_document()), keys=["tank"])["candidates"][0]
    for name in ("sprint_stop_time_s", "push_force_n", "min_bus_voltage_v", "browns_out"):
        assert found["chosen"][name] == pytest.approx(metrics["metrics"][name], rel=1e-12)
    assert found["designs"] == 6 * 3 * 3
    assert found["axes"]["diameter"] == [pytest.approx(0.127)]
    assert {"best", "tie_band", "buyable", "unbeaten", "limits"} <= set(found)
    assert found["limits"]["margin_v"] == 0.5


def test_tolerance_margin_and_battery_are_used(
    study_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["--tolerance", "2 %", "--margin", "1.5 V", "--battery", "practice battery", "--json"]
    assert main(["explore", str(study_file), "--candidate", "tank", *SMALL, *words]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["tie_band"]["share"] == pytest.approx(0.02)
    assert found["limits"]["target_v"] == pytest.approx(8.5)
    assert found["battery"] == found["limits"]["battery"] == "practice battery"


def test_inch_pound_units(study_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["explore", str(study_file), "--candidate", "tank", *SMALL, "--units", "inch-pound"]
    assert main(words) == 0
    printed = capsys.readouterr().out
    assert "wheel, in" in printed and "push, lbf" in printed and "19.7 ft" in printed


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (["--ratio", "5:9"], "--ratio takes the lowest value"),
        (["--ratio", "9:5:4"], "begins above its end"),
        (["--ratio", "5:x:4"], "“x” is not"),
        (["--supply", "20:60:0"], "takes 1 to 2000 values"),
        (["--diameter", "0.1:3:4"], "--diameter lies between 0.01 and 1"),
        (["--tolerance", "0.9"], "--tolerance lies between 0 and 0.5"),
        (["--margin", "20"], "--margin lies between 0 and 6"),
        (["--battery", "none such"], "No battery is called “none such”"),
        (["--ratio", "5:9:2000"], "60000 at most"),
    ],
)
def test_what_cannot_be_used_is_said(
    study_file: Path, capsys: pytest.CaptureFixture[str], words: list[str], complaint: str
) -> None:
    assert main(["explore", str(study_file), "--candidate", "tank", *words]) == REFUSED
    assert complaint in capsys.readouterr().err


def test_an_unknown_candidate_is_refused(
    study_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["explore", str(study_file), "--candidate", "none-such"]) == REFUSED
    assert "no candidate with the key" in capsys.readouterr().err
