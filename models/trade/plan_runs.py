"""A candidate's plan over many runs: its calendar, its luck, its schedule.

Contents
--------
calendar_of: the meetings of a study as an axis of shop time.
day_number, date_text, moment_text: days and moments between study, axis and payload.
Draws: the luck of every task and purchase.
Work, work_of: a candidate's tasks and purchases, with durations and lead times drawn.
Readiness, readiness_of: in which meeting each run is ready.
Outcome, outcome_of: the schedule of all runs on a calendar, task by task.

Draws follow from the seed and a task's key or purchase's name alone (common random numbers): in
one run a task has the same luck in every candidate and before and after a change, so that
differences come from the plan.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Sequence
from dataclasses import dataclass
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
from models.engineering.schedule import Plan, Runs, finish_times, simulate, work_order
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
MOST_KEPT_RUNS = 20_000
"""Draws of more runs than these are not kept: they would fill the memory."""


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


class Draws:
    """Durations and lead times in each run; what is drawn once is kept for equal ones."""

    def __init__(self, *, runs: int, seed: int) -> None:
        self.runs, self.seed = runs, seed
        self._kept: dict[tuple[object, ...], Times] = {}

    def times(self, word: str, points: Sequence[float], unit_ms: int) -> Times:
        """Return a three-point estimate in each run [ms]."""
        low, likely, high = (float(point) for point in points)
        key = (word, low, likely, high)
        found = self._kept.get(key)
        if found is None:
            few = self.runs <= MOST_KEPT_RUNS
            drawn = luck_of if few else luck_of.__wrapped__
            luck = drawn(self.seed, word, self.runs)
            found = pert_times(low, likely, high, chances=luck, unit_ms=unit_ms)
            if few:
                self._kept[key] = found
        return found


def work_of(schedule: Schedule, candidate: Candidate, draws: Draws) -> Work:
    """Return the work of a candidate with its luck.

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
    durations = np.empty((len(tasks), draws.runs), dtype=np.int64)
    for index, task in enumerate(tasks):
        durations[index] = draws.times(f"task {task.key}", task.hours, HOUR)
    leads = np.zeros((len(purchases), draws.runs), dtype=np.int64)
    for index, one in enumerate(purchases):
        if waits_for(one) and one.lead_days is not None:
            leads[index] = draws.times(f"part {one.name}", one.lead_days, DAY)
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
class Readiness:
    """When all is done in each run."""

    work: Work
    meetings: Meetings
    usable: Times
    """Shape (purchases, runs) [ms of shop time]."""
    finish: Times
    """When all tasks have ended, shape (runs,) [ms of shop time]."""

    def ready_in(self) -> Times:
        """Return the meeting in which each run is ready; their number where in none."""
        return self._ended_in(self.finish, range(len(self.work.durations)))

    def ready_by(self, day: int) -> Truths:
        """Return which runs are ready by the end of a day."""
        return self._ended_by(day, self.finish, range(len(self.work.durations)))

    def chance_by(self, day: int) -> float:
        """Return the share of the runs that are ready by the end of a day."""
        return float(np.mean(self.ready_by(day)))

    def _ended_in(self, end: Times, tasks: Collection[int]) -> Times:
        """Return in which meeting some tasks have ended, of which the last ends at a shop time.

        A task of no duration ends in the meeting from which its part can be used, although at
        the same shop time the one before ends.
        """
        index = meeting_of_end(self.meetings, end)
        for task in self.work.instant:
            if task in tasks:
                for need in self.work.plan.needs[task]:
                    later = meeting_of_start(self.meetings, self.usable[need])
                    index = np.maximum(index, later)
        return index

    def _ended_by(self, day: int, end: Times, tasks: Collection[int]) -> Truths:
        if self.work.instant:
            until = np.searchsorted(self.meetings.days, day, side="right")
            return np.asarray(self._ended_in(end, tasks) < until)
        return np.asarray(end <= shop_time_by(self.meetings, day))


@dataclass(frozen=True)
class Outcome(Readiness):
    """The schedule of all runs on a calendar."""

    runs: Runs

    def tasks_ended_by(self, day: int, tasks: Sequence[int]) -> Truths:
        """Return in which runs some tasks have ended by the end of a day."""
        return self._ended_by(day, self.runs.ends[list(tasks)].max(axis=0), tasks)


def usable_of(work: Work, purchase: int, meetings: Meetings) -> Times:
    """Return from when a purchase can be used in each run [ms of shop time]."""
    arrivals = arrivals_of(work, purchase)
    if arrivals is None:
        return np.zeros(work.runs, dtype=np.int64)
    return usable_from(meetings, arrivals)


def _all_usable(work: Work, meetings: Meetings) -> Times:
    usable = np.empty(work.leads.shape, dtype=np.int64)
    for index in range(len(usable)):
        usable[index] = usable_of(work, index, meetings)
    return usable


def readiness_of(work: Work, meetings: Meetings) -> Readiness:
    """Return when all is done in each run; the work has a task at least."""
    usable = _all_usable(work, meetings)
    finish = finish_times(work.plan, durations=work.durations, usable=usable, order=work.order)
    return Readiness(work, meetings, usable, finish)


def outcome_of(work: Work, meetings: Meetings) -> Outcome:
    """Return the schedule of all runs; the work has a task at least."""
    usable = _all_usable(work, meetings)
    runs = simulate(work.plan, durations=work.durations, usable=usable, order=work.order)
    return Outcome(work, meetings, usable, runs.ends.max(axis=0), runs)
