"""Dates, chances, hours and money of a plan in words."""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

from models.trade import plan_words
from models.trade.phrases import listed

NOT_GIVEN = "not given"
TIGHT = "\N{NO-BREAK SPACE}"
BEYOND = "after the calendar ends"
TIE_ERRORS = 2.0
"""Two chances are told apart beyond so many standard errors of their difference …"""
TIE_LEAST = 0.02
"""… and beyond this, since the hours behind them are no better known."""


def date_of(text: str | None) -> dt.date | None:
    """Return the date in the payload's text."""
    return dt.date.fromisoformat(text[:10]) if text else None


def day_words(text: str | None, near: str, missing: str = BEYOND) -> str:
    """Return a date for people, with its weekday; with its year where `near` has another.

    >>> day_words("2027-02-27", "2027-03-01"), day_words(None, "2027-03-01")
    ('Sat\xa027\xa0Feb', 'after the calendar ends')
    >>> day_words("2028-02-27", "2027-03-01")
    'Sun\xa027\xa0Feb\xa02028'
    """
    if not text:
        return missing
    year = "" if text[:4] == near[:4] else f" {text[:4]}"
    return kept_together(plan_words.date_words(text[:10]) + year)


def short_day(text: str | None, near: str) -> str:
    """Return a date without its weekday.

    >>> short_day("2027-02-27", "2027-03-01")
    '27\xa0Feb'
    """
    return day_words(text, near).partition(TIGHT)[2] if text else "–"


def chance_words(chance: float | None) -> str:
    """Return a chance in whole per cent.

    >>> chance_words(0.384), chance_words(0.9997)
    ('38\xa0%', 'over 99\xa0%')
    """
    return kept_together(plan_words.chance_words(chance), " %")


def kept_together(text: str, what: str = " ") -> str:
    """Return a text whose figures are not parted from their unit at the end of a line."""
    return text.replace(what, what.replace(" ", TIGHT))


def share_words(share: float) -> str:
    """Return a share of the runs as so many in ten.

    >>> share_words(0.71), share_words(0.02), share_words(0.98), share_words(1.0)
    ('7 of 10 runs', 'fewer than 1 of 20 runs', 'nearly all runs', 'all runs')
    """
    if share >= 0.9995:
        return "all runs"
    if share > 0.95:
        return "nearly all runs"
    if share < 0.05:
        return "fewer than 1 of 20 runs"
    if share < 0.095:
        return f"{100 * share:.0f} of 100 runs"
    return f"{10 * share:.0f} of 10 runs"


def hours_words(hours: float | None) -> str:
    """Return shop hours, to the half hour where there are few.

    >>> hours_words(3.4), hours_words(26.2), hours_words(0.0), hours_words(None)
    ('3.5\xa0h', '26\xa0h', '0\xa0h', 'not given')
    """
    if hours is None:
        return NOT_GIVEN
    if hours >= 10:
        return f"{hours:.0f}{TIGHT}h"
    halves = round(2 * hours) / 2
    return f"{halves:g}{TIGHT}h"


def money_words(amount: float | None, currency: str) -> str:
    """Return a sum of money in the team's own currency.

    >>> money_words(1940.0, "€"), money_words(12.5, ""), money_words(None, "€")
    ('1,940\xa0€', '12.50', 'not given')
    """
    if amount is None:
        return NOT_GIVEN
    whole = math.isclose(amount, round(amount), abs_tol=0.005)
    figure = f"{amount:,.0f}" if whole else f"{amount:,.2f}"
    return f"{figure}{TIGHT}{currency}" if currency else figure


def is_tie(one: dict[str, Any], other: dict[str, Any]) -> bool:
    """Return whether the runs cannot tell two candidates' chances apart."""
    errors = [float(each.get("sampling_error") or 0.0) for each in (one, other)]
    least = max(TIE_LEAST, TIE_ERRORS * math.hypot(*errors))
    return bool(abs(one["ready_probability"] - other["ready_probability"]) <= least)


def _whole(chance: float) -> int:
    """Return a chance in whole per cent, as it is shown: 100 only where nothing can go wrong."""
    return 100 if chance >= 1 else min(round(100 * chance), 99)


def change_words(before: float, after: float) -> str:
    """Return by how much a chance moves, in runs of a hundred.

    >>> change_words(0.34, 0.58), change_words(0.5, 0.499), change_words(0.5, 0.41)
    ('24 more of 100 runs', 'no change that the runs can tell', '9 fewer of 100 runs')
    """
    moved = _whole(after) - _whole(before)
    if abs(after - before) < 0.005 or not moved:
        return "no change that the runs can tell"
    return f"{abs(moved)} {'more' if moved > 0 else 'fewer'} of 100 runs"


__all__ = [
    "BEYOND",
    "NOT_GIVEN",
    "chance_words",
    "change_words",
    "date_of",
    "day_words",
    "hours_words",
    "is_tie",
    "listed",
    "money_words",
    "share_words",
    "short_day",
]
