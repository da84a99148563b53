"""The comparison as a workbook, opened again; and as CSV, with hostile names."""

from __future__ import annotations

import copy
import csv
import io
import math
from typing import Any

import pytest
from fastapi import FastAPI
from openpyxl import load_workbook
from starlette.testclient import TestClient

from models.services import create_study, load_study, whole_evaluation_of
from webapp.shared.csv_table import safe_cell
from webapp.shared.sheet_table import comparison_xlsx

HOSTILE = ['=HYPERLINK("x")', "+1+1", "-2+3", "@SUM(1)", "\tx", "  =1+1", "＝1", "<b>&\"'"]


def sheet_of(content: bytes, name: str = "Figures") -> Any:
    return load_workbook(io.BytesIO(content))[name]


def test_figures_keep_their_type_and_their_unit(
    app: FastAPI, client: TestClient, study_id: str
) -> None:
    answer = client.get(f"/studies/{study_id}/comparison.xlsx")
    assert 'filename="reference-study-1.xlsx"' in answer.headers["content-disposition"]
    sheet = sheet_of(answer.content)
    store = app.state.store
    payload = whole_evaluation_of(store, load_study(store, study_id))
    heads = [cell.value for cell in sheet[1]]
    rows = {row[2].value: row for row in sheet.iter_rows(min_row=2)}
    seen = 0
    for one in payload["candidates"]:
        column = heads.index(f"{one['name']} ({one['key']})")
        for key, value in one["metrics"].items():
            cell = rows[key][column]
            seen += isinstance(value, float)
            if isinstance(value, bool):
                assert cell.value is value
            elif isinstance(value, int | float):
                assert cell.data_type == "n"
                assert math.isclose(cell.value, value, rel_tol=1e-15)
            else:
                assert cell.value == value
    assert seen > 50
    assert [rows[key][1].value for key in ("mass_kg", "turn90_s")] == ["kg", "s"]


def test_ranges_stand_in_columns_beside_their_figure(app: FastAPI, client: TestClient) -> None:
    from webapp.shared.example import example_document

    state = create_study(app.state.store, example_document(), author="", note="")
    payload = whole_evaluation_of(app.state.store, state)
    sheet = sheet_of(comparison_xlsx(payload, state))
    heads = [cell.value for cell in sheet[1]]
    first = payload["candidates"][0]
    column = heads.index(f"{first['name']} ({first['key']})")
    assert heads[column + 1].endswith(": from")
    assert heads[column + 2].endswith(": to")
    rows = {row[2].value: row for row in sheet.iter_rows(min_row=2)}
    low, _mid, high, _exists = first["ranges"]["sprint_stop_time_s"]
    found = [cell.value for cell in rows["sprint_stop_time_s"][column : column + 3]]
    assert found == pytest.approx([first["metrics"]["sprint_stop_time_s"], low, high])
    negative = [c.value for row in rows.values() for c in row if isinstance(c.value, float)]
    assert min(negative) < 0.0


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_name_is_text_in_both_files(
    app: FastAPI, client: TestClient, document: dict[str, Any], name: str
) -> None:
    changed = copy.deepcopy(document)
    changed["name"] = changed["candidates"][0]["name"] = name
    state = create_study(app.state.store, changed, author="", note="")
    book = client.get(f"/studies/{state.study_id}/comparison.xlsx").content
    for sheet in ("Figures", "About"):
        cells = [cell for row in sheet_of(book, sheet).iter_rows() for cell in row]
        assert {cell.data_type for cell in cells} <= {"s", "inlineStr", "n", "b"}
    head = sheet_of(book)["D1"]
    assert head.value.startswith(name.replace("\t", " ").rstrip())
    assert head.quotePrefix
    text = client.get(f"/studies/{state.study_id}/comparison.csv").text
    written = next(csv.reader(io.StringIO(text)))[3]
    assert not written.lstrip().startswith(tuple("=+-@\t＝"))


def test_a_sheet_says_where_its_figures_come_from(
    app: FastAPI, client: TestClient, study_id: str
) -> None:
    book = client.get(f"/studies/{study_id}/comparison.xlsx").content
    about = {row[0].value: row[1].value for row in sheet_of(book, "About").iter_rows()}
    state = load_study(app.state.store, study_id)
    assert about["Hash of the document"] == state.revision.hash
    assert about["Revision"] == 1


@pytest.mark.parametrize("text", ["  =1+1", "\n=1", "＝1+1"])
def test_a_formula_behind_spaces_or_in_wide_signs_is_quoted(text: str) -> None:
    assert safe_cell(text) == f"'{text}"


def test_an_unknown_study_has_no_workbook(client: TestClient) -> None:
    for ending in ("comparison.xlsx", "study.html", "picture.png"):
        assert client.get(f"/studies/none/{ending}").status_code == 404
