"""The command line."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from models.study import parse_study
from models.trade.whole import whole_evaluation
from webapp.cli import database_url, example_study_id, main


@pytest.fixture
def study_file(tmp_path: Path, document: dict[str, Any]) -> Path:
    path = tmp_path / "study.json"
    path.write_text(json.dumps(document), encoding="utf-8")
    return path


@pytest.fixture
def database(tmp_path: Path) -> str:
    return str(tmp_path / "kept.sqlite3")


def test_evaluate_prints_a_table_side_by_side(
    study_file: Path, document: dict[str, Any], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["evaluate", str(study_file)]) == 0
    printed = capsys.readouterr().out
    for words in ("Does it fit?", "Is it quicker?", "Pushing force", "(today)", " N", "long cycle"):
        assert words in printed
    for candidate in document["candidates"]:
        assert candidate["name"].split()[0] in printed


@pytest.mark.parametrize("width", ["60", "80", "200"])
def test_the_table_fits_the_terminal(
    study_file: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    width: str,
) -> None:
    monkeypatch.setenv("COLUMNS", width)
    main(["evaluate", str(study_file)])
    lines = capsys.readouterr().out.splitlines()
    assert max(len(line) for line in lines) <= int(width)


def test_evaluate_in_inch_pound_units(study_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["evaluate", str(study_file), "--units", "inch-pound"]) == 0
    assert " lbf" in capsys.readouterr().out


def test_evaluate_for_programs(
    study_file: Path, document: dict[str, Any], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["evaluate", str(study_file), "--json"]) == 0
    printed = json.loads(capsys.readouterr().out)
    assert printed == json.loads(json.dumps(whole_evaluation(parse_study(document))))


def test_evaluate_for_a_spreadsheet(study_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["evaluate", str(study_file), "--csv"]) == 0
    assert capsys.readouterr().out.startswith("figure,key,unit,")


def test_a_refused_file_prints_a_line_a_fault_and_exits_2(
    tmp_path: Path, document: dict[str, Any], capsys: pytest.CaptureFixture[str]
) -> None:
    document["candidates"][1]["drive"]["ratio"] = 0
    document["candidates"][0]["wheels"]["diameter_m"] = "wide\nopen"
    path = tmp_path / "broken.json"
    path.write_text(json.dumps(document), encoding="utf-8")
    assert main(["evaluate", str(path)]) == 2
    printed = capsys.readouterr()
    lines = printed.err.splitlines()
    assert printed.out == ""
    assert len(lines) == 2
    assert any(line.startswith("candidates[1].drive.ratio") for line in lines)


def test_a_missing_file_exits_2_with_a_sentence(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["evaluate", "nowhere.json"]) == 2
    assert "nowhere.json cannot be read" in capsys.readouterr().err


def test_import_export_and_backup(
    study_file: Path,
    document: dict[str, Any],
    database: str,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["import", str(study_file), "--database", database]) == 0
    study_id = capsys.readouterr().out.split()[0]
    assert main(["export", study_id, "--database", database]) == 0
    assert json.loads(capsys.readouterr().out) == document
    copy = tmp_path / "copy.sqlite3"
    assert main(["backup", str(copy), "--database", database]) == 0
    written = tmp_path / "written.json"
    command = ["export", study_id, "--database", str(copy), "--output", str(written)]
    assert main(command) == 0
    assert json.loads(written.read_text(encoding="utf-8")) == document


def test_the_export_of_an_unknown_study_lists_the_known_ones(
    study_file: Path, database: str, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["import", str(study_file), "--database", database])
    study_id = capsys.readouterr().out.split()[0]
    assert main(["export", "none", "--database", database]) == 2
    assert f"{study_id}  Reference study 1" in capsys.readouterr().err


def test_the_database_is_named_by_the_environment_too(
    study_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "named.sqlite3"
    monkeypatch.setenv("SWITCHOVER_DATABASE_URL", f"sqlite:///{path.as_posix()}")
    assert main(["import", str(study_file)]) == 0
    assert path.exists()


def test_a_wrong_setting_stops_the_command(
    study_file: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("SWITCHOVER_DATABSE_URL", "x")
    assert main(["import", str(study_file)]) == 2
    assert "no setting SWITCHOVER_DATABSE_URL" in capsys.readouterr().err


def test_the_example_is_put_into_a_database_once(database: str) -> None:
    from models.services import list_studies, open_store

    store = open_store(str(database_url(database)))
    try:
        assert example_study_id(store) == example_study_id(store)
        assert len(list_studies(store)) == 1
    finally:
        store.close()


@pytest.mark.parametrize(
    "arguments", [[], ["fly"], ["evaluate"], ["evaluate", "a", "--json", "--csv"]]
)
def test_a_command_that_does_not_exist_exits_2(arguments: list[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(arguments)
    assert stopped.value.code == 2


class TestArrange:
    def test_for_programs(self, study_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
        assert main(["arrange", str(study_file), "--candidate", "swerve", "--json"]) == 0
        found = json.loads(capsys.readouterr().out)
        assert found["feasible"] == len(found["arrangements"]) == 500
        best = found["arrangements"][0]
        assert best["support_area_m2"] == pytest.approx(0.2805, abs=5e-5)
        assert best["corners"]["rear_left"]["orientation"] == "inverted"
        assert best["corners"]["front_right"]["at_m"] == [0.275, -0.255]

    def test_as_a_list_with_units(
        self, study_file: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        options = ["--inset-max", "20 mm", "--inset-step", "10 mm", "--rank", "wheelbase"]
        assert main(["arrange", str(study_file), "--candidate", "swerve", *options]) == 0
        printed = capsys.readouterr().out
        assert "arrangements fit" in printed
        assert "   1  support 0.281 m²" in printed

    def test_a_tank_is_told_what_has_to_give(
        self, study_file: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        assert main(["arrange", str(study_file), "--candidate", "tank"]) == 0
        printed = capsys.readouterr().out
        assert "Move “lift foot” 106 mm right" in printed
        assert "Shift “gearbox left”" in printed

    @pytest.mark.parametrize(
        "options",
        [
            ["--candidate", "none-such"],
            ["--candidate", "swerve", "--inset-step", "0"],
            ["--candidate", "swerve", "--inset-max", "lots"],
            ["--candidate", "swerve", "--inset-max", "0.3"],
        ],
    )
    def test_what_cannot_be_searched_is_refused(
        self, study_file: Path, capsys: pytest.CaptureFixture[str], options: list[str]
    ) -> None:
        assert main(["arrange", str(study_file), *options]) == 2
        assert capsys.readouterr().err.strip()
