"""A candidate's plan over many runs: its calendar, its luck, its schedule.

Contents
--------
calendar_of: the meetings of a study as an axis of shop time.
day_number, date_text, moment_text: days and moments between study, axis and payload.
Work, work_of: a candidate's tasks and purchases, with durations and lead times drawn.
Outcome, outcome_of, changed_outcome: the schedule of all runs on a calendar.

Draws follow from the seed and a task's key or purchase's name alone (common random numbers): in
one run a task has the same luck in every candidate and before and after a change, so that
differences come from the plan.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from models.engineering.calendar import (
    DAY,
    HOUR,
    Meetings,
    meeting_axis,
    meeting_of_end,
    meeting_of_start,
    shop_time_by,
    usable_from,
    weekly_meetings,
)
from models.engineering.schedule import Plan, Runs, simulate, work_order
from models.engineering.schedule_sampling import pert_times, uniforms
from models.study.planning import Purchase, Schedule
from models.study.schema import Candidate

Times = NDArray[np.int64]
FloatArray = NDArray[np.float64]
Truths = NDArray[np.bool_]

DAYS_BEYOND = 1096
"""The weekly pattern goes on for three years after the ready date; then the calendar ends."""
WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
FIRST_DAY = dt.date(1970, 1, 1)


def day_number(day: dt.date) -> int:
    """Return a date as days since 1970.

    >>> day_number(dt.date(1970, 2, 1))
    31
    """
    return int((day - FIRST_DAY).days)


def date_text(day: int) -> str:
    """Return days since 1970 as a date.

    >>> date_text(31)
    '1970-02-01'
    """
    return (FIRST_DAY + dt.timedelta(days=int(day))).isoformat()


def moment_text(moment: int) -> str:
    """Return milliseconds since 1970 as a moment, to the minute.

    >>> moment_text(31 * DAY + 90 * 60_000)
    '1970-02-01T01:30'
    """
    whole = dt.datetime(1970, 1, 1) + dt.timedelta(milliseconds=int(moment))  # noqa: DTZ001
    return whole.isoformat(timespec="minutes")


def last_day_of(schedule: Schedule) -> int:
    """Return the last day of the calendar: three years after the ready date."""
    return day_number(max(schedule.start, schedule.ready_by)) + DAYS_BEYOND


def calendar_of(schedule: Schedule) -> Meetings:
    """Return a study's meetings: the weekly ones without days off, and the extra ones.

    An extra meeting on a day off takes place: it is the more particular of the two.
    """
    first, last = day_number(schedule.start), last_day_of(schedule)
    off = [day_number(day) for day in schedule.days_off]
    begins, lengths = [], []
    for meeting in schedule.meetings:
        times = weekly_meetings(
            first_day=first,
            last_day=last,
            weekday=WEEKDAYS.index(meeting.weekday),
            clock=_clock(meeting.start),
            days_off=off,
        )
        begins.append(times)
        lengths.append(np.full(len(times), round(meeting.hours * HOUR), dtype=np.int64))
    extra = [one for one in schedule.extra if one.date >= schedule.start]
    on_dates = [day_number(one.date) * DAY + _clock(one.start) for one in extra]
    begins.append(np.array(on_dates, dtype=np.int64))
    lengths.append(np.array([round(one.hours * HOUR) for one in extra], dtype=np.int64))
    return meeting_axis(begins=np.concatenate(begins), lengths=np.concatenate(lengths))


def _clock(time: dt.time) -> int:
    return (time.hour * 60 + time.minute) * 60_000


@dataclass(frozen=True)
class Work:
    """A candidate's tasks and purchases over many runs."""

    plan: Plan
    order: tuple[int, ...]
    crews: tuple[str, ...]
    """Names of the crews, as the plan counts them."""
    durations: Times
    """Shape (tasks, runs) [ms]."""
    leads: Times
    """Shape (purchases, runs) [ms]; 0 where nothing has to come."""
    ordered: tuple[int | None, ...]
    """Day from which each purchase's lead time counts; None where nothing has to come."""
    instant: tuple[int, ...]
    """Tasks that wait for parts and can take no time at all."""

    @property
    def runs(self) -> int:
        """How many runs."""
        return len(self.durations[0])

    def ordered_on(self, purchase: int, day: int) -> Work:
        """Return the same work with one purchase ordered on another day."""
        ordered = list(self.ordered)
        ordered[purchase] = day
        return replace(self, ordered=tuple(ordered))


def work_of(schedule: Schedule, candidate: Candidate, *, runs: int, seed: int) -> Work:
    """Draw the durations and lead times of a candidate.

    Raises `LoopError` where its tasks wait for each other.
    """
    tasks, purchases = candidate.tasks, candidate.purchases
    crews = tuple(dict.fromkeys(task.crew for task in tasks))
    keys = {task.key: index for index, task in enumerate(tasks)}
    names = {one.name: index for index, one in enumerate(purchases)}
    plan = Plan(
        crews=tuple(crews.index(task.crew) for task in tasks),
        hands=tuple(schedule.crews.get(crew, 1) for crew in crews),
        after=tuple(tuple(keys[key] for key in task.after) for task in tasks),
        needs=tuple(tuple(names[name] for name in task.needs) for task in tasks),
    )
    order = work_order(plan)
    durations = np.empty((len(tasks), runs), dtype=np.int64)
    for index, task in enumerate(tasks):
        luck = luck_of(seed, f"task {task.key}", runs)
        durations[index] = _drawn(task.hours, luck, HOUR)
    leads = np.zeros((len(purchases), runs), dtype=np.int64)
    for index, one in enumerate(purchases):
        if waits_for(one) and one.lead_days is not None:
            leads[index] = _drawn(one.lead_days, luck_of(seed, f"part {one.name}", runs), DAY)
    ordered = [day_number(one.order_on or schedule.start) for one in purchases]
    return Work(
        plan=plan,
        order=order,
        crews=crews,
        durations=durations,
        leads=leads,
        ordered=tuple(
            day if waits_for(one) else None for one, day in zip(purchases, ordered, strict=True)
        ),
        instant=tuple(
            index for index, task in enumerate(tasks) if task.needs and task.hours[0] <= 0.0
        ),
    )


@lru_cache(maxsize=256)
def luck_of(seed: int, word: str, runs: int) -> FloatArray:
    """Return the luck of one task or purchase in each run; shared, it cannot be written to."""
    luck = uniforms(seed=seed, word=word, count=runs)
    luck.setflags(write=False)
    return luck


def _drawn(points: Sequence[float], luck: FloatArray, unit_ms: int) -> Times:
    low, likely, high = (float(point) for point in points)
    return pert_times(low, likely, high, chances=luck, unit_ms=unit_ms)


def waits_for(purchase: Purchase) -> bool:
    """Whether tasks wait for a purchase: less is in stock than is built in; spares can come later.

    >>> waits_for(Purchase(name="bolts", quantity=8, in_stock=6, spares=2))
    False
    """
    return purchase.in_stock < purchase.quantity - purchase.spares


def arrivals_of(work: Work, purchase: int) -> Times | None:
    """Return when a purchase arrives in each run [ms since 1970], None where it is in stock."""
    day = work.ordered[purchase]
    return None if day is None else np.asarray(day * DAY + work.leads[purchase])


@dataclass(frozen=True)
class Outcome:
    """The schedule of all runs on a calendar."""

    work: Work
    meetings: Meetings
    usable: Times
    """Shape (purchases, runs) [ms of shop time]."""
    runs: Runs
    finish: Times
    """When all tasks have ended, shape (runs,) [ms of shop time]."""

    def ready_in(self, tasks: Sequence[int] | None = None) -> Times:
        """Return the meeting in which the last of some tasks, or of all, ends.

        It is their number where the calendar ends before. A task of no duration ends in the
        meeting from which its part can be used, although at the same shop time the one before
        ends.
        """
        index = meeting_of_end(self.meetings, self._end(tasks))
        for task in self.work.instant:
            if tasks is None or task in tasks:
                for need in self.work.plan.needs[task]:
                    later = meeting_of_start(self.meetings, self.usable[need])
                    index = np.maximum(index, later)
        return index

    def ready_by(self, day: int, tasks: Sequence[int] | None = None) -> Truths:
        """Return in which runs some tasks, or all, have ended by the end of a day."""
        if self.work.instant:
            until = np.searchsorted(self.meetings.days, day, side="right")
            return np.asarray(self.ready_in(tasks) < until)
        return np.asarray(self._end(tasks) <= shop_time_by(self.meetings, day))

    def chance_by(self, day: int, tasks: Sequence[int] | None = None) -> float:
        """Return the share of the runs in which some tasks, or all, have ended by then."""
        return float(np.mean(self.ready_by(day, tasks)))

    def _end(self, tasks: Sequence[int] | None) -> Times:
        return self.finish if tasks is None else self.runs.ends[list(tasks)].max(axis=0)


def usable_of(work: Work, purchase: int, meetings: Meetings) -> Times:
    """Return from when a purchase can be used in each run [ms of shop time]."""
    arrivals = arrivals_of(work, purchase)
    if arrivals is None:
        return np.zeros(work.runs, dtype=np.int64)
    return usable_from(meetings, arrivals)


def outcome_of(work: Work, meetings: Meetings) -> Outcome:
    """Return the schedule of all runs; the work has a task at least."""
    usable = np.empty(work.leads.shape, dtype=np.int64)
    for index in range(len(usable)):
        usable[index] = usable_of(work, index, meetings)
    return _outcome(work, meetings, usable, 0)


def changed_outcome(before: Outcome, ordered: Mapping[int, int], *, not_before: int = 0) -> Outcome:
    """Return the schedule with purchases ordered on other days and work begun later.

    Only what changes is worked out anew; `not_before` is shop time on the same calendar [ms].
    """
    work, usable = before.work, before.usable.copy()
    for purchase, day in ordered.items():
        work = work.ordered_on(purchase, day)
        usable[purchase] = usable_of(work, purchase, before.meetings)
    return _outcome(work, before.meetings, usable, not_before)


def _outcome(work: Work, meetings: Meetings, usable: Times, not_before: int) -> Outcome:
    runs = simulate(
        work.plan,
        durations=work.durations,
        usable=usable,
        order=work.order,
        not_before=not_before,
    )
    return Outcome(work, meetings, usable, runs, runs.ends.max(axis=0))
