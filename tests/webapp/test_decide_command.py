"""The command that weighs the candidates of a study file."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from webapp.cli import main

REFERENCE = Path(__file__).parents[1] / "reference" / "reference-1.json"
EXAMPLE = Path(__file__).parents[2] / "seed_data" / "example-study.json"


def test_it_prints_what_programs_read(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["decide", str(REFERENCE), "--json"]) == 0
    payload: dict[str, Any] = json.loads(capsys.readouterr().out)
    by_key = {one["key"]: one for one in payload["candidates"]}
    # From an independent solution of the reference study, four standard errors of the draws
    assert by_key["swerve-tall"]["score"] == pytest.approx(0.87893, abs=1e-3)
    assert by_key["tank"]["rank_acceptability"] == pytest.approx(
        [0.27756, 0.0831, 0.63727, 0.00207], abs=0.01
    )
    assert by_key["tank"]["passes"]
    assert by_key["tank"]["failed_gates"] == []
    assert {flip["rival"] for flip in payload["flips"]} == {"tank"}


def test_the_same_seed_gives_the_same_figures(capsys: pytest.CaptureFixture[str]) -> None:
    printed = []
    for seed in ("3", "3", "4"):
        assert main(["decide", str(EXAMPLE), "--json", "--draws", "200", "--seed", seed]) == 0
        printed.append(capsys.readouterr().out)
    assert printed[0] == printed[1] != printed[2]


def test_it_says_it_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["decide", str(EXAMPLE), "--draws", "100"]) == 0
    text = capsys.readouterr().out
    assert "fails “Fits around the mechanisms”" in text
    assert "First under the stated weights: " in text
    assert "in 8 of 10 draws" in text
    assert "loses to" in text


@pytest.mark.parametrize("draws", ["0", "100001"])
def test_a_number_of_draws_beyond_sense_is_refused(
    capsys: pytest.CaptureFixture[str], draws: str
) -> None:
    assert main(["decide", str(EXAMPLE), "--draws", draws]) == 2
    assert f"{draws} was given" in capsys.readouterr().err


def test_a_seed_below_zero_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["decide", str(EXAMPLE), "--draws", "10", "--seed", "-1"]) == 2
    assert "-1 was given" in capsys.readouterr().err
