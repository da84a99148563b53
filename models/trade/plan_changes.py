"""What if: one change of the plan tried without saving, its chance before and after.

Contents
--------
what_if(study, key, change, runs, seed): one change.
what_helps(study, key, runs, seed): each single change tried, the most helpful first.

A change is a dict with "kind" and, by kind:

    {"kind": "meeting", "weekday": "sun", "start": "13:00", "hours": 4}     every week
    {"kind": "extra", "date": "2031-03-22", "start": "13:00", "hours": 4}   once
    {"kind": "person", "crew": name}                                        one more pair of hands
    {"kind": "express", "purchase": name, "lead_days": [1, 2, 3] or none}   none: its own express
    {"kind": "order", "purchase": name, "order_on": date}
    {"kind": "drop", "task": key}              what came after it comes after what was before it
    {"kind": "ready_by", "date": date}

Both functions answer with

    {"change": the change, "words": "One more Sunday meeting: 34 % → 58 %.",
     "title": "One more Sunday meeting", "before": chance, "after": chance, "gain": difference,
     "date_p50_before", "date_p50_after", "date_p90_before", "date_p90_after": dates or None,
     "extra_cost": money or None}

and what_helps with a list of them.
"""
