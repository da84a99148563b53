"""What the schedule's page shows: the plan, what if, and the ways to change it."""

from __future__ import annotations

import secrets
from typing import Any

from models.errors import OutOfRangeError, StudyRefusedError
from models.services import StudyState
from models.services.planning import plan_of_state, plan_preview, what_helps_of, what_if_of
from webapp.forms import without_blank_rows
from webapp.pages.schedule.calendar_context import WEEKDAYS
from webapp.pages.schedule.calendar_form import CalendarForm
from webapp.pages.schedule.tasks_form import TasksForm, position_of
from webapp.pages.schedule.what_if import (
    Answer,
    Asked,
    answer_of,
    change_of,
    choices_of,
    refusal,
    with_choices,
)
from webapp.shared.candidates import marks_of
from webapp.shared.editing import Visit
from webapp.shared.links import StudyLinks
from webapp.shared.schedule.context import schedule_context
from webapp.shared.schedule.words import chance_words, change_words, day_words

MOST_HELPS = 6
HELPS = (
    ("One change at a time, by how it moves the chance to be ready in time.", False),
    ("One task left out, where the robot can do without it; most it cannot.", True),
)
"""The two lists of changes, and whether they leave a task out."""
LEAST_MOVE = 0.005
"""A chance that moved by less is not told."""


def page_context(
    visit: Visit, state: StudyState, *, candidate: str | None, asked: Asked, helps: bool
) -> dict[str, Any]:
    """Return the context of the schedule's page."""
    links = StudyLinks.of_state(state)
    payload = plan_of_state(visit.store, state)
    plan = schedule_context(payload, state.study, links, visit.units, candidate=candidate)
    return {
        "state": state,
        "links": links,
        "nav": "schedule",
        "plan_once": secrets.token_urlsafe(12),
        **plan,
        **what_if_context(visit, state, plan["plan_key"], asked, helps=helps),
    }


def what_if_context(
    visit: Visit, state: StudyState, key: str, asked: Asked, *, helps: bool
) -> dict[str, Any]:
    """Return the form of what if, its answer where something is asked, and what would help."""
    links = StudyLinks.of_state(state)
    payload = plan_of_state(visit.store, state)
    one = next((each for each in payload["candidates"] if each["key"] == key), None)
    if one is None or one["state"] != "simulated":
        return {"try_mark": None, "try_answer": None, "try_helps": None}
    choices = choices_of(state.study, one)
    chosen = with_choices(asked, choices)
    return {
        "links": links,
        "try_mark": next(mark for mark in marks_of(state.study) if mark.key == key),
        "try_asked": chosen,
        "try_choices": choices,
        "try_weekdays": WEEKDAYS,
        "try_by": ready_words(payload["schedule"]),
        "try_now": chance_words(one["ready_probability"]),
        "try_address": links.schedule(key),
        "try_fragment": links.page("schedule", "what-if"),
        "helps_fragment": f"{links.page('schedule', 'helps')}?candidate={key}",
        "helps_address": f"{links.schedule(key, helps='yes')}#what-helps",
        "try_answer": _answer(visit, state, one, chosen) if asked.kind else None,
        "try_helps": helps_of(visit, state, key) if helps else None,
    }


def _answer(visit: Visit, state: StudyState, one: dict[str, Any], asked: Asked) -> Answer:
    change, fault = change_of(asked, one, choices_of(state.study, one))
    if fault:
        return refusal(fault)
    try:
        found = what_if_of(visit.store, state, one["key"], change)
    except (StudyRefusedError, OutOfRangeError) as refused:
        return refusal(str(refused))
    return answer_of(found, state)


def helps_of(visit: Visit, state: StudyState, key: str) -> list[tuple[str, list[Answer]]]:
    """Return the single changes that raise the chance most, and apart what leaving out brings."""
    found = what_helps_of(visit.store, state, key)
    parts = []
    for words, dropped in HELPS:
        own = [each for each in found if (each["change"]["kind"] == "drop") is dropped]
        answers = [answer_of(each, state) for each in own[:MOST_HELPS]]
        if answers:
            parts.append((words, answers))
    return parts


def live_context(
    visit: Visit, state: StudyState, key: str, form: TasksForm | None
) -> dict[str, Any]:
    """Return the chance of a candidate, saved and as typed at this moment."""
    plan = plan_of_state(visit.store, state)
    saved, typed = _of(plan, key), None
    faults: list[str] = []
    if form is not None:
        try:
            payload = plan_preview(visit.store, state, without_blank_rows(form.edits), key)
            typed = _of(payload, key)
        except StudyRefusedError as refused:
            placed = form.in_form(refused.faults, position_of(state, key))
            faults = [fault.message for fault in placed][:3]
    schedule = plan["schedule"]
    return {
        "now_by": ready_words(schedule),
        "now_words": _chance_line(saved, typed, schedule["ready_by"] if schedule else ""),
        "now_faults": faults,
    }


def live_calendar_context(
    visit: Visit, state: StudyState, form: CalendarForm | None
) -> dict[str, Any]:
    """Return every candidate's chance, with the calendar as saved or as typed at this moment."""
    saved = plan_of_state(visit.store, state)
    shown, faults = saved, []
    if form is not None:
        faults = [fault.message for fault in form.faults]
        try:
            shown = plan_preview(visit.store, state, without_blank_rows(form.edits))
        except StudyRefusedError as refused:
            faults += [fault.message for fault in form.in_form(refused.faults)]
    before = {one["key"]: one["ready_probability"] for one in saved["candidates"]}
    chances = []
    for mark, one in zip(marks_of(state.study), shown["candidates"], strict=True):
        if one["state"] == "simulated":
            was = before[mark.key]
            moved = was is not None and abs(was - one["ready_probability"]) >= LEAST_MOVE
            words = chance_words(one["ready_probability"])
            chances.append((mark, words, chance_words(was) if moved else ""))
    return {
        "now_by": ready_words(shown["schedule"]),
        "now_chances": chances,
        "now_faults": faults[:3],
    }


def ready_words(schedule: dict[str, Any] | None) -> str:
    """Return the day by which all must be ready, "" where there is no calendar."""
    return day_words(schedule["ready_by"], schedule["ready_by"]) if schedule else ""


def _of(payload: dict[str, Any], key: str) -> dict[str, Any]:
    found: dict[str, Any] = next(one for one in payload["candidates"] if one["key"] == key)
    return found


def _chance_line(saved: dict[str, Any], typed: dict[str, Any] | None, near: str) -> list[str]:
    """Return the chance and the date, and how they moved against what is saved."""
    shown = typed or saved
    if shown["state"] != "simulated":
        return []
    lines = [
        chance_words(shown["ready_probability"]),
        f"half of the runs by {day_words(shown['date_p50'], near)}",
    ]
    if typed is not None and saved["state"] == "simulated":
        before, after = saved["ready_probability"], typed["ready_probability"]
        lines.append(f"saved: {chance_words(before)}, {change_words(before, after)}")
    return lines
