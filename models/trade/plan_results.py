"""What the runs of a plan come to: dates, curve, gates, practice, crews' weeks, tasks, parts.

Contents
--------
ready_figures: chance, dates and curve of being ready.
gate_figures, practice_figures: what must work by a date; hours of driving.
sorted_times, task_figures, purchase_figures: the bar plan and the arrivals.
crew_figures: hours of each crew by week.
weeks_of: the weeks of the calendar.

The keys of what they return are told in `models.trade.readiness`.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.engineering.calendar import (
    HOUR,
    Meetings,
    meeting_of_end,
    meeting_of_start,
    moment_of_end,
    moment_of_start,
    shop_time_by,
)
from models.engineering.schedule_sampling import pert_mean
from models.study.planning import PlanGate, Schedule
from models.study.schema import Candidate
from models.trade.plan_runs import (
    FIRST_DAY,
    Outcome,
    arrivals_of,
    date_text,
    day_number,
    moment_text,
)

Times = NDArray[np.int64]

PERCENTILES = (10, 50, 90)
CURVE_STEPS = 40
"""Points of the curve of practice hours."""
SMALLEST_LOAD_H = 0.05
"""A crew's last weeks with less than this on average are left out: they are of few runs."""


def at_percentile(rising: NDArray[Any], percent: int) -> Any:
    """Return the value that this share of sorted ones does not exceed (the inverse of the count).

    >>> at_percentile(np.arange(1, 11), 90), at_percentile(np.arange(1, 11), 10)
    (9, 1)
    """
    return int(rising[max(math.ceil(percent * len(rising) / 100) - 1, 0)])


def ready_figures(outcome: Outcome, schedule: Schedule) -> dict[str, Any]:
    """Return the chance to be ready in time, the dates and the curve."""
    meetings, runs = outcome.meetings, outcome.work.runs
    rising = np.sort(outcome.ready_in())
    chance = outcome.chance_by(day_number(schedule.ready_by))
    figures: dict[str, Any] = {
        "ready_probability": chance,
        "sampling_error": math.sqrt(chance * (1.0 - chance) / runs),
    }
    for percent in PERCENTILES:
        figures[f"date_p{percent}"] = _day_of(meetings, at_percentile(rising, percent))
    figures["never_ready"] = float(np.mean(rising >= len(meetings.begins)))
    reached = outcome.finish[outcome.finish <= meetings.total]
    all_reached = len(reached) == runs
    figures["hours_mean"] = float(reached.mean() / HOUR) if all_reached else None
    figures["curve"] = _curve(meetings, rising)
    return figures


def _day_of(meetings: Meetings, index: int) -> str | None:
    return date_text(meetings.days[index]) if index < len(meetings.days) else None


def _curve(meetings: Meetings, rising: Times) -> list[dict[str, Any]]:
    """The chance after each meeting day, up to the one after which it does not grow."""
    days, last = np.unique(meetings.days, return_index=True)
    last = np.append(last[1:], len(meetings.days))
    count = np.searchsorted(rising, last, side="left")
    until = int(np.argmax(count == count[-1])) + 1 if len(count) else 0
    return [
        {"date": date_text(day), "chance": float(number / len(rising))}
        for day, number in zip(days[:until], count[:until], strict=True)
    ]


def gate_figures(
    outcome: Outcome, candidate: Candidate, schedule: Schedule
) -> list[dict[str, Any]]:
    """Return the chance that each gate's tasks have ended by its date, and what follows."""
    keys = {task.key: index for index, task in enumerate(candidate.tasks)}
    figures = []
    for gate in schedule.gates:
        own = [key for key in gate.tasks if key in keys]
        figures.append(
            {
                "name": gate.name,
                "on": gate.on.isoformat(),
                "tasks": own,
                "missing": [key for key in gate.tasks if key not in keys],
                **_gate_chances(outcome, schedule, gate, [keys[key] for key in own]),
            }
        )
    return figures


def _gate_chances(
    outcome: Outcome, schedule: Schedule, gate: PlanGate, tasks: Sequence[int]
) -> dict[str, Any]:
    """Return the chance of a gate, and that to be ready in time once it is met or missed."""
    if not tasks:
        return dict.fromkeys(("chance", "ready_if_met", "ready_if_missed"))
    met = outcome.tasks_ended_by(day_number(gate.on), tasks)
    ready = outcome.ready_by(day_number(schedule.ready_by))
    return {
        "chance": float(np.mean(met)),
        "ready_if_met": float(np.mean(ready[met])) if met.any() else None,
        "ready_if_missed": float(np.mean(ready[~met])) if not met.all() else None,
    }


def practice_figures(outcome: Outcome, candidate: Candidate, schedule: Schedule) -> dict[str, Any]:
    """Return the hours of driving before the event.

    They are the hours of practice tasks done by the end of the ready date, and those of the
    meetings from ready until then.
    """
    until = int(shop_time_by(outcome.meetings, day_number(schedule.ready_by)))
    hours = np.maximum(until - outcome.finish, 0)
    for index, task in enumerate(candidate.tasks):
        if task.kind == "practice":
            ends = np.minimum(outcome.runs.ends[index], until)
            hours = hours + ends - np.minimum(outcome.runs.starts[index], until)
    return practice_of(hours, schedule)


def practice_of(hours_ms: Times, schedule: Schedule) -> dict[str, Any]:
    """Return the figures of practice hours, one number a run [ms]."""
    rising = np.sort(hours_ms)
    wanted = schedule.practice_hours_wanted
    figures: dict[str, Any] = {
        # 10 % of the runs have no more than the tenth percentile: the less, the worse.
        f"hours_p{percent}": at_percentile(rising, percent) / HOUR
        for percent in PERCENTILES
    }
    figures["hours_mean"] = float(rising.mean() / HOUR)
    figures["wanted"] = None if wanted is None else float(wanted)
    figures["chance"] = None if wanted is None else _at_least(rising, round(wanted * HOUR))
    top = int(rising[-1])
    steps = sorted({round(top * step / CURVE_STEPS) for step in range(CURVE_STEPS + 1)})
    figures["curve"] = [{"hours": step / HOUR, "chance": _at_least(rising, step)} for step in steps]
    return figures


def _at_least(rising: Times, value: int) -> float:
    return float(1.0 - np.searchsorted(rising, value, side="left") / len(rising))


class Sorted(NamedTuple):
    """Starts and ends of each task, rising from run to run, shape (tasks, runs)."""

    starts: Times
    ends: Times


def sorted_times(outcome: Outcome) -> Sorted:
    """Return the times of the tasks, sorted once for all that is made of them."""
    return Sorted(np.sort(outcome.runs.starts, axis=1), np.sort(outcome.runs.ends, axis=1))


def task_figures(
    outcome: Outcome, times: Sorted, candidate: Candidate, shares: Sequence[float]
) -> list[dict[str, Any]]:
    """Return the tasks with the dates between which they start and end."""
    figures = []
    for index, task in enumerate(candidate.tasks):
        entry: dict[str, Any] = {
            "key": task.key,
            "name": task.name,
            "kind": task.kind,
            "crew": task.crew,
            "hours": [float(hours) for hours in task.hours],
            "hours_mean": float(pert_mean(*(float(hours) for hours in task.hours))),
            "after": list(task.after),
            "needs": list(task.needs),
            "share": float(shares[index]),
        }
        for percent in PERCENTILES:
            entry |= _when(outcome.meetings, "start", percent, times.starts[index])
            entry |= _when(outcome.meetings, "end", percent, times.ends[index])
        figures.append(entry)
    return figures


def _when(meetings: Meetings, what: str, percent: int, rising: Times) -> dict[str, Any]:
    """Return date and moment at which a percentile of the runs has started or ended."""
    time = at_percentile(rising, percent)
    find, place = (
        (meeting_of_start, moment_of_start) if what == "start" else (meeting_of_end, moment_of_end)
    )
    index = int(find(meetings, time))
    reached = index < len(meetings.days)
    return {
        f"{what}_p{percent}": date_text(meetings.days[index]) if reached else None,
        f"{what}_p{percent}_at": moment_text(int(place(meetings, time))) if reached else None,
    }


def purchase_figures(
    outcome: Outcome, candidate: Candidate, shares: Sequence[float]
) -> list[dict[str, Any]]:
    """Return the purchases with the dates on which they arrive and can be used."""
    figures = []
    for index, one in enumerate(candidate.purchases):
        day = outcome.work.ordered[index]
        entry: dict[str, Any] = {
            "name": one.name,
            "share": float(shares[index]),
            "needed_by": [task.key for task in candidate.tasks if one.name in task.needs],
            "order_on": None if day is None else date_text(day),
        }
        arrivals = arrivals_of(outcome.work, index)
        rising = None if arrivals is None else np.sort(arrivals)
        for percent in PERCENTILES:
            key = f"arrival_p{percent}"
            entry[key] = (
                None if rising is None else moment_text(at_percentile(rising, percent))[:10]
            )
        usable = at_percentile(np.sort(outcome.usable[index]), 50)
        first = int(meeting_of_start(outcome.meetings, usable))
        entry["usable_p50"] = None if rising is None else _day_of(outcome.meetings, first)
        figures.append(entry)
    return figures


def weeks_of(meetings: Meetings, last_day: int) -> list[dict[str, Any]]:
    """Return the weeks of the calendar up to a day, with the hours of their meetings."""
    if not len(meetings.days):
        return []
    mondays = _mondays(int(meetings.days[0]), last_day)
    bounds = shop_time_by(meetings, np.append(mondays - 1, mondays[-1] + 6))
    return [
        {"week": week_text(monday), "from": date_text(monday), "meeting_hours": float(time / HOUR)}
        for monday, time in zip(mondays, np.diff(bounds), strict=True)
    ]


def _mondays(first_day: int, last_day: int) -> Times:
    return np.arange(first_day - (first_day + 3) % 7, max(last_day, first_day) + 1, 7)


def week_text(monday: int) -> str:
    """Return the name of a week by its Monday, after ISO 8601.

    >>> week_text(day_number(__import__("datetime").date(2026, 12, 28)))
    '2026-W53'
    """
    year, week, _ = (FIRST_DAY + dt.timedelta(days=int(monday))).isocalendar()
    return f"{year}-W{week:02}"


def crew_figures(outcome: Outcome, times: Sorted, last_day: int) -> list[dict[str, Any]]:
    """Return the mean hours of each crew by week, and how many its hands have.

    The mean of min(time, bound) over sorted times follows from their sums, so that no run is
    looked at week by week.
    """
    meetings = outcome.meetings
    weeks = weeks_of(meetings, last_day)
    mondays = _mondays(int(meetings.days[0]), last_day)
    bounds = shop_time_by(meetings, np.append(mondays - 1, mondays[-1] + 6))
    hours = np.zeros((len(outcome.work.crews), len(weeks)))
    for task, crew in enumerate(outcome.work.plan.crews):
        done = _mean_before(times.ends[task], bounds)
        hours[crew] += np.diff(done - _mean_before(times.starts[task], bounds)) / HOUR
    worked = np.flatnonzero((hours >= SMALLEST_LOAD_H).any(axis=0))
    shown = weeks[: int(worked[-1]) + 1] if len(worked) else weeks[:1]
    crews = zip(outcome.work.crews, outcome.work.plan.hands, strict=True)
    return [
        {
            "crew": name,
            "hands": hands,
            "weeks": [
                {
                    "week": week["week"],
                    "from": week["from"],
                    "hours": float(hours[crew, index]),
                    "capacity_hours": week["meeting_hours"] * hands,
                }
                for index, week in enumerate(shown)
            ],
        }
        for crew, (name, hands) in enumerate(crews)
    ]


def _mean_before(rising: Times, bounds: Times) -> NDArray[np.float64]:
    """Return the mean of min(time, bound) for each bound, of sorted times."""
    sums = np.concatenate([[0], np.cumsum(rising)])
    count = np.searchsorted(rising, bounds)
    return np.asarray((sums[count] + bounds * (len(rising) - count)) / len(rising))
