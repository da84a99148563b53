"""What the page of the calendar shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from models.errors import Fault
from models.services import StudyState
from models.study.numbers import SOURCES
from webapp.forms import row_origins
from webapp.pages.schedule.calendar_form import SECTION, CalendarForm, focus_after, with_rows
from webapp.shared.candidates import marks_of
from webapp.shared.editing import ConflictView, Posted, Visit, save_bar
from webapp.shared.inputs import SOURCE_WORDS, Sheet, faults_by_name
from webapp.shared.links import StudyLinks

WEEKDAYS = (
    ("mon", "Monday"), ("tue", "Tuesday"), ("wed", "Wednesday"), ("thu", "Thursday"),
    ("fri", "Friday"), ("sat", "Saturday"), ("sun", "Sunday"),
)  # fmt: skip
DATES = ("start", "ready_by", "give_up_base_on")
WISHES = ("wanted_chance", "practice_hours_wanted", "budget", "currency")


@dataclass(frozen=True)
class TaskTick:
    """A task that a gate may ask for, and in which candidates it stands."""

    key: str
    name: str
    letters: str


def calendar_context(
    visit: Visit,
    state: StudyState,
    *,
    posted: Posted | None = None,
    form: CalendarForm | None = None,
    faults: Sequence[Fault] = (),
    conflict: ConflictView | None = None,
) -> dict[str, Any]:
    """Return what the page shows: of the saved calendar, or of one typed and not yet saved."""
    links = StudyLinks.of_state(state)
    system = posted.system if posted else visit.units
    focus, origins = "", None
    if posted is None or form is None:
        values: dict[str, Any] = {SECTION: with_rows(state.document.get(SECTION) or {})}
    else:
        focus = focus_after(posted, form)
        values, origins = form.values, row_origins(posted.typed)
        faults = form.in_form(faults)
    by_name, summary = faults_by_name(faults, [()], posted.names if posted else frozenset())
    sheet = Sheet(values, "", system, by_name, {"weekday": WEEKDAYS}, origins)
    return {
        "state": state,
        "links": links,
        "nav": "schedule",
        "sheet": sheet,
        "units_of_form": system,
        "date_boxes": [sheet.box(f"{SECTION}.{name}") for name in DATES],
        "wish_boxes": [sheet.box(f"{SECTION}.{name}") for name in WISHES],
        "task_ticks": task_ticks(state),
        "ticked": lambda name: _ticked(sheet, name),
        "bar": save_bar(state, visit, posted),
        "summary": summary,
        "conflict": conflict,
        "focus": focus if not summary else "",
        "form_address": links.page("schedule", "calendar"),
        "live_address": links.page("schedule", "calendar", "live"),
        "source_choices": [(source, SOURCE_WORDS[source]) for source in SOURCES],
    }


def task_ticks(state: StudyState) -> list[TaskTick]:
    """Return every task of the study once, by its key, in the order of the candidates."""
    names: dict[str, str] = {}
    letters: dict[str, list[str]] = {}
    for mark, candidate in zip(marks_of(state.study), state.study.candidates, strict=True):
        for task in candidate.tasks:
            names.setdefault(task.key, task.name)
            letters.setdefault(task.key, []).append(mark.letter)
    everyone = {letter for each in letters.values() for letter in each}
    return [
        TaskTick(key, name, "all" if everyone == set(letters[key]) else ", ".join(letters[key]))
        for key, name in names.items()
    ]


def _ticked(sheet: Sheet, name: str) -> list[str]:
    """Return the keys ticked in a gate."""
    value = sheet.value(f"{name}.tasks")
    return [str(key) for key in value] if isinstance(value, list) else []
