"""What if: one change of the plan tried without saving, its chance before and after.

Contents
--------
what_if(study, key, *changes, runs, seed): one change, or several at once.
what_helps(study, key, runs, seed): each single change tried, the most helpful first.
with_change(study, key, change): the study with it, and its title.

A change is a dict with "kind" and, by kind:

    {"kind": "meeting", "weekday": "sun", "start": "13:00", "hours": 4}     every week
    {"kind": "extra", "date": "2031-03-22", "start": "13:00", "hours": 4}   once
    {"kind": "person", "crew": name}                                        one more pair of hands
    {"kind": "express", "purchase": name, "lead_days": [1, 2, 3] or none}   none: its own express
    {"kind": "order", "purchase": name, "order_on": date}
    {"kind": "drop", "task": key}              what came after it comes after what was before it
    {"kind": "ready_by", "date": date}

Both functions answer with

    {"change": the change, or a list of them,
     "words": "One more meeting every Sunday, 4 h: 34 % → 58 %.",
     "title": "One more meeting every Sunday, 4 h",
     "before": chance, "after": chance, "gain": difference,
     "date_p50_before", "date_p50_after", "date_p90_before", "date_p90_after": dates or None,
     "extra_cost": money or None}

and what_helps with a list of them: first what can be changed, then which tasks left out would
bring most, since most tasks cannot be left out; each part the most helpful first.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple, TypeVar

import numpy as np
from pydantic import ValidationError

from models.engineering.schedule import LoopError, chain_shares
from models.errors import Fault, StudyRefusedError
from models.study.basics import Section
from models.study.plan_checks import unknown
from models.study.planning import ExtraMeeting, Meeting, Purchase, Schedule, Task
from models.study.schema import Candidate, Study
from models.trade.phrases import capitalised, listed
from models.trade.plan_results import at_percentile
from models.trade.plan_runs import (
    WEEKDAYS,
    Draws,
    Work,
    calendar_of,
    date_text,
    day_number,
    outcome_of,
    readiness_of,
    waits_for,
    work_of,
)
from models.trade.plan_words import chance_words, date_words, whole_hours
from models.trade.readiness import RUNS, SEED, loop_words

Change = Mapping[str, Any]
Entry = TypeVar("Entry", bound=Section)

DAY_NAMES = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
TRIED_START = "13:00"
TRIED_HOURS = 4
"""The meeting that `what_helps` tries on each weekday without one."""
LATER_DAYS = 7
"""By how much later a ready date `what_helps` tries."""
FEWER_RUNS = 1_000
SMALLEST_GAIN = 0.005
"""What raises the chance by less is not listed."""


class Changed(NamedTuple):
    """A study with a change made, what it is called and what it costs."""

    study: Study
    title: str
    extra_cost: float | None = None


@dataclass(frozen=True)
class Standing:
    """When a candidate is ready."""

    chance: float
    dates: Mapping[int, str | None]


def what_if(
    study: Study, key: str, *changes: Change, runs: int = RUNS, seed: int = SEED
) -> dict[str, Any]:
    """Return a candidate's chance before and after one change or several; nothing is saved.

    Raises `StudyRefusedError` with the places of the change where it cannot be made, and where
    the study has no calendar or the candidate no tasks.
    """
    _check_tasks(study, key)
    draws = Draws(runs=runs, seed=seed)
    return _tried(study, key, changes, _standing(study, key, draws), draws)


def what_helps(
    study: Study, key: str, runs: int = RUNS, seed: int = SEED, most: int = 8
) -> list[dict[str, Any]]:
    """Return single changes that raise a candidate's chance, at most so many of either part.

    Tried are a further weekly meeting on each day without one, one more person in each crew,
    express for each purchase that has it, ordering each on the first day, a week more, and
    leaving out each of the tasks that set the end most often. Of two that help alike, the one
    tried first stands first.
    """
    _check_tasks(study, key)
    found, draws = [], Draws(runs=runs, seed=seed)
    some = Draws(runs=min(runs, FEWER_RUNS), seed=seed)
    made = list(_made(study, key))
    if len(made) > 2 * most:  # a look at fewer runs says which are worth all of them
        made = [entry["change"] for entry in _ranked(study, key, made, some)[: 2 * most]]
    for changes in (made, _left_out(study, key, some)[: 2 * most]):
        ranked = _ranked(study, key, changes, draws)
        found += [entry for entry in ranked if entry["gain"] >= SMALLEST_GAIN][:most]
    return found


def _ranked(
    study: Study, key: str, changes: Sequence[Change], draws: Draws
) -> list[dict[str, Any]]:
    before = _standing(study, key, draws)
    tried = [_tried(study, key, (change,), before, draws) for change in changes]
    return sorted(tried, key=lambda entry: -entry["gain"])


def _check_tasks(study: Study, key: str) -> None:
    if not study.candidate(key).tasks:
        raise _refused("tasks", "It has no tasks yet, so no change makes it ready sooner.")


def with_change(study: Study, key: str, change: Change) -> Changed:
    """Return the study with one change made.

    Raises `StudyRefusedError` with the places of the change where it cannot be made.
    """
    make = _MAKERS.get(str(change.get("kind")))
    if make is None:
        raise StudyRefusedError([unknown("kind", str(change.get("kind")), _MAKERS, "change")])
    return make(study, _schedule(study), study.candidate(key), change)


def _tried(
    study: Study,
    key: str,
    changes: tuple[Change, ...],
    before: Standing,
    draws: Draws,
) -> dict[str, Any]:
    titles, costs, changed = [], [], study
    for change in changes:
        made = with_change(changed, key, change)
        changed = made.study
        titles.append(made.title)
        if made.extra_cost is not None:
            costs.append(made.extra_cost)
    after = _standing(changed, key, draws)
    title = capitalised(listed([titles[0], *(t[0].lower() + t[1:] for t in titles[1:])]))
    return {
        "change": dict(changes[0]) if len(changes) == 1 else [dict(one) for one in changes],
        "title": title,
        "words": f"{title}: {chance_words(before.chance)} → {chance_words(after.chance)}.",
        "before": before.chance,
        "after": after.chance,
        "gain": after.chance - before.chance,
        "date_p50_before": before.dates[50],
        "date_p50_after": after.dates[50],
        "date_p90_before": before.dates[90],
        "date_p90_after": after.dates[90],
        "extra_cost": float(sum(costs)) if costs else None,
    }


def _standing(study: Study, key: str, draws: Draws) -> Standing:
    schedule, candidate = _schedule(study), study.candidate(key)
    start = schedule.start.isoformat()
    if not candidate.tasks:
        return Standing(1.0, {50: start, 90: start})
    readiness = readiness_of(_work(schedule, candidate, draws), calendar_of(schedule))
    rising = np.sort(readiness.ready_in())
    days = readiness.meetings.days
    places = {percent: at_percentile(rising, percent) for percent in (50, 90)}
    return Standing(
        readiness.chance_by(day_number(schedule.ready_by)),
        {
            percent: date_text(days[place]) if place < len(days) else None
            for percent, place in places.items()
        },
    )


def _work(schedule: Schedule, candidate: Candidate, draws: Draws) -> Work:
    """Return a candidate's work, refused where its tasks wait for each other."""
    try:
        return work_of(schedule, candidate, draws)
    except LoopError as error:
        raise _refused("tasks", loop_words(candidate, error)) from None


def _schedule(study: Study) -> Schedule:
    if study.schedule is None:
        raise _refused("schedule", "The study has no calendar yet; give it one first.")
    return study.schedule


def _refused(place: str, message: str) -> StudyRefusedError:
    return StudyRefusedError([Fault(place, message)])


def _read(kind: type[Entry], values: Mapping[str, Any]) -> Entry:
    """Return a part of the study from what a change gives, refused with the schema's words."""
    try:
        return kind.model_validate(dict(values))
    except ValidationError as error:
        faults = [
            Fault(str(one["loc"][0]), one["msg"] if one["type"] == "study" else "State this.")
            for one in error.errors(include_url=False)
        ]
        raise StudyRefusedError(faults) from None


def _with_schedule(study: Study, **values: Any) -> Study:
    schedule = _schedule(study).model_copy(update=values)
    return study.model_copy(update={"schedule": schedule})


def _with_candidate(study: Study, candidate: Candidate, **values: Any) -> Study:
    changed = candidate.model_copy(update=values)
    everyone = tuple(changed if one is candidate else one for one in study.candidates)
    return study.model_copy(update={"candidates": everyone})


def _add_meeting(study: Study, schedule: Schedule, _: Candidate, change: Change) -> Changed:
    meeting = _read(Meeting, {name: change.get(name) for name in ("weekday", "start", "hours")})
    day = DAY_NAMES[WEEKDAYS.index(meeting.weekday)]
    return Changed(
        _with_schedule(study, meetings=(*schedule.meetings, meeting)),
        f"One more meeting every {day}, {whole_hours(meeting.hours)}",
    )


def _add_extra(study: Study, schedule: Schedule, _: Candidate, change: Change) -> Changed:
    extra = _read(ExtraMeeting, {name: change.get(name) for name in ("date", "start", "hours")})
    return Changed(
        _with_schedule(study, extra=(*schedule.extra, extra)),
        f"One more meeting on {date_words(extra.date)}, {whole_hours(extra.hours)}",
    )


def _add_person(study: Study, schedule: Schedule, candidate: Candidate, change: Change) -> Changed:
    crew = str(change.get("crew"))
    known = list(dict.fromkeys([*schedule.crews, *(task.crew for task in candidate.tasks)]))
    if crew not in known:
        raise StudyRefusedError([unknown("crew", crew, known, "crew")])
    crews = {**schedule.crews, crew: schedule.crews.get(crew, 1) + 1}
    return Changed(_with_schedule(study, crews=crews), f"One more person in {crew}")


def _ship_express(study: Study, _: Schedule, candidate: Candidate, change: Change) -> Changed:
    purchase = _purchase(candidate, change)
    typed, own = change.get("lead_days"), purchase.express
    if typed is not None:
        read = _read(Purchase, {"name": purchase.name, "lead_days": typed})
        lead, cost = read.lead_days, None
    elif own is not None:
        lead, cost = own.lead_days, float(own.extra_cost)
    else:
        raise _refused("lead_days", f"No express is known for {purchase.name}; type its days.")
    return Changed(
        _with_purchase(study, candidate, purchase, lead_days=lead),
        f"Express for {purchase.name}",
        cost,
    )


def _order_on(study: Study, _: Schedule, candidate: Candidate, change: Change) -> Changed:
    purchase = _purchase(candidate, change)
    read = _read(Purchase, {"name": purchase.name, "order_on": change.get("order_on")})
    if read.order_on is None:
        raise _refused("order_on", "State the day on which it is ordered.")
    return Changed(
        _with_purchase(study, candidate, purchase, order_on=read.order_on),
        f"{capitalised(purchase.name)} ordered on {date_words(read.order_on)}",
    )


def _purchase(candidate: Candidate, change: Change) -> Purchase:
    """Return the purchase that a change names, refused where nothing of it has to come."""
    name = str(change.get("purchase"))
    found = next((one for one in candidate.purchases if one.name == name), None)
    if found is None:
        names = [one.name for one in candidate.purchases]
        raise StudyRefusedError([unknown("purchase", name, names, "purchase")])
    if not waits_for(found):
        raise _refused("purchase", f"{capitalised(name)} is in stock; no task waits for it.")
    return found


def _with_purchase(study: Study, candidate: Candidate, purchase: Purchase, **values: Any) -> Study:
    changed = purchase.model_copy(update=values)
    purchases = tuple(changed if one is purchase else one for one in candidate.purchases)
    return _with_candidate(study, candidate, purchases=purchases)


def _drop_task(study: Study, _: Schedule, candidate: Candidate, change: Change) -> Changed:
    key = str(change.get("task"))
    gone = next((task for task in candidate.tasks if task.key == key), None)
    if gone is None:
        keys = [task.key for task in candidate.tasks]
        raise StudyRefusedError([unknown("task", key, keys, "task with the key")])
    tasks = tuple(_without(task, gone) for task in candidate.tasks if task is not gone)
    return Changed(_with_candidate(study, candidate, tasks=tasks), f"Without “{gone.name}”")


def _without(task: Task, gone: Task) -> Task:
    """Return a task that waits for what another waited for, instead of for that one."""
    if gone.key not in task.after:
        return task
    after = [key for key in task.after if key != gone.key]
    return task.model_copy(update={"after": tuple(dict.fromkeys([*after, *gone.after]))})


def _later(study: Study, schedule: Schedule, _: Candidate, change: Change) -> Changed:
    given = change.get("date")
    hours = {"start": TRIED_START, "hours": TRIED_HOURS}
    day = _read(ExtraMeeting, {"date": given, **hours}).date
    if day < schedule.start:
        words = f"{date_words(day)} lies before work begins."
        raise _refused("date", f"{words} State {date_words(schedule.start)} or a later day.")
    return Changed(_with_schedule(study, ready_by=day), f"Ready by {date_words(day)}")


_MAKERS: dict[str, Callable[[Study, Schedule, Candidate, Change], Changed]] = {
    "meeting": _add_meeting,
    "extra": _add_extra,
    "person": _add_person,
    "express": _ship_express,
    "order": _order_on,
    "drop": _drop_task,
    "ready_by": _later,
}


def _made(study: Study, key: str) -> Iterator[dict[str, Any]]:
    """Yield the changes of calendar, crews and purchases that `what_helps` tries."""
    schedule, candidate = _schedule(study), study.candidate(key)
    for weekday in WEEKDAYS:
        if all(one.weekday != weekday for one in schedule.meetings):
            yield {"kind": "meeting", "weekday": weekday, **_usual(schedule, weekday)}
    for crew in dict.fromkeys(task.crew for task in candidate.tasks):
        yield {"kind": "person", "crew": crew}
    for one in candidate.purchases:
        if waits_for(one):
            if one.express is not None:
                yield {"kind": "express", "purchase": one.name}
            if one.order_on is not None and one.order_on > schedule.start:
                first = schedule.start.isoformat()
                yield {"kind": "order", "purchase": one.name, "order_on": first}
    later = schedule.ready_by + dt.timedelta(days=LATER_DAYS)
    yield {"kind": "ready_by", "date": later.isoformat()}


def _left_out(study: Study, key: str, draws: Draws) -> list[dict[str, Any]]:
    """Return the tasks that `what_helps` leaves out: those that set the end most often first."""
    schedule, candidate = _schedule(study), study.candidate(key)
    if len(candidate.tasks) < 2:
        return []
    work = _work(schedule, candidate, draws)
    outcome = outcome_of(work, calendar_of(schedule))
    chain = chain_shares(work.plan, outcome.runs, usable=outcome.usable, order=work.order)
    ranked = sorted(
        zip(chain.tasks.tolist(), candidate.tasks, strict=True), key=lambda pair: -pair[0]
    )
    return [{"kind": "drop", "task": task.key} for share, task in ranked if share > 0.0]


def _usual(schedule: Schedule, weekday: str) -> dict[str, Any]:
    """Return start and hours of a meeting like those there are on working days or weekends."""
    weekend = WEEKDAYS[5:]
    alike = [one for one in schedule.meetings if (one.weekday in weekend) == (weekday in weekend)]
    if not alike:
        return {"start": TRIED_START, "hours": TRIED_HOURS}
    return {"start": alike[0].start.isoformat("minutes"), "hours": float(alike[0].hours)}
