"""How late is early enough: the latest order dates and the latest start of work.

Contents
--------
Trials: the runs again, with other order dates or a later start.
latest_order: the latest day to order a purchase that still gives the wanted chance.
latest_start: the latest day to begin with the work.

Both halve the span of days again and again. That is exact: with the same luck in each run, a
later order or start never makes any run earlier (`models.engineering.schedule`), so the chance
only falls from day to day, and a run that is known to be ready on a day is ready on each before.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.engineering.calendar import DAY, shop_time_by, usable_from
from models.engineering.schedule import finish_times, least_tails
from models.study.planning import Schedule
from models.study.schema import Candidate
from models.trade.plan_runs import Outcome, date_text, day_number

Times = NDArray[np.int64]
Truths = NDArray[np.bool_]
Moved = Callable[[int], tuple[dict[int, int], int | None]]
"""From a day to order dates and the first day of work that belong to it."""


class Trials:
    """The runs of a plan again, with other order dates or a later start: which are ready in time.

    Most need no schedule: no end moves by more than what was moved most, and no run is ready
    whose part comes later than what has to follow it allows.
    """

    def __init__(self, outcome: Outcome, ready_by: int) -> None:
        self.outcome = outcome
        self.until = int(shop_time_by(outcome.meetings, ready_by))
        self.slack = self.until - outcome.finish
        work = outcome.work
        tails = least_tails(work.plan, durations=work.durations, order=work.order)
        self.latest_begin = self.until - tails.max(axis=0)
        never_late = np.iinfo(np.int64).max  # of what no task needs
        self.latest_usable = np.full(outcome.usable.shape, never_late, dtype=np.int64)
        for task, needs in enumerate(work.plan.needs):
            for need in needs:
                np.minimum(
                    self.latest_usable[need],
                    self.until - tails[task],
                    out=self.latest_usable[need],
                )

    def ready(
        self, runs: NDArray[np.intp], ordered: Mapping[int, int], first_day: int | None
    ) -> Truths:
        """Return which of some runs are ready in time with purchases ordered on other days.

        Work begins on `first_day` where one is given.
        """
        outcome = self.outcome
        meetings, work = outcome.meetings, outcome.work
        begun = 0 if first_day is None else int(shop_time_by(meetings, first_day - 1))
        moved_by = np.full(len(runs), begun, dtype=np.int64)
        hopeless = begun > self.latest_begin[runs]
        usable = {}
        for need, day in ordered.items():
            usable[need] = usable_from(meetings, day * DAY + work.leads[need, runs])
            np.maximum(moved_by, usable[need] - outcome.usable[need, runs], out=moved_by)
            hopeless |= usable[need] > self.latest_usable[need, runs]
        ready: Truths = (moved_by <= self.slack[runs]) & ~hopeless
        open_runs = np.flatnonzero(~ready & ~hopeless)
        if len(open_runs):
            chosen = runs[open_runs]
            all_usable = outcome.usable.take(chosen, axis=1)
            for need, times in usable.items():
                all_usable[need] = times[open_runs]
            finish = finish_times(
                work.plan,
                durations=work.durations.take(chosen, axis=1),
                usable=all_usable,
                order=work.order,
                not_before=begun,
            )
            ready[open_runs] = finish <= self.until
        for need in {need for task in work.instant for need in work.plan.needs[task]}:
            ready &= usable.get(need, outcome.usable[need, runs]) < self.until
        return ready


def latest_order(trials: Trials, schedule: Schedule, purchase: int) -> dict[str, Any]:
    """Return the latest order date of one purchase, and the chance if ordered on the first day.

    The first day is the start of work, or the day it is to be ordered on if that is earlier.
    Nothing is said of what is in stock and of what no task waits for.
    """
    work = trials.outcome.work
    ordered = work.ordered[purchase]
    if ordered is None or not any(purchase in needs for needs in work.plan.needs):
        return {"latest_order_on": None, "chance_ordered_first": None}
    first = min(ordered, day_number(schedule.start))
    found = _latest(trials, schedule, first, lambda day: ({purchase: day}, None))
    return {
        "latest_order_on": None if found.day is None else date_text(found.day),
        "chance_ordered_first": found.at_first,
    }


def latest_start(trials: Trials, candidate: Candidate, schedule: Schedule) -> dict[str, Any]:
    """Return the latest day to begin, and the chance then; that from the first day where none.

    Purchases without an order date are ordered when work begins, so they move with it.
    """
    moving = [
        index
        for index, one in enumerate(candidate.purchases)
        if one.order_on is None and trials.outcome.work.ordered[index] is not None
    ]
    first = day_number(schedule.start)
    found = _latest(trials, schedule, first, lambda day: (dict.fromkeys(moving, day), day))
    if found.day is None:
        return {"date": None, "chance": found.at_first}
    return {"date": date_text(found.day), "chance": found.then}


class _Found(NamedTuple):
    """A latest day, None where the first is too late already."""

    day: int | None
    at_first: float
    then: float


def _latest(trials: Trials, schedule: Schedule, first: int, moved: Moved) -> _Found:
    """Return the last day on which the chance is the wanted one.

    Each trial settles the runs on one side of its day, so that fewer are left for the next.
    """
    count = trials.outcome.work.runs
    wanted = math.ceil(round(float(schedule.wanted_chance) * count, 6))
    runs = np.flatnonzero(trials.ready(np.arange(count), *moved(first)))
    at_first = len(runs)
    if at_first < wanted:
        return _Found(None, at_first / count, at_first / count)
    good, bad = first, max(day_number(schedule.ready_by), first) + 1
    settled, then = 0, at_first
    while bad - good > 1:
        day = (good + bad) // 2
        ready = trials.ready(runs, *moved(day))
        found = settled + int(ready.sum())
        if found >= wanted:
            good, then, runs = day, found, runs[ready]
        else:
            bad, settled, runs = day, found, runs[~ready]
    return _Found(good, at_first / count, then / count)
