"""Files to take away."""

from __future__ import annotations

import csv
import io
from typing import Any

import pytest
from starlette.testclient import TestClient

from webapp.shared.away.file_names import file_name
from webapp.shared.csv_table import comparison_csv, safe_cell


def test_the_study_file_reads_back(
    client: TestClient, study_id: str, document: dict[str, Any]
) -> None:
    answer = client.get(f"/studies/{study_id}/study.json")
    assert answer.json() == document
    assert 'filename="reference-study-1.json"' in answer.headers["content-disposition"]


def test_the_csv_has_a_row_a_figure_and_a_column_a_candidate(
    client: TestClient, study_id: str, document: dict[str, Any]
) -> None:
    answer = client.get(f"/studies/{study_id}/comparison.csv")
    rows = list(csv.reader(io.StringIO(answer.text)))
    assert len(rows[0]) == 3 + len(document["candidates"])
    assert {len(row) for row in rows} == {len(rows[0])}
    by_key = {row[1]: row for row in rows}
    assert by_key["mass_kg"][2] == "kg"
    assert float(by_key["mass_kg"][3]) > 30
    assert by_key["fits"][3] in ("yes", "no", "")


@pytest.mark.parametrize(
    "text", ["=1+1", "+1+1", "-1+1", "@sum", "\tx", "\rx", "=HYPERLINK(1)", "-", "--3"]
)
def test_text_that_would_run_as_a_formula_is_quoted(text: str) -> None:
    assert safe_cell(text) == f"'{text}"


@pytest.mark.parametrize("value", [-3.5, -1e-9, "-3.5", "+2", "-1e-9"])
def test_a_negative_number_stays_a_number(value: float | str) -> None:
    assert float(safe_cell(value)) == float(value)


def test_names_are_made_safe_in_the_head() -> None:
    one = {"key": "a", "name": "=cmd()", "metrics": {"mass_kg": 50.0, "cg_x_m": -0.02},
           "routes": {}}  # fmt: skip
    rows = list(csv.reader(io.StringIO(comparison_csv({"candidates": [one]}))))
    assert rows[0][3] == "'=cmd() (a)"
    assert [row[3] for row in rows if row[1] == "cg_x_m"] == ["-0.02"]


def test_an_unknown_study_has_no_files(client: TestClient) -> None:
    assert client.get("/studies/none/study.json").status_code == 404
    assert client.get("/studies/none/comparison.csv").status_code == 404


def test_a_file_name_has_no_sign_that_a_system_refuses() -> None:
    assert file_name('a/b\\c:"d"') == "a-b-c-d"
    assert file_name("…") == "study"
