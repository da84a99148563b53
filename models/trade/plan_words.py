"""Words for chances and dates of a plan.

Contents: `chance_words`, `date_words`, `whole_hours`.
"""

from __future__ import annotations

import datetime as dt

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
NOT_KNOWN = "not known"


def chance_words(chance: float | None) -> str:
    """Return a chance in whole per cent; nothing but what is certain reads as 0 or 100.

    >>> [chance_words(chance) for chance in (0.3374, 0.002, 0.9999, 1.0, None)]
    ['34 %', 'under 1 %', 'over 99 %', '100 %', 'not known']
    """
    if chance is None:
        return NOT_KNOWN
    if 0.0 < chance < 0.005:
        return "under 1 %"
    if 0.995 <= chance < 1.0:
        return "over 99 %"
    return f"{100.0 * chance:.0f} %"


def date_words(day: dt.date | str | None) -> str:
    """Return a date with its weekday.

    >>> date_words("2026-03-22"), date_words(None)
    ('Sun 22 Mar', 'not known')
    """
    if day is None:
        return NOT_KNOWN
    date = dt.date.fromisoformat(day) if isinstance(day, str) else day
    return f"{WEEKDAYS[date.weekday()]} {date.day} {MONTHS[date.month - 1]}"


def whole_hours(hours: float) -> str:
    """Return hours without needless digits.

    >>> whole_hours(4.0), whole_hours(2.5)
    ('4 h', '2.5 h')
    """
    return f"{hours:.3g} h"
