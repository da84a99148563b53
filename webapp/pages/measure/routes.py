"""Hold constants and simple tests against the model; take a result over with care."""

from __future__ import annotations

import datetime as dt
from functools import partial
from typing import Annotated, Any

from fastapi import APIRouter, Depends
from fastapi.responses import Response
from starlette.datastructures import FormData

from models.errors import OutOfRangeError, StudyRefusedError
from models.services import StudyState, evaluation_of, load_study, preview
from webapp.access import checked_form
from webapp.pages.measure.asked import UNITS_NAME
from webapp.pages.measure.context import Asked, measure_context, test_view
from webapp.pages.measure.fields import TESTS
from webapp.pages.measure.taking import Taking, figure_rows, moved_words, taking_of
from webapp.shared.candidates import marks_of
from webapp.shared.editing import (
    Posted,
    Visit,
    answer_to_save,
    author_of,
    read_posted,
    save_bar,
    visit,
)
from webapp.shared.links import StudyLinks
from webapp.templating import render

router = APIRouter(prefix="/studies/{study_id}/measure")
Visiting = Annotated[Visit, Depends(visit)]
Form = Annotated[FormData, Depends(checked_form)]

PAGE = "pages/measure/measure.html"
REVIEW = "pages/measure/take.html"


@router.get("")
def show_measure(study_id: str, visit: Visiting) -> Response:
    """Show every test, with what the address says worked out."""
    state = load_study(visit.store, study_id)
    return _page(visit, state, Asked(visit.request.query_params.multi_items()))


@router.get("/take")
def show_taking(study_id: str, visit: Visiting, test: str = "") -> Response:
    """Show what a result would change, before anything is saved."""
    state = load_study(visit.store, study_id)
    asked = Asked(visit.request.query_params.multi_items())
    return _review(visit, state, asked, test)


@router.post("/take")
def take_over(study_id: str, visit: Visiting, form: Form) -> Response:
    """Save a result as a measured number, or show again what stood in the way."""
    posted = read_posted(visit.store, study_id, form)
    asked = Asked(form.multi_items())
    test = posted.control("test")
    try:
        taking = _taking(visit, posted.base, asked, test, author_of(posted, visit.author))
    except OutOfRangeError as error:
        return _page(visit, posted.base, asked, problem=str(error))
    links = StudyLinks.of_state(posted.base)
    return answer_to_save(
        visit,
        posted,
        taking.edits,
        address=f"{links.measure()}{asked.address_end}",
        show_again=partial(_review, visit, posted.base, asked, test, posted=posted),
    )


def _metrics(visit: Visit, state: StudyState) -> dict[str, Any]:
    everyone = evaluation_of(visit.store, state)["candidates"]
    return {one["key"]: one["metrics"] for one in everyone}


def _page(visit: Visit, state: StudyState, asked: Asked, *, problem: str = "") -> Response:
    links = StudyLinks.of_state(state)
    context = measure_context(state.study, asked, links, visit.units, _metrics(visit, state))
    saved = visit.saved == str(state.revision.number) or visit.saved == "nothing"
    words = save_bar(state, visit).words if saved else ""
    status = 422 if context["faulty"] or problem else 200
    return render(
        visit.request,
        PAGE,
        {
            "state": state,
            "links": links,
            "nav": "measure",
            "problem": problem,
            "saved_words": words,
            **context,
        },
        status=status,
    )


def _taking(visit: Visit, state: StudyState, asked: Asked, test: str, author: str) -> Taking:
    if test not in TESTS:
        raise OutOfRangeError("Choose a test whose result is to be taken over.")
    view = test_view(state.study, asked, test, visit.units, _metrics(visit, state))
    if view.answers.faults:
        raise OutOfRangeError(view.answers.faults[0].fault)
    day = dt.datetime.now().astimezone().date()
    return taking_of(state, view, visit.units, day=day, author=author)


def _review(
    visit: Visit,
    state: StudyState,
    asked: Asked,
    test: str,
    *,
    posted: Posted | None = None,
    status: int = 200,
    faults: Any = (),
    conflict: Any = None,
) -> Response:
    """Show the result, where it goes, and every headline figure before and after."""
    author = visit.author if posted is None else author_of(posted, visit.author)
    try:
        taking = _taking(visit, state, asked, test, author)
    except OutOfRangeError as error:
        return _page(visit, state, asked, problem=str(error))
    rows, refused = [], [str(fault) for fault in faults]
    marks = marks_of(state.study)
    try:
        _, after = preview(visit.store, state, taking.edits)
        rows = figure_rows(evaluation_of(visit.store, state), after, marks, visit.units)
    except StudyRefusedError as error:
        refused = refused or [str(fault) for fault in error.faults]
        status = 422
    links = StudyLinks.of_state(state)
    sent = [(name, text) for name, text in asked.pairs if name != UNITS_NAME]
    return render(
        visit.request,
        REVIEW,
        {
            "state": state,
            "links": links,
            "nav": "measure",
            "test": TESTS[test],
            "taking": taking,
            "marks": marks,
            "rows": rows,
            "moved": moved_words(rows, state.study) if rows else "",
            "refused": refused,
            "conflict": conflict,
            "bar": save_bar(state, visit, posted),
            "sent": [*sent, (UNITS_NAME, asked.query.get(UNITS_NAME, visit.units.value))],
            "back": f"{links.measure()}{asked.address_end}#{test}",
            "form_address": links.page("measure", "take"),
        },
        status=status,
    )
