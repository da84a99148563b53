"""Give out the study file and the side-by-side table."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends
from fastapi.responses import Response

from models.services import Store, export_study, load_study, whole_evaluation_of
from webapp.access import store
from webapp.shared.csv_table import comparison_csv

router = APIRouter(prefix="/studies/{study_id}")
Opened = Annotated[Store, Depends(store)]


@router.get("/study.json")
def study_file(study_id: str, store: Opened) -> Response:
    """Give out the newest revision as a study file."""
    state = load_study(store, study_id)
    return _download(export_study(store, study_id), "application/json", state.study.name, "json")


@router.get("/comparison.csv")
def comparison_file(study_id: str, store: Opened) -> Response:
    """Give out every figure of every candidate as CSV, in SI units."""
    state = load_study(store, study_id)
    text = comparison_csv(whole_evaluation_of(store, state))
    return _download(text, "text/csv; charset=utf-8", state.study.name, "csv")


def _download(text: str, media_type: str, name: str, ending: str) -> Response:
    disposition = f'attachment; filename="{file_name(name)}.{ending}"'
    return Response(
        text.encode(), media_type=media_type, headers={"content-disposition": disposition}
    )


def file_name(name: str) -> str:
    """Return a study's name as a file name that every system accepts.

    >>> file_name("Breakwater: should we change?")
    'breakwater-should-we-change'
    """
    plain = "".join(sign.lower() if sign.isascii() and sign.isalnum() else " " for sign in name)
    return "-".join(plain.split())[:60].strip("-") or "study"
