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
                   "chance": None where it has none of them}…],
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
