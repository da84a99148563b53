"""What if: one change tried without saving, read from the address, answered in one line."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import Any

from models.errors import UnitError
from models.services import StudyState
from models.study.schema import Study
from models.units import parse_number, quoted
from webapp.pages.schedule.calendar_context import WEEKDAYS
from webapp.shared.schedule.words import chance_words, change_words, day_words, money_words

KINDS = ("meeting", "person", "express", "drop")
LONGEST_DAYS = 730.0
LONGEST_MEETING = 24.0
LEAST_MEETING = 0.1


@dataclass(frozen=True)
class Asked:
    """What the form asks: the kind of change and the text of every box."""

    kind: str = ""
    weekday: str = "sun"
    start: str = "13:00"
    hours: str = "3"
    crew: str = ""
    purchase: str = ""
    days: str = ""
    task: str = ""


@dataclass(frozen=True)
class Choices:
    """What can be chosen for one candidate."""

    crews: list[str]
    purchases: list[tuple[str, str]]
    """Name of what has to come, and its words."""
    tasks: list[tuple[str, str]]


@dataclass(frozen=True)
class Answer:
    """What a change does, in one line, or what to type instead."""

    title: str
    before: str
    after: str
    more: str
    better: bool
    fault: str = ""


def asked_change(
    *,
    try_: str = "",
    weekday: str = "sun",
    start: str = "13:00",
    hours: str = "3",
    crew: str = "",
    purchase: str = "",
    days: str = "",
    task: str = "",
) -> Asked:
    """Return what an address asks to try, its texts cut to what a box may hold."""
    texts = (weekday, start, hours, crew, purchase, days, task)
    return Asked(try_ if try_ in KINDS else "", *(text.strip()[:120] for text in texts))


def choices_of(study: Study, plan: dict[str, Any]) -> Choices:
    """Return what can be changed in one candidate of the payload."""
    crews = list(dict.fromkeys(task["crew"] for task in plan["tasks"]))
    coming = [part for part in plan["purchases"] if part["order_on"]]
    named = [
        (part["name"], part["name"] + ("" if part["express"] else " (no express stated)"))
        for part in coming
    ]
    tasks = [(task["key"], task["name"]) for task in plan["tasks"]]
    return Choices(crews, named, tasks)


def with_choices(asked: Asked, choices: Choices) -> Asked:
    """Return the asked change with the first choice where none is named."""
    return replace(
        asked,
        crew=asked.crew or next(iter(choices.crews), ""),
        purchase=asked.purchase or next((name for name, _ in choices.purchases), ""),
        task=asked.task or next((key for key, _ in choices.tasks), ""),
    )


def change_of(asked: Asked, plan: dict[str, Any], choices: Choices) -> tuple[dict[str, Any], str]:
    """Return the change to try, and what is wrong with what was typed, "" where nothing is."""
    makers = {"meeting": _meeting, "person": _person, "express": _express, "drop": _drop}
    return makers[asked.kind](asked, plan, choices)


def _meeting(asked: Asked, plan: dict[str, Any], choices: Choices) -> tuple[dict[str, Any], str]:
    if asked.weekday not in dict(WEEKDAYS):
        return {}, "Choose a weekday for the meeting."
    try:
        start = dt.time.fromisoformat(asked.start)
    except ValueError:
        return {}, f"{quoted(asked.start)} is no time of day; type it as 18:00."
    hours, fault = _number(asked.hours, "h", LEAST_MEETING, LONGEST_MEETING, "hours")
    change = {
        "kind": "meeting",
        "weekday": asked.weekday,
        "start": start.strftime("%H:%M"),
        "hours": hours,
    }
    return change, fault


def _person(asked: Asked, plan: dict[str, Any], choices: Choices) -> tuple[dict[str, Any], str]:
    if asked.crew not in choices.crews:
        return {}, "Choose a crew that has a task."
    return {"kind": "person", "crew": asked.crew}, ""


def _express(asked: Asked, plan: dict[str, Any], choices: Choices) -> tuple[dict[str, Any], str]:
    part = next((one for one in plan["purchases"] if one["name"] == asked.purchase), None)
    if part is None or not part["order_on"]:
        return {}, "Choose a purchase that still has to come."
    change: dict[str, Any] = {"kind": "express", "purchase": asked.purchase}
    if not asked.days and part["express"]:
        return change, ""
    if not asked.days:
        return {}, f"{asked.purchase} has no express; type in how many days it would come."
    days, fault = _number(asked.days, "d", 0.0, LONGEST_DAYS, "days")
    return {**change, "lead_days": [days, days, days]}, fault


def _drop(asked: Asked, plan: dict[str, Any], choices: Choices) -> tuple[dict[str, Any], str]:
    if asked.task not in dict(choices.tasks):
        return {}, "Choose a task to leave out."
    return {"kind": "drop", "task": asked.task}, ""


def _number(text: str, unit: str, least: float, most: float, words: str) -> tuple[float, str]:
    try:
        value = parse_number(text, unit)
    except UnitError as error:
        return 0.0, str(error)
    if not least <= value <= most:
        return 0.0, f"{value:g} {words} is out of range; type {least:g} to {most:g}."
    return value, ""


def answer_of(found: dict[str, Any], state: StudyState) -> Answer:
    """Return a tried change in words."""
    schedule = state.study.schedule
    currency = schedule.currency if schedule else ""
    before, after = float(found["before"]), float(found["after"])
    parts = [change_words(before, after)]
    if found["date_p50_before"] != found["date_p50_after"]:
        near = schedule.ready_by.isoformat() if schedule else ""
        now, then = (day_words(found[f"date_p50_{when}"], near) for when in ("before", "after"))
        parts.append(f"half of the runs by {then} instead of {now}")
    if found["extra_cost"]:
        parts.append(f"{money_words(found['extra_cost'], currency)} more")
    return Answer(
        found["title"], chance_words(before), chance_words(after), "; ".join(parts),
        better=after - before >= 0.005,
    )  # fmt: skip


def refusal(words: str) -> Answer:
    """Return an answer that says what to type instead."""
    return Answer("", "", "", "", better=False, fault=words)
