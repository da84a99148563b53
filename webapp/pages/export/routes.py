"""Give out the study file, the side-by-side table, the study as one page, and its picture."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated

from fastapi import APIRouter, Depends
from fastapi.responses import Response

from models.services import (
    Store,
    decision_of_state,
    export_study,
    load_study,
    whole_evaluation_of,
)
from models.services.planning import plan_of_state
from models.units import UnitSystem
from webapp.access import store, unit_system
from webapp.shared.away.answers import download, picture_answer
from webapp.shared.away.study_file import Told, study_file
from webapp.shared.csv_table import comparison_csv
from webapp.shared.sheet_table import comparison_xlsx

router = APIRouter(prefix="/studies/{study_id}")
Opened = Annotated[Store, Depends(store)]
Units = Annotated[UnitSystem, Depends(unit_system)]

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@router.get("/study.json")
def study_document(study_id: str, store: Opened) -> Response:
    """Give out the newest revision as a study file."""
    state = load_study(store, study_id)
    text = export_study(store, study_id)
    return download(text.encode(), "application/json", state.study.name, "json")


@router.get("/comparison.csv")
def comparison_file(study_id: str, store: Opened) -> Response:
    """Give out every figure of every candidate as CSV, in SI units."""
    state = load_study(store, study_id)
    text = comparison_csv(whole_evaluation_of(store, state))
    return download(text.encode(), "text/csv; charset=utf-8", state.study.name, "csv")


@router.get("/comparison.xlsx")
def comparison_workbook(study_id: str, store: Opened) -> Response:
    """Give out every figure of every candidate as a workbook, in SI units."""
    state = load_study(store, study_id)
    book = comparison_xlsx(whole_evaluation_of(store, state), state)
    return download(book, XLSX, state.study.name, "xlsx")


@router.get("/study.html")
def study_page(study_id: str, store: Opened, units: Units) -> Response:
    """Give out the newest revision as one page that needs no server."""
    state = load_study(store, study_id)
    told = Told(
        state=state,
        payload=whole_evaluation_of(store, state),
        plan=plan_of_state(store, state),
        decision=decision_of_state(store, state),
        made=datetime.now(UTC),
    )
    page = study_file(told, units)
    return download(page.encode(), "text/html; charset=utf-8", state.study.name, "html")


@router.get("/picture.png")
def study_picture(study_id: str, store: Opened, units: Units) -> Response:
    """Give out the picture that a chat shows, with the newest figures."""
    state = load_study(store, study_id)
    return picture_answer(whole_evaluation_of(store, state), state, units)
