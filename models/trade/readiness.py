"""Can it be ready: the plan of every candidate worked out over thousands of runs.

Contents
--------
plan_of: everything below, for all candidates.
plan_figures: the figures of the catalogue that come from the plan, by candidate.

The payload
-----------
All dates are texts "2031-03-25", moments "2031-03-25T18:30", hours are shop hours, chances and
shares lie from 0 to 1. What does not exist is None (a date that the calendar never reaches too).

    {"study": name, "model_version": text, "runs": n, "seed": n,
     "schedule": None where the study has none, else
        {"start", "ready_by", "give_up_base_on": date or None, "wanted_chance",
         "practice_hours_wanted": hours or None, "currency": text, "budget": number or None,
         "meeting_hours": from the start to the end of ready_by, "days_off": [date…],
         "shown_until": last date that pictures need,
         "meetings": [{"date", "start": "18:00", "hours"}…] up to shown_until,
         "weeks": [{"week": "2031-W12", "from": its Monday, "meeting_hours"}…],
         "crews": {name: hands}},
     "candidates": [{
        "key", "name", "baseline",
        "state": "simulated"     the figures below are of the runs;
                 "nothing to do" the baseline without tasks: ready from the start, chance 1;
                 "no tasks"      another candidate without tasks: nothing is known;
                 "no schedule"   the study has no calendar;
                 "contradiction" its tasks wait for each other: the notes name the loop,
        "notes": [sentences],
        "ready_probability", "sampling_error": standard error of that chance,
        "date_p10", "date_p50", "date_p90": by when it is ready in 10, 50, 90 % of the runs,
        "never_ready": share of the runs that the calendar ends before,
        "hours_mean": shop hours from the start until ready, mean of the runs,
        "curve": [{"date", "chance": to be ready on or before it}…] one for each meeting day,
        "gates": [{"name", "on", "tasks": [keys it has], "missing": [keys it has not],
                   "chance": that they have ended by then, None where it has none of them,
                   "ready_if_met", "ready_if_missed": chance to be ready in time once they have
                   ended by then, or have not; None where that never comes}…],
        "give_up": {"on", "chance": to be ready by that day} or None,
        "practice": {"hours_p10", "hours_p50", "hours_p90", "hours_mean",
                     "wanted": hours or None, "chance": of at least those or None,
                     "curve": [{"hours", "chance": of at least so many}…]} or None,
        "blame": {task key or purchase name: share of the runs in which it lies on the chain that
                  sets the end}; a purchase named like a task stands as "name (purchase)",
        "blame_list": [{"kind": "task" or "purchase", "key", "name", "share"}…] greatest first,
        "tasks": [{"key", "name", "kind", "crew", "hours": [low, likely, high], "hours_mean",
                   "after", "needs", "share",
                   "start_p10", "start_p50", "start_p90", "end_p10", "end_p50", "end_p90": dates,
                   the same with "_at": moments for the bar plan}…] as listed,
        "purchases": [{"name", "quantity", "spares", "in_stock", "to_buy", "unit_cost", "cost",
                       "mass_kg": of what is built in or None, "needed_by": [task keys], "share",
                       "order_on": date it counts from or None where nothing has to come,
                       "lead_days": [low, likely, high] or None,
                       "arrival_p10", "arrival_p50", "arrival_p90": dates or None,
                       "usable_p50": first meeting after it, date or None,
                       "latest_order_on": latest day that still gives the wanted chance or None,
                       "chance_ordered_first": chance if ordered on the first day or None,
                       "express": {"lead_days", "extra_cost"} or None}…],
        "crews": [{"crew", "hands", "weeks": [{"week", "from", "hours": mean worked,
                   "capacity_hours"}…]}…] crews that have a task,
        "latest_start": {"date": latest day to begin that still gives the wanted chance or None,
                         "chance": then, or from the first day} or None,
        "costs": {"to_buy", "all": had it all to be bought, "mass_kg": or None, "budget",
                  "over_by": above the budget or None, "left": below it or None, "currency"}}…]}

What if: see `models.trade.plan_changes`.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

import numpy as np

from models.engineering.calendar import HOUR, Meetings, shop_time_by
from models.engineering.schedule import LoopError, chain_shares
from models.errors import OutOfRangeError
from models.study.planning import Schedule
from models.study.schema import Candidate, Study
from models.trade.evaluation import MODEL_VERSION
from models.trade.plan_costs import cost_figures, cost_of, purchase_costs
from models.trade.plan_latest import Trials, latest_order, latest_start
from models.trade.plan_results import (
    crew_figures,
    gate_figures,
    practice_figures,
    practice_of,
    purchase_figures,
    ready_figures,
    sorted_times,
    task_figures,
    weeks_of,
)
from models.trade.plan_runs import (
    Draws,
    Outcome,
    calendar_of,
    date_text,
    day_number,
    moment_text,
    outcome_of,
    work_of,
)

RUNS = 10_000
SEED = 1
MOST_RUNS = 200_000
LONGEST_SHOWN_DAYS = 800
"""Pictures show no more of the calendar than this, however late a date lies."""

SIMULATED = "simulated"
NOTHING_TO_DO = "nothing to do"
NO_TASKS = "no tasks"
NO_SCHEDULE = "no schedule"
CONTRADICTION = "contradiction"


def plan_of(
    study: Study, runs: int = RUNS, seed: int = SEED, keys: Collection[str] | None = None
) -> dict[str, Any]:
    """Return the plan of all candidates, or of some, worked out over many runs.

    Raises `OutOfRangeError` where the runs are none or too many.
    """
    if not 1 <= runs <= MOST_RUNS:
        raise OutOfRangeError(f"{runs:,} runs cannot be made; ask for 1 to {MOST_RUNS:,}.")
    schedule = study.schedule
    meetings = None if schedule is None else calendar_of(schedule)
    draws = Draws(runs=runs, seed=seed)
    candidates = [
        _candidate(study, one, meetings, draws)
        for one in study.candidates
        if keys is None or one.key in keys
    ]
    return {
        "study": study.name,
        "model_version": MODEL_VERSION,
        "runs": runs,
        "seed": seed,
        "schedule": None
        if schedule is None or meetings is None
        else _schedule(schedule, meetings, candidates),
        "candidates": candidates,
    }


def plan_figures(study: Study, runs: int = RUNS, seed: int = SEED) -> dict[str, dict[str, Any]]:
    """Return the figures of the catalogue that come from the plan, by candidate and metric."""
    schedule = study.schedule
    meetings = None if schedule is None else calendar_of(schedule)
    draws = Draws(runs=runs, seed=seed)
    figures = {}
    for one in study.candidates:
        plan = _state(study, one, meetings, draws)
        practice = plan["practice"]
        figures[one.key] = {
            "ready_probability": plan["ready_probability"],
            "ready_date_p90": plan["date_p90"],
            "practice_hours": None if practice is None else practice["hours_p50"],
            "cost": cost_of(one, baseline=one is study.baseline),
        }
    return figures


def _candidate(
    study: Study, candidate: Candidate, meetings: Meetings | None, draws: Draws
) -> dict[str, Any]:
    baseline = candidate is study.baseline
    head = {"key": candidate.key, "name": candidate.name, "baseline": baseline}
    state = _state(study, candidate, meetings, draws, whole=True)
    for entry, one in zip(state["purchases"], candidate.purchases, strict=True):
        entry.update(purchase_costs(one))
    return {**head, **state, "costs": cost_figures(candidate, study.schedule, baseline=baseline)}


def _state(
    study: Study,
    candidate: Candidate,
    meetings: Meetings | None,
    draws: Draws,
    *,
    whole: bool = False,
) -> dict[str, Any]:
    """Return a candidate's figures; `whole` adds what only the plan's own page shows."""
    schedule = study.schedule
    if schedule is None or meetings is None:
        return _unknown(candidate, NO_SCHEDULE, "The study has no calendar yet.")
    if not candidate.tasks:
        if candidate is study.baseline:
            return _nothing_to_do(candidate, schedule, meetings)
        note = "No tasks are listed, so nothing is known about being ready."
        return _unknown(candidate, NO_TASKS, note, schedule)
    if not len(meetings.begins):
        note = f"The calendar has no meeting from {schedule.start} on; give it one."
        return _unknown(candidate, NO_SCHEDULE, note, schedule)
    try:
        work = work_of(schedule, candidate, draws)
    except LoopError as error:
        return _unknown(candidate, CONTRADICTION, loop_words(candidate, error), schedule)
    outcome = outcome_of(work, meetings)
    figures = {
        "state": SIMULATED,
        "notes": [],
        **ready_figures(outcome, schedule),
        "practice": practice_figures(outcome, candidate, schedule),
    }
    return figures | _more(outcome, candidate, schedule) if whole else figures


def _more(outcome: Outcome, candidate: Candidate, schedule: Schedule) -> dict[str, Any]:
    """Return what only the plan's own page shows."""
    work = outcome.work
    chain = chain_shares(work.plan, outcome.runs, usable=outcome.usable, order=work.order)
    times = sorted_times(outcome)
    tasks = task_figures(outcome, times, candidate, chain.tasks.tolist())
    purchases = purchase_figures(outcome, candidate, chain.purchases.tolist())
    trials = Trials(outcome, day_number(schedule.ready_by))
    for index, entry in enumerate(purchases):
        entry.update(latest_order(trials, schedule, index))
    blame = _blame(tasks, purchases)
    end = int(outcome.meetings.days[-1])
    last = min(end, day_number(schedule.start) + LONGEST_SHOWN_DAYS)
    return {
        "notes": _notes(outcome, purchases),
        "gates": gate_figures(outcome, candidate, schedule),
        "give_up": _give_up(outcome, schedule),
        "blame": {_blame_name(entry, blame): entry["share"] for entry in blame},
        "blame_list": blame,
        "tasks": tasks,
        "purchases": purchases,
        "crews": crew_figures(outcome, times, last),
        "latest_start": latest_start(trials, candidate, schedule),
    }


def loop_words(candidate: Candidate, error: LoopError) -> str:
    """Return the sentence about tasks that wait for each other."""
    chain = " → ".join(candidate.tasks[index].key for index in error.loop)
    return (
        f"These tasks wait for each other: {chain}. Change the order of a crew's tasks or what "
        "comes after what."
    )


def _unknown(
    candidate: Candidate, state: str, note: str, schedule: Schedule | None = None
) -> dict[str, Any]:
    """Return the figures of a candidate of which the plan says nothing."""
    return {
        "state": state,
        "notes": [note],
        "ready_probability": None,
        "sampling_error": None,
        "date_p10": None,
        "date_p50": None,
        "date_p90": None,
        "never_ready": None,
        "hours_mean": None,
        "curve": [],
        "gates": [
            {
                "name": gate.name,
                "on": gate.on.isoformat(),
                "tasks": [],
                "missing": list(gate.tasks),
                "chance": None,
                "ready_if_met": None,
                "ready_if_missed": None,
            }
            for gate in (schedule.gates if schedule else ())
        ],
        "give_up": None,
        "practice": None,
        "blame": {},
        "blame_list": [],
        "tasks": [],
        "purchases": [_unscheduled(one.name) for one in candidate.purchases],
        "crews": [],
        "latest_start": None,
    }


def _unscheduled(name: str) -> dict[str, Any]:
    nothing = dict.fromkeys(
        ("order_on", "arrival_p10", "arrival_p50", "arrival_p90", "usable_p50", "latest_order_on",
         "chance_ordered_first", "share")
    )  # fmt: skip
    return {"name": name, "needed_by": [], **nothing}


def _nothing_to_do(candidate: Candidate, schedule: Schedule, meetings: Meetings) -> dict[str, Any]:
    """Return the figures of the base that is there: ready from the first day, all hours free."""
    start = schedule.start.isoformat()
    hours = np.array([shop_time_by(meetings, day_number(schedule.ready_by))])
    give_up = schedule.give_up_base_on
    return _unknown(candidate, NOTHING_TO_DO, "", schedule) | {
        "notes": ["It is what the robot drives on today: nothing has to be done."],
        "ready_probability": 1.0,
        "sampling_error": 0.0,
        "date_p10": start,
        "date_p50": start,
        "date_p90": start,
        "never_ready": 0.0,
        "hours_mean": 0.0,
        "curve": [{"date": start, "chance": 1.0}],
        "give_up": None if give_up is None else {"on": give_up.isoformat(), "chance": 1.0},
        "practice": practice_of(hours, schedule),
    }


def _give_up(outcome: Outcome, schedule: Schedule) -> dict[str, Any] | None:
    day = schedule.give_up_base_on
    if day is None:
        return None
    return {"on": day.isoformat(), "chance": outcome.chance_by(day_number(day))}


def _blame(tasks: list[dict[str, Any]], purchases: list[dict[str, Any]]) -> list[dict[str, Any]]:
    listed = [
        {"kind": "task", "key": entry["key"], "name": entry["name"], "share": entry["share"]}
        for entry in tasks
    ] + [
        {"kind": "purchase", "key": entry["name"], "name": entry["name"], "share": entry["share"]}
        for entry in purchases
    ]
    return sorted(listed, key=lambda entry: -entry["share"])


def _blame_name(entry: dict[str, Any], blame: list[dict[str, Any]]) -> str:
    """Return the key that an entry has in `blame`: no purchase stands in a task's place."""
    taken = {other["key"] for other in blame if other["kind"] == "task"}
    if entry["kind"] == "purchase" and entry["key"] in taken:
        return f"{entry['key']} (purchase)"
    return str(entry["key"])


def _notes(outcome: Outcome, purchases: list[dict[str, Any]]) -> list[str]:
    notes = []
    never = float(np.mean(outcome.finish > outcome.meetings.total))
    if never > 0:
        last = date_text(outcome.meetings.days[-1])
        share = f"{100 * never:.0f} %" if never >= 0.01 else "under 1 %"
        notes.append(
            f"In {share} of the runs it is never ready: the last meeting of the calendar is on "
            f"{last}."
        )
    idle = [entry["name"] for entry in purchases if not entry["needed_by"] and entry["order_on"]]
    if idle:
        notes.append(f"No task waits for {', '.join(idle)}; its lead time changes nothing.")
    return notes


def _schedule(
    schedule: Schedule, meetings: Meetings, candidates: list[dict[str, Any]]
) -> dict[str, Any]:
    start, ready_by = day_number(schedule.start), day_number(schedule.ready_by)
    until = _shown_until(schedule, candidates)
    shown = int(np.searchsorted(meetings.days, until, side="right"))
    wanted = schedule.practice_hours_wanted
    give_up = schedule.give_up_base_on
    return {
        "start": schedule.start.isoformat(),
        "ready_by": schedule.ready_by.isoformat(),
        "give_up_base_on": None if give_up is None else give_up.isoformat(),
        "wanted_chance": float(schedule.wanted_chance),
        "practice_hours_wanted": None if wanted is None else float(wanted),
        "currency": schedule.currency,
        "budget": None if schedule.budget is None else float(schedule.budget),
        "meeting_hours": float(shop_time_by(meetings, ready_by) / HOUR),
        "days_off": [day.isoformat() for day in sorted(schedule.days_off)],
        "shown_until": date_text(until),
        "meetings": [
            {
                "date": date_text(meetings.days[index]),
                "start": moment_text(meetings.begins[index])[11:],
                "hours": float(meetings.lengths[index] / HOUR),
            }
            for index in range(shown)
        ],
        "weeks": weeks_of(meetings, max(until, start)),
        "crews": dict(schedule.crews),
    }


def _shown_until(schedule: Schedule, candidates: list[dict[str, Any]]) -> int:
    """Return the last day that pictures need: dates set, and by when it is ready at 90 %."""
    dates = [schedule.ready_by.isoformat(), *(gate.on.isoformat() for gate in schedule.gates)]
    if schedule.give_up_base_on is not None:
        dates.append(schedule.give_up_base_on.isoformat())
    for one in candidates:
        dates += [one["date_p90"], *(task["end_p90"] for task in one["tasks"])]
        dates += [entry["arrival_p90"] for entry in one["purchases"]]
    start = np.datetime64(schedule.start, "D").astype(np.int64)
    last = max(np.datetime64(date, "D").astype(np.int64) for date in dates if date is not None)
    return int(min(last, start + LONGEST_SHOWN_DAYS))
