"""How late is early enough: the latest order dates and the latest start of work.

Contents
--------
latest_order: the latest day to order a purchase that still gives the wanted chance.
latest_start: the latest day to begin with the work.

Both halve the span of days again and again. That is exact: with the same luck in each run, a
later order or start never makes any run earlier (`models.engineering.schedule`), so the chance
only falls from day to day.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from models.engineering.calendar import shop_time_by
from models.study.planning import Schedule
from models.study.schema import Candidate
from models.trade.plan_runs import Outcome, changed_outcome, date_text, day_number


def latest_order(outcome: Outcome, schedule: Schedule, purchase: int) -> dict[str, Any]:
    """Return the latest order date of one purchase, and the chance if ordered on the first day.

    The first day is the start of work, or the day it is to be ordered on if that is earlier.
    Nothing is said of what is in stock and of what no task waits for.
    """
    ordered = outcome.work.ordered[purchase]
    if ordered is None or not any(purchase in needs for needs in outcome.work.plan.needs):
        return {"latest_order_on": None, "chance_ordered_first": None}
    ready_by, wanted = day_number(schedule.ready_by), float(schedule.wanted_chance)

    def chance(day: int) -> float:
        return changed_outcome(outcome, {purchase: day}).chance_by(ready_by)

    first = min(ordered, day_number(schedule.start))
    at_first = chance(first)
    last = None if at_first < wanted else _last_day(chance, wanted, first, ready_by)
    return {
        "latest_order_on": None if last is None else date_text(last),
        "chance_ordered_first": at_first,
    }


def latest_start(outcome: Outcome, candidate: Candidate, schedule: Schedule) -> dict[str, Any]:
    """Return the latest day to begin, and the chance then; that from the first day where none.

    Purchases without an order date are ordered when work begins, so they move with it.
    """
    ready_by, wanted = day_number(schedule.ready_by), float(schedule.wanted_chance)
    moving = [
        index
        for index, one in enumerate(candidate.purchases)
        if one.order_on is None and outcome.work.ordered[index] is not None
    ]

    def chance(day: int) -> float:
        begun = int(shop_time_by(outcome.meetings, day - 1))
        ordered = dict.fromkeys(moving, day)
        return changed_outcome(outcome, ordered, not_before=begun).chance_by(ready_by)

    first = day_number(schedule.start)
    at_first = chance(first)
    if at_first < wanted:
        return {"date": None, "chance": at_first}
    last = _last_day(chance, wanted, first, ready_by)
    return {"date": date_text(last), "chance": chance(last)}


def _last_day(chance: Callable[[int], float], wanted: float, first: int, last: int) -> int:
    """Return the last day on which the chance is the wanted one, given that it is on the first."""
    good, bad = first, last + 1
    while bad - good > 1:
        middle = (good + bad) // 2
        if chance(middle) >= wanted:
            good = middle
        else:
            bad = middle
    return good
