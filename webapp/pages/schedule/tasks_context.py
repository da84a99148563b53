"""What the page of a candidate's tasks and purchases shows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from models.errors import Fault
from models.seed import task_templates
from models.services import StudyState
from models.study.numbers import SOURCES
from webapp.forms import id_of, row_origins
from webapp.pages.schedule.tasks_form import (
    PLACE,
    TasksForm,
    document_of,
    focus_after,
    position_of,
    with_rows,
)
from webapp.shared.candidates import marks_of
from webapp.shared.editing import ConflictView, Posted, Visit, save_bar
from webapp.shared.inputs import SOURCE_WORDS, Sheet, faults_by_name
from webapp.shared.links import StudyLinks

KINDS = (
    ("work", "work"),
    ("practice", "driver practice"),
    ("routines", "autonomous routines"),
)
MOST_NAMED = 3
"""So many names stand on a closed list; the rest are counted."""
MOST_TICKS = 40
"""Of more rows than this, numbers are typed instead of ticks set."""


@dataclass(frozen=True)
class Pick:
    """One list of ticks of a task: other tasks, or purchases."""

    id: str
    name: str
    words: str
    verb: str
    nothing: str
    numbers: str | None
    """The numbers of the rows as text, where there are too many to tick."""
    choices: list[tuple[str, str]]
    chosen: tuple[str, ...]
    faults: tuple[str, ...]


@dataclass(frozen=True)
class TaskRow:
    """One task of the table beside its boxes."""

    number: int
    name: str
    words: str
    practice: bool
    after: Pick
    needs: Pick


def tasks_context(
    visit: Visit,
    state: StudyState,
    key: str,
    *,
    posted: Posted | None = None,
    form: TasksForm | None = None,
    faults: Sequence[Fault] = (),
    conflict: ConflictView | None = None,
) -> dict[str, Any]:
    """Return what the page shows: of the saved tasks, or of some typed and not yet saved."""
    links = StudyLinks.of_state(state)
    system = posted.system if posted else visit.units
    position = position_of(state, key)
    focus, origins = "", None
    if posted is None or form is None:
        values = with_rows(document_of(state, key))
    else:
        focus = focus_after(posted, form.values, form)
        values, origins = form.values, row_origins(posted.typed)
        faults = form.in_form(faults, position)
    names = posted.names if posted else frozenset()
    by_name, summary = faults_by_name(faults, [("candidates", position)], names)
    choices = {**_crews(state), "kind": KINDS}
    sheet = Sheet(values, PLACE, system, by_name, choices, origins)
    marks = marks_of(state.study)
    schedule = state.study.schedule
    return {
        "state": state,
        "links": links,
        "nav": "schedule",
        "key": key,
        "marks": marks,
        "mark": next(mark for mark in marks if mark.key == key),
        "same_base": _same_base(state, key),
        "sheet": sheet,
        "units_of_form": system,
        "name_box": sheet.box("name", "Name of the candidate"),
        "task_rows": [
            _task_row(sheet, row, form.numbers if form else {}) for row in sheet.rows("tasks")
        ],
        "currency": schedule.currency if schedule else "",
        "has_calendar": schedule is not None,
        "templates": list(task_templates().values()),
        "bar": save_bar(state, visit, posted),
        "summary": summary,
        "conflict": conflict,
        "focus": focus if not summary else "",
        "form_address": tasks_address(links, key),
        "live_address": f"{links.page('schedule', 'tasks', 'live')}?candidate={key}",
        "template_address": f"{links.page('schedule', 'template')}?candidate={key}",
        "source_choices": [(source, SOURCE_WORDS[source]) for source in SOURCES],
    }


def tasks_address(links: StudyLinks, key: str) -> str:
    """Return the address of a candidate's tasks; a candidate's key needs no encoding."""
    return f"{links.page('schedule', 'tasks')}?candidate={key}"


def _same_base(state: StudyState, key: str) -> str:
    """Return the name of the candidate whose base this one keeps, "" for one with its own."""
    kept = state.study.candidate(key).same_base_as
    return state.study.candidate(kept).name if kept else ""


def _crews(state: StudyState) -> dict[str, tuple[tuple[str, str], ...]]:
    """Return the calendar's crews to choose from; where it has none yet, a crew is typed."""
    schedule = state.study.schedule
    crews = tuple((name, name) for name in schedule.crews) if schedule else ()
    return {"crew": crews} if crews else {}


def _task_row(sheet: Sheet, row: int, typed: Mapping[str, str]) -> TaskRow:
    place = f"tasks.{row}"
    name = str(sheet.value(f"{place}.name") or "")
    words = name or "new task"
    hours = sheet.value(f"{place}.hours") or []
    practice = any(isinstance(one, dict) and one.get("source") == "practice" for one in hours)
    others = [
        (str(other), str(sheet.value(f"tasks.{other}.name") or f"task {other + 1}"))
        for other in sheet.rows("tasks")
        if other != row
    ]
    bought = [
        (str(one), str(sheet.value(f"purchases.{one}.name") or f"purchase {one + 1}"))
        for one in sheet.rows("purchases")
    ]
    return TaskRow(
        row,
        name,
        words,
        practice,
        _pick(
            sheet, f"{place}.after_rows", others, typed, verb="After", nothing="Waits for no task"
        ),
        _pick(sheet, f"{place}.needs_rows", bought, typed, verb="Needs", nothing="Needs no parts"),
    )


def _pick(
    sheet: Sheet,
    name: str,
    choices: list[tuple[str, str]],
    typed: Mapping[str, str],
    *,
    verb: str,
    nothing: str,
) -> Pick:
    box = sheet.box(name)
    ticked = [words for number, words in choices if number in box.chosen]
    named = ", ".join(ticked[:MOST_NAMED])
    more = f" and {len(ticked) - MOST_NAMED} more" if len(ticked) > MOST_NAMED else ""
    words = f"{verb}: {named}{more}" if ticked else nothing
    if len(choices) <= MOST_TICKS:
        return Pick(box.id, name, words, verb, nothing, None, choices, box.chosen, box.faults)
    own = f"{name}:numbers"
    numbers = typed.get(name, ", ".join(str(int(row) + 1) for row in box.chosen))
    faults = tuple(sheet.faults.get(own, box.faults))
    return Pick(id_of(own), own, words, verb, nothing, numbers, [], box.chosen, faults)
