"""List the studies; begin one from the example, from a file, or as a copy."""

from __future__ import annotations

from pathlib import PurePath
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData, UploadFile

from models.errors import Fault, StudyRefusedError
from models.services import Store, create_study, duplicate_study, load_study
from models.study import read_document
from webapp.access import author_name, checked_form, store
from webapp.pages.studies.context import studies_context
from webapp.shared.example import example_document
from webapp.shared.links import StudyLinks
from webapp.templating import render

router = APIRouter()
Opened = Annotated[Store, Depends(store)]
Author = Annotated[str, Depends(author_name)]
Form = Annotated[FormData, Depends(checked_form)]

PAGE = "pages/studies/studies.html"


@router.get("/")
def show_studies(request: Request, store: Opened) -> Response:
    """Show all studies and the ways to begin one."""
    return render(request, PAGE, {**studies_context(store)})


@router.post("/studies/new")
def new_from_example(store: Opened, author: Author, form: Form) -> Response:
    """Begin a study as a copy of the example."""
    state = create_study(
        store,
        example_document(),
        author=author,
        note="Begun from the example study",
        once=_once(form),
    )
    return _to_overview(state.study_id)


@router.post("/studies/upload")
def new_from_file(request: Request, store: Opened, author: Author, form: Form) -> Response:
    """Begin a study from a file, or show everything that is wrong with the file."""
    upload = form.get("file")
    if not isinstance(upload, UploadFile) or not upload.filename:
        faults = [Fault("", "No file was chosen. Choose a study file, then press the button.")]
        context = studies_context(store, faults=faults)
        return render(request, PAGE, {**context}, status=422)
    name = PurePath(upload.filename.replace("\\", "/")).name[:80]
    try:
        state = create_study(
            store,
            read_document(upload.file.read()),
            author=author,
            note=f"Read from the file {name}",
            once=_once(form),
        )
    except StudyRefusedError as error:
        context = studies_context(store, faults=error.faults, refused_file=name)
        return render(request, PAGE, {**context}, status=422)
    return _to_overview(state.study_id)


@router.post("/studies/{study_id}/duplicate")
def duplicate(study_id: str, store: Opened, author: Author, form: Form) -> Response:
    """Begin a study as a copy of another one's newest revision."""
    given = form.get("name")
    name = given.strip() if isinstance(given, str) else ""
    name = name or f"{load_study(store, study_id).study.name} (copy)"
    return _to_overview(duplicate_study(store, study_id, author=author, name=name).study_id)


def _once(form: FormData) -> str | None:
    given = form.get("once")
    return given if isinstance(given, str) and given else None


def _to_overview(study_id: str) -> RedirectResponse:
    return RedirectResponse(StudyLinks.for_study(study_id).overview(), status_code=303)
