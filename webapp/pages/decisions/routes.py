"""List decisions, write one, look it over and confirm, read it, take it away, add outcomes."""

from __future__ import annotations

import base64
import hashlib
import secrets
from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Depends
from fastapi.responses import JSONResponse, RedirectResponse, Response
from markupsafe import Markup
from starlette.datastructures import FormData

from models.errors import Fault, NotFoundError
from models.services import (
    DecisionRecord,
    StudyState,
    add_outcome,
    decision_payload,
    decision_record,
    load_study,
    record_decision,
)
from models.units import UnitSystem
from webapp.access import checked_form
from webapp.pages.decisions.context import closed_rounds, decisions_context
from webapp.pages.decisions.form import faults_in, typed_in, words_of
from webapp.pages.decisions.outcomes import (
    NAMES,
    Measured,
    measurable,
    outcome_rows,
    read_outcome,
)
from webapp.pages.decisions.record_context import record_context
from webapp.paths import data_folder
from webapp.shared.editing import Visit, visit
from webapp.shared.links import StudyLinks
from webapp.templating import render

router = APIRouter(prefix="/studies/{study_id}/decisions")
Visiting = Annotated[Visit, Depends(visit)]
Form = Annotated[FormData, Depends(checked_form)]

PAGE = "pages/decisions/decisions.html"
REVIEW = "pages/decisions/review.html"
RECORD = "pages/decisions/record.html"
FILE = "pages/decisions/record_file.html"
STYLES = ("marks.css", "ballots.css", "record.css")
LONGEST_NUMBER = 9


@router.get("")
def show_decisions(study_id: str, visiting: Visiting, round: str = "") -> Response:  # noqa: A002
    """Show the decisions on record and the form for another."""
    state = load_study(visiting.store, study_id)
    context = decisions_context(visiting.store, state, visiting.author, round_id=round)
    return render(visiting.request, PAGE, context)


@router.post("/review")
def review(study_id: str, visiting: Visiting, form: Form) -> Response:
    """Show what would be frozen, or the form again with what it still needs."""
    typed, state, faults = _read(visiting, study_id, form)
    if faults or form.get("edit"):
        return _form_again(visiting, state, typed, faults)
    rounds = {one.id: one for one in closed_rounds(visiting.store, study_id)}
    payload = decision_payload(
        visiting.store,
        state,
        words_of(typed, state.study.baseline.key),
        typed["round"] or None,
    )
    context = {
        "nav": "decisions",
        "state": load_study(visiting.store, study_id),
        "typed": typed,
        "frozen_revision": state.revision.number,
        "round": rounds.get(typed["round"]),
        "size": len(payload["candidates"]),
        **_shown(payload, visiting.units),
    }
    return render(visiting.request, REVIEW, context)


@router.post("/record")
def record(study_id: str, visiting: Visiting, form: Form) -> Response:
    """Put a decision on record for good."""
    typed, state, faults = _read(visiting, study_id, form)
    if faults:
        return _form_again(visiting, state, typed, faults)
    payload = decision_payload(
        visiting.store,
        state,
        words_of(typed, state.study.baseline.key),
        typed["round"] or None,
    )
    info = record_decision(
        visiting.store,
        study_id,
        revision=state.revision.number,
        choice=typed["choice"],
        payload=payload,
        author=visiting.author,
        once=typed["once"] or None,
    )
    return RedirectResponse(StudyLinks.for_study(study_id).decisions(info.id), status_code=303)


def _read(
    visiting: Visit, study_id: str, form: FormData
) -> tuple[dict[str, str], StudyState, list[Fault]]:
    typed = typed_in(form)
    number = typed["revision"]
    plain = number.isascii() and number.isdigit() and len(number) <= LONGEST_NUMBER
    if not plain:
        raise NotFoundError("The form names no revision of this study.")
    state = load_study(visiting.store, study_id, int(number))
    keys = {one.key for one in state.study.candidates}
    rounds = {one.id for one in closed_rounds(visiting.store, study_id)}
    return typed, state, faults_in(typed, keys, rounds)


def _form_again(
    visiting: Visit, state: StudyState, typed: Mapping[str, str], faults: list[Fault]
) -> Response:
    context = decisions_context(visiting.store, state, visiting.author, typed=typed, faults=faults)
    return render(visiting.request, PAGE, context, status=422 if faults else 200)


def _shown(payload: Mapping[str, Any], units: UnitSystem) -> dict[str, Any]:
    """Return the parts of a record that its review shows before it is one."""
    context = record_context(None, payload, units, intact=True)
    names = ("chosen", "leader", "summary", "decided", "reconsider_day", "study_hash", "words",
             "draws", "said", "model_version")  # fmt: skip
    return {name: context[name] for name in names}


@router.get("/{record_id}")
def show_record(study_id: str, record_id: str, visiting: Visiting) -> Response:
    """Show a record, and beside it what came of it."""
    found = decision_record(visiting.store, study_id, record_id)
    typed = {**dict.fromkeys(NAMES, ""), "candidate": found.info.choice}
    return _record_page(visiting, found, typed, Measured())


@router.get("/{record_id}/record.json")
def record_data(study_id: str, record_id: str, visiting: Visiting) -> Response:
    """Give out a record as it is stored, with its hash and the outcomes."""
    found = decision_record(visiting.store, study_id, record_id)
    content = {
        "record": dict(found.payload),
        "sha256": found.info.hash,
        "intact": found.is_intact(),
        "recorded_at": found.info.recorded_at.isoformat(),
        "recorded_by": found.info.author,
        "outcomes": [
            {
                "metric": one.metric or None,
                "candidate": one.candidate or None,
                "measured": one.measured,
                "words": one.words,
                "author": one.author,
                "added_at": one.added_at.isoformat(),
            }
            for one in found.outcomes
        ],
    }
    return JSONResponse(content, headers=_attached(found, "json"))


@router.get("/{record_id}/record.html")
def record_file(study_id: str, record_id: str, visiting: Visiting) -> Response:
    """Give out a record as one file that needs no server, no script and no network."""
    found = decision_record(visiting.store, study_id, record_id)
    style = "".join(
        (data_folder("static") / "css" / name).read_text(encoding="utf-8") for name in STYLES
    )
    mark = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    context = {
        **_record(found, visiting.units),
        "style": Markup("<style>{}</style>").format(Markup(style)),  # noqa: S704  (our own file)
    }
    response = render(visiting.request, FILE, context)
    response.headers["content-security-policy"] = (
        f"default-src 'none'; style-src 'sha256-{mark}'; base-uri 'none'; form-action 'none'; "
        "frame-ancestors 'none'"
    )
    response.headers.update(_attached(found, "html"))
    return response


def _attached(found: DecisionRecord, ending: str) -> dict[str, str]:
    name = f"decision-{found.payload['words']['decided_on']}-{found.info.hash[:8]}.{ending}"
    return {"content-disposition": f'attachment; filename="{name}"'}


@router.post("/{record_id}/outcomes")
def say_outcome(study_id: str, record_id: str, visiting: Visiting, form: Form) -> Response:
    """Add what came of a decision; the record itself stays as it is."""
    found = decision_record(visiting.store, study_id, record_id)
    typed = {name: str(form.get(name, "")).strip() for name in NAMES}
    shown_in = UnitSystem.INCH_POUND if typed["form_units"] == "inch-pound" else UnitSystem.SI
    said = read_outcome(typed, found.payload, shown_in)
    if said.faults:
        return _record_page(visiting, found, typed, said)
    add_outcome(
        visiting.store,
        study_id,
        record_id,
        metric=said.metric,
        candidate=said.candidate,
        measured=said.value,
        words=said.words,
        author=visiting.author,
        once=typed["once"] or None,
    )
    address = StudyLinks.for_study(study_id).decisions(record_id)
    return RedirectResponse(f"{address}#outcomes", status_code=303)


def _record(found: DecisionRecord, units: UnitSystem) -> dict[str, Any]:
    return {
        **record_context(found.info, found.payload, units, intact=found.is_intact()),
        "outcomes": outcome_rows(found.outcomes, found.payload, units),
    }


def _record_page(
    visiting: Visit, found: DecisionRecord, typed: Mapping[str, str], said: Measured
) -> Response:
    context = {
        "nav": "decisions",
        "state": load_study(visiting.store, found.info.study_id),
        **_record(found, visiting.units),
        "measurable": measurable(found.payload, visiting.units),
        "typed": typed,
        "faults": said.faults,
        "fault_of": {fault.place: fault.message for fault in said.faults},
        "once": secrets.token_urlsafe(12),
    }
    return render(visiting.request, RECORD, context, status=422 if said.faults else 200)
