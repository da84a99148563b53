"""The schedule: show it, try a change, edit calendar and tasks, start from a list of tasks."""

from __future__ import annotations

from functools import partial
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData

from models.errors import NotFoundError
from models.services import StudyState, load_study
from models.services.starting import add_alternative_use, add_task_template
from models.units import quoted
from webapp.access import checked_form
from webapp.pages.schedule.calendar_context import calendar_context
from webapp.pages.schedule.calendar_form import CalendarForm
from webapp.pages.schedule.context import (
    live_calendar_context,
    live_context,
    page_context,
    what_if_context,
)
from webapp.pages.schedule.tasks_context import tasks_address, tasks_context
from webapp.pages.schedule.tasks_form import TasksForm
from webapp.pages.schedule.what_if import Asked, asked_change
from webapp.shared.editing import (
    SEQUENCE_HEADER,
    Visit,
    answer_to_save,
    read_posted,
    sequence_of,
    visit,
)
from webapp.shared.links import StudyLinks
from webapp.templating import render

router = APIRouter(prefix="/studies/{study_id}/schedule")
Visiting = Annotated[Visit, Depends(visit)]
Form = Annotated[FormData, Depends(checked_form)]

LONGEST_ONCE = 60
PAGE = "pages/schedule/schedule.html"
WHAT_IF = "pages/schedule/what_if.html"
HELPS = "pages/schedule/helps.html"
CALENDAR = "pages/schedule/calendar.html"
TASKS = "pages/schedule/tasks.html"
LIVE = "pages/schedule/live.html"
LIVE_CALENDAR = "pages/schedule/live_calendar.html"


def asked_of(
    *,
    try_: Annotated[str, Query(alias="try")] = "",
    weekday: str = "sun",
    start: str = "13:00",
    hours: str = "3",
    crew: str = "",
    purchase: str = "",
    days: str = "",
    task: str = "",
) -> Asked:
    """Return what an address asks to try, as a FastAPI dependency."""
    return asked_change(
        try_=try_, weekday=weekday, start=start, hours=hours, crew=crew, purchase=purchase,
        days=days, task=task,
    )  # fmt: skip


Asking = Annotated[Asked, Depends(asked_of)]


@router.get("")
def show_schedule(
    *,
    study_id: str,
    visiting: Visiting,
    asked: Asking,
    candidate: str | None = None,
    helps: str = "",
) -> Response:
    """Show when each candidate can be ready; with a change in the address, what it would do."""
    state = load_study(visiting.store, study_id)
    context = page_context(visiting, state, candidate=candidate, asked=asked, helps=bool(helps))
    return render(visiting.request, PAGE, context)


@router.get("/what-if")
def try_change(*, study_id: str, visiting: Visiting, asked: Asking, candidate: str) -> Response:
    """Answer with one change's line alone; nothing is stored."""
    state = load_study(visiting.store, study_id)
    known(state, candidate)
    context = what_if_context(visiting, state, candidate, asked, helps=False)
    return render(visiting.request, WHAT_IF, {"state": state, **context})


@router.get("/helps")
def what_helps(study_id: str, visiting: Visiting, candidate: str) -> Response:
    """Answer with the single changes that would help most."""
    state = load_study(visiting.store, study_id)
    known(state, candidate)
    context = what_if_context(visiting, state, candidate, Asked(), helps=True)
    return render(visiting.request, HELPS, {"state": state, **context})


@router.get("/calendar")
def show_calendar(study_id: str, visiting: Visiting) -> Response:
    """Show the calendar as it was last saved."""
    state = load_study(visiting.store, study_id)
    return _calendar_page(visiting, state)


@router.post("/calendar/live")
def recompute_calendar(study_id: str, visiting: Visiting, form: Form) -> Response:
    """Answer with every candidate's chance for the calendar as typed; nothing is stored."""
    posted = read_posted(visiting.store, study_id, form)
    context = live_calendar_context(visiting, posted.base, CalendarForm(posted))
    response = render(visiting.request, LIVE_CALENDAR, {"state": posted.base, **context})
    response.headers[SEQUENCE_HEADER] = sequence_of(posted)
    return response


@router.post("/calendar")
def save_calendar(study_id: str, visiting: Visiting, form: Form) -> Response:
    """Save the calendar; a row button only changes the form, and a fault saves nothing."""
    posted = read_posted(visiting.store, study_id, form)
    typed = CalendarForm(posted)
    again = partial(_calendar_page, visiting, posted.base, form=typed, posted=posted)
    if posted.changes_form:
        return again()
    return answer_to_save(
        visiting,
        posted,
        typed.edits,
        address=StudyLinks.for_study(study_id).page("schedule", "calendar"),
        show_again=again,
        faults=typed.faults,
    )


def _calendar_page(
    visiting: Visit,
    state: StudyState,
    *,
    form: CalendarForm | None = None,
    status: int = 200,
    **more: Any,
) -> Response:
    context = calendar_context(visiting, state, form=form, **more)
    live = live_calendar_context(visiting, state, form)
    return render(visiting.request, CALENDAR, {**context, **live}, status=status)


@router.get("/tasks")
def show_tasks(study_id: str, visiting: Visiting, candidate: str | None = None) -> Response:
    """Show a candidate's tasks and purchases as they were last saved."""
    state = load_study(visiting.store, study_id)
    key = known(state, candidate or state.study.candidates[-1].key)
    return _tasks_page(visiting, state, key)


def _tasks_page(
    visiting: Visit,
    state: StudyState,
    key: str,
    *,
    form: TasksForm | None = None,
    status: int = 200,
    **more: Any,
) -> Response:
    context = tasks_context(visiting, state, key, form=form, **more)
    live = live_context(visiting, state, key, form)
    return render(visiting.request, TASKS, {**context, **live}, status=status)


@router.post("/tasks")
def save_tasks(study_id: str, visiting: Visiting, form: Form, candidate: str) -> Response:
    """Save a candidate's tasks; a row button only changes the form, a fault saves nothing."""
    posted = read_posted(visiting.store, study_id, form)
    key = known(posted.base, candidate)
    typed = TasksForm(posted, key)
    again = partial(_tasks_page, visiting, posted.base, key, form=typed, posted=posted)
    if posted.changes_form:
        return again()
    return answer_to_save(
        visiting,
        posted,
        typed.edits,
        address=tasks_address(StudyLinks.for_study(study_id), key),
        show_again=again,
        faults=typed.faults,
    )


@router.post("/tasks/live")
def recompute(study_id: str, visiting: Visiting, form: Form, candidate: str) -> Response:
    """Answer with the chance of what is typed at this moment; nothing is stored."""
    posted = read_posted(visiting.store, study_id, form)
    key = known(posted.base, candidate)
    context = live_context(visiting, posted.base, key, TasksForm(posted, key))
    response = render(visiting.request, LIVE, {"state": posted.base, **context})
    response.headers[SEQUENCE_HEADER] = sequence_of(posted)
    return response


@router.post("/template")
def add_template(study_id: str, visiting: Visiting, form: Form, candidate: str) -> Response:
    """Put a list of tasks and purchases behind the candidate's own, and go to them."""
    state = load_study(visiting.store, study_id)
    key = known(state, candidate)
    outcome = add_task_template(
        visiting.store,
        study_id,
        key,
        str(form.get("template", "")),
        author=visiting.author,
        once=once_of(form),
    )
    address = tasks_address(StudyLinks.for_study(study_id), key)
    number = outcome.state.revision.number
    return RedirectResponse(f"{address}&saved={number}", status_code=303)


@router.post("/alternative")
def add_alternative(study_id: str, visiting: Visiting, form: Form) -> Response:
    """Add a candidate that keeps today's base, for what else the hours could do; go to it."""
    outcome = add_alternative_use(
        visiting.store, study_id, author=visiting.author, once=once_of(form)
    )
    key = outcome.state.study.candidates[-1].key
    address = tasks_address(StudyLinks.for_study(study_id), key)
    number = outcome.state.revision.number
    return RedirectResponse(f"{address}&saved={number}", status_code=303)


def once_of(form: FormData) -> str | None:
    """Return the key that makes two clicks on one button one change."""
    text = form.get("once")
    return text[:LONGEST_ONCE] if isinstance(text, str) and text else None


def known(state: StudyState, key: str) -> str:
    """Return the key of a candidate; raises where the study has none of it."""
    if all(candidate.key != key for candidate in state.study.candidates):
        raise NotFoundError(f"The study has no candidate with the key {quoted(key[:60])}.")
    return key
