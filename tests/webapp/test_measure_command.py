"""The command that holds a characterised drive's constants against a study file."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from webapp.cli import main

REFERENCE = Path(__file__).parents[1] / "reference" / "reference-1.json"


def test_it_says_what_a_mentor_would(capsys: pytest.CaptureFixture[str]) -> None:
    given = ["measure", str(REFERENCE), "--candidate", "tank", "--kv", "2.7", "--ka", "0.03"]
    assert main(given) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "Taken as V per m/s" in text
    assert "was it off the floor?" in text
    assert "share of 12 V per motor rpm" in text


def test_it_prints_what_programs_read(capsys: pytest.CaptureFixture[str]) -> None:
    given = ["measure", str(REFERENCE), "--kv", "0.05", "--ks", "0.02", "--unit", "m:share"]
    assert main([*given, "--json"]) == 0
    payload = json.loads(capsys.readouterr().out)
    assert payload["candidate"] == "tank"
    assert payload["unit_stated"]
    assert payload["constants"]["kV_v_per_mps"] == pytest.approx(0.6)
    assert payload["constants"]["kS_v"] == pytest.approx(0.24)
    assert payload["constants"]["kA_v_per_mps2"] is None
    assert payload["beliefs"]["kV"] == "bad"
    assert len(payload["units"]) == 14


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (["--kv", "2,44"], "type 2.44"),
        (["--kv", "0"], "above 0"),
        (["--kv", "nan"], "--kv"),
        (["--kv", "2", "--ka", "-1"], "--ka"),
        (["--kv", "2", "--unit", "furlong"], "“furlong” is no unit of kV"),
        (["--kv", "2", "--candidate", "boat"], "boat"),
    ],
)
def test_what_cannot_be_used_is_refused_with_a_sentence(
    capsys: pytest.CaptureFixture[str], given: list[str], words: str
) -> None:
    assert main(["measure", str(REFERENCE), *given]) == 2
    assert words in capsys.readouterr().err
