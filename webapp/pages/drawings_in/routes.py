"""Send a drawing, look at what would be taken from it, take it over; nothing is kept in between."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated

from fastapi import APIRouter, Depends
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData, UploadFile

from models.drawings.limits import MOST_BYTES, DrawingRefusedError
from models.drawings.placing import take_over
from models.drawings.reading import check_size, read_drawing
from models.errors import Fault, SaveConflictError, StudyRefusedError
from models.services import StudyState, load_study, save_sections
from webapp.access import AUTHOR_COOKIE, checked_form, clean_name, keep_cookie
from webapp.pages.drawings_in.context import drawing_context, start_context
from webapp.pages.drawings_in.form import DrawingForm, posted_form, shown_file_name
from webapp.shared.editing import LONGEST_NOTE, Visit, visit
from webapp.shared.links import StudyLinks
from webapp.templating import render

router = APIRouter(prefix="/studies/{study_id}/drawings")
Visiting = Annotated[Visit, Depends(visit)]
Form = Annotated[FormData, Depends(checked_form)]

PAGE = "pages/drawings_in/drawings_in.html"
LARGEST_FORM = 3 * MOST_BYTES
"""A larger form is cut off with bare words by the framework, so that a file which is somewhat too
large still gets its sentence; it lies on disk until then and is never read into memory."""


@router.get("")
def show_start(study_id: str, visit: Visiting) -> Response:
    """Ask for a drawing."""
    state = load_study(visit.store, study_id)
    return render(visit.request, PAGE, start_context(visit, state))


@router.post("/read", max_body_size=LARGEST_FORM)
def read_sent(study_id: str, visit: Visiting, form: Form) -> Response:
    """Read a drawing within limits and ask for its unit; a refused one is told in a sentence."""
    state = load_study(visit.store, study_id)
    texts = _texts(form)
    upload = form.get("file")
    if not isinstance(upload, UploadFile) or not upload.filename:
        return _start_again(visit, state, "Choose a drawing, then press the button.", texts)
    steps = texts.get("steps", "")
    try:
        check_size(upload.size or 0)
        drawing = read_drawing(
            upload.filename,
            upload.file.read(),
            steps=int(steps) if steps.isascii() and steps.isdigit() and len(steps) < 4 else 0,
            up=texts.get("up", ""),
        )
    except DrawingRefusedError as refused:
        return _start_again(visit, state, str(refused), texts)
    name = shown_file_name(upload.filename)
    read = DrawingForm(drawing, {"file_name": name}, visit.units)
    return render(visit.request, PAGE, drawing_context(visit, state, read))


@router.post("")
def look_or_take(study_id: str, visit: Visiting, form: Form) -> Response:
    """Show the drawing on the robot, or save what was chosen of it as a revision."""
    state = load_study(visit.store, study_id)
    texts = _texts(form)
    try:
        posted = posted_form(texts, visit.units)
    except DrawingRefusedError as refused:
        return _start_again(visit, state, str(refused), texts)
    taking = texts.get("do") == "take"
    placement, choices = posted.placement(), posted.choices()
    faults = list(posted.faults)
    if placement is not None and not faults:
        try:
            taken = take_over(state.document, posted.drawing, placement, choices)
            if taking:
                return _save(visit, state, taken.edits, taken.words, posted)
        except StudyRefusedError as refused:
            faults = [] if _nothing_chosen(refused) and not taking else list(refused.faults)
        except SaveConflictError as conflict:
            faults = [Fault("", f"{conflict} Yours is not saved yet: look again, then take over.")]
    context = drawing_context(visit, state, posted, faults)
    return render(visit.request, PAGE, context, status=422 if faults and taking else 200)


def _nothing_chosen(refused: StudyRefusedError) -> bool:
    return [fault.place for fault in refused.faults] == ["layers"]


def _save(
    visit: Visit,
    state: StudyState,
    edits: Mapping[str, object],
    words: tuple[str, ...],
    posted: DrawingForm,
) -> Response:
    """Save onto the newest revision, since what is taken over only adds to it."""
    typed = posted.text("revision_note")
    note = typed or f"From {posted.text('file_name') or 'a drawing'}: {'; '.join(words)}"
    author = visit.author or clean_name(posted.text("your_name"))
    outcome = save_sections(
        visit.store,
        state.study_id,
        base_revision=state.revision.number,
        edits=dict(edits),
        author=author,
        note=" ".join(note.split())[:LONGEST_NOTE],
        once=posted.text("once")[:100] or None,
    )
    links = StudyLinks.of_state(state)
    candidates = [section.partition("/")[2] for section in edits if section.startswith("cand")]
    address = links.robot() if "robot.keepouts" in edits else links.candidate(candidates[0])
    number = outcome.state.revision.number
    response = RedirectResponse(f"{address}?saved={number}", status_code=303)
    if author and not visit.author:
        keep_cookie(visit.request, response, AUTHOR_COOKIE, author)
    return response


def _start_again(
    visit: Visit, state: StudyState, sentence: str, texts: Mapping[str, str]
) -> Response:
    context = start_context(
        visit, state, refused=sentence, steps=texts.get("steps", "4"), up=texts.get("up", "z")
    )
    return render(visit.request, PAGE, context, status=422)


def _texts(form: FormData) -> dict[str, str]:
    return {name: text for name, text in form.items() if isinstance(text, str)}
